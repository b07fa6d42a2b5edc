"""What devices complained of under load: the kernel's log, counters of errors, the drives' own health.

Rises are added up by place: forty lines on one link are one finding that counts them. Where nobody could
listen, silence shows nothing, and that is said.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import UNDER_LOAD, Happened, Segment
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.words import Aspect, Outcome

KERNEL, COUNTER, DRIVE = "kernel.error", "counter.rose", "drive.health"
NOT_HEARD, DRIVE_NOT_READ = "kernel.not-read", "drive.health-not-read"
THROTTLING = "thermal throttling"

CORRECTED = {
    "machine check corrected",
    "pcie correctable errors",
    "corrected memory errors",
    "link error",
    "link errors",
    "thermal",
    "thermal throttling",
}
"""What was mended on its way. It is a difference all the same: a new part that needs mending under load is
wearing out, badly seated or set too fast (common practice). Its codes are apart, so that a shop's policy can
make a note of them."""
_SEVERE = re.compile(r"fatal|uncorrect", re.IGNORECASE)
"""Words of the kernel's for errors of a link that were not mended (its PCI Express AER lines)."""
WEAR = ("percentage used",)
SPARE_FALL_PERCENT = 1


def health_findings(
    segments: Sequence[Segment], events: Sequence[Happened], basis: Basis, *, throttling_seen: bool
) -> Iterator[Finding]:
    """Return a finding for each complaint by kind and place; that none came, where somebody listened.

    throttling_seen: whether the log has columns of throttling, which are then judged and not its events too.
    """
    told = [e for e in events if not (throttling_seen and e.text("counter") == THROTTLING)]
    found = [*_kernel(told, basis), *_counters(told, basis), *_drives(told, basis)]
    deaf = [*_unheard(segments, events, basis), *_sensors(events, basis)]
    yield from (*found, *deaf)
    if not found and not deaf and any(event.code == UNDER_LOAD for event in events):
        yield basis.finding("health.quiet", Outcome.CONFORMS, Aspect.HEALTH)


def _unheard(segments: Sequence[Segment], events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """Name what nobody could listen to. The engine that writes when a step is under load is the one that
    watches; logs of the tool's first version have no watchers, and say nothing either way."""
    if not any(event.code == UNDER_LOAD for event in events):
        return
    why = next((event.text("why") for event in events if event.code == NOT_HEARD), "")
    if any(segment.start and segment.start.simulated for segment in segments):
        why = "a simulated unit has none"
    if why:
        yield basis.finding("health.no-kernel-log", Outcome.CANNOT_TELL, Aspect.HEALTH, why=why)
    mute = {event.text("place"): event.text("why") for event in events if event.code == DRIVE_NOT_READ}
    for place, reason in mute.items():
        yield basis.finding(
            "health.drive-not-read",
            Outcome.CANNOT_TELL,
            Aspect.HEALTH,
            of_part=place,
            place=place,
            why=reason,
        )


def _grouped(events: Sequence[Happened], code: str, name: str) -> dict[tuple[str, str], list[Happened]]:
    groups: dict[tuple[str, str], list[Happened]] = {}
    for event in events:
        if event.code == code:
            groups.setdefault((event.text(name), event.text("place")), []).append(event)
    return groups


def _kernel(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    for (kind, place), told in _grouped(events, KERNEL, "kind").items():
        mended = kind in CORRECTED and not any(_SEVERE.search(event.text("line")) for event in told)
        code = "health.kernel-mended" if mended else "health.kernel-error"
        yield basis.finding(
            code,
            Outcome.DIFFERS,
            Aspect.HEALTH,
            of_part=place,
            kind=kind,
            place=_named(place),
            count=sum(event.count("count", 1) for event in told),
            told=told[0].text("line"),
        )


def _counters(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """Between two segments a counter may begin anew: rises within each are added up."""
    for (counter, place), told in _grouped(events, COUNTER, "counter").items():
        rise = sum(max(0, event.count("now") - event.count("before")) for event in _last_of_runs(told))
        if rise:
            code = "health.counter-mended" if counter in CORRECTED else "health.counter-rose"
            yield basis.finding(
                code,
                Outcome.DIFFERS,
                Aspect.HEALTH,
                of_part=place,
                counter=counter,
                place=_named(place),
                rise=rise,
            )


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


def _drives(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """The drive's health at the start of a segment against its last word in it. Wear of one per cent by the
    burn-in's own writing is what it is for, and no finding."""
    for (attribute, place), told in _grouped(events, DRIVE, "attribute").items():
        last = told[-1]
        before, now = told[0].said.get("before", 0), last.said.get("now", 0)
        if not _worse(attribute, before, now):
            continue
        code = "health.drive-link" if attribute == "link errors" else "health.drive"
        yield basis.finding(
            code,
            Outcome.DIFFERS,
            Aspect.HEALTH,
            of_part=place,
            attribute=attribute,
            place=_named(place),
            serial=last.text("serial"),
            before=before,
            now=now,
        )


def _worse(attribute: str, before: Scalar, now: Scalar) -> bool:
    numbers = isinstance(before, int | float) and isinstance(now, int | float)
    if not numbers:
        return before != now
    rise = float(now) - float(before)
    if attribute in WEAR:
        return rise > SPARE_FALL_PERCENT
    return rise < -SPARE_FALL_PERCENT if attribute == "available spare" else rise > 0


def _sensors(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """Name a sensor that fell silent and stayed so. One that came back has said what it had to."""
    silent: dict[tuple[str, str], Happened] = {}
    for event in events:
        key = (event.text("place"), event.text("channel"))
        if event.code == "sensor.silent":
            silent[key] = event
        elif event.code == "sensor.back":
            silent.pop(key, None)
    for (place, _), event in silent.items():
        yield basis.finding(
            "health.sensor-silent",
            Outcome.CANNOT_TELL,
            Aspect.HEALTH,
            of_part=place,
            label=event.text("label") or place,
        )


def _named(place: str) -> str:
    return place or "no part that it names"
