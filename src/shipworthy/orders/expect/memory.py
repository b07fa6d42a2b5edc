"""What a memory line's text says: capacity and modules of the whole line, type, speed, timings, name, ECC."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Unit
from shipworthy.orders.expect.said import Said, agreed, stretch, torn, word
from shipworthy.words.counts import find_leading_counts
from shipworthy.words.kinds import find_error_correction, find_memory_types
from shipworthy.words.memory_names import memory_name
from shipworthy.words.sizes import Base, Kit, Size, find_kits, find_sizes
from shipworthy.words.speeds import find_memory_speeds, same_rate
from shipworthy.words.timings import find_timings, fullest


def of_memory(line: OrderLine) -> Iterator[Said]:
    """Yield what a memory line's text says. Its quantity multiplies capacity and count."""
    text = line.text
    yield from _capacity_and_count(line)
    speeds = find_memory_speeds(text)
    yield from agreed(Aspect.SPEED, speeds, lambda s: s.speed_mt_s, Unit.MEGATRANSFERS, same_rate)
    yield from word(Aspect.TECHNOLOGY, find_memory_types(text))
    yield from _timings(text)
    if name := memory_name(text, line.maker):
        yield Said(Aspect.MODEL, name, stretch(text, name))
    correction = [w for w in find_error_correction(text) if w.meaning != "on-die ECC"]
    if any(w.meaning == "ECC" for w in correction):
        yield from word(Aspect.ERROR_CORRECTION, tuple(correction))


def _timings(text: str) -> Iterator[Said]:
    """A whole row (`30-36-36-76`) is expected; `CL30` alone is read, and asked about where it contradicts."""
    found = find_timings(text)
    best = fullest(found)
    if best is None:
        yield from (torn(Aspect.TIMINGS, found),) if found else ()
    elif "-" in best.all:
        yield Said(Aspect.TIMINGS, best.all, best.words)


def _capacity_and_count(line: OrderLine) -> Iterator[Said]:
    if any(leading.count != line.quantity for leading in find_leading_counts(line.text)):
        return  # asked about: `2 x Fennec 16GB` with a quantity of one
    kits, sizes = find_kits(line.text, Base.BINARY), find_sizes(line.text, Base.BINARY)
    counts = {kit.count for kit in kits}
    modules = {kit.module_bytes for kit in kits if kit.module_bytes is not None}
    if len(counts) > 1 or len(modules) > 1:
        yield torn(Aspect.CAPACITY, kits)
        return
    total = _total(counts, modules, sizes)
    if total is None:
        if sizes:
            yield torn(Aspect.CAPACITY, (*kits, *sizes))
        return
    if total:
        source: Kit | Size = next((kit for kit in kits if kit.module_bytes), None) or sizes[0]
        yield Said(Aspect.CAPACITY, total * line.quantity, source.words, Unit.BYTES)
    if kits:
        yield Said(Aspect.COUNT, kits[0].count * line.quantity, kits[0].words, Unit.COUNT)


def _total(counts: set[int], modules: set[int], sizes: tuple[Size, ...]) -> int | None:
    """Return the bytes of one kit, 0 where a text gives no size; None where its sizes do not add up.

    Beside the total the text may give the size of one module too.
    """
    told = {size.size_bytes for size in sizes}
    if not counts:
        return next(iter(told), 0) if len(told) <= 1 else None
    count = next(iter(counts))
    if modules:
        module = next(iter(modules))
        fits = not told or (count * module in told and told <= {count * module, module})
        return count * module if fits else None
    whole = max(told, default=0)
    return whole if told <= {whole, whole // count} else None
