"""Temperatures and throttling: what was reached, against whose limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.frozen import is_of_processor
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column, ThermalSummary
from shipworthy.model.words import Aspect, Outcome

SPOKEN_SHARE = 0.9
"""A sensor that gave a value in fewer of the samples shows nothing about the rest (our choice)."""


@dataclass(frozen=True)
class Bound:
    """The limit that binds a temperature, and who set it."""

    value_c: float
    origin: str


def thermal_summaries(curves: Sequence[Curve], limits: Sequence[Limit]) -> tuple[ThermalSummary, ...]:
    """Return a row for each temperature that spoke nearly all the time; a silent one shows nothing."""
    rows = []
    for curve in curves:
        seen = curve.seen
        if curve.column.quantity != "temperature" or not len(seen) or len(seen) < SPOKEN_SHARE * len(curve.v):
            continue
        bound = bound_of(curve.column, limits)
        rows.append(
            ThermalSummary(
                place=curve.column.place,
                channel=curve.column.channel,
                label=curve.column.label,
                idle_c=float(seen[0]),
                highest_c=float(seen.max()),
                limit_c=bound.value_c if bound else None,
                limit_origin=bound.origin if bound else "",
            )
        )
    return tuple(rows)


def bound_of(column: Column, limits: Sequence[Limit]) -> Bound | None:
    """Return the lowest limit on a temperature: the device's critical one, or one that the shop set.

    The device's *high* value is left alone: drivers report there a target that regulation aims at
    (common practice), so reaching it is no fault.
    """
    bounds = [
        Bound(limit.value, limit.origin.value)
        for limit in limits
        if limit.quantity in ("temperature", f"temperature/{column.place}/{column.channel}")
    ]
    if column.critical is not None:
        bounds.append(Bound(column.critical, "device"))
    return min(bounds, key=lambda bound: bound.value_c, default=None)


def heat_findings(rows: Sequence[ThermalSummary], frozen: Sequence[Curve], basis: Basis) -> Iterator[Finding]:
    """Return one finding for each temperature over its limit, or one that all kept below.

    frozen: sensors of a processor that stood still. They are not among the rows, and each is named.
    """
    judged = [row for row in rows if row.limit_c is not None]
    processor = any(is_of_processor(row.place, row.label) for row in judged)
    over = [row for row in judged if row.limit_c is not None and row.highest_c >= row.limit_c]
    if not judged and not frozen:
        yield basis.finding("heat.no-sensor", Outcome.CANNOT_TELL, Aspect.HEAT)
    elif not processor:
        yield basis.finding("heat.no-processor", Outcome.CANNOT_TELL, Aspect.HEAT)
    elif not over:
        hottest = min(judged, key=lambda row: (row.limit_c or 0.0) - row.highest_c)
        yield basis.finding("heat.within-limits", Outcome.CONFORMS, Aspect.HEAT, _said(hottest))
    for row in over:
        yield basis.finding("heat.limit-reached", Outcome.DIFFERS, Aspect.HEAT, _said(row), of_part=row.place)
    for curve in frozen:
        yield basis.finding(
            "heat.sensor-frozen",
            Outcome.CANNOT_TELL,
            Aspect.HEAT,
            of_part=curve.column.place,
            label=curve.column.label or curve.column.channel,
            stayed_c=float(curve.seen[0]),
        )


def throttle_findings(curves: Sequence[Curve], basis: Basis) -> Iterator[Finding]:
    """Return a difference for every counter of thermal throttling that rose during the burn-in."""
    for curve in curves:
        if curve.column.quantity != "throttle":
            continue
        rises = np.diff(curve.seen)
        times = float(rises[rises > 0].sum())  # a restart sets the counter back
        if times:
            yield basis.finding(
                "heat.throttled",
                Outcome.DIFFERS,
                Aspect.HEAT,
                of_part=curve.column.place,
                label=curve.column.label or curve.column.channel,
                times=times,
            )


def _said(row: ThermalSummary) -> dict[str, Scalar]:
    limit_c = row.limit_c if row.limit_c is not None else 0.0
    return {
        "label": row.label or row.channel,
        "highest_c": row.highest_c,
        "limit_c": limit_c,
        "margin_c": round(limit_c - row.highest_c, 1),
        "origin": row.limit_origin,
    }
