"""The first seconds of a load: does heat find its way out of the processor at all?

A cooler that sits has mass: of the rise to its plateau only the part across die, spreader and paste comes at
once, and the rest takes the cooler's own time, minutes as a rule (JESD51-14's sum of first-order stages; the
constants are common practice). Where the cooler does not touch, a film is left on its base, or a pump stands
still, that mass is not there: from rest to the neighbourhood of the limit is a matter of seconds.

The rule (our choice): it is asked of steps that begin cool, since a hot machine may rightly swing by the
quick part alone; from at least FAR_K below the limit a processor comes to within NEAR_K of it before FIRST_S
of full load have passed. A processor that boosts to its limit by design does that too, but it then keeps what
only a cooler that sits can carry: nearly the power that its maker allows it over a long time, or, where that
is not measured or not limited, its base clock, or at least half of its highest clock. Without a cooler it
saves itself, and falls far below. Where it keeps that, nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.heat import bound_of
from shipworthy.machine.parse.sensors.drivers import is_of_processor
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import StepSpan
from shipworthy.model.words import Aspect, Outcome, PartKind

FIRST_S = 8.0
FAR_K, NEAR_K = 30.0, 5.0
COOL_K = 10.0
"""A step begins cool when it begins no more than this above the lowest that the sensor showed."""
CARRIED_SHARE, CARRIED_FROM_S, CARRIED_TO_S = 0.8, 2.0, 30.0
UNLIMITED_W = 1000.0
"""Boards that lift a limit write the largest number that fits (4095 W; common practice)."""
CLOCK_SHARE, HIGHEST_SHARE = 0.97, 0.5


def rise_findings(
    curves: Sequence[Curve],
    spans: Sequence[StepSpan],
    limits: Sequence[Limit],
    reading: Reading,
    basis: Basis,
) -> Iterator[Finding]:
    """Return one finding for each processor that was near its limit at once: by its first sensor, once."""
    told: set[str] = set()
    for curve in curves:
        column = curve.column
        if column.quantity != "temperature" or not is_of_processor(column.place, column.label):
            continue
        if column.place in told:
            continue
        bound = bound_of(column, limits)
        for span in spans if bound else ():
            rise = _at_once(curve, span, bound.value_c) if bound else None
            if rise is None or _is_carried(curves, span, reading):
                continue
            from_c, to_c, took_s = rise
            told.add(column.place)
            yield basis.finding(
                "heat.rises-at-once",
                Outcome.DIFFERS,
                Aspect.HEAT,
                of_part=column.place,
                label=column.label or column.channel,
                step=span.step,
                from_c=round(from_c, 1),
                to_c=round(to_c, 1),
                took_s=round(took_s, 1),
                limit_c=bound.value_c if bound else 0.0,
            )
            break


def _at_once(curve: Curve, span: StepSpan, limit_c: float) -> tuple[float, float, float] | None:
    """Return from where to where the temperature rose, and in how many s; None where it rose as it should.

    Loads work before all of them are ready, on one core mostly: a step whose temperature is up before that
    began cool all the same, and has shown the fault all the earlier.
    """
    if span.under_load_s is None:
        return None
    before = curve.between(span.begin_s - 1.0, span.begin_s + 1.0)
    first, last = np.searchsorted(curve.t_s, (span.begin_s, min(span.under_load_s + FIRST_S, span.end_s)))
    v, t_s = curve.v[first:last], curve.t_s[first:last]
    if not len(before) or not len(v) or np.isnan(v).all():
        return None
    from_c, to_c = float(before.min()), float(np.nanmax(v))
    if from_c > float(curve.seen.min()) + COOL_K or limit_c - from_c < FAR_K or to_c < limit_c - NEAR_K:
        return None
    near_s = float(t_s[np.flatnonzero(v >= limit_c - NEAR_K)[0]])
    low = np.flatnonzero(v[t_s <= near_s] <= from_c + 2.0)
    began_s = float(t_s[low[-1]]) if len(low) else span.begin_s
    took_s = near_s - began_s
    return (from_c, to_c, took_s) if took_s <= FIRST_S else None


def _is_carried(curves: Sequence[Curve], span: StepSpan, reading: Reading) -> bool:
    """Whether the processor kept, after the first moment, what only a cooler that sits can carry."""
    processors = reading.of_kind(PartKind.PROCESSOR)
    allowed = [w for p in processors if (w := p.number("power_limit_long_w")) and w < UNLIMITED_W]
    packages = [c for c in curves if c.column.quantity == "power" and c.column.place.startswith("socket:")]
    drawn = [median for curve in packages if (median := _settled(curve, span)) is not None]
    if allowed and drawn:
        return max(drawn) >= CARRIED_SHARE * min(allowed)
    clocks = [c for c in curves if c.column.quantity == "clock" and c.column.place.startswith("cpu:")]
    kept = [median for curve in clocks if (median := _settled(curve, span)) is not None]
    if not kept:
        return False
    bases = [mhz for p in processors if (mhz := p.number("base_mhz"))]
    highest = max(float(curve.seen.max()) for curve in clocks if len(curve.seen))
    return max(kept) >= (CLOCK_SHARE * max(bases) if bases else HIGHEST_SHARE * highest)


def _settled(curve: Curve, span: StepSpan) -> float | None:
    """Return the median of a curve after the first moment of a step's load; None without a sample."""
    if span.under_load_s is None:
        return None
    begin_s = span.under_load_s + CARRIED_FROM_S
    seen = curve.between(begin_s, min(span.under_load_s + CARRIED_TO_S, span.end_s))
    return float(np.median(seen)) if len(seen) else None
