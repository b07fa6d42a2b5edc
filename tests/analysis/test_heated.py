"""Heat, fans, clocks, drives and power under load: sound machines trip nothing, each fault is named."""

from __future__ import annotations

import csv
import random
from pathlib import Path

import numpy as np
import pytest

from shipworthy.analysis import Segment, analyse
from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.rise import rise_findings
from shipworthy.model.analysis import Analysis
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.plan import Limit, Plan, PlanStep
from shipworthy.model.runlog import Event, StepSpan
from shipworthy.model.words import Aspect, Origin, Outcome, Unit
from shipworthy.sim import thermal
from shipworthy.sim.thermal import Stage
from shipworthy.verdict import weight_of
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.analysis.heated import COOLER, DIE, LOADS, NO_COOLER, SPREADER, Heated
from tests.analysis.logs import DRIVE, FAN, MATCHES, ORDER, PROCESSOR, reading

TRACE = Path(__file__).parents[3] / "shared/reference/gpu-trace/gpu-trace-duty.csv"


def of(analysis: Analysis, outcome: Outcome) -> list[str]:
    return sorted(f.code for f in analysis.findings if f.outcome is outcome)


def one(analysis: Analysis, code: str) -> Finding:
    (found,) = [f for f in analysis.findings if f.code == code]
    return found


def said(finding: Finding) -> dict[str, object]:
    return {value.name: value.value for value in finding.values}


@pytest.mark.parametrize("seed", range(20))
def test_twenty_clean_runs_of_unlike_machines_show_no_difference(seed: int) -> None:
    chance = random.Random(seed)
    full_w = chance.uniform(35, 170)
    plateau_k = chance.uniform(25, 58)
    quick = chance.uniform(0.15, 0.55)  # share of the rise that comes at once
    resistances = [plateau_k / full_w * share for share in (quick * 0.6, quick * 0.4, 1 - quick)]
    unit = Heated(
        seed=seed,
        stages=tuple(
            Stage(r, tau) for r, tau in zip(resistances, (0.3, 3.0, chance.uniform(30, 300)), strict=True)
        ),
        air_c=chance.uniform(16, 32),
        idle_w=full_w * chance.uniform(0.1, 0.3),
        full_w=full_w,
        mhz=chance.uniform(3600, 5200),
        rate=lambda t_s: chance.uniform(300e6, 3e9),
    )
    analysis = unit.analysis()
    assert {f.outcome for f in analysis.findings} == {Outcome.CONFORMS}
    assert {f.aspect for f in analysis.findings} >= {Aspect.HEALTH, Aspect.HEAT, Aspect.FANS, Aspect.LOAD}


def test_a_cooler_that_does_not_sit_shows_within_seconds() -> None:
    rises = one(Heated(stages=NO_COOLER).analysis(), "heat.rises-at-once")
    assert (rises.outcome, rises.aspect, rises.part) == (Outcome.DIFFERS, Aspect.HEAT, PROCESSOR.place)
    assert said(rises)["step"] == "cores"
    assert float(str(said(rises)["took_s"])) <= 8.0


def test_a_processor_that_boosts_to_its_limit_by_design_and_carries_its_power_is_sound() -> None:
    boosting = Heated(stages=(DIE, SPREADER, Stage(0.53, 1.5)), throttles=False)
    analysis = boosting.analysis()
    assert max(row.highest_c for row in analysis.thermals) >= 90
    assert "heat.rises-at-once" not in of(analysis, Outcome.DIFFERS)


def test_a_hot_machine_that_swings_by_the_quick_part_alone_is_sound() -> None:
    hot = Plan(
        plan_id="test",
        steps=(
            PlanStep(step="idle", seconds=20),
            PlanStep(step="soak", seconds=300, loads=LOADS),
            PlanStep(step="again", seconds=60, loads=LOADS),
        ),
    )
    quick = Heated(stages=(Stage(0.3, 0.3), SPREADER, COOLER), plan=hot, throttles=False)
    analysis = quick.analysis()
    assert "heat.rises-at-once" not in of(analysis, Outcome.DIFFERS)


@pytest.mark.skipif(not TRACE.exists(), reason="the recorded trace lies beside the repository")
def test_the_rise_of_a_real_card_under_load_is_sound() -> None:
    with TRACE.open() as file:
        rows = list(csv.DictReader(file))
    t_s = np.array([float(row["t_s"]) for row in rows])
    hot_c = np.array([float(row["gpu_temp_c"]) for row in rows])
    began = next(float(row["t_s"]) for row in rows if row["phase"] == "duty60")
    span = StepSpan(step="duty", begin_s=began, end_s=float(t_s[-1]), under_load_s=began)
    limit = Limit(quantity="temperature", value=87.0, unit=Unit.CELSIUS, origin=Origin.SHOP)
    curve = Curve(PROCESSOR, t_s, hot_c)
    assert list(rise_findings([curve], [span], [limit], reading(), Basis("", ()))) == []
    near = Curve(PROCESSOR, t_s, np.where(t_s > began + 4, 84.0, hot_c))
    assert len(list(rise_findings([near], [span], [limit], reading(), Basis("", ())))) == 1


def test_the_simulated_units_own_heat_rises_as_it_should() -> None:
    heat, rows = thermal.at_rest(4), []
    for n in range(4 * 120):
        busy = 1.0 if n >= 80 else 0.0
        heat = thermal.step(heat, thermal.Activity((busy,) * 4), 0.25)
        rows.append(float(round(heat.package_c)))
    span = StepSpan(step="everything", begin_s=19.0, end_s=119.0, under_load_s=20.0)
    limit = Limit(quantity="temperature", value=95.0, unit=Unit.CELSIUS, origin=Origin.SHOP)
    curve = Curve(PROCESSOR, np.arange(len(rows)) / 4, np.array(rows))
    assert max(rows) > 60
    assert list(rise_findings([curve], [span], [limit], reading(), Basis("", ()))) == []


def test_a_fan_that_stops_in_the_heat_is_named() -> None:
    analysis = Heated(rpm=lambda t_s, c: 0.0 if 110 < t_s < 170 else 1100.0, full_w=120.0).analysis()
    stopped = one(analysis, "fans.stopped")
    assert (stopped.outcome, stopped.part) == (Outcome.DIFFERS, FAN.place)
    assert (said(stopped)["label"], said(stopped)["before_rpm"]) == (FAN.label, 1100.0)


def test_a_fan_that_rests_in_the_cool_is_sound_and_one_that_answers_is_told() -> None:
    analysis = Heated(rpm=lambda t_s, c: 0.0 if c < 45 else 900.0).analysis()
    assert of(analysis, Outcome.DIFFERS) == []
    answer = said(one(analysis, "fans.answer"))
    assert answer["hot_rpm"] == 900


def test_a_processor_below_its_base_clock_is_named_and_a_note_in_the_shops_policy() -> None:
    below = one(Heated(mhz=2800.0).analysis(), "clock.below-base")
    assert (said(below)["base_mhz"], said(below)["median_mhz"]) == (3600, 2800)
    assert weight_of(below, parse_policy(shipped_policy(), "policy.toml")).value == "note"


@pytest.mark.parametrize(("technology", "found"), [("NVMe", True), ("HDD", False), ("", False)])
def test_a_slow_drive_is_named_by_what_its_kind_does(technology: str, found: bool) -> None:
    analysis = Heated(rate=lambda t_s: 40e6, technology=technology).analysis()
    slow = [f for f in analysis.findings if f.code == "storage.slow"]
    assert [(f.line, f.part, f.outcome) for f in slow] == ([("3", DRIVE, Outcome.DIFFERS)] if found else [])


def test_reads_that_fall_away_within_a_step_are_a_difference() -> None:
    analysis = Heated(rate=lambda t_s: 900e6 if t_s < 140 else 110e6).analysis()
    fell = one(analysis, "storage.reads-fell")
    assert (fell.line, said(fell)["step"], said(fell)["early_bytes"]) == ("3", "everything", 900_000_000)


def test_the_step_with_everything_stands_beside_the_highest_power_of_any() -> None:
    together = one(Heated().analysis(), "power.all-together")
    assert together.outcome is Outcome.CONFORMS
    assert said(together)["step"] == "everything"
    assert float(str(said(together)["share_ratio"])) >= 0.95


def test_wrong_results_say_how_hot_and_how_fast_the_core_was() -> None:
    event = Event(
        t_s=150.0,
        code="load.wrong",
        values=values(step="everything", load="matrix", target="cpu:1", what="a sum", where="row 7", wrong=1),
    )
    analysis = Heated(events=(event,)).analysis()
    wrong = said(one(analysis, "load.wrong"))
    assert (wrong["target"], wrong["what"], wrong["where"], wrong["step"]) == (
        "cpu:1",
        "a sum",
        "row 7",
        "everything",
    )
    assert wrong["clock_mhz"] == 4200
    assert 40 < float(str(wrong["hottest_c"])) < 75
    assert [(mark.code, mark.what) for mark in analysis.marks] == [("wrong", "cpu:1")]


def test_a_step_counts_only_from_when_all_its_loads_were_at_work() -> None:
    late = Heated(plan=Plan(plan_id="t", steps=(PlanStep(step="a", seconds=10, loads=LOADS),)))
    lines = tuple(
        Event(t_s=line.t_s + 6, code=line.code, values=line.values)
        if isinstance(line, Event) and line.code == "step.under-load"
        else line
        for line in late.segment().lines
    )
    assert late.analysis().spans[0].under_load_s == 3.0
    analysis = analyse(
        late.plan, [Segment(file="burn-in/log-001.jsonl", lines=lines)], ORDER, MATCHES, reading(), ()
    )
    assert said(one(analysis, "burn-in.step-cut-short"))["steps"] == "a"
