"""What a line's text says, by its category."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.orders.expect.customised import of_case, of_customisation
from shipworthy.orders.expect.fittings import of_cooler, of_fan, of_supply
from shipworthy.orders.expect.memory import of_memory
from shipworthy.orders.expect.said import Said, agreed, stretch, word
from shipworthy.orders.expect.service import of_service
from shipworthy.orders.expect.storage import of_storage
from shipworthy.words.board_names import find_label_marks
from shipworthy.words.counts import find_cores, find_pci_ids, find_revisions
from shipworthy.words.firmware_versions import find_firmware_wishes
from shipworthy.words.graphics_names import card_words
from shipworthy.words.kinds import find_card_memory
from shipworthy.words.models import model_text
from shipworthy.words.sizes import Base, find_sizes
from shipworthy.words.speeds import find_network_speeds
from shipworthy.words.versions import find_wifi, says_wireless


def said_by_text(line: OrderLine) -> tuple[Said, ...]:
    """Return what the text of a line says, at most one thing of an aspect."""
    read = _BY_CATEGORY.get(line.category)
    return tuple(read(line)) if read else ()


def _of_processor(line: OrderLine) -> Iterator[Said]:
    yield from _model(line)
    cores = [cores for cores in find_cores(line.text) if cores.count]
    yield from agreed(Aspect.CORES, cores, lambda c: c.count, Unit.COUNT)


def _of_board(line: OrderLine) -> Iterator[Said]:
    yield from _model(line)
    yield from agreed(Aspect.VERSION, find_revisions(line.text), lambda r: r.revision)
    yield from agreed(Aspect.FIRMWARE, find_firmware_wishes(line.text), lambda w: w.version)
    yield from agreed(Aspect.VARIANT, find_label_marks(line.text), lambda m: m.words)


def _of_drive(line: OrderLine) -> Iterator[Said]:
    yield from of_storage(line)
    yield from _model(line)


def _of_graphics(line: OrderLine) -> Iterator[Said]:
    yield from _ids(line) or _model(line)
    variant = card_words(line.text, line.maker)[1]
    if variant:  # what the card's maker calls it, which no driver knows
        yield Said(Aspect.VARIANT, variant, stretch(line.text, variant))
    sizes = [size for size in find_sizes(line.text, Base.BINARY, kits=False) if size.size_bytes]
    yield from agreed(Aspect.CAPACITY, sizes, lambda s: s.size_bytes, Unit.BYTES)
    yield from word(Aspect.TECHNOLOGY, find_card_memory(line.text))


def _of_network(line: OrderLine) -> Iterator[Said]:
    yield from _ids(line)
    yield from agreed(Aspect.SPEED, find_network_speeds(line.text), lambda s: s.speed_mbit_s, Unit.MEGABITS)
    if says_wireless(line.text) is not False:
        yield from word(Aspect.TECHNOLOGY, find_wifi(line.text))


def _ids(line: OrderLine) -> tuple[Said, ...]:
    return agreed(Aspect.MODEL, find_pci_ids(line.text), lambda i: f"{i.vendor}:{i.device}")


def _model(line: OrderLine) -> tuple[Said, ...]:
    model = model_text(line.text, line.category)
    return (Said(Aspect.MODEL, model, stretch(line.text, model)),) if any(map(str.isalnum, model)) else ()


_BY_CATEGORY: dict[Category, Callable[[OrderLine], Iterable[Said]]] = {
    Category.PROCESSOR: _of_processor,
    Category.BOARD: _of_board,
    Category.MEMORY: of_memory,
    Category.STORAGE: _of_drive,
    Category.GRAPHICS: _of_graphics,
    Category.POWER_SUPPLY: of_supply,
    Category.COOLER: of_cooler,
    Category.FAN: of_fan,
    Category.NETWORK: _of_network,
    Category.DISPLAY: _model,
    Category.CASE: of_case,
    Category.CUSTOMISATION: of_customisation,
    Category.SERVICE: of_service,
}
