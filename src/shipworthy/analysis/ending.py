"""How a burn-in ended, apart from what it showed: one finding for each reason that it did not run through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.power import is_open
from shipworthy.analysis.runs import Happened, Segment
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.runlog import StepSpan
from shipworthy.model.words import Aspect, Ending, Outcome

STEP_SHARE = 0.98
"""A step counts as run when it lasted this share of what was planned (timers and start-up take the rest)."""
FINAL = (Ending.STOPPED_BY_GUARD, Ending.FAILED_TO_RUN)
"""What no later segment makes good."""
FAILURES = ("load.could-not", "load.crashed", "load.died")
"""Events of a load that ended the run, the one that says most of it first."""


def ending_findings(
    plan: Plan,
    segments: Sequence[Segment],
    events: Sequence[Happened],
    spans: Sequence[StepSpan],
    basis: Basis,
    least_s: float = 0.0,
) -> Iterator[Finding]:
    """Return why the burn-in did not run through, each reason once; that it did, if there is none.

    least_s: for how long the policy wants loads to run; a rest counts for nothing.
    """
    stopped = [
        finding
        for number, segment in enumerate(segments)
        for finding in _of_segment(segment, number, number == len(segments) - 1, events, basis)
    ]
    yield from stopped
    if not stopped and not is_awaiting(segments, events):
        yield _of_steps(plan, segments, events, spans, basis, least_s)


def is_awaiting(segments: Sequence[Segment], events: Sequence[Happened]) -> bool:
    """Return whether the log ends with a restart that it announced: the power cycles tell of that."""
    return is_open(events, len(segments) - 1)


def _of_segment(
    segment: Segment, number: int, last: bool, events: Sequence[Happened], basis: Basis
) -> Iterator[Finding]:
    told = [event for event in events if event.number == number]
    found = [*_guard_stops(told, basis)]
    if segment.ending is Ending.FAILED_TO_RUN and not found:
        found += _failures(told, basis)
    unfinished = segment.ending in FINAL or (last and segment.ending is not Ending.COMPLETED)
    if unfinished and not found and not (last and is_open(events, number)):
        reason = segment.stop.reason if segment.stop else ""
        found.append(
            basis.finding(
                "burn-in.not-completed",
                Outcome.DIFFERS,
                Aspect.ENDING,
                ending=segment.ending.value,
                reason=reason,
            )
        )
    yield from found


def _guard_stops(told: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    for event in told:
        if event.code == "guard.limit":
            said = {
                "label": event.text("quantity"),
                "seen": "beyond it",
                "limit": "not told",
                "origin": "the log",
            }
            yield basis.finding(
                "burn-in.guard-stopped",
                Outcome.DIFFERS,
                Aspect.ENDING,
                said | event.said | _label(event, told),
            )
        elif event.code == "guard.lost":
            yield basis.finding(
                "guard.lost", Outcome.DIFFERS, Aspect.ENDING, {"said": "it said nothing of why"} | event.said
            )


def _label(event: Happened, told: Sequence[Happened]) -> dict[str, Scalar]:
    """Return what was beyond its limit, where the sensor's name alone would say that wrongly."""
    label = event.text("label")
    if event.text("quantity") == "silence":
        return {"label": f"the silence of {label or 'a required sensor'}"}
    if event.text("quantity") == "time":
        at_work = ", ".join(_at_work(event, told)) or "its loads"
        return {"label": f"the time over that of the step {event.text('step')} ({at_work})"}
    return {}


def _at_work(until: Happened, told: Sequence[Happened]) -> list[str]:
    """Return the loads that had begun in an event's step and had not ended by then."""
    found: dict[str, None] = {}
    for event in told:
        if event.t_s > until.t_s or event.text("step") != until.text("step"):
            continue
        named = f"{event.text('load')} on {event.text('target')}"
        if event.code == "load.started":
            found[named] = None
        elif event.code == "load.stopped":
            found.pop(named, None)
    return list(found)


def _failures(told: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """One finding for each load that failed: it says itself why, or the guard says how it ended."""
    done: set[tuple[str, str]] = set()
    for code in FAILURES:
        for event in (event for event in told if event.code == code):
            who = (event.text("load"), event.text("target"))
            if who in done:
                continue
            done.add(who)
            yield basis.finding(
                f"burn-in.{code.replace('.', '-')}",
                Outcome.DIFFERS,
                Aspect.ENDING,
                step=event.text("step"),
                load=who[0] or "a load",
                target=who[1] or "this machine",
                why=event.text("why") or event.text("how"),
            )


def _of_steps(
    plan: Plan,
    segments: Sequence[Segment],
    events: Sequence[Happened],
    spans: Sequence[StepSpan],
    basis: Basis,
    least_s: float,
) -> Finding:
    over = {event.text("step") for event in events if event.code == "step.without-target"}
    loaded_s = sum(step.seconds for step in plan.steps if step.loads and step.step not in over)
    if short := _steps_cut_short(plan, spans, events, over):
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


def _steps_cut_short(
    plan: Plan, spans: Sequence[StepSpan], events: Sequence[Happened], over: set[str]
) -> list[str]:
    """Return the steps that did not run for their time. Of a power cycle its planned time is the longest that
    it may take: there its announcement tells that it ran.

    over: those that were passed over, as none of their loads had anything to work on here.
    """
    announced = {event.text("step") for event in events if event.code == "power.announced"}
    told = any(span.under_load_s is not None for span in spans)
    return [
        step.step
        for step in plan.steps
        if step.step not in over
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
