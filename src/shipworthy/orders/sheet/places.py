"""Where each part goes: slots, M.2 places, leads. Said only where the order or a record of the part tells.

What board and supply really have stands in their makers' instructions; a place is named here so that the
technician knows what to look up there, and the instructions win.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from shipworthy.model.catalogue import (
    BoardFacts,
    CaseFacts,
    CoolerFacts,
    GraphicsFacts,
    M2Place,
    MemoryFacts,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.sheet.build import Build, say, wanted
from shipworthy.words.kinds import find_pci_links
from shipworthy.words.loops import find_loop_words


def places_of(line: OrderLine, build: Build) -> tuple[str, ...]:
    """Return where the parts of a line go, in short sentences; empty where there is nothing to say."""
    tell = _PLACES.get(line.category)
    return tuple(tell(line, build)) if tell else ()


def _of_board(line: OrderLine, build: Build) -> Iterator[str]:
    facts = build.of(line, BoardFacts)
    if facts and facts.form_factor:
        yield say("place.board", form=facts.form_factor)


def _of_processor(line: OrderLine, build: Build) -> Iterator[str]:
    board = build.first(BoardFacts)
    if board and board.socket:
        yield say("place.processor", socket=board.socket)


def modules_of(line: OrderLine, build: Build) -> int | None:
    """Return how many modules a line of memory is; None where nothing tells."""
    count = wanted(line, Aspect.COUNT)
    if isinstance(count, int):
        return count
    facts = build.of(line, MemoryFacts)
    return facts.modules * line.quantity if facts and facts.modules else None


def _of_memory(line: OrderLine, build: Build) -> Iterator[str]:
    counts = [modules_of(one, build) for one in build.lines(Category.MEMORY)]
    board = build.first(BoardFacts)
    slots = board.memory_slots if board else None
    count = None if None in counts else sum(c for c in counts if c)
    if not count:
        yield say("place.memory-by-manual")
    elif slots and count == slots:
        yield say("place.memory-all", slots=slots)
    elif slots == 4 and count in (1, 2):
        yield say(f"place.memory-{'two' if count == 2 else 'one'}-of-four")
    else:
        yield say("place.memory-count-by-manual", count=count)


def _of_storage(line: OrderLine, build: Build) -> Iterator[str]:
    if not is_m2(line, build):
        if wanted(line, Aspect.INTERFACE) == "SATA":
            yield say("place.sata")
        return
    taken = 0
    for other in build.lines(Category.STORAGE):
        if other.line_id == line.line_id:
            break
        taken += other.quantity if is_m2(other, build) else 0
    board = build.first(BoardFacts)
    places = by_speed(board.m2) if board and board.m2 else ()
    for piece in range(taken, taken + line.quantity):
        if piece < len(places):
            number, place = places[piece]
            yield say("place.m2-known", number=number, interface=place.interface or "?")
            if place.shares_with:
                yield say("place.m2-shares", number=number, what=", ".join(place.shares_with))
        else:
            yield say("place.m2-first" if piece == 0 else "place.m2-next")


def is_m2(line: OrderLine, build: Build) -> bool:
    """Return whether a line of storage goes into an M.2 place, as far as anything says."""
    facts = build.of(line, StorageFacts)
    if facts and facts.form_factor:
        return facts.form_factor.upper().startswith("M.2")
    return "M.2" in line.text.upper() or wanted(line, Aspect.INTERFACE) == "NVMe"


def by_speed(places: Iterable[M2Place]) -> tuple[tuple[int, M2Place], ...]:
    """Return M.2 places with their numbers as the board counts them from 1, the fastest first."""
    numbered = enumerate(places, 1)
    return tuple(sorted(numbered, key=lambda one: (-_generation(one[1].interface), one[0])))


def _generation(interface: str) -> int:
    links = find_pci_links(interface)
    return max((link.generation * 100 + (link.width or 0) for link in links), default=0)


def _of_graphics(line: OrderLine, build: Build) -> Iterator[str]:
    yield say("place.graphics")
    facts = build.of(line, GraphicsFacts)
    if facts is None or facts.plugs is None:
        yield say("place.graphics-leads-unknown")
        return
    kinds = {plug: facts.plugs.count(plug) for plug in dict.fromkeys(facts.plugs)}
    for plug, count in kinds.items():
        one_lead = "12V" in plug.upper()
        yield say("place.graphics-high-power" if one_lead else "place.graphics-leads", count=count, plug=plug)


def _of_supply(line: OrderLine, build: Build) -> Iterator[str]:
    facts = build.of(line, SupplyFacts)
    if facts is None or facts.modular != "none":
        yield say("place.supply-own-leads")
    board = build.first(BoardFacts)
    if board and board.processor_plugs:
        yield say("place.supply-processor", plugs=" + ".join(f"{pins}-pin" for pins in board.processor_plugs))


def _of_cooler(line: OrderLine, build: Build) -> Iterator[str]:
    if find_loop_words(line.text, loose_pieces=True):
        yield say("place.loop")
        return
    facts = build.of(line, CoolerFacts)
    if facts is None or facts.liquid is None:
        return
    if not facts.liquid:
        yield say("place.cooler-air")
        return
    case = build.first(CaseFacts)
    size = facts.radiator_mm
    fits = [p.place for p in case.radiators or () if size and p.longest_mm >= size] if case else []
    if fits and size:
        yield say("place.radiator-known", size=f"{size:g}", where=", ".join(fits))
    else:
        yield say("place.radiator")
    yield say("place.pump")


def _of_fan(line: OrderLine, build: Build) -> Iterator[str]:
    yield say("place.fans" if line.quantity > 1 else "place.fan", quantity=line.quantity)


def _of_card(line: OrderLine, build: Build) -> Iterator[str]:
    if "USB" not in line.text.upper():
        yield say("place.card")


def _of_display(line: OrderLine, build: Build) -> Iterator[str]:
    yield say("place.display-card" if build.lines(Category.GRAPHICS) else "place.display")


_PLACES: dict[Category, Callable[[OrderLine, Build], Iterator[str]]] = {
    Category.BOARD: _of_board,
    Category.PROCESSOR: _of_processor,
    Category.MEMORY: _of_memory,
    Category.STORAGE: _of_storage,
    Category.GRAPHICS: _of_graphics,
    Category.POWER_SUPPLY: _of_supply,
    Category.COOLER: _of_cooler,
    Category.FAN: _of_fan,
    Category.NETWORK: _of_card,
    Category.SOUND: _of_card,
    Category.DISPLAY: _of_display,
}
