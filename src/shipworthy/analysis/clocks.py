"""Clocks and power under load: is the base clock kept, and does everything at once draw most?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shipworthy.analysis.curves import Curve, Floats
from shipworthy.analysis.findings import Basis
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Plan
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import StepSpan
from shipworthy.model.words import Aspect, Outcome, PartKind

BELOW = 0.97
"""Clocks are read as means of what hardware counted, a little off (common practice)."""
FAR_BELOW = 0.5
"""No width of vectors and no small power budget makes a processor fall to half of its base (common practice;
our choice of bound): that is heat, or a signal of the supply or the board that slows it down."""
FAR_BELOW_HIGHEST = 0.25
"""Where the base is not known (AMD's driver does not tell it; from memory): with all cores busy, also small
power budgets leave about half of the highest clock."""
MOST_OF_THE_TIME = 0.5
ALL_BUSY = 0.9
LEAST_S = 10.0
STEADY_S = 5.0
ALL_TOGETHER_SHARE = 0.95
"""Our goal for the step with everything: of the highest package power that any step reached."""


def clock_findings(
    curves: Sequence[Curve], spans: Sequence[StepSpan], reading: Reading, basis: Basis
) -> Iterator[Finding]:
    """Return a difference where all cores were busy and even the fastest of them stayed below the base clock.

    The base clock is what makers promise under their stated power (common practice); some run wide vectors
    below it by design, so a policy may make a note of this, but not of what is far below: that has a code of
    its own. The fastest core is asked, since the slower kind of a hybrid processor has a base of its own.
    """
    processors = reading.of_kind(PartKind.PROCESSOR)
    bases = [mhz for p in processors if (mhz := p.number("base_mhz"))]
    highest = [mhz for p in processors if (mhz := p.number("max_mhz"))]
    fastest = _fastest_when_all_busy(curves, spans)
    if fastest is None:
        return
    median_mhz = float(np.median(fastest))
    if len(bases) == 1:
        below = float(np.mean(fastest < BELOW * bases[0]))
        if below > MOST_OF_THE_TIME:
            yield basis.finding(
                "clock.far-below-base" if median_mhz < FAR_BELOW * bases[0] else "clock.below-base",
                Outcome.DIFFERS,
                Aspect.HEAT,
                base_mhz=bases[0],
                median_mhz=round(median_mhz),
                share_ratio=round(below, 2),
            )
    elif len(highest) == 1 and median_mhz < FAR_BELOW_HIGHEST * highest[0]:
        yield basis.finding(
            "clock.far-below-highest",
            Outcome.DIFFERS,
            Aspect.HEAT,
            highest_mhz=highest[0],
            median_mhz=round(median_mhz),
        )


def _fastest_when_all_busy(curves: Sequence[Curve], spans: Sequence[StepSpan]) -> Floats | None:
    """Return the fastest core's clock in each sample in which all cores were busy under load; None where that
    cannot be told, or was so for too short a time."""
    clocks = [c for c in curves if c.column.quantity == "clock" and c.column.place.startswith("cpu:")]
    busy = [c for c in curves if c.column.quantity == "utilisation" and c.column.place.startswith("cpu:")]
    loaded = [span for span in spans if span.under_load_s is not None]
    if not clocks or not busy or not loaded:
        return None
    times = clocks[0].t_s
    if any(len(c.t_s) != len(times) for c in (*clocks, *busy)):
        return None
    fastest: Floats = np.fmax.reduce([c.v for c in clocks])
    least_busy = np.fmin.reduce([c.v for c in busy])
    within = np.zeros(len(times), dtype=bool)
    for span in loaded:
        within |= (times >= (span.under_load_s or 0.0)) & (times <= span.end_s)
    asked = within & (least_busy >= ALL_BUSY) & ~np.isnan(fastest)
    return fastest[asked] if asked.sum() * clocks[0].interval_s >= LEAST_S else None


def power_level_findings(
    plan: Plan | None, curves: Sequence[Curve], spans: Sequence[StepSpan], basis: Basis
) -> Iterator[Finding]:
    """Return the power of all packages in the step with most loads beside the highest that any step reached.

    Cannot tell where it reached less: then the step with everything did not stress the supply as it should,
    which is the plan's fault, and no part's.
    """
    watts = [c for c in curves if c.column.quantity == "power" and c.column.place.startswith("socket:")]
    packages = [c for c in watts if c.column.label.startswith("package")] or watts[:1]
    if plan is None or not packages:
        return
    loads = {step.step: len({request.load for request in step.loads}) for step in plan.steps}
    most = max(loads.values(), default=0)
    levels: dict[str, float] = {}
    whole = Curve(packages[0].column, packages[0].t_s, np.sum([c.v for c in packages], axis=0))
    for span in spans:
        level = _steady_w(whole, span)
        if level is not None:
            levels[span.step] = max(level, levels.get(span.step, 0.0))
    together = {step: level for step, level in levels.items() if loads.get(step) == most}
    if most < 2 or not together or len(levels) < 2:
        return
    step, reached_w = max(together.items(), key=lambda pair: pair[1])
    highest_step, highest_w = max(levels.items(), key=lambda pair: pair[1])
    if highest_w <= 0:
        return  # a counter that stands still (of a virtual machine) is no reading
    enough = reached_w >= ALL_TOGETHER_SHARE * highest_w
    yield basis.finding(
        "power.all-together" if enough else "power.all-together-less",
        Outcome.CONFORMS if enough else Outcome.CANNOT_TELL,
        Aspect.LOAD,
        step=step,
        reached_w=round(reached_w, 1),
        highest_w=round(highest_w, 1),
        highest_step=highest_step,
        share_ratio=round(reached_w / highest_w, 3),
    )


def _steady_w(curve: Curve, span: StepSpan) -> float | None:
    """Return the highest mean over some seconds of a step under load; None where it was shorter than that."""
    if span.under_load_s is None:
        return None
    watts = curve.between(span.under_load_s, span.end_s)
    width = round(STEADY_S / interval) if (interval := curve.interval_s) > 0 else 0
    if width < 1 or len(watts) < width:
        return None
    sums = np.cumsum(np.concatenate(([0.0], watts)))
    return float((sums[width:] - sums[:-width]).max() / width)
