"""Rows to curves: every column over all segments, on one axis, thinned for drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shipworthy.analysis.runs import Segment, offsets_s
from shipworthy.machine.parse.sensors.links import SPEED, WIDTH
from shipworthy.model.runlog import Column, Columns, Row, Series

Floats: TypeAlias = NDArray[np.float64]

ALONE_S = 1.0
"""Samples this close together (the plan's 4 a second are) confirm one another."""
DRAWN_POINTS = 400
"""Points of a drawn curve; finer than a page shows. Findings are made from all rows, not from these."""


@dataclass(frozen=True, eq=False)
class Curve:
    """All samples of one column, in s since the burn-in began. NaN: this sensor gave nothing then."""

    column: Column
    t_s: Floats
    v: Floats

    @property
    def seen(self) -> Floats:
        """The values that were given."""
        return self.v[~np.isnan(self.v)]

    @property
    def interval_s(self) -> float:
        """The time from one sample to the next, as a rule; 0 where there are too few."""
        return float(np.median(np.diff(self.t_s))) if len(self.t_s) > 1 else 0.0

    def confirmed(self) -> Curve:
        """Return the curve without values that stand out upwards in one sample alone.

        A reading may be garbled, and a burst of milliseconds is no heat: as for the guard, two in a row
        count. Samples more than a second apart confirm nothing of one another, and all count.
        """
        if not 0.0 < self.interval_s <= ALONE_S:
            return self
        given = np.flatnonzero(~np.isnan(self.v))
        v = self.v[given]
        beside = np.fmax(np.append(v[1:], np.nan), np.insert(v[:-1], 0, np.nan)) if len(v) > 1 else v
        kept = self.v.copy()
        kept[given] = np.fmin(v, beside)
        return Curve(self.column, self.t_s, kept)

    def between(self, begin_s: float, end_s: float) -> Floats:
        """Return the values that were given from one time to another."""
        first, last = np.searchsorted(self.t_s, (begin_s, end_s))
        part = self.v[first:last]
        return part[~np.isnan(part)]

    def nearest(self, t_s: float, within_s: float) -> float | None:
        """Return the value given closest to a time; None if none came that close."""
        near = slice(*np.searchsorted(self.t_s, (t_s - within_s, t_s + within_s), side="left"))
        given = ~np.isnan(self.v[near])
        if not given.any():
            return None
        apart = np.abs(self.t_s[near][given] - t_s)
        return float(self.v[near][given][apart.argmin()])


def full_curves(segments: Sequence[Segment]) -> tuple[Curve, ...]:
    """Return a curve for every column that any segment describes, with all rows of all segments.

    Columns of two segments are one curve when they are wired at the same place and channel. In a segment that
    does not have it, a sensor gave nothing: it shows nothing of that time.
    """
    described = [
        (columns.columns, list(segment.of(Row)), offset)
        for segment, offset in zip(segments, offsets_s(segments), strict=True)
        if (columns := next(iter(segment.of(Columns)), None)) is not None
    ]
    known: dict[tuple[str, str, str], Column] = {}
    for here, _, _ in described:
        for column in here:
            known.setdefault(_wired(column), column)
    at = {key: number for number, key in enumerate(known)}
    count = sum(len(rows) for _, rows, _ in described)
    times, table = np.empty(count), np.full((len(known), count), np.nan)
    begin = 0
    for here, rows, offset in described:
        part = slice(begin, begin + len(rows))
        times[part] = np.round(np.fromiter((row.t_s for row in rows), np.float64, len(rows)) + offset, 3)
        _fill(table[:, part], [at[_wired(column)] for column in here], rows)
        begin += len(rows)
    return tuple(Curve(column, times, table[at[key]]) for key, column in known.items())


def _wired(column: Column) -> tuple[str, str, str]:
    return column.quantity, column.place, column.channel


def _fill(table: Floats, at: Sequence[int], rows: Sequence[Row]) -> None:
    """Write rows into a table of a line for each curve; a short row is filled up with nothing.

    at: the line of each of a row's values.
    """
    for begin in range(0, len(rows), _AT_ONCE):
        part = rows[begin : begin + _AT_ONCE]
        if all(len(row.v) == len(at) for row in part):
            table[at, begin : begin + len(part)] = np.array([row.v for row in part], np.float64).T
        else:
            for number, row in enumerate(part, begin):
                said = row.v[: len(at)]
                table[at[: len(said)], number] = np.array(said, np.float64)


_AT_ONCE = 4096


def thinned(curve: Curve, points: int = DRAWN_POINTS) -> Series:
    """Return a curve of at most about that many points that keeps the highest value of every stretch.

    Of a fan, of power that comes in bursts and of a link it keeps the lowest as well. Of utilisation, a share
    of time, it is the mean.
    """
    both = curve.column.quantity in ("fan", "power", SPEED, WIDTH)
    stride = -(-len(curve.t_s) * (2 if both else 1) // points)
    if stride <= 1:
        return _series(curve, np.arange(len(curve.t_s)))
    if curve.column.quantity == "utilisation":
        return _series(*_means(curve, stride))
    kept = _extremes(curve.v, stride, -1.0)
    if both:
        kept = np.union1d(kept, _extremes(curve.v, stride, 1.0))
    return _series(curve, kept)


def _means(curve: Curve, stride: int) -> tuple[Curve, NDArray[np.intp]]:
    """Return the curve of the stretches' means, each at the stretch's begin, and that all of it is kept."""
    begins = np.arange(0, len(curve.v), stride)
    sums = np.add.reduceat(np.nan_to_num(curve.v), begins)
    given = np.add.reduceat((~np.isnan(curve.v)).astype(np.float64), begins)
    means = np.round(np.divide(sums, given, out=np.full(len(sums), np.nan), where=given > 0), 4)
    return Curve(curve.column, curve.t_s[begins], means), np.arange(len(begins))


def _extremes(seen: Floats, stride: int, sign: float) -> NDArray[np.intp]:
    """Return where each stretch is lowest (sign 1) or highest (sign -1)."""
    padded = np.full(-(-len(seen) // stride) * stride, np.inf)
    padded[: len(seen)] = np.where(np.isnan(seen), np.inf, sign * seen)
    stretches = padded.reshape(-1, stride)
    kept: NDArray[np.intp] = stretches.argmin(axis=1) + np.arange(len(stretches)) * stride
    return kept


def _series(curve: Curve, kept: NDArray[np.intp]) -> Series:
    return Series(
        column=curve.column,
        t_s=tuple(curve.t_s[kept].tolist()),
        v=tuple(None if v != v else v for v in curve.v[kept].tolist()),
    )
