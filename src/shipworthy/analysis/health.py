"""What devices complained of under load: the kernel's log, counters of errors, the drives' own health.

Rises are added up by place: forty lines on one link are one finding that counts them. Where nobody could
listen, silence shows nothing, and that is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shipworthy.analysis.complaints import complaint_findings
from shipworthy.analysis.curves import Curve
from shipworthy.analysis.drives import drive_findings
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import UNDER_LOAD, Happened, Segment
from shipworthy.model.findings import Finding
from shipworthy.model.words import Aspect, Outcome

NOT_HEARD, DRIVE_NOT_READ = "kernel.not-read", "drive.health-not-read"


def health_findings(
    segments: Sequence[Segment], events: Sequence[Happened], curves: Sequence[Curve], basis: Basis
) -> Iterator[Finding]:
    """Return a finding for each complaint by kind and place; that none came, where somebody listened."""
    throttling_seen = any(curve.column.quantity == "throttle" for curve in curves)
    found = [
        *complaint_findings(events, basis, throttling_seen=throttling_seen),
        *drive_findings(events, basis),
    ]
    deaf = [*_unheard(segments, events, basis), *_sensors(events, curves, basis)]
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


def _sensors(events: Sequence[Happened], curves: Sequence[Curve], basis: Basis) -> Iterator[Finding]:
    """Name a sensor that fell silent and stayed so. One that gave a value later has come back, be it in the
    next segment; a chip that goes takes all of its channels along, and is one finding."""
    lost = [e for e in events if e.code == "sensor.silent" and not _came_back(e, events, curves)]
    for place, event in {event.text("place"): event for event in reversed(lost)}.items():
        yield basis.finding(
            "health.sensor-silent",
            Outcome.CANNOT_TELL,
            Aspect.HEALTH,
            of_part=place,
            label=event.text("label") or place or "a sensor",
        )


def _came_back(silent: Happened, events: Sequence[Happened], curves: Sequence[Curve]) -> bool:
    of_place = [curve for curve in curves if curve.column.place == silent.text("place")]
    names = set(silent.text("channel").split(", "))
    lost = [curve for curve in of_place if curve.column.channel in names] or of_place
    if lost:
        return all(_spoke_after(curve, silent.t_s) for curve in lost)
    return _said_to_be_back(events, silent)


def _spoke_after(curve: Curve, t_s: float) -> bool:
    return bool((~np.isnan(curve.v) & (curve.t_s > t_s)).any())


def _said_to_be_back(events: Sequence[Happened], silent: Happened) -> bool:
    return any(
        event.code == "sensor.back" and event.text("place") == silent.text("place")
        for event in events
        if event.t_s >= silent.t_s
    )
