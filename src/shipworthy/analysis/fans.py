"""Fans: whether they turned, whether one stopped under load, and whether they answered to heat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shipworthy.analysis.curves import Curve, Floats
from shipworthy.analysis.findings import Basis
from shipworthy.machine.parse.sensors.drivers import is_of_processor
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import StepSpan
from shipworthy.model.words import Aspect, Outcome

STOOD_S = 20.0
"""For so long without a turn is no garbled reading and no fan that starts again (our choice)."""
HOT_C = 60.0
"""Fans that may stand still do so below about 50 to 60 °C (makers' leaflets, from memory): above, one that
turned before has no reason to stop."""
COOLER_K = 5.0
"""A fan that stands while its temperature is this much below what it was when it turned may be regulated."""
ABOVE_LEAST_RATIO = 1.25
STEADY_RATIO = 1.15
LAST_S = 3.0
"""A fan that stops by design slows down to the least speed of its curve before (common practice); one that is
blocked or unplugged stops from where it was, and one without a control has one speed only (our bounds)."""
ANSWER_RATIO = 1.1
HOT_AND_COOL_K = 8.0


def fan_findings(curves: Sequence[Curve], spans: Sequence[StepSpan], basis: Basis) -> Iterator[Finding]:
    """Return whether the fans that report a speed turned at some time of the burn-in.

    A fan at 0 may be one that stops at low load, so it is judged over the whole run; a channel that stays
    at 0 may be a header with nothing on it, which only a look can tell (both common practice). One that
    turned and then stood still in the heat is a difference.
    """
    fans = [curve for curve in curves if curve.column.quantity == "fan"]
    highest = [(f.column, float(f.seen.max(initial=0.0))) for f in fans]
    turning = [(column, rpm) for column, rpm in highest if rpm > 0]
    if not turning:
        code = "fans.silent" if fans else "fans.no-sensor"
        yield basis.finding(code, Outcome.CANNOT_TELL, Aspect.FANS)
        return
    yield basis.finding(
        "fans.turn",
        Outcome.CONFORMS,
        Aspect.FANS,
        count=len(turning),
        highest_rpm=max(rpm for _, rpm in turning),
    )
    for column, rpm in highest:
        if rpm <= 0:
            yield basis.finding(
                "fans.one-silent",
                Outcome.CANNOT_TELL,
                Aspect.FANS,
                of_part=column.place,
                label=column.label or column.channel,
            )
    for fan in fans:
        yield from _stopped(fan, curves, basis)
        if any(span.under_load_s is not None for span in spans):
            yield from _answered(fan, curves, basis)


def _heat_beside(fan: Curve, curves: Sequence[Curve]) -> Floats:
    """Return the highest temperature beside each of the fan's samples: of its own card where the fan sits on
    one, else the processor's. NaN where there is none."""
    warm = [c for c in curves if c.column.quantity == "temperature" and len(c.t_s) == len(fan.t_s)]
    own = [c for c in warm if c.column.place == fan.column.place and c.column.place.startswith("pci:")]
    beside = own or [c for c in warm if is_of_processor(c.column.place, c.column.label)]
    if not beside:
        return np.full(len(fan.t_s), np.nan)
    hottest: Floats = np.fmax.reduce([c.v for c in beside])
    return hottest


def _stopped(fan: Curve, curves: Sequence[Curve], basis: Basis) -> Iterator[Finding]:
    """A fan that stood in the heat though it had turned before. It may hang on the heat of another part and
    stop by design: then somebody has to look, and a difference it is only where it stopped as none by design
    does."""
    heat_c = _heat_beside(fan, curves)
    told = ~np.isnan(fan.v) & ~np.isnan(heat_c)
    times, speeds, heat_c = fan.t_s[told], fan.v[told], heat_c[told]
    found: tuple[int, int, float] | None = None
    for first, last in _standing(speeds):
        before = speeds[:first] > 0
        if not before.any() or times[last] - times[first] < STOOD_S:
            continue
        standing_c = float(np.median(heat_c[first : last + 1]))
        turning_c = float(np.median(heat_c[:first][before]))
        if standing_c < max(HOT_C, turning_c - COOLER_K):
            continue
        if found is None or _at_once(times, speeds, first):
            found = first, last, standing_c
        if _at_once(times, speeds, first):
            break
    if found is None:
        return
    first, last, standing_c = found
    fault = _at_once(times, speeds, first)
    yield basis.finding(
        "fans.stopped" if fault else "fans.stood",
        Outcome.DIFFERS if fault else Outcome.CANNOT_TELL,
        Aspect.FANS,
        of_part=fan.column.place,
        label=fan.column.label or fan.column.channel,
        before_rpm=float(np.median(speeds[:first][speeds[:first] > 0])),
        at_s=round(float(times[first]), 1),
        stood_s=round(float(times[last] - times[first]), 1),
        beside_c=round(standing_c, 1),
    )


def _at_once(times: Floats, speeds: Floats, first: int) -> bool:
    """Whether a fan stopped from well above its least speed, or has one speed only and never stood before."""
    turned = speeds[:first][speeds[:first] > 0]
    recent = speeds[:first][times[:first] >= times[first] - LAST_S]
    last_rpm = float(np.median(recent[recent > 0])) if (recent > 0).any() else float(turned[-1])
    least, most = (float(v) for v in np.quantile(turned, (0.05, 0.95)))
    return last_rpm >= ABOVE_LEAST_RATIO * least or (most <= STEADY_RATIO * least and len(turned) == first)


def _standing(speeds: Floats) -> Iterator[tuple[int, int]]:
    """Return first and last sample of each stretch in which a fan did not turn."""
    still = np.concatenate(([False], speeds <= 0, [False])).astype(np.int8)
    edges = np.diff(still)
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    yield from zip(begins.tolist(), ends.tolist(), strict=True)


def _answered(fan: Curve, curves: Sequence[Curve], basis: Basis) -> Iterator[Finding]:
    """Say that a fan turned faster in the heat. One that keeps its speed may be meant to: no finding."""
    heat_c = _heat_beside(fan, curves)
    told = ~np.isnan(fan.v) & ~np.isnan(heat_c)
    if not told.any():
        return
    speeds, heat_c = fan.v[told], heat_c[told]
    cool_c, hot_c = np.quantile(heat_c, (0.1, 0.9))
    if hot_c - cool_c < HOT_AND_COOL_K:
        return
    cool_rpm, hot_rpm = (float(np.median(speeds[part])) for part in (heat_c <= cool_c, heat_c >= hot_c))
    if hot_rpm > 0 and hot_rpm >= ANSWER_RATIO * cool_rpm:
        yield basis.finding(
            "fans.answer",
            Outcome.CONFORMS,
            Aspect.FANS,
            of_part=fan.column.place,
            label=fan.column.label or fan.column.channel,
            cool_rpm=round(cool_rpm),
            hot_rpm=round(hot_rpm),
        )
