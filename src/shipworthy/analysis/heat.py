"""Temperatures: what was reached, against whose limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Happened
from shipworthy.machine.parse.sensors.drivers import is_of_processor
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column, StepSpan, ThermalSummary
from shipworthy.model.words import Aspect, Outcome

SPOKEN_SHARE = 0.9
"""A sensor that gave a value in fewer of the samples shows nothing about the rest (our choice)."""


@dataclass(frozen=True)
class Bound:
    """The limit that binds a temperature, and who set it."""

    value_c: float
    origin: str


def thermal_summaries(
    curves: Sequence[Curve], spans: Sequence[StepSpan], limits: Sequence[Limit]
) -> tuple[ThermalSummary, ...]:
    """Return a row for each temperature that spoke nearly all the time, also of the time under load, or that
    reached its limit; of any other it is not known how hot it was while it was silent."""
    rows = []
    for curve in curves:
        seen = curve.seen
        if curve.column.quantity != "temperature" or not len(seen):
            continue
        bound = bound_of(curve.column, limits)
        reached = bound is not None and seen.max() >= bound.value_c
        if not reached and not _spoke(curve, spans):
            continue
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


def _spoke(curve: Curve, spans: Sequence[StepSpan]) -> bool:
    given = ~np.isnan(curve.v)
    loaded = np.zeros(len(given), dtype=bool)
    for span in spans:
        if span.under_load_s is not None:
            loaded |= (curve.t_s >= span.under_load_s) & (curve.t_s <= span.end_s)
    shares = [given.mean(), *([given[loaded].mean()] if loaded.any() else [])]
    return bool(min(shares) >= SPOKEN_SHARE)


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
    rows: Sequence[ThermalSummary], frozen: Sequence[Curve], events: Sequence[Happened], basis: Basis
) -> Iterator[Finding]:
    """Return one finding for each part with a temperature at its limit, or one that all kept below.

    frozen: sensors of a processor that stood still. They are not among the rows, and each is named. events:
    a limit that the guard stopped at was reached, be it between two rows.
    """
    judged = [row for row in rows if row.limit_c is not None]
    processor = any(is_of_processor(row.place, row.label) for row in judged)
    over = [row for row in judged if row.limit_c is not None and row.highest_c >= row.limit_c]
    reached = {row.place for row in over}
    stops = [stop for stop in _stops(events) if _wired(stop)[0] not in reached]
    if not judged and not frozen and not stops:
        yield basis.finding("heat.no-sensor", Outcome.CANNOT_TELL, Aspect.HEAT)
    elif not processor and not any(is_of_processor(*_named(stop)) for stop in stops):
        yield basis.finding("heat.no-processor", Outcome.CANNOT_TELL, Aspect.HEAT)
    elif not over and not stops:
        hottest = min(judged, key=lambda row: (row.limit_c or 0.0) - row.highest_c)
        yield basis.finding("heat.within-limits", Outcome.CONFORMS, Aspect.HEAT, _said(hottest))
    for place, of_part in _by_place(over).items():
        worst = max(of_part, key=lambda row: row.highest_c - (row.limit_c or 0.0))
        said = _said(worst) | {"sensors": len(of_part)}
        yield basis.finding("heat.limit-reached", Outcome.DIFFERS, Aspect.HEAT, said, of_part=place)
    for place, stop in {_wired(stop)[0]: stop for stop in stops}.items():
        said = _said_by_guard(stop)
        yield basis.finding("heat.limit-reached", Outcome.DIFFERS, Aspect.HEAT, said, of_part=place)
    yield from _frozen(frozen, beside=processor, basis=basis)


def _by_place(rows: Sequence[ThermalSummary]) -> dict[str, list[ThermalSummary]]:
    """A processor has a sensor for each core, and all of them are at the limit together."""
    found: dict[str, list[ThermalSummary]] = {}
    for row in rows:
        found.setdefault(row.place, []).append(row)
    return found


def _frozen(frozen: Sequence[Curve], *, beside: bool, basis: Basis) -> Iterator[Finding]:
    """A sensor that stands still leaves heat open; beside a processor's own that moves it is told, and leaves
    nothing open (a board's input for a socket's thermistor is often not wired: common practice)."""
    for curve in frozen:
        yield basis.finding(
            "heat.sensor-frozen",
            Outcome.CANNOT_TELL,
            Aspect.HEALTH if beside else Aspect.HEAT,
            of_part=curve.column.place,
            label=curve.column.label or curve.column.channel,
            stayed_c=float(curve.seen[0]),
        )


def _stops(events: Sequence[Happened]) -> list[Happened]:
    return [
        event
        for event in events
        if event.code == "guard.limit" and event.text("quantity").startswith("temperature")
    ]


def _wired(stop: Happened) -> tuple[str, str]:
    """Return place and channel of what the guard stopped at: a place may hold a `/`, a channel never does."""
    place, _, channel = stop.text("quantity").removeprefix("temperature/").rpartition("/")
    return place, channel


def _named(stop: Happened) -> tuple[str, str]:
    return _wired(stop)[0], stop.text("label")


def _said_by_guard(stop: Happened) -> dict[str, Scalar]:
    """The numbers; in logs of the tool's first version their texts."""
    return {
        "label": stop.text("label") or _wired(stop)[1] or "a temperature",
        "highest_c": stop.said.get("seen_c", stop.text("seen")),
        "limit_c": stop.said.get("limit_c", stop.text("limit") or "not told"),
        "origin": stop.text("origin") or "not told",
        "sensors": 1,
    }


def _said(row: ThermalSummary) -> dict[str, Scalar]:
    limit_c = row.limit_c if row.limit_c is not None else 0.0
    return {
        "label": row.label or row.channel,
        "highest_c": row.highest_c,
        "limit_c": limit_c,
        "margin_c": round(limit_c - row.highest_c, 1),
        "origin": row.limit_origin,
    }
