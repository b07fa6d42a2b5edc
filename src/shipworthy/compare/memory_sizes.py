"""How much memory there is: the modules' sizes, what their part numbers say, and what the system can use."""

from __future__ import annotations

from shipworthy.compare.judgement import Judgement, judged
from shipworthy.compare.memory_names import codes_read, numbers_of
from shipworthy.compare.modules import (
    Modules,
    fitted_modules,
    known_by_spd_alone,
    number_of,
    unknown,
    why_modules_lack,
    why_no_modules,
)
from shipworthy.compare.usable import Fit, fits_usable, much_is_unusable
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Outcome, PartKind, Unit


def judge_capacity(wish: Expectation, line: OrderLine, modules: Modules, reading: Reading) -> Judgement:
    """Compare the sum of the modules, their sizes if the count is sold, and what the system can use of it."""
    sizes = [module.number("size_bytes") for module in modules]
    known = [int(size) for size in sizes if size is not None]
    if len(known) < len(sizes):
        return capacity_by_total(wish, number_of(wish.want), reading, why_modules_lack(modules, "size_bytes"))
    total, usable = sum(known), usable_bytes(reading)
    if total > (number_of(wish.want) or total) and _told_by_numbers(modules) == wish.want:
        return _more_than_built(wish, modules, total, reading)
    if known_by_spd_alone(fitted_modules(reading)) and total < (number_of(wish.want) or 0):
        return capacity_by_total(wish, number_of(wish.want), reading, why_no_modules(reading))
    fitted = [int(m.number("size_bytes") or 0) for m in fitted_modules(reading)]
    everything = sum(fitted)
    outcome, ending = Outcome.CONFORMS, ""
    if usable is not None and much_is_unusable(everything, usable, min(fitted)):
        outcome, ending = Outcome.DIFFERS, "not-usable"  # a fault, whatever size was sold
    elif total != wish.want:
        outcome = Outcome.DIFFERS
    elif _sizes_differ(wish, line, known):
        outcome, ending = Outcome.DIFFERS, "sizes-differ"
    elif usable is not None and usable > everything:
        outcome, ending = Outcome.CANNOT_TELL, "more-usable"
    return judged(
        outcome,
        Aspect.CAPACITY,
        wish.want,
        total,
        unit=Unit.BYTES,
        ending=ending,
        named={
            "usable_bytes": Absent.NOT_OFFERED.value if usable is None else usable,
            "fitted_bytes": everything,
        },
    )


def _more_than_built(wish: Expectation, modules: Modules, total: int, reading: Reading) -> Judgement:
    """Return what can be told where firmware counts more than the part numbers, which say what was sold."""
    if usable_bytes(reading) is not None and len(modules) == len(fitted_modules(reading)):
        return capacity_by_total(wish, number_of(wish.want), reading, Absent.IMPLAUSIBLE)
    said = ", ".join(numbers_of(modules))
    return judged(
        Outcome.CANNOT_TELL,
        Aspect.CAPACITY,
        wish.want,
        total,
        unit=Unit.BYTES,
        ending="number-smaller",
        named={"number": said},
    )


def _told_by_numbers(modules: Modules) -> int | None:
    """Return the sum of the sizes that stand in the modules' part numbers; None where one does not say it.

    Firmware that counts more than that contradicts it: no module is larger than its maker built it. One that
    counts less may have lost a part of a module.
    """
    sizes = [code.module_gib if code is not None else None for code in codes_read(modules)]
    return None if None in sizes else round(2**30 * sum(filter(None, sizes)))


def _sizes_differ(wish: Expectation, line: OrderLine, sizes: list[int]) -> bool:
    """`2x16GB` sold, 24 and 8 fitted: the sum is right and the modules are not."""
    count = line.wanted(Aspect.COUNT)
    if count is None or not isinstance(wish.want, int) or not isinstance(count.want, int):
        return False
    return len(sizes) == count.want and any(size * count.want != wish.want for size in sizes)


def capacity_by_total(wish: Expectation, sold: float | None, reading: Reading, why: Absent) -> Judgement:
    """Compare all that was sold with what the kernel can use (see `compare.usable`)."""
    usable = usable_bytes(reading)
    if usable is None or sold is None:
        return unknown(wish, why)
    fit = fits_usable(int(sold), usable, _counted_bytes(reading))
    outcome = {Fit.FITS: Outcome.CONFORMS, Fit.OPEN: Outcome.CANNOT_TELL, Fit.CANNOT_BE: Outcome.DIFFERS}[fit]
    ending = {Fit.FITS: "usable-fits", Fit.OPEN: "usable-open", Fit.CANNOT_BE: "usable-differs"}[fit]
    return judged(
        outcome, Aspect.CAPACITY, sold, usable, unit=Unit.BYTES, ending=ending, named={"why": why.value}
    )


def totals(reading: Reading) -> Modules:
    """Return the parts that tell of all memory together."""
    return tuple(sorted(reading.of_kind(PartKind.MEMORY), key=lambda part: part.place))


def usable_bytes(reading: Reading) -> int | None:
    """Return what the system can use of all memory, in bytes; None where it is not told."""
    return _of_total(reading, "usable_bytes")


def _counted_bytes(reading: Reading) -> int | None:
    return _of_total(reading, "real_bytes")


def _of_total(reading: Reading, name: str) -> int | None:
    said = (part.number(name) for part in totals(reading))
    return next((int(size) for size in said if size is not None), None)
