"""The course of a burn-in: did it run to its end, on one machine, without a hole in the log?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from shipworthy.analysis.findings import burn_in_finding
from shipworthy.analysis.runs import Segment
from shipworthy.model.base import Value, values
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Plan
from shipworthy.model.runlog import ConfigurationSeen, Event, Row, StepSpan
from shipworthy.model.words import Aspect, Ending, Outcome

HOLE_S = 10.0
"""A log that is silent for longer shows a machine that stood still, or one too busy to write (our choice)."""
STEP_SHARE = 0.98
"""A step counts as run when it lasted this share of what was planned (timers and start-up take the rest)."""


def course_findings(
    plan: Plan | None,
    segments: Sequence[Segment],
    spans: Sequence[StepSpan],
    configuration: str,
    evidence: tuple[str, ...],
    least_s: float = 0.0,
) -> Iterator[Finding]:
    """Return the findings on how the burn-in went, apart from what it showed.

    least_s: for how long the policy wants loads to run; a rest counts for nothing.
    """
    last = segments[-1] if segments else None
    if last is None or plan is None:
        yield _finding("burn-in.none", Outcome.NOT_CHECKED, (), configuration, ())
        return
    short = _steps_cut_short(plan, spans)
    if last.ending is not Ending.COMPLETED:
        reason = last.stop.reason if last.stop else ""
        named = values(ending=last.ending.value, reason=reason)
        yield _finding("burn-in.not-completed", Outcome.DIFFERS, named, configuration, evidence)
    elif short:
        named = values(steps=", ".join(short))
        yield _finding("burn-in.step-cut-short", Outcome.DIFFERS, named, configuration, evidence)
    elif (loaded_s := sum(step.seconds for step in plan.steps if step.loads)) < least_s:
        named = values(loaded_s=loaded_s, least_s=least_s)
        yield _finding("burn-in.too-short", Outcome.DIFFERS, named, configuration, evidence)
    else:
        named = values(planned_s=plan.seconds, segments=len(segments))
        yield _finding("burn-in.completed", Outcome.CONFORMS, named, configuration, evidence)
    yield from _restarts(segments, configuration, evidence)
    yield from _holes(segments, configuration, evidence)
    yield from _guard_stops(segments, configuration, evidence)
    yield from _changes(segments, configuration, evidence)


def _steps_cut_short(plan: Plan, spans: Sequence[StepSpan]) -> list[str]:
    longest = {
        step.step: max((s.end_s - s.begin_s for s in spans if s.step == step.step), default=0.0)
        for step in plan.steps
    }
    return [step.step for step in plan.steps if longest[step.step] < STEP_SHARE * step.seconds]


def _restarts(
    segments: Sequence[Segment], configuration: str, evidence: tuple[str, ...]
) -> Iterator[Finding]:
    """An unannounced restart of the machine is a difference; being taken up on the same start is not."""
    for before, after in pairwise([s for s in segments if s.start]):
        if before.ending is Ending.INTERRUPTED and before.start and after.start:
            if before.start.at.boot_id == after.start.at.boot_id:
                named = values(segment=after.file)
                yield _finding("burn-in.taken-up", Outcome.CONFORMS, named, configuration, evidence)
            else:
                named = values(segment=after.file, after_s=before.seconds)
                yield _finding("burn-in.unannounced-restart", Outcome.DIFFERS, named, configuration, evidence)


def _holes(segments: Sequence[Segment], configuration: str, evidence: tuple[str, ...]) -> Iterator[Finding]:
    for segment in segments:
        times = [0.0, *(row.t_s for row in segment.of(Row)), segment.seconds]
        widest = max((b - a for a, b in pairwise(times)), default=0.0)
        if widest > HOLE_S:
            named = values(longest_s=round(widest, 1), segment=segment.file)
            yield _finding("burn-in.hole", Outcome.CANNOT_TELL, named, configuration, evidence)


def _guard_stops(
    segments: Sequence[Segment], configuration: str, evidence: tuple[str, ...]
) -> Iterator[Finding]:
    for segment in segments:
        for event in segment.of(Event):
            if event.code == "guard.limit":
                hot = any(
                    v.name == "quantity" and str(v.value).startswith("temperature") for v in event.values
                )
                yield _finding(
                    "burn-in.guard-stopped",
                    Outcome.DIFFERS,
                    event.values,
                    configuration,
                    evidence,
                    Aspect.HEAT if hot else Aspect.ENDING,
                )
            elif event.code == "guard.lost":
                yield _finding("guard.lost", Outcome.DIFFERS, event.values, configuration, evidence)


def _changes(segments: Sequence[Segment], configuration: str, evidence: tuple[str, ...]) -> Iterator[Finding]:
    """Within a segment the log says what changed; a segment begun under another one says it by its digest."""
    for segment in segments:
        if segment.start and segment.start.configuration.digest != configuration:
            named = values(step=segment.file, keys="the configuration at its start")
            yield _finding(
                "configuration.changed-during-burn-in",
                Outcome.DIFFERS,
                named,
                configuration,
                evidence,
                Aspect.CONFIGURATION,
            )
            return
    for segment in segments:
        for seen in segment.of(ConfigurationSeen):
            if seen.changed:
                named = values(step=seen.step, keys=", ".join(seen.changed))
                yield _finding(
                    "configuration.changed-during-burn-in",
                    Outcome.DIFFERS,
                    named,
                    configuration,
                    evidence,
                    Aspect.CONFIGURATION,
                )
                return


def _finding(
    code: str,
    outcome: Outcome,
    named: tuple[Value, ...],
    configuration: str,
    evidence: tuple[str, ...],
    aspect: Aspect = Aspect.ENDING,
) -> Finding:
    return burn_in_finding(code, outcome, aspect, named, configuration, evidence)
