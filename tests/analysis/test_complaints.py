"""What devices complained of, power cycles, pauses, and wrong results: each named, none invented."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.analysis.loads import load_summaries
from shipworthy.messages import finding_sentence
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import Scalar, values
from shipworthy.model.findings import Finding, Match
from shipworthy.model.orders import OrderLine
from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.policy import CoverageState
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import Event, LogLine, Report, Stop
from shipworthy.model.words import Aspect, Category, Ending, Outcome, PowerCycle
from shipworthy.verdict.coverage import keys_asked, state_of
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.analysis.logs import (
    CONFIGURATION,
    DRIVE,
    FAN,
    MATCHES,
    ORDER,
    PLAN,
    PROCESSOR,
    THROTTLE,
    Run,
    at,
    reading,
    start,
)

(HEALTH,) = (
    key for key in keys_asked(ORDER, parse_policy(shipped_policy(), "p")) if key.aspect is Aspect.HEALTH
)


def event(code: str, t_s: float = 5.0, **named: Scalar) -> Event:
    return Event(t_s=t_s, code=code, values=values(**named))


def analysis_of(*events: Event, **more: Any) -> Analysis:
    return analyse(PLAN, [Run(events=events, **more).segment()], ORDER, MATCHES, reading(), ())


def found(analysis: Analysis, outcome: Outcome) -> list[str]:
    return sorted(f.code for f in analysis.findings if f.outcome is outcome)


def one(analysis: Analysis, code: str) -> Finding:
    (finding,) = [f for f in analysis.findings if f.code == code]
    assert "{" not in finding_sentence(finding).say
    return finding


def said(finding: Finding) -> dict[str, object]:
    return {value.name: value.value for value in finding.values}


# Health


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("machine check uncorrected", "health.kernel-uncorrected"),
        ("disk error", "health.kernel-error"),
        ("graphics error", "health.kernel-error"),
        ("machine check corrected", "health.kernel-mended"),
        ("link error", "health.kernel-mended"),
    ],
)
def test_an_error_in_the_kernels_log_is_a_difference_of_its_place(kind: str, code: str) -> None:
    told = [event("kernel.error", t, kind=kind, place=DRIVE, count=2, line="the line") for t in (3.0, 4.0)]
    error = one(analysis_of(*told), code)
    assert (error.outcome, error.aspect, error.part) == (Outcome.DIFFERS, Aspect.HEALTH, DRIVE)
    assert (said(error)["count"], said(error)["told"], error.line) == (4, "the line", "")
    assert finding_sentence(error).say.endswith("4 times: the line")


LOADED = event("step.under-load", 0.5, step="together")


def test_that_nobody_complained_is_said_only_where_somebody_listened() -> None:
    assert "health.quiet" not in found(analysis_of(), Outcome.CONFORMS), "a log without watchers"
    assert one(analysis_of(LOADED, step_seconds=11.0), "health.quiet").aspect is Aspect.HEALTH


@pytest.mark.parametrize(
    ("told", "code"),
    [
        (event("kernel.not-read", why="refused"), "health.no-kernel-log"),
        (event("drive.health-not-read", place=DRIVE, why="refused"), "health.drive-not-read"),
    ],
)
def test_where_nobody_could_listen_silence_shows_nothing(told: Event, code: str) -> None:
    deaf = analysis_of(LOADED, told, step_seconds=11.0)
    assert said(one(deaf, code))["why"] == "refused"
    assert found(deaf, Outcome.CANNOT_TELL) == [code]
    assert "health.quiet" not in found(deaf, Outcome.CONFORMS)
    asked = state_of(HEALTH, deaf.findings, CONFIGURATION.digest)
    assert asked.state is CoverageState.CANNOT_TELL
    assert not asked.required, "an ordinary account does not hold the unit"


def test_an_error_of_a_link_that_was_not_mended_is_told_as_one() -> None:
    line = "pcieport 0000:00:01.0: PCIe Bus Error: severity=Uncorrected (Fatal)"
    told = event("kernel.error", kind="link error", place="pci:0000:00:01.0", count=1, line=line)
    assert found(analysis_of(told), Outcome.DIFFERS) == ["health.kernel-uncorrected"]


def test_throttling_that_has_a_column_is_told_once() -> None:
    told = event("counter.rose", counter="thermal throttling", place="cpu:0", before=0, now=2)
    assert found(analysis_of(told), Outcome.DIFFERS) == ["health.counter-mended"]
    rows = [(50.0, 900.0, 99.0 * (n > 3)) for n in range(13)]
    both = analysis_of(told, columns=(PROCESSOR, FAN, THROTTLE), rows=rows)
    assert found(both, Outcome.DIFFERS) == ["heat.throttled"]


def test_rises_of_a_counter_add_up_whether_told_since_the_start_or_since_the_last_look() -> None:
    fatal = {"counter": "pcie fatal errors", "place": DRIVE}
    since_start = analysis_of(
        *(event("counter.rose", t, **fatal, before=1, now=now) for t, now in ((3.0, 2), (4.0, 5)))
    )
    since_last = analysis_of(
        *(event("counter.rose", t, **fatal, before=b, now=n) for t, b, n in ((3.0, 1, 2), (4.0, 2, 5)))
    )
    assert said(one(since_start, "health.counter-rose"))["rise"] == 4
    assert said(one(since_last, "health.counter-rose"))["rise"] == 4


@pytest.mark.parametrize(
    ("attribute", "before", "now", "code"),
    [
        ("media errors", 0, 1, "health.drive"),
        ("critical warning", 0, 4, "health.drive"),
        ("reallocated sectors", 8, 16, "health.drive"),
        ("pending sectors", 0, 1, "health.drive"),
        ("health self-assessment", "passed", "failed", "health.drive"),
        ("available spare", 100, 97, "health.drive"),
        ("link errors", 0, 3, "health.drive-link"),
        ("percentage used", 0, 1, ""),
        ("percentage used", 0, 2, "health.drive"),
        ("pending sectors", 8, 0, ""),
    ],
)
def test_a_drive_that_got_worse_is_named_and_wear_of_one_per_cent_is_not(
    attribute: str, before: int, now: int, code: str
) -> None:
    told = event("drive.health", place=DRIVE, serial="Q1", attribute=attribute, before=before, now=now)
    analysis = analysis_of(told)
    assert found(analysis, Outcome.DIFFERS) == ([code] if code else [])
    if code:
        assert (one(analysis, code).part, said(one(analysis, code))["serial"]) == (DRIVE, "Q1")


def test_a_sensor_that_stayed_silent_is_named_and_one_that_came_back_is_not() -> None:
    silent = event("sensor.silent", label="Processor", place="x", channel="temp1", silent_s=5.0)
    back = event("sensor.back", 6.0, label="Processor", place="x", channel="temp1", silent_s=9.0)
    assert one(analysis_of(silent), "health.sensor-silent").outcome is Outcome.CANNOT_TELL
    assert found(analysis_of(silent, back), Outcome.CANNOT_TELL) == []


def test_loads_that_were_paused_are_told_with_the_time_lost() -> None:
    paused = event("loads.paused", why="silent", label="Processor", place="x")
    resumed = event("loads.resumed", 7.0, why="back", label="Processor", place="x", paused_s=2.0)
    assert said(one(analysis_of(paused, resumed), "burn-in.paused"))["lost_s"] == 2.0


# Wrong results


def test_every_core_is_judged_for_itself() -> None:
    wrong = [f for f in analysis_of(wrong={"cpu:0": 1, "cpu:1": 3}).findings if f.code == "load.wrong"]
    assert [(f.line, said(f)["target"], said(f)["wrong"]) for f in wrong] == [
        ("1", "cpu:0", 1),
        ("1", "cpu:1", 3),
    ]


def test_a_wrong_result_that_was_never_reported_counts_by_its_event() -> None:
    told = event("load.wrong", step="together", load="matrix", target="cpu:1", what="w", where="x", wrong=2)
    wrong = one(analysis_of(told), "load.wrong")
    assert (wrong.line, said(wrong)["wrong"], said(wrong)["where"]) == ("1", 2, "x")


def test_a_load_of_all_processors_speaks_of_the_processor() -> None:
    run = Run(wrong={"cpus": 1})
    run.targets = (*run.targets, ("exchange", "cpus"))
    analysis = analyse(PLAN, [run.segment()], ORDER, MATCHES, reading(), ())
    assert one(analysis, "load.wrong").line == "1"


def test_the_module_that_the_log_names_decides_between_two_lines_of_memory() -> None:
    second = OrderLine(line_id="4", category=Category.MEMORY, text="Fennec 8GB")
    order = msgspec.structs.replace(ORDER, lines=(*ORDER.lines, second))
    places = (Match(line="2", places=("smbios:A1",)), Match(line="4", places=("smbios:B1",)))
    told = event("load.wrong", step="together", load="march", target="memory", wrong=1, part="smbios:B1")
    run = Run(wrong={"memory": 1}, events=(told,))
    analysis = analyse(PLAN, [run.segment()], order, (*MATCHES, *places), reading(), ())
    wrong = one(analysis, "load.wrong")
    assert (wrong.line, wrong.part) == ("4", "smbios:B1")
    assert [f.line for f in analysis.findings if f.code == "load.right"] == ["1", "2", "3"]


def _compared(checks: int, wrong: int = 0, target: str = "cpu:0") -> Report:
    return Report(
        t_s=9.0,
        step="together",
        load="matrix",
        target=target,
        work=float(checks),
        unit_of_work="rounds compared",
        seconds=0.0,
        checks=checks,
        wrong=wrong,
    )


def test_rounds_compared_are_checks_of_the_load_and_spoil_no_rate() -> None:
    lines = (*Run().lines()[:-1], _compared(7), _compared(5, wrong=1))
    rows = load_summaries([Segment(file="burn-in/log-001.jsonl", lines=lines)])
    (row,) = [row for row in rows if (row.load, row.target) == ("matrix", "cpu:0")]
    assert (row.checks, row.wrong, row.rate, row.unit_of_work) == (52, 1, 10.0, "GFLOP")


def test_rounds_compared_alone_still_cover_a_core() -> None:
    lines: list[LogLine] = [
        line for line in Run().lines() if not (isinstance(line, Report) and line.load == "matrix")
    ]
    lines[-1:-1] = [_compared(7), _compared(7, target="cpu:1")]
    segment = Segment(file="burn-in/log-001.jsonl", lines=tuple(lines))
    analysis = analyse(PLAN, [segment], ORDER, MATCHES, reading(), ())
    assert [f.line for f in analysis.findings if f.code == "load.right"] == ["1", "2", "3"]


# Power cycles

CYCLED = Plan(
    plan_id="test", steps=(*PLAN.steps, PlanStep(step="cold", seconds=900, power=PowerCycle.COLD_START))
)


def announced(power: PowerCycle = PowerCycle.COLD_START) -> Event:
    return event("power.announced", 12.0, step="cold", power=power.value, boot_id="one")


def returned(t_s: float = 0.1, power: PowerCycle = PowerCycle.COLD_START, **more: Scalar) -> Event:
    named = {"step": "cold", "power": power.value, "boot_id_before": "one", "boot_id": "two", "away_s": 40.0}
    named |= {"drives_power_cycled": "yes"}
    return event("power.returned", t_s, **(named | more))


def before_power(ending: Ending | None = Ending.AWAITING_POWER) -> Segment:
    return Run(events=(announced(),), ending=ending).segment()


def after_power(*events: Event, boot_id: str = "two", configuration: Configuration | None = None) -> Segment:
    begin = start(seconds=160.0, segment=2, boot_id=boot_id)
    if configuration is not None:
        begin = msgspec.structs.replace(begin, configuration=configuration)
    stop = Stop(at=at(161, boot_id), t_s=1.0, ending=Ending.COMPLETED)
    return Segment(file="burn-in/log-002.jsonl", lines=(begin, *events, stop))


def cycled(*segments: Segment) -> Analysis:
    return analyse(CYCLED, segments, ORDER, MATCHES, reading(), ())


@pytest.mark.parametrize("ending", [Ending.AWAITING_POWER, None])
def test_an_announced_restart_is_no_difference_and_says_what_stayed(ending: Ending | None) -> None:
    analysis = cycled(before_power(ending), after_power(returned()))
    assert found(analysis, Outcome.DIFFERS) == []
    assert said(one(analysis, "power.kept"))["away_s"] == 40.0
    assert one(analysis, "burn-in.completed")
    assert [mark.code for mark in analysis.marks] == ["power"]


def test_what_changed_over_a_restart_is_named() -> None:
    other = Configuration.of({"firmware/version": "F7", "memory/speed": 4800})
    changed = one(cycled(before_power(), after_power(returned(), configuration=other)), "power.changed")
    assert (changed.outcome, said(changed)["keys"]) == (Outcome.DIFFERS, "memory/speed")


def test_a_machine_that_did_not_come_back_is_a_difference() -> None:
    assert found(cycled(before_power()), Outcome.DIFFERS) == ["power.not-returned"]


def test_a_power_cycle_that_nobody_did_is_a_difference() -> None:
    missing = event("power.missing", 0.1, step="cold", power="cold start")
    assert found(cycled(before_power(), after_power(missing, boot_id="one")), Outcome.DIFFERS) == [
        "power.not-done"
    ]


def test_a_power_cycle_that_was_never_announced_was_not_run() -> None:
    analysis = cycled(Run().segment())
    assert said(one(analysis, "burn-in.step-cut-short"))["steps"] == "cold"


def test_a_second_restart_beside_the_announced_one_is_still_a_difference() -> None:
    lost = after_power(returned())
    cut = Segment(file=lost.file, lines=lost.lines[:-1])
    again = Segment(file="burn-in/log-003.jsonl", lines=Run().lines(start(300.0, 3, "three")))
    assert "burn-in.unannounced-restart" in found(cycled(before_power(), cut, again), Outcome.DIFFERS)


def test_a_sleep_is_done_within_a_segment() -> None:
    slept = [
        event("power.announced", 12.0, step="cold", power="sleep and wake"),
        returned(15.0, PowerCycle.SLEEP, boot_id="one"),
    ]
    lines = Run(events=tuple(slept)).lines()
    stop = Stop(at=at(116), t_s=16.0, ending=Ending.COMPLETED)
    analysis = cycled(Segment(file="burn-in/log-001.jsonl", lines=(*lines[:-1], stop)))
    assert {f.outcome for f in analysis.findings} == {Outcome.CONFORMS}
    assert one(analysis, "power.kept")
