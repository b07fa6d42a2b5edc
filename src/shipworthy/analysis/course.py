"""The course of a burn-in: did it run to its end, on one machine, without a hole in the log?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from shipworthy.analysis.changes import change_findings, not_seen_findings
from shipworthy.analysis.ending import ending_findings
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.power import is_open, restarted
from shipworthy.analysis.runs import Happened, Segment, offsets_s
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Plan
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import Row, StepSpan
from shipworthy.model.words import Aspect, Ending, Outcome

HOLE_S = 10.0
"""A log that is silent for longer shows a machine that stood still, or one too busy to write (our choice)."""
HOLE_ROWS = 3.0
"""And for longer than that many rows take, where a plan asks for a row each few seconds."""


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
    if not segments:
        yield Basis(basis.configuration, ()).finding("burn-in.none", Outcome.NOT_CHECKED, Aspect.ENDING)
        return
    if plan is None:
        yield basis.finding("burn-in.no-plan", Outcome.NOT_CHECKED, Aspect.ENDING)
    else:
        yield from ending_findings(plan, segments, events, spans, basis, least_s)
    yield from _whole_log(segments, basis)
    yield from _restarts(segments, events, basis)
    yield from _holes(segments, hole_s(plan), basis)
    yield from _pauses(segments, events, basis)
    yield from change_findings(segments, events, configuration, basis)
    yield from not_seen_findings(segments, spans, basis)


def hole_s(plan: Plan | None) -> float:
    """Return for how long no row may come; a plan can ask for few."""
    return max(HOLE_S, HOLE_ROWS / plan.sample_hz) if plan is not None else HOLE_S


def _whole_log(segments: Sequence[Segment], basis: Basis) -> Iterator[Finding]:
    """A segment that is not here may have held a wrong result; one of another run speaks of another run."""
    starts = [segment.start for segment in segments if segment.start]
    numbers = {segment.start.segment if segment.start else at for at, segment in enumerate(segments, 1)}
    missing = sorted(set(range(1, max(numbers))) - numbers)
    if missing:
        yield basis.finding(
            "burn-in.segment-missing",
            Outcome.CANNOT_TELL,
            Aspect.ENDING,
            segments=", ".join(map(str, missing)),
            count=len(missing),
        )
    for segment in segments:
        if segment.start and (segment.start.run_id, segment.start.seed) != (starts[0].run_id, starts[0].seed):
            yield basis.finding("burn-in.other-run", Outcome.DIFFERS, Aspect.ENDING, segment=segment.file)


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


def _holes(segments: Sequence[Segment], longest_s: float, basis: Basis) -> Iterator[Finding]:
    """A sleep leaves none: the monotonic clock stands still with the machine (clock_gettime(2))."""
    for segment in segments:
        times = np.array([0.0, *(row.t_s for row in segment.of(Row)), segment.seconds])
        widest = float(np.diff(times).max(initial=0.0))
        if widest > longest_s:
            yield basis.finding(
                "burn-in.hole",
                Outcome.CANNOT_TELL,
                Aspect.ENDING,
                longest_s=round(widest, 1),
                segment=segment.file,
            )


def _pauses(segments: Sequence[Segment], events: Sequence[Happened], basis: Basis) -> Iterator[Finding]:
    """While a required sensor was silent nothing was computed: the time is named, and needs no one's consent
    where it was short, since the loads' own reports tell what was computed."""
    paused = [index for index, event in enumerate(events) if event.code == "loads.paused"]
    if paused:
        first = events[paused[0]]
        labels = dict.fromkeys(events[i].text("label") or events[i].text("place") for i in paused)
        yield basis.finding(
            "burn-in.paused",
            Outcome.CANNOT_TELL,
            Aspect.HEALTH,
            of_part=first.text("place"),
            label=", ".join(filter(None, labels)) or "a required sensor",
            times=len(paused),
            lost_s=round(sum(_stood_still_s(segments, events, i) for i in paused), 1),
        )


def _stood_still_s(segments: Sequence[Segment], events: Sequence[Happened], at: int) -> float:
    """Return how long a pause lasted: as the guard tells, or until what ended it."""
    paused = events[at]
    for event in events[at + 1 :]:
        if event.number != paused.number:
            break
        if event.code == "loads.resumed":
            told = event.said.get("paused_s")
            return float(told) if isinstance(told, int | float) else event.t_s - paused.t_s
        if event.code in ("guard.limit", "guard.lost", "step.cut-short", "step.ended"):
            return event.t_s - paused.t_s
    return max(0.0, segments[paused.number].seconds - (paused.t_s - offsets_s(segments)[paused.number]))
