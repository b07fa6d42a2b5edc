"""When one part was at work: while a load worked on it, or while it said of itself that it was busy."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipworthy.analysis.curves import Curve, Floats
from shipworthy.analysis.runs import Segment, offsets_s
from shipworthy.model.runlog import Report

BUSY = 0.9
"""A share of time from which a part counts as at work (our choice)."""
GAP_S = 1.0
"""Reports come about once a second, and between two there is the time that they take."""
SETTLED_S = 1.0
"""A link gets faster within milliseconds, and a card's own state within a second (common practice)."""

Span = tuple[float, float]


@dataclass(frozen=True)
class Worked:
    """Spans of time, in s since the burn-in began. by_load: a load worked on it; else it is its own word."""

    spans: tuple[Span, ...]
    by_load: bool

    def mask(self, t_s: Floats) -> NDArray[np.bool_]:
        """Return which of these times lie in a span, its first second left out (`SETTLED_S`)."""
        within = np.zeros(len(t_s), dtype=bool)
        for begin_s, end_s in self.spans:
            within |= (t_s >= begin_s + SETTLED_S) & (t_s <= end_s)
        return within


def time_at_work(
    place: str, targets: Collection[str], segments: Sequence[Segment], curves: Sequence[Curve]
) -> Worked:
    """Return when the part at a place was at work. targets: names by which loads' reports know it."""
    told = [
        (offset + report.t_s - report.seconds, offset + report.t_s)
        for segment, offset in zip(segments, offsets_s(segments), strict=True)
        for report in segment.of(Report)
        if report.target in targets and report.work > 0 and report.seconds > 0
    ]
    if told:
        return Worked(_joined(told), by_load=True)
    busy = [c for c in curves if c.column.quantity == "utilisation" and c.column.place == place]
    return Worked(_joined([span for curve in busy for span in _busy(curve)]), by_load=False)


def _busy(curve: Curve) -> list[Span]:
    """Return a span for each pair of neighbouring samples that are both busy."""
    both = (curve.v[:-1] >= BUSY) & (curve.v[1:] >= BUSY)
    return [(float(curve.t_s[at]), float(curve.t_s[at + 1])) for at in np.flatnonzero(both)]


def _joined(spans: Sequence[Span]) -> tuple[Span, ...]:
    found: list[Span] = []
    for begin_s, end_s in sorted(spans):
        if found and begin_s - found[-1][1] <= GAP_S:
            found[-1] = (found[-1][0], max(found[-1][1], end_s))
        else:
            found.append((begin_s, end_s))
    return tuple(found)
