"""Slow-downs for heat: as the processor counts them, one finding, whether they were moments or the rule; as a
graphics card says that it is held, one for each reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import Column, StepSpan
from shipworthy.model.words import Aspect, Outcome, Unit

A_STEP, A_MINUTE = 2, 1
"""Where a load begins, a processor boosts to its limit for moments by design, and counts that. A cooler that
does not suffice makes it count hundreds a minute (common practice; the bounds are our choice). One long
slow-down that counts once shows by its temperature and its clocks."""
MINUTE_S = 60.0
HELD_S = 2.0
"""A card may say so for a moment when its state of performance changes (our choice; rows come at 4 Hz)."""
POWER_BRAKE = "hw_power_brake_slowdown"


def throttle_findings(curves: Sequence[Curve], spans: Sequence[StepSpan], basis: Basis) -> Iterator[Finding]:
    """Return a difference where counters of thermal slow-downs rose more than at the edges of loads.

    A package counts, and each of its cores, and each thread of a core again: the one that counted most is
    named, as the package's where that has one.
    """
    throttles = [curve for curve in curves if curve.column.quantity == "throttle"]
    yield from _held(throttles, basis)
    counted = [(curve.column, _rises(curve)) for curve in throttles if curve.column.unit is Unit.COUNT]
    risen = [(column, times) for column, times in counted if times]
    if not risen:
        return
    column, times = max(risen, key=lambda pair: (pair[1], pair[0].place.startswith("socket:")))
    steps, minutes = _under_load(spans)
    often = times > A_STEP * steps + A_MINUTE * minutes
    named: dict[str, Scalar] = {
        "label": column.label or column.channel,
        "times": times,
        "counters": len(risen),
        "steps": steps,
        "loaded_s": round(minutes * MINUTE_S),
    }
    if often:
        yield basis.finding(
            "heat.throttled", Outcome.DIFFERS, Aspect.HEAT, named, of_part=_package(risen, column)
        )
    else:
        yield basis.finding("heat.throttled-briefly", Outcome.CONFORMS, Aspect.HEAT, named)


def _held(throttles: Sequence[Curve], basis: Basis) -> Iterator[Finding]:
    """Return a difference for each reason that held a graphics card for longer than a moment."""
    for curve in throttles:
        held_s = float((curve.seen == 1).sum()) * curve.interval_s
        if curve.column.unit is Unit.RATIO and held_s >= HELD_S:
            named: dict[str, Scalar] = {
                "label": curve.column.label or curve.column.channel,
                "held_s": round(held_s, 1),
            }
            brake = curve.column.channel == POWER_BRAKE
            code = "power.card-braked" if brake else "heat.graphics-throttled"
            yield basis.finding(code, Outcome.DIFFERS, Aspect.HEAT, named, of_part=curve.column.place)


def _rises(curve: Curve) -> float:
    """Return by how much a counter rose; a restart sets it back."""
    rises = np.diff(curve.seen)
    return float(rises[rises > 0].sum())


def _under_load(spans: Sequence[StepSpan]) -> tuple[int, float]:
    """Return how many times a load began, and the minutes under load; logs of the tool's first version do not
    say which steps had any, and all count."""
    loaded = [span for span in spans if span.under_load_s is not None]
    if not loaded:
        return len(spans), sum(span.end_s - span.begin_s for span in spans) / MINUTE_S
    return len(loaded), sum(span.end_s - (span.under_load_s or 0.0) for span in loaded) / MINUTE_S


def _package(risen: Sequence[tuple[Column, float]], most: Column) -> str:
    packages = [column.place for column, _ in risen if column.place.startswith("socket:")]
    return most.place if most.place in packages or len(packages) != 1 else packages[0]
