"""What kernel and counters said of errors under load: by kind and place, one error told by one of the two.

An error that was mended on its way is a difference all the same: a new part that needs mending under load is
wearing out, badly seated or set too fast (common practice). Its codes are apart, so that a shop's policy can
make a note of them. One that was not mended has a code of its own, as nobody may concede it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Happened
from shipworthy.model.findings import Finding
from shipworthy.model.words import Aspect, Outcome

KERNEL, COUNTER = "kernel.error", "counter.rose"
THERMAL, THROTTLING = "thermal", "thermal throttling"
LINK, CHECK, CHECK_MENDED = "link error", "machine check uncorrected", "machine check corrected"
BUS, MEMORY = "pcie ", " memory errors"
"""What the counters of a link begin with, and those of memory end with (`machine.counters`)."""

MENDED = {
    CHECK_MENDED,
    LINK,
    THERMAL,
    "pcie correctable errors",
    "corrected memory errors",
    "link errors",
    THROTTLING,
}
SEVERAL_LINES = (CHECK, CHECK_MENDED, LINK)
"""Of these the kernel writes several lines for one error, and not each names the part."""
_SEVERE = re.compile(r"fatal|uncorrect", re.IGNORECASE)
"""Words of the kernel's for errors of a link that were not mended (its PCI Express AER lines)."""
_SLOWED = re.compile(r"temperature (?:is )?above threshold", re.IGNORECASE)
"""The kernel's line for a slow-down, which its counter counts too. It has others for worse."""

Key = tuple[str, str]  # kind or counter, place
Groups = dict[Key, list[Happened]]


def complaint_findings(
    events: Sequence[Happened], basis: Basis, *, throttling_seen: bool
) -> Iterator[Finding]:
    """Return a finding for each complaint of the kernel's log and of the counters, by kind and place.

    throttling_seen: whether the log has columns of throttling, which are judged by themselves.
    """
    told = [event for event in events if not (throttling_seen and _is_of_throttling(event))]
    kernel, counters = _grouped(told, KERNEL, "kind"), _grouped(told, COUNTER, "counter")
    rises = {key: rise for key, same in counters.items() if (rise := _rise(same))}
    kernel = _placed_alone(kernel)
    for key, same in kernel.items():
        if not _counted(key, _is_mended(key[0], same), rises):
            yield _of_kernel(key, same, basis)
    for key, rise in rises.items():
        if not _told_by_kernel(key, kernel):
            yield _of_counter(key, rise, basis)


def _is_of_throttling(event: Happened) -> bool:
    if event.code == COUNTER:
        return event.text("counter") == THROTTLING
    return event.code == KERNEL and event.text("kind") == THERMAL and bool(_SLOWED.search(event.text("line")))


def _grouped(events: Sequence[Happened], code: str, name: str) -> Groups:
    groups: Groups = {}
    for event in events:
        if event.code == code:
            groups.setdefault((event.text(name), event.text("place")), []).append(event)
    return groups


def _placed_alone(kernel: Groups) -> Groups:
    """Return the groups without the lines that name no part, where others of their kind do."""
    placed = {kind for kind, place in kernel if place and kind in SEVERAL_LINES}
    return {(kind, place): same for (kind, place), same in kernel.items() if place or kind not in placed}


def _is_mended(kind: str, same: Sequence[Happened]) -> bool:
    return kind in MENDED and not any(_SEVERE.search(event.text("line")) for event in same)


def _counted(key: Key, mended: bool, rises: Mapping[Key, int]) -> bool:
    """Whether the counters of a memory controller tell of the same error: they name the module."""
    kind, place = key
    return (
        kind in (CHECK, CHECK_MENDED)
        and place.startswith("edac:")
        and any(
            counter.endswith(MEMORY) and (counter in MENDED) == mended and f"{at}/".startswith(f"{place}/")
            for counter, at in rises
        )
    )


def _told_by_kernel(key: Key, kernel: Groups) -> bool:
    """Whether the kernel's log tells of a link's error at the same place, as gravely: it has the words."""
    counter, place = key
    same = kernel.get((LINK, place), [])
    return counter.startswith(BUS) and bool(same) and _is_mended(LINK, same) == (counter in MENDED)


def _of_kernel(key: Key, same: Sequence[Happened], basis: Basis) -> Finding:
    kind, place = key
    if _is_mended(kind, same):
        code = "health.kernel-mended"
    else:
        code = "health.kernel-uncorrected" if kind in (CHECK, LINK) else "health.kernel-error"
    severe = next((event for event in same if _SEVERE.search(event.text("line"))), same[0])
    return basis.finding(
        code,
        Outcome.DIFFERS,
        Aspect.HEALTH,
        of_part=place,
        kind=kind,
        place=named(place),
        count=sum(event.count("count", 1) for event in same),
        told=severe.text("line") or "its words are not in this log",
    )


def _of_counter(key: Key, rise: int, basis: Basis) -> Finding:
    counter, place = key
    code = "health.counter-mended" if counter in MENDED else "health.counter-rose"
    return basis.finding(
        code,
        Outcome.DIFFERS,
        Aspect.HEALTH,
        of_part=place,
        counter=counter,
        place=named(place),
        rise=rise,
    )


def _rise(told: Sequence[Happened]) -> int:
    """Between two segments a counter may begin anew: rises within each are added up."""
    return sum(max(0, event.count("now") - event.count("before")) for event in _last_of_runs(told))


def _last_of_runs(told: Sequence[Happened]) -> list[Happened]:
    """Return what counts of the same counter's events: each that continues another takes its place.

    A watcher may tell every rise since it looked last, or since the segment began: events that begin where
    the one before ended are added, those that begin where it began replace it.
    """
    kept: list[Happened] = []
    for event in told:
        same = kept and kept[-1].number == event.number
        if same and kept[-1].said.get("before") == event.said.get("before"):
            kept[-1] = event
        else:
            kept.append(event)
    return kept


def named(place: str) -> str:
    """Return a place, or that there is none."""
    return place or "no part that it names"
