"""Rows to curves: every column over all segments, on one axis, thinned for drawing."""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.analysis.runs import Segment, offsets_s
from shipworthy.model.runlog import Column, Columns, Row, Series

DRAWN_POINTS = 400
"""Points of a drawn curve; finer than a page shows. Findings are made from all rows, not from these."""


def full_curves(segments: Sequence[Segment]) -> tuple[Series, ...]:
    """Return a curve for every column that any segment describes, with all its rows.

    Columns of two segments are one curve when they are wired at the same place and channel.
    """
    gathered: dict[tuple[str, str, str], tuple[Column, list[float], list[float | None]]] = {}
    for segment, offset in zip(segments, offsets_s(segments), strict=True):
        columns = next((line.columns for line in segment.of(Columns)), ())
        rows = list(segment.of(Row))
        for index, column in enumerate(columns):
            key = (column.quantity, column.place, column.channel)
            _, times, seen = gathered.setdefault(key, (column, [], []))
            times += [round(offset + row.t_s, 3) for row in rows]
            seen += [row.v[index] if index < len(row.v) else None for row in rows]
    return tuple(Series(column=c, t_s=tuple(t), v=tuple(v)) for c, t, v in gathered.values())


def thinned(curve: Series, points: int = DRAWN_POINTS) -> Series:
    """Return a curve of at most about that many points that keeps the highest value of every stretch."""
    stride = -(-len(curve.t_s) // points)
    if stride <= 1:
        return curve
    kept = [_highest(curve.v, begin, begin + stride) for begin in range(0, len(curve.t_s), stride)]
    return Series(
        column=curve.column,
        t_s=tuple(curve.t_s[index] for index in kept),
        v=tuple(curve.v[index] for index in kept),
    )


def _highest(seen: Sequence[float | None], begin: int, end: int) -> int:
    stretch = range(begin, min(end, len(seen)))
    return max(stretch, key=lambda i: (seen[i] is not None, seen[i] or 0.0))
