"""Machines that are sound and look odd: nothing of it may hold them. Each stands beside its counterpart."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.analysis.runs import offsets_s
from shipworthy.model.analysis import Analysis
from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.runlog import Event, LogLine, Row, Stop
from shipworthy.model.words import Aspect, Cores, Ending, Origin, Outcome, Unit
from shipworthy.sim.thermal import Stage
from tests.analysis.heated import COOLER, DIE, LOADS, NO_COOLER, PLAN, PREPARING_S, SPREADER, Heated
from tests.analysis.logs import FAN, MATCHES, ORDER, PROCESSOR, Run, at, reading, start
from tests.analysis.seen import all_of, differs, event, of, one, opened, said

SHOP = Limit(quantity="temperature", value=100.0, unit=Unit.CELSIUS, origin=Origin.SHOP)
BOOSTS = (DIE, SPREADER, Stage(0.53, 1.5))
"""A good cooler under a processor that takes what it gets, up to the temperature that it regulates at."""
BEGINS = (20.0 + PREPARING_S, 20.0 + 60.0 + 2 * PREPARING_S)


# Heat


def test_slow_downs_at_the_edges_of_loads_are_told_and_no_difference() -> None:
    edges = Heated(counted=lambda t_s: float(sum(t_s > begin + 1 for begin in BEGINS)))
    analysis = edges.analysis()
    assert differs(analysis) == []
    briefly = one(analysis, "heat.throttled-briefly")
    assert (briefly.outcome, said(briefly)["times"]) == (Outcome.CONFORMS, 2.0)


def test_slow_downs_all_the_time_are_one_difference_however_many_counters_tell_of_them() -> None:
    analysis = Heated(counted=lambda t_s: max(0.0, 3.0 * (t_s - 30))).analysis()
    throttled = one(analysis, "heat.throttled")
    assert (throttled.outcome, throttled.part, said(throttled)["counters"]) == (
        Outcome.DIFFERS,
        "socket:0",
        2,
    )


@pytest.mark.parametrize(
    "known",
    [
        {"power": None},  # its counter may be read by root alone
        {"power": None, "base_mhz": None},  # AMD's driver names no base clock
        {"limit_w": 4095.0},  # a board that lifts the limit
        {"limit_w": None, "base_mhz": None},
    ],
)
def test_a_processor_that_regulates_at_its_target_from_the_first_second_is_sound(
    known: dict[str, None],
) -> None:
    def unit(stages: tuple[Stage, ...], *, throttles: bool) -> Analysis:
        asked = Heated(
            stages=stages, throttles=throttles, limits=(SHOP,), full_w=99.0, critical=None, **known
        )
        return asked.analysis()

    sound = unit(BOOSTS, throttles=False)
    assert 95 <= max(row.highest_c for row in sound.thermals) < 100
    assert differs(sound) == []
    assert "heat.rises-at-once" in differs(unit(NO_COOLER, throttles=True)), (
        "without a cooler it saves itself"
    )


@pytest.mark.parametrize(("garbled", "found"), [(1, []), (2, ["heat.limit-reached"])])
def test_one_garbled_reading_is_no_heat_and_two_in_a_row_are(garbled: int, found: list[str]) -> None:
    rows: list[tuple[float | None, ...]] = [(50.0, 900.0)] * 13
    rows[4 : 4 + garbled] = [(127.0, 900.0)] * garbled
    analysis = analyse(PLAN_OF_RUN, [Run(rows=rows).segment()], ORDER, MATCHES, reading(), ())
    assert differs(analysis) == found
    assert max(row.highest_c for row in analysis.thermals) == (127.0 if found else 50.0)


PLAN_OF_RUN = Plan(
    plan_id="test",
    steps=(
        PlanStep(step="together", seconds=10, loads=(LoadRequest(load="matrix"), LoadRequest(load="march"))),
        PlanStep(step="rest", seconds=2),
    ),
)


def test_samples_far_apart_confirm_nothing_of_one_another_and_each_counts() -> None:
    hot = [Row(t_s=2.0 * n, v=(96.0 if n == 3 else 50.0, 900.0)) for n in range(7)]
    lines: list[LogLine] = [line for line in Run().lines() if not isinstance(line, Row)]
    lines[2:2] = hot
    segment = Segment(file="burn-in/log-001.jsonl", lines=tuple(lines))
    analysis = analyse(PLAN_OF_RUN, [segment], ORDER, MATCHES, reading(), ())
    assert differs(analysis) == ["heat.limit-reached"]


# Fans


def _regulated(t_s: float, c: float) -> float:
    """A case's fan that follows the board: it slows down to its least, and stops while a load goes on."""
    return max(400.0, 900.0 - 5 * t_s) if t_s < 120 else 0.0


def test_a_fan_that_slows_to_its_least_and_stops_is_for_a_person_to_look_at() -> None:
    analysis = Heated(rpm=_regulated, full_w=120.0).analysis()
    assert differs(analysis) == []
    stood = one(analysis, "fans.stood")
    assert (stood.outcome, stood.aspect) == (Outcome.CANNOT_TELL, Aspect.FANS)


@pytest.mark.parametrize(
    "rpm",
    [
        lambda t_s, c: 1100.0 if t_s < 120 else 0.0,  # it has one speed only
        lambda t_s, c: min(1500.0, 600 + 8 * t_s) if t_s < 120 else 0.0,  # from the speed that it had
    ],
)
def test_one_that_stops_at_once_is_a_difference(rpm: Callable[[float, float], float]) -> None:
    assert differs(Heated(rpm=rpm, full_w=120.0).analysis()) == ["fans.stopped"]


# Time


def test_a_plan_with_a_row_each_ten_seconds_has_no_hole() -> None:
    rare = msgspec.structs.replace(PLAN_OF_RUN, sample_hz=0.1)
    lines = tuple(line for line in Run().lines() if not (isinstance(line, Row) and 0 < line.t_s < 12))
    segment = Segment(file="burn-in/log-001.jsonl", lines=lines)
    assert opened(analyse(rare, [segment], ORDER, MATCHES, reading(), ())) == []
    assert "burn-in.hole" in opened(analyse(PLAN_OF_RUN, [segment], ORDER, MATCHES, reading(), ()))


def _two(first_synchronised: bool, second_synchronised: bool, apart_s: float) -> tuple[float, ...]:
    """Return where two segments of two starts of the machine stand."""
    begins = [start(), start(100.0 + apart_s, 2, "two")]
    for n, synchronised in enumerate((first_synchronised, second_synchronised)):
        moment = msgspec.structs.replace(begins[n].at, clock_synchronised=synchronised)
        begins[n] = msgspec.structs.replace(begins[n], at=moment)
    lines = [Run(ending=None).lines(begin) for begin in begins]
    return offsets_s([Segment(file=f"burn-in/log-00{n}.jsonl", lines=lines[n - 1]) for n in (1, 2)])


def test_a_clock_that_was_set_between_two_starts_stretches_no_axis() -> None:
    years_s = 20 * 365 * 86_400.0
    assert _two(False, True, years_s) == (0.0, 12.0)
    assert _two(True, True, -years_s) == (0.0, 12.0)
    assert _two(True, True, 3 * 86_400.0) == (0.0, 3 * 86_400.0), "a weekend is one"
    assert _two(False, True, 60.0) == (0.0, 60.0)


# Loads


def steps(*given: PlanStep) -> Plan:
    return Plan(plan_id="test", steps=given)


def load(name: str, **more: object) -> LoadRequest:
    return msgspec.structs.replace(LoadRequest(load=name), **more)


@pytest.mark.parametrize(
    ("asked", "silent"),
    [
        # a memory test that leaves its words alone for half a minute
        (load("march", variant="patterns"), lambda t_s, name, target: t_s > 30 and t_s % 34 > 1),
        # pulses of a hundred seconds of work and a hundred of rest
        (load("march", intensity=0.5, pulse_hz=0.005), lambda t_s, name, target: t_s % 200 > 100),
    ],
)
def test_a_load_that_rests_by_its_plan_has_not_fallen_silent(
    asked: LoadRequest, silent: Callable[[float, str, str], bool]
) -> None:
    plan = steps(
        PlanStep(step="cores", seconds=20, loads=LOADS), PlanStep(step="a", seconds=500, loads=(asked,))
    )
    assert opened(Heated(plan=plan, silent=silent).analysis(), Aspect.LOAD) == []


def test_cores_in_turn_are_silent_in_the_turns_of_the_others() -> None:
    turns = load("matrix", cores=Cores.IN_TURN)
    plan = steps(
        PlanStep(step="cores", seconds=20, loads=LOADS), PlanStep(step="a", seconds=240, loads=(turns,))
    )

    def silent(t_s: float, name: str, target: str) -> bool:
        half_s = 20 + 2 * PREPARING_S + 120
        return name == "matrix" and t_s > 30 and (t_s > half_s) != (target == "cpu:1")

    assert opened(Heated(plan=plan, silent=silent).analysis(), Aspect.LOAD) == []


def test_while_the_guard_bids_the_loads_to_stand_they_are_not_silent() -> None:
    pause = (event("loads.paused", 100.0, label="Processor", place="x"),)
    pause += (event("loads.resumed", 159.0, label="Processor", place="x", paused_s=59.0),)

    def silent(t_s: float, name: str, target: str) -> bool:
        return 98 < t_s < 162

    analysis = Heated(silent=silent, events=pause).analysis()
    assert opened(analysis, Aspect.LOAD) == []
    assert said(one(analysis, "burn-in.paused"))["lost_s"] == 59.0
    assert opened(Heated(silent=silent).analysis(), Aspect.LOAD) == ["load.fell-silent"] * 3


def test_a_step_for_which_this_machine_has_nothing_is_not_cut_short() -> None:
    lone = PlanStep(step="exchange", seconds=60, loads=(LoadRequest(load="exchange"),))
    plan = msgspec.structs.replace(PLAN_OF_RUN, steps=(*PLAN_OF_RUN.steps, lone))
    without = Run(events=(event("step.without-target", step="exchange", index=2),)).segment()
    assert one(analyse(plan, [without], ORDER, MATCHES, reading(), ()), "burn-in.completed")
    cut = analyse(plan, [Run().segment()], ORDER, MATCHES, reading(), ())
    assert said(one(cut, "burn-in.step-cut-short"))["steps"] == "exchange"


def test_writes_that_fall_when_the_fast_cache_is_full_are_no_difference() -> None:
    lines = tuple(
        msgspec.structs.replace(
            line, unit_of_work="bytes written", work=3e9 if line.t_s < 130 else 2e8, limit=3e9, checks=0
        )
        if getattr(line, "load", "") == "storage" and line.t_s % 3 != 0
        else line
        for line in Heated().segment().lines
    )
    segment = Segment(file="burn-in/log-001.jsonl", lines=lines)
    analysis = analyse(PLAN, [segment], ORDER, MATCHES, Heated().reading(), ())
    assert one(analysis, "storage.writes-fell").outcome is Outcome.CONFORMS
    assert differs(analysis) == []
    assert opened(analysis) == []


# What is not there


def test_a_virtual_machine_that_shows_nothing_leaves_open_and_differs_in_nothing() -> None:
    bare = [line for line in Heated(base_mhz=None, limit_w=None).segment().lines if not isinstance(line, Row)]
    bare[1] = msgspec.structs.replace(bare[1], columns=())
    bare[2:2] = [Row(t_s=n / 4, v=()) for n in range(1070)]
    analysis = analyse(
        PLAN, [Segment(file="burn-in/log-001.jsonl", lines=tuple(bare))], ORDER, MATCHES, reading(), ()
    )
    assert differs(analysis) == []
    assert opened(analysis) == ["fans.no-sensor", "heat.no-sensor"]


def test_a_counter_of_energy_that_stands_still_says_nothing_of_power() -> None:
    analysis = Heated(power=lambda t_s: 0.0).analysis()
    assert [code for code in of(analysis, Outcome.CONFORMS) if code.startswith("power")] == []
    assert differs(analysis) == []


def test_a_sensor_that_speaks_again_has_come_back_in_the_same_segment_or_the_next() -> None:
    lost = event("sensor.silent", 4.0, label="Cooler", place=FAN.place, channel="fan1", silent_s=5.0)
    rows: list[tuple[float | None, ...]] = [(50.0, None if 0 < n < 9 else 900.0) for n in range(13)]

    def last(rows: list[tuple[float | None, ...]], *more: Segment) -> list[str]:
        segment = Run(rows=rows, events=(lost,), ending=None if more else Ending.COMPLETED).segment()
        found = analyse(PLAN_OF_RUN, [segment, *more], ORDER, MATCHES, reading(), ())
        return [f.part for f in all_of(found, "health.sensor-silent")]

    next_one = Segment(file="burn-in/log-002.jsonl", lines=Run().lines(start(130.0, 2)))
    gone = [(hot, None if n else rpm) for n, (hot, rpm) in enumerate(rows)]
    assert last(rows) == []
    assert last(gone, next_one) == []
    assert last(gone) == [FAN.place]


def test_channels_that_fell_silent_together_and_came_back_one_by_one_are_back() -> None:
    second = msgspec.structs.replace(PROCESSOR, channel="temp2", label="Core 0")
    told: tuple[Event, ...] = (
        event("sensor.silent", 2.0, label="Processor", place=PROCESSOR.place, channel="temp1, temp2"),
        event("sensor.back", 4.0, label="Processor", place=PROCESSOR.place, channel="temp1"),
        event("sensor.back", 5.0, label="Core 0", place=PROCESSOR.place, channel="temp2"),
    )
    rows = [(50.0, 51.0, 900.0)] * 13
    run = Run(columns=(PROCESSOR, second, FAN), rows=rows, events=told)
    assert opened(analyse(PLAN_OF_RUN, [run.segment()], ORDER, MATCHES, reading(), ())) == []
    one_lost = [(50.0, 51.0 if n < 2 else None, 900.0) for n in range(13)]
    run = Run(columns=(PROCESSOR, second, FAN), rows=one_lost, events=told[:2])
    analysis = analyse(PLAN_OF_RUN, [run.segment()], ORDER, MATCHES, reading(), ())
    assert opened(analysis) == ["health.sensor-silent"]


def test_hybrid_cores_of_unlike_speed_are_judged_by_the_faster_kind() -> None:
    slower = tuple(
        msgspec.structs.replace(line, v=(*line.v[:6], 1900.0, *line.v[7:]))
        if isinstance(line, Row) and (line.v[6] or 0) > 2000
        else line
        for line in Heated().segment().lines
    )
    segment = Segment(file="burn-in/log-001.jsonl", lines=slower)
    assert differs(analyse(PLAN, [segment], ORDER, MATCHES, Heated().reading(), ())) == []


def test_the_plan_that_ends_with_a_stop_line_is_complete_whatever_the_clock_did() -> None:
    lines = (*Run().lines()[:-1], Stop(at=at(-9e6), t_s=12.0, ending=Ending.COMPLETED))
    segment = Segment(file="burn-in/log-001.jsonl", lines=lines)
    assert differs(analyse(PLAN_OF_RUN, [segment], ORDER, MATCHES, reading(), ())) == []


def test_the_cooler_of_these_tests_carries_heat_and_the_missing_one_does_not() -> None:
    assert sum(stage.resistance_k_w for stage in (DIE, SPREADER, COOLER)) < 0.5 < NO_COOLER[-1].resistance_k_w
