"""The thermal model, against the closed formula and a published step response."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.sim import chips, thermal
from shipworthy.sim.thermal import Activity, Stage, foster_step

_PUBLISHED = (Stage(0.15, 0.05), Stage(0.10, 5.0), Stage(0.25, 300.0))  # check-values/thermal.md


def _after(activity: Activity, seconds: float, dt_s: float = 0.2) -> thermal.Heat:
    heat = thermal.at_rest(len(activity.cores))
    for _ in range(round(seconds / dt_s)):
        heat = thermal.step(heat, activity, dt_s)
    return heat


def test_a_step_of_power_follows_the_published_curve(reference: Path) -> None:
    with (reference / "check-values/thermal-foster-step.csv").open(newline="") as file:
        rows = [(float(t_s), float(junction_c)) for t_s, junction_c in list(csv.reader(file))[1:]]
    rises, before_s = (0.0, 0.0, 0.0), 0.0
    for t_s, junction_c in rows:
        rises = foster_step(_PUBLISHED, rises, 100.0, t_s - before_s)
        before_s = t_s
        assert 25.0 + sum(rises) == pytest.approx(junction_c, abs=6e-5)
    assert len(rows) == 16


def test_one_stage_reaches_what_the_exponential_says() -> None:
    (rise,) = foster_step([Stage(0.5, 10.0)], [0.0], 40.0, 10.0)
    assert rise == pytest.approx(20.0 * (1 - math.exp(-1)))


@given(power_w=st.floats(0, 500), first_s=st.floats(0, 1000), second_s=st.floats(0, 1000))
def test_two_short_steps_are_one_long_step(power_w: float, first_s: float, second_s: float) -> None:
    start = (3.0, 0.0, 7.0)
    apart = foster_step(_PUBLISHED, foster_step(_PUBLISHED, start, power_w, first_s), power_w, second_s)
    together = foster_step(_PUBLISHED, start, power_w, first_s + second_s)
    assert apart == pytest.approx(together, abs=1e-9)


def test_at_rest_nothing_moves_any_more() -> None:
    heat = thermal.at_rest(2)
    later = thermal.step(heat, Activity((0.0, 0.0)), 60.0)
    assert later.cores_c == pytest.approx(heat.cores_c)
    assert later.cpu_fan_rpm == pytest.approx(heat.cpu_fan_rpm)
    assert heat.package_c == pytest.approx(38.4, abs=0.5)


@pytest.mark.parametrize("cores", [1, 2, 16])
def test_under_full_load_it_settles_far_below_its_limit(cores: int) -> None:
    heat = _after(Activity((1.0,) * cores, 1.5e9), 120.0)
    assert heat.package_c == pytest.approx(68.0, abs=1.0)
    assert heat.package_c < chips.PROCESSOR_CRITICAL_C - 20
    assert heat.drive_c < 70.0
    assert heat.cpu_fan_rpm == pytest.approx(thermal.FAN_HIGH_RPM, abs=5)
    assert thermal.package_power_w(Activity((1.0,) * cores)) == pytest.approx(85.0)


def test_most_of_the_rise_is_seen_in_twenty_seconds() -> None:
    idle, hot = thermal.at_rest(2).package_c, _after(Activity((1.0, 1.0)), 120.0).package_c
    assert (_after(Activity((1.0, 1.0)), 20.0).package_c - idle) / (hot - idle) > 0.9


def test_a_busy_core_is_hotter_than_its_idle_neighbour() -> None:
    busy, idle = _after(Activity((1.0, 0.0)), 30.0).cores_c
    assert busy > idle + 5


def test_more_air_means_less_resistance_and_a_shorter_constant() -> None:
    slow, fast = thermal.cooler_at(600), thermal.cooler_at(1400)
    assert slow.resistance_k_w > fast.resistance_k_w
    assert slow.tau_s > fast.tau_s
    assert fast == thermal.COOLER


def test_fans_never_leave_their_range() -> None:
    speeds = [thermal.fan_wanted_rpm(t, 40.0, 68.0) for t in (-40.0, 40.0, 54.0, 68.0, 200.0)]
    assert speeds == [600.0, 600.0, 1000.0, 1400.0, 1400.0]
