"""Whether a drive's counters are those of a new one.

Counters come from an NVMe drive's health log, from the device statistics of an ATA drive, and where it keeps
none from its SMART attributes; by then they are facts of the same names. All can be reset: what they show is
all that is said. Where a drive says two things of one counter, the higher word is not brushed aside. What
the bench's own burn-ins have added since it was first read (`Known.own_work`) is taken off.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from shipworthy.compare.judgement import Judgement, judged
from shipworthy.compare.pieces import Scene
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.orders import OrderLine
from shipworthy.model.plan import Limit
from shipworthy.model.words import Absent, Aspect, Outcome

COUNTERS = ("power_on_hours", "power_cycles", "written_bytes", "media_errors")
_OF_LIMITS = "storage/"
_ERRORS = "media_errors"
DEFECTS = ("reallocated_sectors", "pending_sectors", "uncorrectable_sectors", "grown_defects")
"""Counters of a medium that goes bad, held against the limit on media errors.

Attributes 5, 197 and 198 of ATA drives (common practice; no standard gives attributes a meaning) and the
grown defect list of SCSI. What attribute 5 counts in a drive without a disk, its makers do not agree on:
some begin with blocks that were bad when the drive left the factory.
"""
_OF_ATTRIBUTES = ("pending_sectors", "uncorrectable_sectors", "attributes_failing_now")
"""What is told only where a drive's attributes were read."""
_SLACK = {"power_on_hours": 1.0, "written_bytes": 2**30}
"""How much less a counter may tell than we did: drives count whole hours, and some whole GiB (common
practice). Of starts nothing is said, since a restart without a loss of power is none to a drive."""
_Exceeded = tuple[str, int | float, Limit]


def judge_newness(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Hold the counters against the limits.

    A counter that the drive does not have is left out; one that could not be read or that cannot be so
    leaves it open, and so does one of which something else says more than the limit.
    """
    shown: dict[str, Scalar] = {"model": part.text("model") or part.place}
    shown |= {name: _shown(part, name) for name in COUNTERS}
    limits = [limit for limit in scene.limits if limit.quantity.startswith(_OF_LIMITS)]
    limits = [limit for limit in limits if _name(limit) in COUNTERS]
    own = _own_work(part, scene)
    exceeded, doubtful = _exceeded(part, limits, own), _doubtful(part, limits, own)
    if exceeded:
        name, got, limit = exceeded[0]
        yield judged(
            Outcome.DIFFERS,
            Aspect.NEWNESS,
            limit.value,
            got,
            unit=limit.unit,
            ending="used" if name in COUNTERS else "defects",
            named={"counters": _listed(exceeded), "origin": limit.origin.value, **shown},
        )
    elif doubtful:
        name, got, limit = doubtful[0]
        yield judged(
            Outcome.CANNOT_TELL,
            Aspect.NEWNESS,
            limit.value,
            got,
            unit=limit.unit,
            ending="doubtful",
            named={"counters": _listed(doubtful), "origin": limit.origin.value, **shown},
        )
    else:
        outcome, ending, why, counters = _unexceeded(part, limits, own)
        named = {"why": why, "counters": counters, **shown}
        yield judged(outcome, Aspect.NEWNESS, None, None, ending=ending, named=named)


def judge_worsened(before: Part, after: Part, limits: Sequence[Limit]) -> Iterable[Judgement]:
    """Judge the errors and defects that a drive came to between two readings; hours and what was written
    grow with any test. A count that grew can only mean what it says, also in a drive without a disk."""
    limit = next((limit for limit in limits if limit.quantity == _OF_LIMITS + _ERRORS), None)
    names = () if limit is None else (_ERRORS, *DEFECTS)
    grown = [
        (name, got, limit)
        for name in names
        if limit is not None and (got := _grown(before, after, name, limit))
    ]
    if grown:
        _, got, limit = grown[0]
        shown: dict[str, Scalar] = {"model": after.text("model") or after.place}
        shown |= {name: _shown(after, name) for name in COUNTERS}
        yield judged(
            Outcome.DIFFERS,
            Aspect.NEWNESS,
            limit.value,
            got,
            unit=limit.unit,
            ending="defects",
            named={"counters": _listed(grown), "origin": limit.origin.value, **shown},
        )


def _grown(before: Part, after: Part, name: str, limit: Limit) -> int | float | None:
    """Return a count that is over the limit and has grown, or was not known before and is plain."""
    was, got = before.number(name), after.number(name)
    if got is None or got <= limit.value:
        return None
    return got if (got > was if was is not None else _is_plain(after, name)) else None


def _own_work(part: Part, scene: Scene) -> dict[str, int | float]:
    """Return what the bench's own burn-ins have added to a drive's counters, by their names.

    A drive is judged as new by what is left: it was new when it was read first if it is new without that, and
    what it has grown by since is ours or is not.
    """
    serial = part.text("serial").strip()
    work = next((one for one in scene.own_work if serial and one.serial == serial), None)
    if work is None:
        return {}
    return {
        "written_bytes": work.written_bytes,
        "power_on_hours": work.hours,
        "power_cycles": work.starts,
    }


def _exceeded(part: Part, limits: Sequence[Limit], own: Mapping[str, int | float]) -> list[_Exceeded]:
    found = [
        (name, got - own.get(name, 0), limit)
        for limit in limits
        if (got := part.number(name := _name(limit))) is not None and got - own.get(name, 0) > limit.value
    ]
    return found + [one for one in _defects(part, limits) if _is_plain(part, one[0])]


def _doubtful(part: Part, limits: Sequence[Limit], own: Mapping[str, int | float]) -> list[_Exceeded]:
    """Counters of which something else says more than the limit, and defects that may be the factory's."""
    found = [
        (name, most - own.get(name, 0), limit)
        for limit in limits
        if (most := _most_said(part, name := _name(limit))) is not None
        and most - own.get(name, 0) > limit.value
    ]
    return found + [one for one in _defects(part, limits) if not _is_plain(part, one[0])]


def _defects(part: Part, limits: Sequence[Limit]) -> list[_Exceeded]:
    limit = next((limit for limit in limits if _name(limit) == _ERRORS), None)
    if limit is None:
        return []
    return [
        (name, got, limit) for name in DEFECTS if (got := part.number(name)) is not None and got > limit.value
    ]


def _is_plain(part: Part, name: str) -> bool:
    """Whether a count of defects can only mean what it says; see DEFECTS."""
    return name != "reallocated_sectors" or part.text("technology") == "spinning"


def _most_said(part: Part, name: str) -> int | float | None:
    """Return the most that any witness says of a counter."""
    fact = part.fact(name)
    words = [] if fact is None else [witness.value for witness in fact.witnesses]
    numbers = [word for word in words if isinstance(word, int | float) and not isinstance(word, bool)]
    return max(numbers, default=None)


def _unexceeded(
    part: Part, limits: Sequence[Limit], own: Mapping[str, int | float]
) -> tuple[Outcome, str, str, str]:
    """Return outcome, ending, why it is open and which counters leave it open.

    One that tells less than our own burn-ins did was set back, or is another drive's under the same serial.
    """
    if not limits:
        return Outcome.NOT_CHECKED, "no-limit", "", ""
    names = [_name(limit) for limit in limits if part.number(_name(limit)) is None]
    silent = all(_why(part, name) is Absent.NOT_OFFERED for name in names)
    implausible = [n for n in (*names, *DEFECTS) if part.why_absent(n) is Absent.IMPLAUSIBLE]
    implausible += [
        n for n in _SLACK if (got := part.number(n)) is not None and got < own.get(n, 0) - _SLACK[n]
    ]
    if implausible:
        return Outcome.CANNOT_TELL, "implausible", Absent.IMPLAUSIBLE.value, _words(implausible)
    if silent and len(names) < len(limits) and part.number("power_on_hours") is not None:
        return Outcome.CONFORMS, "counters", "", ""
    open_ones = [name for name in names if _why(part, name) is not Absent.NOT_OFFERED] or names
    why = _why(part, open_ones[0]).value if open_ones else ""
    return Outcome.CANNOT_TELL, "", why, _words(open_ones)


def _why(part: Part, name: str) -> Absent:
    """Return why a counter is absent. Each ATA drive has attributes of its own choice: one that is not among
    those that were read is one that the drive does not offer."""
    why = part.why_absent(name)
    return Absent.NOT_OFFERED if why is Absent.NOT_ASKED and _attributes_were_read(part) else why


def _attributes_were_read(part: Part) -> bool:
    """Whether the page of attributes was read: our own source tells the last self-test from the same page."""
    test = part.fact("self_test_last")
    from_page = test is not None and test.value is not None and test.source.split(".", 1)[0] == "ata"
    return from_page or any(part.value(told) is not None for told in _OF_ATTRIBUTES)


def _shown(part: Part, name: str) -> Scalar:
    value = part.value(name)
    return _why(part, name).value if value is None else value


def _name(limit: Limit) -> str:
    return limit.quantity.removeprefix(_OF_LIMITS)


def _listed(found: Iterable[_Exceeded]) -> str:
    return _words(dict.fromkeys(name for name, _, _ in found))


def _words(names: Iterable[str]) -> str:
    return ", ".join(name.replace("_", " ") for name in names)
