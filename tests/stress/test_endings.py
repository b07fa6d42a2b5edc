"""How a run ended is told from what it showed, and no clock that is set bends how long it lasted."""

from __future__ import annotations

import threading
from itertools import pairwise
from pathlib import Path

import pytest

from shipworthy.analysis import Segment
from shipworthy.analysis.runs import happenings, offsets_s, step_spans
from shipworthy.jobs.resuming import may_go_on, refuse_to_resume, step_at_hand, steps_ended, what_happened
from shipworthy.model.base import Trouble
from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.runlog import Event, LogLine, Row, Start, Stop
from shipworthy.model.words import Ending, PowerCycle
from shipworthy.stress.power_cycles import last_moment
from tests.stress.segments import BootClock, Runs

HOURS_S = 5 * 3600.0


def rests(tmp_path: Path, *seconds: float) -> Runs:
    steps = tuple(PlanStep(step=f"rest-{n}", seconds=s) for n, s in enumerate(seconds))
    return Runs(Plan(plan_id="rests", sample_hz=10.0, steps=steps), tmp_path)


def segments_of(runs: Runs) -> tuple[Segment, ...]:
    return tuple(Segment(file=f"burn-in/log-{n:03d}.jsonl", lines=s) for n, s in enumerate(runs.segments, 1))


def cut(runs: Runs, code: str, number: int = -1) -> None:
    """Let a segment end right after an event, as a kill there would."""
    lines = runs.segments[number]
    last = next(i for i, line in enumerate(lines) if isinstance(line, Event) and line.code == code)
    runs.segments[number] = lines[: last + 1]


@pytest.mark.parametrize("set_by_s", [HOURS_S, -HOURS_S], ids=["forward", "back"])
def test_a_clock_set_while_it_runs_bends_no_duration(tmp_path: Path, set_by_s: float) -> None:
    clock = BootClock()

    def set_it(line: LogLine, _: threading.Event) -> None:
        if isinstance(line, Event) and line.code == "step.began":
            clock.ahead_s += set_by_s

    runs = rests(tmp_path, 0.6, 0.6)
    assert runs.go(clock, on_line=set_it) is Ending.COMPLETED
    (segment,) = segments_of(runs)
    for span in step_spans([segment], happenings([segment])):
        assert 0.5 < span.end_s - span.begin_s < 30
    start, stop = segment.lines[0], segment.lines[-1]
    assert isinstance(start, Start) and isinstance(stop, Stop)
    assert abs((stop.at.utc - start.at.utc).total_seconds() - 2 * set_by_s) < 60
    assert stop.t_s < 60
    rows = [row.t_s for row in segment.of(Row)]
    assert rows == sorted(rows) and max(b - a for a, b in pairwise(rows)) < 30


@pytest.mark.parametrize("set_by_s", [HOURS_S, -HOURS_S], ids=["forward", "back"])
def test_a_clock_set_between_two_segments_of_one_start_bends_nothing(tmp_path: Path, set_by_s: float) -> None:
    runs = rests(tmp_path, 0.3, 0.3)
    runs.go(BootClock("one"))
    cut(runs, "step.ended")
    runs.go(BootClock("one", ahead_s=set_by_s), first_step=1)
    first, second = offsets_s(segments_of(runs))
    assert first == 0
    assert 0.3 < second < 60


def test_a_clock_set_back_over_a_restart_puts_no_segment_before_the_other(tmp_path: Path) -> None:
    runs = rests(tmp_path, 0.3, 0.3)
    runs.go(BootClock("one"))
    cut(runs, "step.ended")
    runs.go(BootClock("two", ahead_s=-HOURS_S), first_step=1)
    segments = segments_of(runs)
    assert offsets_s(segments)[1] >= segments[0].seconds


def test_when_it_was_cut_off_is_counted_from_its_start(tmp_path: Path) -> None:
    clock = BootClock()
    runs = rests(tmp_path, 0.3, 0.3)
    runs.go(clock)
    cut(runs, "step.ended")
    start = runs.segments[0][0]
    assert isinstance(start, Start)
    moment = last_moment(runs.segments[0])
    away_s = (moment.utc - start.at.utc).total_seconds()
    assert 0.3 < away_s < 60
    assert moment.monotonic_s - start.at.monotonic_s == pytest.approx(away_s)


@pytest.mark.parametrize(
    ("boot_id", "code"),
    [("one", "run.burn-in-was-killed"), ("two", "run.burn-in-machine-restarted")],
)
def test_a_kill_and_a_restart_are_told_apart_whatever_the_wall_clock_says(
    tmp_path: Path, boot_id: str, code: str
) -> None:
    runs = rests(tmp_path, 0.3, 0.3)
    runs.go(BootClock("one"))
    cut(runs, "step.began")
    for ahead_s in (0.0, HOURS_S, -HOURS_S):
        told = what_happened(segments_of(runs), BootClock(boot_id, ahead_s).now())
        assert told is not None and told.code == code
        assert {v.name: v.value for v in told.values}["step"] == "rest-0"


def test_a_persons_stop_is_told_as_that_and_an_announced_restart_is_not_told(tmp_path: Path) -> None:
    runs = rests(tmp_path, 60)
    runs.go(BootClock(), on_line=lambda line, stop: stop.set() if isinstance(line, Row) else None)
    told = what_happened(segments_of(runs), BootClock().now())
    assert told is not None and told.code == "run.burn-in-was-stopped"

    steps = (PlanStep(step="cycle", seconds=9, power=PowerCycle.COLD_START),)
    cycle = Runs(Plan(plan_id="cycle", steps=steps), tmp_path)
    cycle.go(BootClock("one"))
    assert what_happened(segments_of(cycle), BootClock("two").now()) is None


def test_steps_that_ended_are_not_run_again_and_the_one_at_hand_is(tmp_path: Path) -> None:
    runs = rests(tmp_path, 0.2, 0.2, 0.2)
    runs.go(BootClock())
    (whole,) = segments_of(runs)
    assert (steps_ended([whole]), step_at_hand(whole)) == (3, "")
    began = [i for i, line in enumerate(whole.lines) if getattr(line, "code", "") == "step.began"]
    runs.segments[0] = whole.lines[: began[1] + 1]
    assert (steps_ended(segments_of(runs)), step_at_hand(segments_of(runs)[0])) == (1, "rest-1")
    assert runs.go(BootClock(), first_step=1) is Ending.COMPLETED
    assert [e["step"] for e in runs.events("step.ended")] == ["rest-1", "rest-2"]
    assert steps_ended(segments_of(runs)) == 3


@pytest.mark.parametrize("ending", list(Ending))
def test_only_what_has_not_come_to_its_end_goes_on(tmp_path: Path, ending: Ending) -> None:
    runs = rests(tmp_path, 0.1)
    runs.go(BootClock())
    *lines, stop = runs.segments[0]
    assert isinstance(stop, Stop)
    last = Stop(at=stop.at, t_s=stop.t_s, ending=ending)
    whole = Segment(file="burn-in/log-001.jsonl", lines=(*lines, last))
    goes_on = ending in (Ending.INTERRUPTED, Ending.STOPPED_BY_PERSON, Ending.AWAITING_POWER)
    assert may_go_on(ending) is goes_on
    if goes_on:
        refuse_to_resume(tmp_path, [whole])
    else:
        with pytest.raises(Trouble, match=f"come to its end: {ending.value}"):
            refuse_to_resume(tmp_path, [whole])


def test_a_stop_line_below_a_torn_one_is_no_ending(tmp_path: Path) -> None:
    runs = rests(tmp_path, 0.1)
    runs.go(BootClock())
    torn = Segment(file="burn-in/log-001.jsonl", lines=runs.segments[0], torn=True)
    assert torn.ending is Ending.INTERRUPTED
    refuse_to_resume(tmp_path, [torn])
