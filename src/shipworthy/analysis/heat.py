"""Temperatures, fans and throttling: what was reached, against whose limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shipworthy.analysis.findings import burn_in_finding
from shipworthy.analysis.frozen import is_of_processor
from shipworthy.model.base import Value, values
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column, Series, ThermalSummary
from shipworthy.model.words import Aspect, Outcome

SPOKEN_SHARE = 0.9
"""A sensor that gave a value in fewer of the samples shows nothing about the rest (our choice)."""


@dataclass(frozen=True)
class Bound:
    """The limit that binds a temperature, and who set it."""

    value_c: float
    origin: str


def thermal_summaries(curves: Sequence[Series], limits: Sequence[Limit]) -> tuple[ThermalSummary, ...]:
    """Return a row for each temperature that spoke nearly all the time; a silent one shows nothing."""
    rows = []
    for curve in curves:
        seen = [v for v in curve.v if v is not None]
        if curve.column.quantity != "temperature" or not seen or len(seen) < SPOKEN_SHARE * len(curve.v):
            continue
        bound = bound_of(curve.column, limits)
        rows.append(
            ThermalSummary(
                place=curve.column.place,
                channel=curve.column.channel,
                label=curve.column.label,
                idle_c=seen[0],
                highest_c=max(seen),
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


def heat_findings(
    rows: Sequence[ThermalSummary], frozen: Sequence[Series], configuration: str, evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """Return one finding for each temperature over its limit, or one that all kept below.

    frozen: sensors of a processor that stood still. They are not among the rows, and each is named.
    """
    judged = [row for row in rows if row.limit_c is not None]
    processor = any(is_of_processor(row.place, row.label) for row in judged)
    over = [row for row in judged if row.limit_c is not None and row.highest_c >= row.limit_c]
    if not judged and not frozen:
        yield _finding("heat.no-sensor", Outcome.CANNOT_TELL, Aspect.HEAT, (), configuration, evidence)
    elif not processor:
        yield _finding("heat.no-processor", Outcome.CANNOT_TELL, Aspect.HEAT, (), configuration, evidence)
    elif not over:
        hottest = min(judged, key=lambda row: (row.limit_c or 0.0) - row.highest_c)
        named = _temperature_values(hottest)
        yield _finding("heat.within-limits", Outcome.CONFORMS, Aspect.HEAT, named, configuration, evidence)
    for row in over:
        named = _temperature_values(row)
        yield _finding(
            "heat.limit-reached", Outcome.DIFFERS, Aspect.HEAT, named, configuration, evidence, row.place
        )
    for curve in frozen:
        stayed_c = next(v for v in curve.v if v is not None)
        named = values(label=curve.column.label or curve.column.channel, stayed_c=stayed_c)
        place = curve.column.place
        yield _finding(
            "heat.sensor-frozen", Outcome.CANNOT_TELL, Aspect.HEAT, named, configuration, evidence, place
        )


def fan_findings(
    curves: Sequence[Series], configuration: str, evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """Return whether the fans that report a speed turned at some time of the burn-in.

    A fan at 0 may be one that stops at low load, so it is judged over the whole run; a channel that stays
    at 0 may be a header with nothing on it, which only a look can tell (both common practice).
    """
    fans = [curve for curve in curves if curve.column.quantity == "fan"]
    highest = [(f.column, max((v for v in f.v if v is not None), default=0.0)) for f in fans]
    turning = [(column, rpm) for column, rpm in highest if rpm > 0]
    still = [column for column, rpm in highest if rpm <= 0]
    if not turning:
        code = "fans.silent" if fans else "fans.no-sensor"
        yield _finding(code, Outcome.CANNOT_TELL, Aspect.FANS, (), configuration, evidence)
        return
    named = values(count=len(turning), highest_rpm=max(rpm for _, rpm in turning))
    yield _finding("fans.turn", Outcome.CONFORMS, Aspect.FANS, named, configuration, evidence)
    for column in still:
        named = values(label=column.label or column.channel)
        yield _finding(
            "fans.one-silent", Outcome.CANNOT_TELL, Aspect.FANS, named, configuration, evidence, column.place
        )


def throttle_findings(
    curves: Sequence[Series], configuration: str, evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """Return a difference for every counter of thermal throttling that rose during the burn-in."""
    for curve in curves:
        seen = [v for v in curve.v if v is not None]
        times = sum(max(0.0, b - a) for a, b in pairwise(seen))  # a restart sets the counter back
        if curve.column.quantity == "throttle" and times:
            named = values(label=curve.column.label or curve.column.channel, times=times)
            yield _finding(
                "heat.throttled",
                Outcome.DIFFERS,
                Aspect.HEAT,
                named,
                configuration,
                evidence,
                curve.column.place,
            )


def _temperature_values(row: ThermalSummary) -> tuple[Value, ...]:
    limit_c = row.limit_c if row.limit_c is not None else 0.0
    return values(
        label=row.label or row.channel,
        highest_c=row.highest_c,
        limit_c=limit_c,
        margin_c=round(limit_c - row.highest_c, 1),
        origin=row.limit_origin,
    )


def _finding(
    code: str,
    outcome: Outcome,
    aspect: Aspect,
    named: tuple[Value, ...],
    configuration: str,
    evidence: tuple[str, ...],
    part: str = "",
) -> Finding:
    return burn_in_finding(code, outcome, aspect, named, configuration, evidence, part=part)
