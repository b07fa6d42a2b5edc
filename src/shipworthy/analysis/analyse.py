"""All that a burn-in showed, in one record."""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.analysis.course import course_findings
from shipworthy.analysis.curves import full_curves, thinned
from shipworthy.analysis.frozen import frozen_sensors
from shipworthy.analysis.heat import fan_findings, heat_findings, thermal_summaries, throttle_findings
from shipworthy.analysis.loads import load_findings, load_summaries
from shipworthy.analysis.runs import Segment, step_spans
from shipworthy.model.analysis import Analysis
from shipworthy.model.findings import Match
from shipworthy.model.orders import Order
from shipworthy.model.plan import Limit, Plan
from shipworthy.model.reading import Reading
from shipworthy.model.words import Ending, PartKind


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
    evidence = tuple(segment.file for segment in segments)
    configuration = reading.configuration.digest
    curves, spans = full_curves(segments), step_spans(segments)
    loads, frozen = load_summaries(segments), frozen_sensors(curves)
    thermals = thermal_summaries([curve for curve in curves if curve not in frozen], limits)
    findings = list(course_findings(plan, segments, spans, configuration, evidence, burn_in_least_s))
    if segments:
        findings += heat_findings(thermals, frozen, configuration, evidence)
        findings += fan_findings(curves, configuration, evidence)
        findings += throttle_findings(curves, configuration, evidence)
        findings += load_findings(order, matches, logical_cpus(reading), loads, configuration, evidence)
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
    )


def logical_cpus(reading: Reading) -> tuple[int, ...]:
    """Return the numbers of the logical processors that are online, as the kernel lists them ("0-3,8")."""
    listed = ",".join(part.text("online_cpus") for part in reading.of_kind(PartKind.PROCESSOR))
    numbers: set[int] = set()
    for span in filter(None, listed.split(",")):
        low, _, high = span.partition("-")
        numbers.update(range(int(low), int(high or low) + 1))
    return tuple(sorted(numbers))
