"""The modules of a reading that count as fitted, and why one of their facts is not there."""

from __future__ import annotations

from shipworthy.compare.judgement import Judgement, judged
from shipworthy.compare.readable import why_none
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Outcome, PartKind

Modules = tuple[Part, ...]
_SPD = "spd"  # the source, or the kind of report, that reads the chip on a module


def fitted_modules(reading: Reading) -> Modules:
    """Return the modules that are there; an empty slot is none.

    An SPD that answers and for which no slot could be told (`PartKind.UNPLACED_MODULE`) is one of these seen
    a second time, and does not count. Where the firmware tells of no module at all, those that are known by
    their SPD are of the plain kind, and count.
    """
    modules = reading.of_kind(PartKind.MEMORY_MODULE)
    fitted = [
        m for m in modules if m.why_absent("size_bytes") is not Absent.NOT_FITTED or m.number("size_bytes")
    ]
    return tuple(sorted(fitted, key=lambda module: module.place))


def is_by_spd(source: str) -> bool:
    """Return whether a row of the raw index is a module's own chip."""
    return source.split(".", 1)[0] == _SPD


def known_by_spd_alone(modules: Modules) -> bool:
    """Return whether nothing but chips on modules tells of them: a module that no bus reaches is not seen."""
    sources = {fact.source for module in modules for fact in module.facts}
    return bool(sources) and all(map(is_by_spd, sources))


def unknown(wish: Expectation, why: Absent) -> Judgement:
    """Return that a wish is open for that reason."""
    return judged(Outcome.CANNOT_TELL, wish.aspect, wish.want, None, unit=wish.unit, named={"why": why.value})


def why_modules_lack(modules: Modules, name: str) -> Absent:
    """Return why a fact is absent of some of the modules; that it could not be read tells most."""
    absent = [module.why_absent(name) for module in modules if module.value(name) is None]
    return next(
        (why for why in absent if why is Absent.NOT_READABLE), absent[0] if absent else Absent.NOT_OFFERED
    )


def why_no_modules(reading: Reading) -> Absent:
    """Return why the firmware tells of no module."""
    return why_none(reading, PartKind.MEMORY_MODULE)


def number_of(value: object) -> int | float | None:
    """Return a wanted value if it is a number."""
    return value if isinstance(value, int | float) and not isinstance(value, bool) else None
