"""Whether each load did what the plan asked: at work all the time, with checks, and near its limit.

Right results of the first seconds say nothing of the hour after them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from operator import itemgetter

import numpy as np

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.lines import Lines
from shipworthy.analysis.runs import UNDER_LOAD, Happened, Segment, offsets_s
from shipworthy.model.findings import Finding
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.runlog import LoadSummary, Report, Row
from shipworthy.model.words import Aspect, Category, Cores, Outcome

SILENT_LEAST_S, SILENT_MOST_S, SILENT_SHARE = 10.0, 60.0, 0.5
"""Reports come each second. A load may be silent for half of its time in a step, but for no longer than a
minute (memory tests rest for half of one; a disk that needs longer is given up by the kernel after 30 s:
common practice), and for ten seconds in any case."""
WITHOUT_TARGET = "load.without-target"
FAR_BELOW_RATIO, JUDGED_S = 0.25, 60.0
"""All loads reach most of their limit, which is measured in the same run; what stays this far below was kept
from working (our choice). Drives are left out: a fast cache makes their limit one of the first moments."""


@dataclass
class _Stint:
    """A load at work on one target, in one run of a step. Times in s since the burn-in began."""

    number: int
    step: str
    load: str
    target: str
    begin_s: float
    end_s: float
    rest_s: float = 0.0
    heard_s: list[float] = field(default_factory=list)

    @property
    def allowed_s(self) -> float:
        share_s = SILENT_SHARE * (self.end_s - self.begin_s)
        return max(SILENT_LEAST_S, min(SILENT_MOST_S, share_s)) + self.rest_s


@dataclass(frozen=True)
class _Silence:
    stint: _Stint
    begin_s: float
    end_s: float

    @property
    def seconds(self) -> float:
        return self.end_s - self.begin_s


def diligence_findings(
    plan: Plan | None,
    segments: Sequence[Segment],
    events: Sequence[Happened],
    loads: Sequence[LoadSummary],
    lines: Lines,
    hole_s: float,
    basis: Basis,
) -> Iterator[Finding]:
    """Return, for each order line, what its loads left out. Logs of the tool's first version do not say when
    a step was under load, and are not asked.

    hole_s: where no row came for so long, the whole machine stood still, which is told by itself.
    """
    if plan is None:
        return
    stints = list(_stints(plan, segments, events))
    yield from _left_out(plan, stints, events, basis)
    yield from _silent(stints, segments, events, lines, hole_s, basis)
    yield from _unchecked(stints, loads, lines, basis)
    yield from _far_below(stints, loads, lines, basis)


def _stints(plan: Plan, segments: Sequence[Segment], events: Sequence[Happened]) -> Iterator[_Stint]:
    steps = {step.step: step for step in plan.steps}
    heard = _heard(segments)
    for number in range(len(segments)):
        told = [event for event in events if event.number == number]
        for began in (event for event in told if event.code == UNDER_LOAD):
            step = steps.get(began.text("step"))
            ended = next(
                (e for e in told if e.code == "step.ended" and e.text("step") == began.text("step")), None
            )
            if step is not None and ended is not None:
                for stint in _of_step(step, number, began.t_s, ended.t_s, told):
                    stint.heard_s = heard.get((number, stint.step, stint.load, stint.target), [])
                    yield stint


def _of_step(
    step: PlanStep, number: int, began_s: float, ended_s: float, told: Sequence[Happened]
) -> Iterator[_Stint]:
    paused_s = sum(end - begin for begin, end in _pauses(told, began_s, ended_s))
    end_s = min(ended_s, began_s + step.seconds + paused_s)
    for request in step.loads:
        started = dict.fromkeys(
            event.text("target")
            for event in told
            if event.code == "load.started"
            and (event.text("step"), event.text("load")) == (step.step, request.load)
        )
        for at, target in enumerate(started):
            begin, share_s = began_s, end_s - began_s
            if request.cores is Cores.IN_TURN:
                share_s /= len(started)
                begin += at * share_s
            yield _Stint(number, step.step, request.load, target, begin, begin + share_s, _rest_s(request))


def _left_out(
    plan: Plan, stints: Sequence[_Stint], events: Sequence[Happened], basis: Basis
) -> Iterator[Finding]:
    """Name the loads that a step asked for and that never began in it: because this machine has nothing for
    them, by the log's own word; or, without one, for no reason that is known."""
    without: dict[str, list[str]] = {}
    for event in events:
        if event.code == WITHOUT_TARGET:
            without.setdefault(event.text("load"), []).append(event.text("step"))
    for load, steps in without.items():
        named = {"load": load, "step": ", ".join(dict.fromkeys(steps))}
        yield basis.finding(WITHOUT_TARGET, Outcome.NOT_CHECKED, Aspect.LOAD, named)
    ran = {stint.step for stint in stints}
    began = {(stint.step, stint.load) for stint in stints}
    missing = [
        f"{request.load} in {step.step}"
        for step in plan.steps
        for request in step.loads
        if step.step in ran
        and (step.step, request.load) not in began
        and step.step not in without.get(request.load, ())
    ]
    if missing:
        yield basis.finding(
            "burn-in.load-missing",
            Outcome.NOT_CHECKED,
            Aspect.ENDING,
            loads=", ".join(missing),
            count=len(missing),
        )


def _rest_s(request: LoadRequest) -> float:
    """Return for how long a load that pulses rests at a time."""
    return (1 - request.intensity) / request.pulse_hz if request.pulse_hz else 0.0


def _heard(segments: Sequence[Segment]) -> dict[tuple[int, str, str, str], list[float]]:
    """Return when each load reported work of its own, by segment, step, load and target."""
    found: dict[tuple[int, str, str, str], list[float]] = {}
    for number, (segment, offset) in enumerate(zip(segments, offsets_s(segments), strict=True)):
        for report in segment.of(Report):
            if report.seconds > 0:
                key = (number, report.step, report.load, report.target)
                found.setdefault(key, []).append(offset + report.t_s)
    return found


def _pauses(told: Sequence[Happened], begin_s: float, end_s: float) -> list[tuple[float, float]]:
    """Return from when to when the loads stood still between two times, as the guard bade them."""
    found = []
    for at, event in enumerate(told):
        if event.code == "loads.paused" and begin_s <= event.t_s <= end_s:
            back = (
                e.t_s for e in told[at + 1 :] if e.code in ("loads.resumed", "step.ended", "step.cut-short")
            )
            found.append((event.t_s, min(end_s, next(back, end_s))))
    return found


def _silent(
    stints: Sequence[_Stint],
    segments: Sequence[Segment],
    events: Sequence[Happened],
    lines: Lines,
    hole_s: float,
    basis: Basis,
) -> Iterator[Finding]:
    groups: dict[tuple[str, Category], list[_Silence]] = {}
    for stint in stints:
        longest = max(_silences(stint, events), key=lambda silence: silence.seconds)
        if longest.seconds > stint.allowed_s and not _machine_stood(longest, segments, hole_s):
            groups.setdefault(lines.of(stint.target), []).append(longest)
    for (line, category), silences in groups.items():
        worst = max(silences, key=lambda silence: silence.seconds)
        yield basis.finding(
            "load.fell-silent",
            Outcome.CANNOT_TELL,
            Aspect.LOAD,
            of_line=line,
            of_category=category,
            step=worst.stint.step,
            load=worst.stint.load,
            target=worst.stint.target,
            longest_s=round(worst.seconds, 1),
            at_s=round(worst.begin_s, 1),
            stints=len(silences),
        )


def _silences(stint: _Stint, events: Sequence[Happened]) -> Iterator[_Silence]:
    """Return the stretches between two reports, without the time in which the loads were bidden to stand."""
    within = [t_s for t_s in stint.heard_s if stint.begin_s <= t_s <= stint.end_s]
    told = [event for event in events if event.number == stint.number]
    pauses = _pauses(told, stint.begin_s, stint.end_s)
    times = [stint.begin_s, *within, stint.end_s]
    for begin_s, end_s in pairwise(times):
        stood_s = sum(max(0.0, min(end_s, b) - max(begin_s, a)) for a, b in pauses)
        yield _Silence(stint, begin_s, end_s - stood_s)


def _machine_stood(silence: _Silence, segments: Sequence[Segment], hole_s: float) -> bool:
    number = silence.stint.number
    offset = offsets_s(segments)[number]
    rows = np.array([offset + row.t_s for row in segments[number].of(Row)])
    if not len(rows):
        return False
    within = rows[(rows >= silence.begin_s) & (rows <= silence.end_s)]
    return bool(np.diff([silence.begin_s, *within, silence.end_s]).max() > hole_s)


def _unchecked(
    stints: Sequence[_Stint], loads: Sequence[LoadSummary], lines: Lines, basis: Basis
) -> Iterator[Finding]:
    """A load that ran and checked nothing, on a target that another load checked or that is no line's own;
    where nothing at all was checked, that is told of the line."""
    checked = {(row.load, row.target) for row in loads if row.checks}
    reached = {target for _, target in checked}
    own = {target for line in lines.order.lines for target in lines.targets(line)}
    groups: dict[tuple[str, Category], dict[str, None]] = {}
    for load, target in dict.fromkeys((stint.load, stint.target) for stint in stints):
        if (load, target) not in checked and (target in reached or target not in own):
            groups.setdefault(lines.of(target), {})[f"{load} on {target}"] = None
    for (line, category), named in groups.items():
        yield basis.finding(
            "load.unchecked",
            Outcome.NOT_CHECKED,
            Aspect.LOAD,
            of_line=line,
            of_category=category,
            loads=", ".join(named),
            count=len(named),
        )


def _far_below(
    stints: Sequence[_Stint], loads: Sequence[LoadSummary], lines: Lines, basis: Basis
) -> Iterator[Finding]:
    known = {(stint.load, stint.target) for stint in stints}
    groups: dict[tuple[str, Category], list[tuple[float, LoadSummary]]] = {}
    for row in loads:
        line, category = lines.of(row.target)
        if (row.load, row.target) not in known or category not in (Category.PROCESSOR, Category.MEMORY):
            continue
        if row.rate is None or not row.limit or row.seconds < JUDGED_S:
            continue
        if (share := row.rate / row.limit) < FAR_BELOW_RATIO:
            groups.setdefault((line, category), []).append((share, row))
    for (line, category), rows in groups.items():
        share, row = min(rows, key=itemgetter(0))
        yield basis.finding(
            "load.far-below-limit",
            Outcome.CANNOT_TELL,
            Aspect.LOAD,
            of_line=line,
            of_category=category,
            load=row.load,
            target=row.target,
            share_ratio=round(share, 3),
            count=len(rows),
        )
