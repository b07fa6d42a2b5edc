"""From the text as sold to what must be true: the first derivations. What a text leaves open stays open."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

import msgspec

from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.words.counts import find_cores, find_pci_ids, find_revisions
from shipworthy.words.kinds import Word, find_interfaces, find_memory_types, find_technologies
from shipworthy.words.models import model_text
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.speeds import find_memory_speeds, find_network_speeds, same_rate

F = TypeVar("F")


def with_expectations(order: Order) -> Order:
    """Return the order with what its texts say added as expectations; those that it gives win.

    Of memory, the capacity and the count are of the whole line, its quantity included; of all other lines an
    expectation is of each piece. Doing it twice changes nothing.
    """
    return msgspec.structs.replace(order, lines=tuple(line_with_expectations(line) for line in order.lines))


def line_with_expectations(line: OrderLine) -> OrderLine:
    """Return one order line with its derived expectations, after those that it has."""
    given = {expectation.aspect for expectation in line.expectations}
    derived = tuple(e for e in derived_expectations(line) if e.aspect not in given)
    return msgspec.structs.replace(line, expectations=line.expectations + derived)


def derived_expectations(line: OrderLine) -> tuple[Expectation, ...]:
    """Return what a line's text, maker and part number say, one expectation an aspect."""
    by_category: dict[Category, Callable[[OrderLine], Iterable[Expectation]]] = {
        Category.PROCESSOR: _of_processor,
        Category.BOARD: _of_board,
        Category.MEMORY: _of_memory,
        Category.STORAGE: _of_storage,
        Category.GRAPHICS: _of_graphics,
        Category.DISPLAY: _of_model,
        Category.NETWORK: _of_network,
    }
    derive = by_category.get(line.category)
    found = list(derive(line)) if derive else []
    if line.part_number.strip():
        found.append(Expectation(aspect=Aspect.PART_NUMBER, want=line.part_number.strip()))
    if line.maker.strip():
        found.append(Expectation(aspect=Aspect.MAKER, want=line.maker.strip()))
    return tuple(found)


def _of_processor(line: OrderLine) -> Iterable[Expectation]:
    yield from _of_model(line)
    if (cores := _agreed(find_cores(line.text), lambda c: c.count)) is not None and cores.count > 0:
        yield Expectation(aspect=Aspect.CORES, want=cores.count, unit=Unit.COUNT, words=cores.words)


def _of_board(line: OrderLine) -> Iterable[Expectation]:
    yield from _of_model(line)
    if (revision := _agreed(find_revisions(line.text), lambda r: r.revision)) is not None:
        yield Expectation(aspect=Aspect.VERSION, want=revision.revision, words=revision.words)


def _of_memory(line: OrderLine) -> Iterable[Expectation]:
    text = line.text
    kits, sizes = find_kits(text, Base.BINARY), find_sizes(text, Base.BINARY)
    kit = _agreed(kits, lambda k: (k.count, k.module_bytes))
    size = _agreed(sizes, lambda s: s.size_bytes)
    contradicts = (
        kit is not None
        and size is not None
        and kit.module_bytes is not None
        and size.size_bytes != kit.count * kit.module_bytes
    )
    if not contradicts and len({k.count for k in kits}) <= 1:
        if kit is not None and kit.module_bytes:
            total = kit.count * kit.module_bytes * line.quantity
            yield Expectation(aspect=Aspect.CAPACITY, want=total, unit=Unit.BYTES, words=kit.words)
        elif size is not None and size.size_bytes:
            total = size.size_bytes * line.quantity
            yield Expectation(aspect=Aspect.CAPACITY, want=total, unit=Unit.BYTES, words=size.words)
        if kit is not None:
            count = kit.count * line.quantity
            yield Expectation(aspect=Aspect.COUNT, want=count, unit=Unit.COUNT, words=kit.words)
    speeds = find_memory_speeds(text)
    if speeds and all(same_rate(speed.speed_mt_s, speeds[0].speed_mt_s) for speed in speeds):
        yield Expectation(
            aspect=Aspect.SPEED, want=speeds[0].speed_mt_s, unit=Unit.MEGATRANSFERS, words=speeds[0].words
        )
    yield from _word(Aspect.TECHNOLOGY, find_memory_types(text))


def _of_storage(line: OrderLine) -> Iterable[Expectation]:
    size = _agreed(find_sizes(line.text, Base.DECIMAL), lambda s: s.size_bytes)
    if size is not None and size.size_bytes:
        yield Expectation(aspect=Aspect.CAPACITY, want=size.size_bytes, unit=Unit.BYTES, words=size.words)
    yield from _word(Aspect.TECHNOLOGY, find_technologies(line.text))
    yield from _word(Aspect.INTERFACE, find_interfaces(line.text))
    yield from _of_model(line)


def _of_graphics(line: OrderLine) -> Iterable[Expectation]:
    yield from _of_ids(line) or _of_model(line)
    size = _agreed(find_sizes(line.text, Base.BINARY), lambda s: s.size_bytes)
    if size is not None and size.size_bytes:
        yield Expectation(aspect=Aspect.CAPACITY, want=size.size_bytes, unit=Unit.BYTES, words=size.words)


def _of_network(line: OrderLine) -> Iterable[Expectation]:
    yield from _of_ids(line)
    if (speed := _agreed(find_network_speeds(line.text), lambda s: s.speed_mbit_s)) is not None:
        yield Expectation(aspect=Aspect.SPEED, want=speed.speed_mbit_s, unit=Unit.MEGABITS, words=speed.words)


def _of_ids(line: OrderLine) -> list[Expectation]:
    found = _agreed(find_pci_ids(line.text), lambda i: (i.vendor, i.device))
    if found is None:
        return []
    return [Expectation(aspect=Aspect.MODEL, want=f"{found.vendor}:{found.device}", words=found.words)]


def _of_model(line: OrderLine) -> list[Expectation]:
    model = model_text(line.text, line.category)
    return [Expectation(aspect=Aspect.MODEL, want=model, words=model)] if any(map(str.isalnum, model)) else []


def _word(aspect: Aspect, found: tuple[Word, ...]) -> Iterable[Expectation]:
    if (word := _agreed(found, lambda w: w.meaning)) is not None:
        yield Expectation(aspect=aspect, want=word.meaning, words=word.words)


def _agreed(found: tuple[F, ...], value: Callable[[F], object]) -> F | None:
    """Return the first find if all say the same; None where the text says nothing or contradicts itself."""
    return found[0] if found and len({value(find) for find in found}) == 1 else None
