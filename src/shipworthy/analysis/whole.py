"""All that a burn-in showed, in one record."""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.analysis.clocks import clock_findings, power_level_findings
from shipworthy.analysis.course import course_findings, hole_s
from shipworthy.analysis.curves import full_curves, thinned
from shipworthy.analysis.diligence import diligence_findings
from shipworthy.analysis.fans import fan_findings
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.frozen import frozen_sensors
from shipworthy.analysis.health import health_findings
from shipworthy.analysis.heat import heat_findings, thermal_summaries
from shipworthy.analysis.lines import Lines, logical_cpus
from shipworthy.analysis.links import link_findings
from shipworthy.analysis.loads import load_findings, load_summaries
from shipworthy.analysis.marks import marks_of
from shipworthy.analysis.power import power_findings
from shipworthy.analysis.rates import slow_findings
from shipworthy.analysis.rise import rise_findings
from shipworthy.analysis.runs import Segment, happenings, step_spans
from shipworthy.analysis.throttling import throttle_findings
from shipworthy.analysis.wrong import wrong_results
from shipworthy.model.analysis import Analysis
from shipworthy.model.findings import Match
from shipworthy.model.orders import Order
from shipworthy.model.plan import Limit, Plan
from shipworthy.model.reading import Reading
from shipworthy.model.words import Ending


def analyse(
    plan: Plan | None,
    segments: Sequence[Segment],
    order: Order,
    matches: Sequence[Match],
    reading: Reading,
    limits: Sequence[Limit],
    burn_in_least_s: float = 0.0,
) -> Analysis:
    """Return what the run log shows. Pure: the same log gives the same analysis.

    plan: None where no burn-in was run.
    matches: which parts stand for which order line. reading: the one taken before the burn-in. limits: the
    policy's and the plan's; a device's own come with its column.
    burn_in_least_s: the policy's least time. Findings carry the reading's configuration; a burn-in under
    another one is a difference of its own.
    """
    basis = Basis(reading.configuration.digest, tuple(segment.file for segment in segments))
    curves, events = full_curves(segments), happenings(segments)
    spans, loads = step_spans(segments, events), load_summaries(segments)
    frozen = frozen_sensors(curves)
    trusted = [
        curve.confirmed() if curve.column.quantity == "temperature" else curve
        for curve in curves
        if not any(curve is still for still in frozen)
    ]
    thermals = thermal_summaries(trusted, spans, limits)
    findings = [
        *course_findings(plan, segments, events, spans, reading.configuration, basis, burn_in_least_s)
    ]
    if segments:
        lines = Lines(order, matches, logical_cpus(reading, curves))
        findings += heat_findings(thermals, frozen, events, basis)
        findings += rise_findings(trusted, spans, limits, reading, basis)
        findings += fan_findings(curves, spans, basis)
        findings += throttle_findings(curves, spans, basis)
        findings += clock_findings(curves, spans, reading, basis)
        findings += load_findings(lines, loads, wrong_results(loads, events, trusted), basis)
        findings += diligence_findings(plan, segments, events, loads, lines, hole_s(plan), basis)
        findings += slow_findings(order, matches, reading, segments, basis)
        findings += link_findings(order, matches, reading, segments, curves, basis)
        findings += power_level_findings(plan, curves, spans, basis)
        findings += power_findings(segments, events, basis)
        findings += health_findings(segments, events, curves, basis)
    end_s = max((float(curve.t_s[-1]) for curve in curves if len(curve.t_s)), default=0.0)
    return Analysis(
        plan_id=plan.plan_id if plan else "none",
        ending=segments[-1].ending if segments else Ending.FAILED_TO_RUN,
        planned_s=plan.seconds if plan else 0.0,
        ran_s=round(sum(segment.seconds for segment in segments), 3),
        segments=tuple(segment.summary() for segment in segments),
        spans=spans,
        loads=loads,
        thermals=thermals,
        series=tuple(thinned(curve) for curve in curves),
        findings=tuple(findings),
        marks=marks_of(segments, events, end_s),
    )
