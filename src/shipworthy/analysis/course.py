"""The course of a burn-in: did it run to its end, on one machine, without a hole in the log?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.power import is_open, restarted
from shipworthy.analysis.runs import Happened, Segment
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import ConfigurationSeen, Row, StepSpan
from shipworthy.model.words import Aspect, Ending, Outcome

HOLE_S = 10.0
"""A log that is silent for longer shows a machine that stood still, or one too busy to write (our choice)."""
STEP_SHARE = 0.98
"""A step counts as run when it lasted this share of what was planned (timers and start-up take the rest)."""


def course_findings(
    plan: Plan | None,
    segments: Sequence[Segment],
    events: Sequence[Happened],
    spans: Sequence[StepSpan],
    configuration: Configuration,
    basis: Basis,
    least_s: float = 0.0,
) -> Iterator[Finding]:
    """Return the findings on how the burn-in went, apart from what it showed.

    configuration: as it was read before the burn-in. least_s: for how long the policy wants loads to run; a
    rest counts for nothing.
    """
    if not segments or plan is None:
        yield Basis(basis.configuration, ()).finding("burn-in.none", Outcome.NOT_CHECKED, Aspect.ENDING)
        return
    yield _end(plan, segments, events, spans, basis, least_s)
    yield from _restarts(segments, events, basis)
    yield from _holes(segments, basis)
    yield from _guard_stops(events, basis)
    yield from _pauses(events, basis)
    yield from _changes(segments, configuration, basis)


def _end(
    plan: Plan,
    segments: Sequence[Segment],
    events: Sequence[Happened],
    spans: Sequence[StepSpan],
    basis: Basis,
    least_s: float,
) -> Finding:
    last = segments[-1]
    loaded_s = sum(step.seconds for step in plan.steps if step.loads)
    if last.ending is not Ending.COMPLETED:
        reason = last.stop.reason if last.stop else ""
        return basis.finding(
            "burn-in.not-completed",
            Outcome.DIFFERS,
            Aspect.ENDING,
            ending=last.ending.value,
            reason=reason,
        )
    if short := _steps_cut_short(plan, spans, events):
        return basis.finding("burn-in.step-cut-short", Outcome.DIFFERS, Aspect.ENDING, steps=", ".join(short))
    if loaded_s < least_s:
        return basis.finding(
            "burn-in.too-short", Outcome.DIFFERS, Aspect.ENDING, loaded_s=loaded_s, least_s=least_s
        )
    return basis.finding(
        "burn-in.completed",
        Outcome.CONFORMS,
        Aspect.ENDING,
        planned_s=plan.seconds,
        segments=len(segments),
    )


def _steps_cut_short(plan: Plan, spans: Sequence[StepSpan], events: Sequence[Happened]) -> list[str]:
    """Return the steps that did not run for their time. Of a power cycle its planned time is the longest that
    it may take: there its announcement tells that it ran. One with nothing to work on here is passed over.
    """
    announced = {event.text("step") for event in events if event.code == "power.announced"}
    passed_over = {event.text("step") for event in events if event.code == "step.without-target"}
    told = any(span.under_load_s is not None for span in spans)
    return [
        step.step
        for step in plan.steps
        if step.step not in passed_over
        and (
            step.step not in announced
            if step.power
            else _longest_s(step, spans, told) < STEP_SHARE * step.seconds
        )
    ]


def _longest_s(step: PlanStep, spans: Sequence[StepSpan], told: bool) -> float:
    """Return for how long a step ran at its longest: with loads, from when all of them were at work.

    told: whether this log says so; those of the tool's first version do not.
    """
    ran = [0.0]
    for span in spans:
        if span.step == step.step:
            begin_s = span.under_load_s if step.loads and told else span.begin_s
            ran.append(0.0 if begin_s is None else span.end_s - begin_s)
    return max(ran)


def _restarts(segments: Sequence[Segment], events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """An unannounced restart of the machine is a difference; being taken up on the same start is not."""
    for before, after in pairwise([(n, s) for n, s in enumerate(segments) if s.start]):
        (number, left), (_, taken_up) = before, after
        if left.ending is Ending.AWAITING_POWER or is_open(events, number):
            continue  # announced: what came of it is told by the power cycles
        if left.ending is not Ending.INTERRUPTED or left.start is None or taken_up.start is None:
            continue
        if restarted(left.start.at, taken_up.start.at):
            yield basis.finding(
                "burn-in.unannounced-restart",
                Outcome.DIFFERS,
                Aspect.ENDING,
                segment=taken_up.file,
                after_s=left.seconds,
            )
        else:
            yield basis.finding("burn-in.taken-up", Outcome.CONFORMS, Aspect.ENDING, segment=taken_up.file)


def _holes(segments: Sequence[Segment], basis: Basis) -> Iterator[Finding]:
    """A sleep leaves none: the monotonic clock stands still with the machine (clock_gettime(2))."""
    for segment in segments:
        times = np.array([0.0, *(row.t_s for row in segment.of(Row)), segment.seconds])
        widest = float(np.diff(times).max(initial=0.0))
        if widest > HOLE_S:
            yield basis.finding(
                "burn-in.hole",
                Outcome.CANNOT_TELL,
                Aspect.ENDING,
                longest_s=round(widest, 1),
                segment=segment.file,
            )


def _guard_stops(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    for event in events:
        if event.code == "guard.limit":
            hot = event.text("quantity").startswith("temperature")
            aspect = Aspect.HEAT if hot else Aspect.ENDING
            yield basis.finding("burn-in.guard-stopped", Outcome.DIFFERS, aspect, event.said)
        elif event.code == "guard.lost":
            yield basis.finding("guard.lost", Outcome.DIFFERS, Aspect.ENDING, event.said)


def _pauses(events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """While a required sensor was silent nothing was computed: the time is named, and needs no one's consent
    where it was short, since the loads' own reports tell what was computed."""
    paused = [event for event in events if event.code == "loads.paused"]
    if paused:
        resumed = [event for event in events if event.code == "loads.resumed"]
        lost_s = sum(v for e in resumed if isinstance(v := e.said.get("paused_s"), int | float))
        yield basis.finding(
            "burn-in.paused",
            Outcome.CANNOT_TELL,
            Aspect.HEALTH,
            of_part=paused[0].text("place"),
            label=paused[0].text("label") or paused[0].text("place"),
            times=len(paused),
            lost_s=round(float(lost_s), 1),
        )


def _changes(segments: Sequence[Segment], was: Configuration, basis: Basis) -> Iterator[Finding]:
    """Within a segment the log says what changed; a segment begun under another one says it by itself."""
    code = "configuration.changed-during-burn-in"
    for segment in segments:
        if segment.start and segment.start.configuration.digest != basis.configuration:
            changed = [key for key, _, _ in was.changes_to(segment.start.configuration)]
            keys = ", ".join(changed) or "the configuration at its start"
            yield basis.finding(code, Outcome.DIFFERS, Aspect.CONFIGURATION, step=segment.file, keys=keys)
            return
    for segment in segments:
        for seen in segment.of(ConfigurationSeen):
            if seen.changed:
                yield basis.finding(
                    code,
                    Outcome.DIFFERS,
                    Aspect.CONFIGURATION,
                    step=seen.step,
                    keys=", ".join(seen.changed),
                )
                return
