"""Moments of a burn-in that a drawing marks: what interrupted it, and what went wrong when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from shipworthy.analysis.power import ANNOUNCED, is_open
from shipworthy.analysis.runs import Happened, Segment, offsets_s
from shipworthy.model.analysis import Mark
from shipworthy.model.words import Ending

TOLD = {
    "load.wrong": ("wrong", "target"),
    "load.died": ("died", "target"),
    "guard.limit": ("guard", "label"),
    "guard.lost": ("guard-lost", ""),
    "kernel.error": ("kernel", "kind"),
    "counter.rose": ("counter", "counter"),
    "drive.health": ("drive", "attribute"),
    "sensor.silent": ("silent", "label"),
    "loads.paused": ("paused", "label"),
    ANNOUNCED: ("power", "power"),
    "power.missing": ("power-missing", "power"),
}
MOST = 24
"""More cannot be told apart in a drawing; the log has them all."""
TOGETHER_SHARE = 0.01
"""Of the whole time: marks of the same kind and subject that lie closer are one."""


def marks_of(segments: Sequence[Segment], events: Sequence[Happened], end_s: float) -> tuple[Mark, ...]:
    """Return the marks in order of time, alike ones that lie close together as one."""
    found = sorted((*_interruptions(segments, events), *_events(events)), key=lambda mark: mark.t_s)
    joined: dict[tuple[str, str], Mark] = {}
    kept: list[Mark] = []
    for mark in found:
        before = joined.get((mark.code, mark.what))
        if before is not None and mark.t_s - before.t_s <= TOGETHER_SHARE * end_s:
            one = Mark(t_s=before.t_s, code=mark.code, what=mark.what, times=before.times + 1)
            kept[kept.index(before)] = one
        else:
            one = mark
            kept.append(mark)
        joined[mark.code, mark.what] = one
    return tuple(kept[:MOST])


def _interruptions(segments: Sequence[Segment], events: Sequence[Happened]) -> Iterator[Mark]:
    for number, (segment, offset) in enumerate(zip(segments, offsets_s(segments), strict=True)):
        end_s = offset + segment.seconds
        if segment.ending is Ending.INTERRUPTED and not is_open(events, number):
            yield Mark(t_s=round(end_s, 3), code="interrupted")
        elif segment.ending is Ending.STOPPED_BY_PERSON:
            yield Mark(t_s=round(end_s, 3), code="stopped")


def _events(events: Iterable[Happened]) -> Iterator[Mark]:
    for event in events:
        if event.code in TOLD:
            code, what = TOLD[event.code]
            yield Mark(t_s=round(event.t_s, 3), code=code, what=event.text(what)[:80] if what else "")
