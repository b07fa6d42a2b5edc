"""24 hours of burn-in, and more, in seconds: interruptions, set clocks, a power cut, sleep and restart."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.analysis import analyse
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.runlog import Event, LogLine, Report, Row
from shipworthy.model.words import Aspect, Ending, Outcome, PowerCycle
from shipworthy.stress import engine, power_cycles
from tests.analysis.logs import MATCHES, ORDER, reading
from tests.stress.pretend_day import (
    COLUMNS,
    HOUR_S,
    Cut,
    Day,
    DayClock,
    PlayedGuard,
    PlayedSampling,
    is_event,
)

pytestmark = pytest.mark.slow

MATRIX, MARCH = LoadRequest(load="matrix"), LoadRequest(load="march", memory_share=0.5)
PLAN = Plan(
    plan_id="a-day",
    sample_hz=4.0,
    steps=(
        PlanStep(step="rest", seconds=600),
        PlanStep(step="processor", seconds=5 * HOUR_S, loads=(MATRIX,)),
        PlanStep(step="memory", seconds=7 * HOUR_S, loads=(MARCH,)),
        PlanStep(step="sleep", seconds=600, power=PowerCycle.SLEEP),
        PlanStep(step="all", seconds=10 * HOUR_S, loads=(MATRIX, MARCH)),
        PlanStep(step="restart", seconds=600, power=PowerCycle.WARM_RESTART),
        PlanStep(step="cooling", seconds=2 * HOUR_S),
    ),
)
SLEPT_S, AWAY_S = 6 * HOUR_S, 90.0


class Script:
    """What happens to the machine, and when: by what the log says and how long the segment has run."""

    def __init__(self, clock: DayClock) -> None:
        self._clock = clock
        self._set_clock = [2 * HOUR_S, 2.5 * HOUR_S]
        self.killed = self.power_cut = False

    def __call__(self, line: LogLine) -> None:
        if isinstance(line, Row) and not self.killed and line.t_s > HOUR_S:
            self.killed = True
            raise Cut
        if isinstance(line, Row) and self.killed and self._set_clock and line.t_s > self._set_clock[0]:
            self._clock.set_by(9 * HOUR_S if len(self._set_clock) == 2 else -14 * HOUR_S)
            del self._set_clock[0]
        if is_event(line, "power.announced", "sleep"):
            self._clock.suspend(SLEPT_S)
        if isinstance(line, Row) and not self.power_cut and line.t_s > 14 * HOUR_S:
            self.power_cut = True
            raise Cut


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Day]:
    """A day that was run to its end."""
    if len(os.sched_getaffinity(0)) < 2:
        pytest.skip("cores are compared with one another, and here is one")
    with pytest.MonkeyPatch.context() as patch:
        yield run_a_day(tmp_path_factory.mktemp("day"), patch)


def run_a_day(folder: Path, patch: pytest.MonkeyPatch) -> Day:
    clock = DayClock()
    day, script = Day(PLAN, clock, folder), Script(clock)
    patch.setattr(engine, "GuardHandle", lambda: PlayedGuard(clock, wrong_round=4321))
    patch.setattr(engine, "Sampling", PlayedSampling)
    patch.setattr(engine, "list_columns", lambda _: COLUMNS)
    patch.setattr(power_cycles, "asleep_s", lambda: clock.slept_s)
    assert day.go(script) is None  # killed after an hour
    assert day.go(script) is None  # the power is cut
    clock.restart(off_s=-3 * HOUR_S)  # and the board's clock comes back wrong
    assert day.go(script) is Ending.AWAITING_POWER
    clock.restart(off_s=AWAY_S)
    assert day.go(script) is Ending.COMPLETED
    return day


def test_a_day_is_whole_and_its_findings_are_those_that_were_planted(day: Day) -> None:
    segments = day.segments()
    assert [segment.ending for segment in segments] == [
        *(Ending.INTERRUPTED, Ending.INTERRUPTED, Ending.AWAITING_POWER, Ending.COMPLETED)
    ]
    assert [segment.torn for segment in segments] == [True, True, False, False]
    rows = sum(1 for segment in segments for _ in segment.of(Row))
    seconds = sum(segment.seconds for segment in segments)
    assert seconds > 24 * HOUR_S
    assert rows == pytest.approx(4 * seconds, rel=0.001)
    for segment in segments:
        times = [line.t_s for line in segment.of(Row)]
        assert times == sorted(set(times))

    analysis = analyse(PLAN, segments, ORDER, MATCHES, reading(), ())
    codes = {finding.code for finding in analysis.findings if finding.outcome is Outcome.DIFFERS}
    assert "burn-in.unannounced-restart" in codes
    assert not [code for code in codes if code.startswith(("configuration.", "power."))]
    load = [f for f in analysis.findings if f.aspect is Aspect.LOAD and f.outcome is Outcome.DIFFERS]
    assert load and all("cpu:1" in str(f) or f.place == "cpu:1" for f in load)
    longest = {
        s.step: max(x.end_s - x.begin_s for x in analysis.spans if x.step == s.step) for s in PLAN.steps
    }
    for step in PLAN.steps:
        if step.power is None:
            assert longest[step.step] == pytest.approx(step.seconds, abs=5)
    begins = [span.begin_s for span in analysis.spans]
    assert begins == sorted(begins)


def test_what_was_announced_came_back_and_one_wrong_round_was_blamed_on_its_core(day: Day) -> None:
    events = [line for segment in day.segments() for line in segment.of(Event)]
    said = [(e.code, {v.name: v.value for v in e.values}) for e in events]
    returned = [named for code, named in said if code == "power.returned"]
    assert [(r["power"], r["away_s"]) for r in returned] == [
        ("sleep and wake", SLEPT_S),
        ("warm restart", pytest.approx(AWAY_S, abs=0.1)),
    ]
    wrong = [named for code, named in said if code == "load.wrong"]
    assert {(w["load"], w["target"]) for w in wrong} == {("matrix", "cpu:1")}
    assert all("4321" in str(w["where"]) for w in wrong)
    compared = [r for s in day.segments() for r in s.of(Report) if r.unit_of_work == "rounds compared"]
    assert sum(r.checks for r in compared) > 2 * 15 * HOUR_S / 6
    assert sum(r.wrong for r in compared) == len(wrong)
