"""Logs that look right at a glance and show less than they should: each hole is named, none is a pass."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Match
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.policy import Weight
from shipworthy.model.runlog import ConfigurationSeen, Event, LogLine, Row, Start, Stop
from shipworthy.model.words import Aspect, Category, Ending, Outcome, PowerCycle
from shipworthy.verdict import may_be_conceded, weight_of
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.analysis.heated import BUSY, LOADS, PLAN, Heated
from tests.analysis.logs import DRIVE, FAN, MATCHES, ORDER, PROCESSOR, Run, at, reading, start
from tests.analysis.logs import PLAN as SHORT
from tests.analysis.seen import all_of, differs, event, of, one, opened, said

SHIPPED = parse_policy(shipped_policy(), "policy.toml")
EVERYTHING_S = 20.0 + 60.0 + 2 * 3.0  # when the step with all loads began its work


def analysed(*segments: Segment, plan: Plan | None = SHORT, least_s: float = 0.0) -> Analysis:
    return analyse(plan, segments, ORDER, MATCHES, reading(), (), least_s)


def second(begin: Start, *, run: Run | None = None) -> Segment:
    return Segment(file=f"burn-in/log-{begin.segment:03d}.jsonl", lines=(run or Run()).lines(begin))


# Loads


@pytest.mark.parametrize(
    ("load", "target", "line"), [("matrix", "cpu:1", "1"), ("march", "memory", "2"), ("storage", DRIVE, "3")]
)
def test_a_load_that_fell_silent_leaves_its_line_open(load: str, target: str, line: str) -> None:
    def silent(t_s: float, name: str, which: str) -> bool:
        return (name, which) == (load, target) and t_s > EVERYTHING_S + 5

    silence = one(Heated(silent=silent).analysis(), "load.fell-silent")
    assert (silence.outcome, silence.line, silence.aspect) == (Outcome.CANNOT_TELL, line, Aspect.LOAD)
    assert (said(silence)["target"], said(silence)["step"]) == (target, "everything")
    assert said(silence)["longest_s"] == pytest.approx(115, abs=1.5)


def test_a_silence_of_the_whole_machine_is_told_once_as_the_hole_that_it_is() -> None:
    lines = tuple(line for line in Heated().segment().lines if not 100 < getattr(line, "t_s", 0.0) < 180)
    analysis = analysed(Segment(file="burn-in/log-001.jsonl", lines=lines), plan=PLAN)
    assert opened(analysis, Aspect.LOAD) == []
    assert said(one(analysis, "burn-in.hole"))["longest_s"] == pytest.approx(80, abs=1)


def _with(*names: str) -> Plan:
    more = tuple(LoadRequest(load=name) for name in names)
    return Plan(plan_id="test", steps=(PlanStep(step="all", seconds=60, loads=(*LOADS, *more)),))


@pytest.mark.parametrize(
    ("name", "targets"), [("caches", "caches on cpu:1"), ("exchange", "exchange on cpus")]
)
def test_a_load_that_ran_and_checked_nothing_leaves_its_line_open(name: str, targets: str) -> None:
    def checks(load: str, target: str) -> int:
        return 0 if load == name and target != "cpu:0" else 10

    plan = _with("caches", "exchange")
    unchecked = one(Heated(plan=plan, checks=checks).analysis(), "load.unchecked")
    assert (unchecked.outcome, unchecked.line) == (Outcome.NOT_CHECKED, "1")
    assert said(unchecked)["loads"] == targets
    assert opened(Heated(plan=plan).analysis(), Aspect.LOAD) == []


def test_what_no_load_checked_at_all_is_told_once() -> None:
    analysis = Heated(checks=lambda load, target: 0 if target == "memory" else 10).analysis()
    assert opened(analysis, Aspect.LOAD) == ["load.not-run"]


def test_a_load_far_below_its_limit_has_stressed_nothing() -> None:
    analysis = Heated(limit=900.0).analysis()
    slow = all_of(analysis, "load.far-below-limit")
    assert {f.line: said(f)["count"] for f in slow} == {"1": 2, "2": 1}
    assert {f.outcome for f in slow} == {Outcome.CANNOT_TELL}
    assert opened(Heated(limit=300.0).analysis(), Aspect.LOAD) == []


def test_all_processors_that_the_log_shows_are_asked_where_the_reading_names_none() -> None:
    bare = msgspec.structs.replace(reading(), parts=())
    run = Run(columns=(PROCESSOR, FAN, *BUSY), rows=[(50.0, 900.0, 0.9, 0.9)] * 13)
    run.targets = tuple(t for t in run.targets if t[1] != "cpu:1")
    left_out = one(analyse(SHORT, [run.segment()], ORDER, MATCHES, bare, ()), "load.not-run")
    assert (left_out.line, said(left_out)["targets"]) == ("1", "cpu:1")


def test_a_wrong_result_in_a_step_that_ran_again_still_counts() -> None:
    first = Run(wrong={"cpu:0": 1}, ending=None).segment()
    analysis = analysed(first, second(start(130.0, 2)))
    assert said(one(analysis, "load.wrong"))["wrong"] == 1


def test_wrong_results_are_told_though_the_plan_is_gone() -> None:
    analysis = analysed(Run(wrong={"memory": 1}).segment(), plan=None)
    assert opened(analysis, Aspect.ENDING) == ["burn-in.no-plan"]
    assert differs(analysis) == ["load.wrong"]


def test_steps_that_were_passed_over_are_no_time_under_load() -> None:
    lone = PlanStep(step="exchange", seconds=3600, loads=(LoadRequest(load="exchange"),))
    plan = msgspec.structs.replace(SHORT, steps=(*SHORT.steps, lone))
    over = Run(events=(event("step.without-target", step="exchange", index=2),)).segment()
    assert said(one(analysed(over, plan=plan, least_s=1800.0), "burn-in.too-short"))["loaded_s"] == 10.0


def test_a_load_that_never_began_leaves_the_ending_open_unless_the_log_says_why() -> None:
    plan = _with("exchange")
    segment = Heated(plan=plan).segment()
    without = tuple(
        line
        for line in segment.lines
        if not any(v.value == "exchange" for v in getattr(line, "values", ()))
        and getattr(line, "load", "") != "exchange"
    )
    analysis = analysed(Segment(file=segment.file, lines=without), plan=plan)
    assert opened(analysis) == ["burn-in.load-missing"]
    assert said(one(analysis, "burn-in.load-missing"))["loads"] == "exchange in all"
    reason = event("load.without-target", 1.0, step="all", load="exchange")
    analysis = analysed(Segment(file=segment.file, lines=(*without[:2], reason, *without[2:])), plan=plan)
    assert opened(analysis) == ["load.without-target"]
    assert one(analysis, "burn-in.completed"), "a machine with one core is not held"


def test_steps_around_which_the_configuration_was_not_read_are_named() -> None:
    segment = Heated().segment()
    lines = tuple(
        line
        for line in segment.lines
        if not (isinstance(line, ConfigurationSeen) and line.step == "everything")
    )
    unseen = one(analysed(Segment(file=segment.file, lines=lines), plan=PLAN), "configuration.not-seen")
    assert (unseen.outcome, unseen.aspect, said(unseen)["steps"]) == (
        Outcome.CANNOT_TELL,
        Aspect.CONFIGURATION,
        "everything",
    )


# The log


def test_a_segment_that_is_missing_leaves_the_ending_open() -> None:
    first, third = Run(ending=Ending.STOPPED_BY_PERSON).segment(), second(start(130.0, 3))
    analysis = analysed(first, third)
    missing = one(analysis, "burn-in.segment-missing")
    assert (missing.outcome, missing.aspect, said(missing)["segments"]) == (
        Outcome.CANNOT_TELL,
        Aspect.ENDING,
        "2",
    )
    assert opened(analysed(first, second(start(130.0, 2)))) == []
    assert opened(analysed(third)) == ["burn-in.segment-missing"]


def test_a_segment_of_another_run_is_a_difference() -> None:
    other = msgspec.structs.replace(start(130.0, 2), run_id="another")
    analysis = analysed(Run(ending=Ending.STOPPED_BY_PERSON).segment(), second(other))
    assert differs(analysis) == ["burn-in.other-run"]


@pytest.mark.parametrize("ending", [Ending.STOPPED_BY_GUARD, Ending.FAILED_TO_RUN])
def test_what_ended_for_good_is_not_made_good_by_another_segment(ending: Ending) -> None:
    analysis = analysed(Run(ending=ending).segment(), second(start(130.0, 2)))
    assert differs(analysis) == ["burn-in.not-completed"]
    assert said(one(analysis, "burn-in.not-completed"))["ending"] == ending.value


WHO: dict[str, Scalar] = {"step": "together", "load": "matrix", "target": "cpu:1"}


@pytest.mark.parametrize(
    ("told", "code", "why"),
    [
        ([event("load.died", **WHO, pid=7, how="ended by SIGSEGV")], "burn-in.load-died", "ended by SIGSEGV"),
        (
            [
                event("load.could-not", **WHO, why="no room"),
                event("load.died", **WHO, pid=7, how="ended with status 3"),
            ],
            "burn-in.load-could-not",
            "no room",
        ),
        ([event("load.could-not", step="together", why="no drive")], "burn-in.load-could-not", "no drive"),
        (
            [event("load.crashed", **WHO, why="ValueError"), event("load.died", **WHO, how="status 4")],
            "burn-in.load-crashed",
            "ValueError",
        ),
    ],
)
def test_a_load_that_failed_says_who_and_why_and_once(told: list[Event], code: str, why: str) -> None:
    analysis = analysed(Run(events=tuple(told), ending=Ending.FAILED_TO_RUN).segment())
    assert differs(analysis) == [code]
    assert (one(analysis, code).aspect, said(one(analysis, code))["why"]) == (Aspect.ENDING, why)


# Heat


def test_a_sensor_that_was_silent_under_load_alone_shows_nothing() -> None:
    def without(line: LogLine, begin_s: float, end_s: float) -> LogLine:
        if isinstance(line, Row) and begin_s < line.t_s < end_s:
            return msgspec.structs.replace(line, v=(None, *line.v[1:]))
        return line

    plan = Plan(
        plan_id="test",
        steps=(PlanStep(step="rest", seconds=400), PlanStep(step="a", seconds=30, loads=LOADS)),
    )
    lines = Heated(plan=plan).segment().lines
    silent = tuple(without(line, 403, 433) for line in lines)
    analysis = analysed(Segment(file="burn-in/log-001.jsonl", lines=silent), plan=plan)
    assert opened(analysis, Aspect.HEAT) == ["heat.no-sensor"]
    rested = tuple(without(line, 10, 40) for line in lines)
    assert opened(analysed(Segment(file="burn-in/log-001.jsonl", lines=rested), plan=plan)) == []


def test_a_sensor_that_is_not_there_after_a_restart_shows_nothing_of_the_time_after() -> None:
    first = Run(ending=Ending.STOPPED_BY_PERSON).segment()
    without = Run(columns=(FAN,), rows=[(900.0,)] * 13)
    analysis = analysed(first, second(start(130.0, 2), run=without))
    assert opened(analysis, Aspect.HEAT) == ["heat.no-sensor"]


def test_a_sensor_that_was_silent_most_of_the_time_and_at_its_limit_then_is_told() -> None:
    rows: list[tuple[float | None, ...]] = [(None, 900.0)] * 13
    rows[6:8] = [(99.0, 900.0)] * 2
    assert differs(analysed(Run(rows=rows).segment())) == ["heat.limit-reached"]


@pytest.mark.parametrize(
    ("quantity", "part"),
    [
        (f"temperature/{PROCESSOR.place}/temp1", PROCESSOR.place),
        (f"temperature/{DRIVE}/temp2", DRIVE),  # a place with a / in it
    ],
)
def test_heat_that_the_guard_saw_between_two_rows_is_a_difference_too(quantity: str, part: str) -> None:
    stop = event(
        "guard.limit", quantity=quantity, label="Processor", seen_c=101.2, limit_c=95.0, seen="101.2 °C",
        limit="95 °C", origin="device",
    )  # fmt: skip
    analysis = analysed(Run(events=(stop,), ending=Ending.STOPPED_BY_GUARD).segment())
    assert differs(analysis) == ["burn-in.guard-stopped", "heat.limit-reached"]
    hot = one(analysis, "heat.limit-reached")
    assert (hot.part, hot.aspect, said(hot)["highest_c"]) == (part, Aspect.HEAT, 101.2)
    assert "heat.within-limits" not in of(analysis, Outcome.CONFORMS)


def test_a_processor_that_crawls_is_no_note_of_the_shipped_policy() -> None:
    crawls = one(Heated(mhz=800.0).analysis(), "clock.far-below-base")
    assert weight_of(crawls, SHIPPED) is Weight.HOLD
    below = one(Heated(mhz=2800.0).analysis(), "clock.below-base")
    assert weight_of(below, SHIPPED) is Weight.NOTE


@pytest.mark.parametrize(("mhz", "found"), [(545.0, ["clock.far-below-highest"]), (2400.0, [])])
def test_one_whose_base_is_not_known_is_held_against_its_highest_clock(mhz: float, found: list[str]) -> None:
    assert differs(Heated(mhz=mhz, base_mhz=None, max_mhz=5100).analysis()) == found


def test_the_step_with_everything_that_draws_less_than_another_is_told() -> None:
    less = one(
        Heated(power=lambda t_s: 0.9 if t_s > EVERYTHING_S - 1 else 1.0).analysis(), "power.all-together-less"
    )
    assert (less.outcome, said(less)["step"], said(less)["highest_step"]) == (
        Outcome.CANNOT_TELL,
        "everything",
        "cores",
    )
    assert float(str(said(less)["share_ratio"])) == pytest.approx(0.9, abs=0.02)


@pytest.mark.parametrize(("share", "code"), [(0.97, "power.all-together"), (0.93, "power.all-together-less")])
def test_the_bound_of_the_step_with_everything_is_95_per_cent(share: float, code: str) -> None:
    assert one(Heated(power=lambda t_s: share if t_s > EVERYTHING_S - 1 else 1.0).analysis(), code)


def test_without_a_reading_of_power_nothing_is_claimed_of_it() -> None:
    assert [f.code for f in Heated(power=None).analysis().findings if f.code.startswith("power.")] == []


# Drives and errors


@pytest.mark.parametrize(
    ("attribute", "course", "worst"),
    [
        ("critical warning", ["none", "temperature", "none"], "temperature"),
        (
            "critical warning",
            ["temperature", "temperature, reliability", "temperature"],
            "temperature, reliability",
        ),
        ("pending sectors", [0, 8, 0], 8),
        ("health self-assessment", ["passed", "failed", "passed"], "failed"),
        ("critical warning", ["temperature, reliability", "temperature"], None),
        ("critical warning", ["temperature", "none"], None),
    ],
)
def test_what_was_wrong_with_a_drive_for_a_while_is_not_forgotten(
    attribute: str, course: list[Scalar], worst: Scalar | None
) -> None:
    told = tuple(
        event(
            "drive.health", 3.0 + n, place=DRIVE, serial="Q1", attribute=attribute, before=course[0], now=now
        )
        for n, now in enumerate(course[1:])
    )
    analysis = analysed(Run(events=told).segment())
    assert [said(f)["now"] for f in all_of(analysis, "health.drive")] == ([] if worst is None else [worst])


@pytest.mark.parametrize(
    "told",
    [
        event("kernel.error", kind="machine check uncorrected", place="cpu:0", count=1, line="l"),
        event("kernel.error", kind="link error", place="pci:0", count=1, line="severity=Uncorrected (Fatal)"),
        event("counter.rose", counter="uncorrected memory errors", place="edac:mc0", before=0, now=1),
        event("counter.rose", counter="pcie fatal errors", place="pci:0", before=0, now=1),
    ],
)
def test_an_error_that_nothing_mended_can_be_conceded_by_nobody(told: Event) -> None:
    (code,) = differs(analysed(Run(events=(told,)).segment()))
    assert not may_be_conceded(code, SHIPPED)
    assert may_be_conceded("health.kernel-mended", SHIPPED)


# Power cycles

COLD = PlanStep(step="cold", seconds=900, power=PowerCycle.COLD_START)


def cycled(
    cycled_drives: str | None, power: PowerCycle = PowerCycle.COLD_START, **moment: object
) -> Analysis:
    named: dict[str, Scalar] = {"step": "cold", "power": power.value}
    back = named | {"away_s": 40.0} | ({"drives_power_cycled": cycled_drives} if cycled_drives else {})
    first = Run(events=(event("power.announced", 12.0, **named),), ending=Ending.AWAITING_POWER).segment()
    begin = start(160.0, 2, "two")
    begin = msgspec.structs.replace(begin, at=msgspec.structs.replace(begin.at, **moment))
    stop = Stop(at=at(161, "two"), t_s=1.0, ending=Ending.COMPLETED)
    lines = (begin, event("power.returned", 0.1, **back), stop)
    plan = msgspec.structs.replace(SHORT, steps=(*SHORT.steps, msgspec.structs.replace(COLD, power=power)))
    return analysed(first, Segment(file="burn-in/log-002.jsonl", lines=lines), plan=plan)


@pytest.mark.parametrize(
    ("drives", "code", "outcome"),
    [
        ("yes", "power.kept", Outcome.CONFORMS),
        ("some", "power.kept", Outcome.CONFORMS),
        ("no", "power.stayed-on", Outcome.CANNOT_TELL),
        ("unknown", "power.kept-untold", Outcome.CONFORMS),
        (None, "power.kept-untold", Outcome.CONFORMS),
    ],
)
def test_a_cold_start_is_held_against_what_the_drives_counted(
    drives: str | None, code: str, outcome: Outcome
) -> None:
    told = one(cycled(drives), code)
    assert (told.outcome, told.aspect) == (outcome, Aspect.ENDING)


def test_a_warm_restart_needs_no_loss_of_power() -> None:
    assert one(cycled("no", PowerCycle.WARM_RESTART), "power.kept")


def test_a_board_whose_clock_fell_back_has_not_kept_its_time() -> None:
    years_back = at(-9 * 365 * 86_400.0).utc
    lost = one(cycled("yes", utc=years_back, clock_synchronised=False), "power.clock-lost")
    assert (lost.outcome, lost.aspect) == (Outcome.DIFFERS, Aspect.CONFIGURATION)
    hours_back = at(-5 * 3600.0).utc  # local time in the board's clock
    assert differs(cycled("yes", utc=hours_back, clock_synchronised=False)) == []
    assert differs(cycled("yes", utc=years_back, clock_synchronised=True)) == [], "put right since"


def test_a_line_of_storage_without_a_match_gets_nothing_by_another_drive() -> None:
    order: Order = msgspec.structs.replace(
        ORDER, lines=(*ORDER.lines, OrderLine(line_id="4", category=Category.STORAGE, text="Quarrel 2TB"))
    )
    matches = (*MATCHES, Match(line="4", places=("pci:0000:05:00.0/nvme-ns-1",)))
    analysis = analyse(SHORT, [Run().segment()], order, matches, reading(), ())
    assert one(analysis, "load.not-run").line == "4"
