"""The power budget by hand: 80 PLUS points, connectors, thermal figures, excursions."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.orders.fit.budget import budget_of
from shipworthy.orders.fit.efficiency import POINTS, efficiency, grade_of, wall_w
from shipworthy.orders.fit.plugs import HEAVY_W, PLUG_W, SLOT_W
from tests.orders.fitting import build


def rows_of(of: dict[str, object]) -> dict[str, tuple[float, float]]:
    return {row.what: (row.load_w, row.least_w) for row in budget_of(build(of)).rows}


# 80 PLUS


def test_the_points_are_those_of_the_reference(reference: Path) -> None:
    """80 PLUS, 115 V internal: the table of check-values/pcie-power.md."""
    text = (reference / "check-values" / "pcie-power.md").read_text("utf-8").split("## 80 PLUS")[1]
    found = re.findall(r"^\| (\w+) \| *(\d*) *\| (\d+) \| (\d+) \| (\d+) \|", text, re.MULTILINE)
    told = {level: tuple(int(p) / 100 for p in points if p) for level, *points in found}
    assert told == {level: tuple(e for _, e in points) for level, points in POINTS.items()}
    assert len(told) == 6


def test_at_a_point_it_is_the_points_efficiency() -> None:
    """400 W at 50 % of 800 W, Gold: 400 / 0.90 = 444.4 W (check-values/pcie-power.md has that sum)."""
    assert wall_w(400, 800, "Gold") == pytest.approx(444.4, abs=0.05)
    assert efficiency("Titanium", 0.1) == 0.90


def test_between_points_it_is_a_straight_line() -> None:
    """Gold from 90 % at 50 % to 87 % at 100 %: 88.5 % at 75 %. 600 W of 800 W: 678.0 W."""
    assert efficiency("Gold", 0.75) == pytest.approx(0.885)
    assert wall_w(600, 800, "Gold") == pytest.approx(677.97, abs=0.01)
    assert efficiency("Bronze", 0.35) == pytest.approx(0.835)  # half way from 82 to 85


@pytest.mark.parametrize("ratio", [0.0, 0.05, 0.19, 1.01, 2.0])
def test_outside_of_the_points_nothing_is_told(ratio: float) -> None:
    assert efficiency("Gold", ratio) is None
    assert wall_w(ratio * 800, 800, "Gold") is None


@given(st.sampled_from(sorted(POINTS)), st.floats(0.2, 1.0))
def test_law_it_lies_between_its_points(grade: str, ratio: float) -> None:
    found = efficiency(grade, ratio)
    assert found is not None
    assert min(e for _, e in POINTS[grade]) <= found <= max(e for _, e in POINTS[grade])


def test_grades_in_their_spellings() -> None:
    assert [grade_of(t) for t in ("80+ Gold", "80 PLUS Gold", "gold", "80+", "80 PLUS", "80+ White")] == [
        *("Gold", "Gold", "Gold", "basic", "basic", "basic"),
    ]
    assert [grade_of(t) for t in ("", "Cybenetics Gold", "Diamond")] == [None, None, None]


# Connectors


def test_connectors_are_those_of_the_reference(reference: Path) -> None:
    text = (reference / "check-values" / "pcie-power.md").read_text("utf-8")
    assert "| 6-pin (2x3) | 75 W sustained" in text and PLUG_W["6"] == 75
    assert "| 8-pin (2x4) | 150 W sustained" in text and PLUG_W["8"] == 150
    assert "up to 600 W sustained" in text and PLUG_W["16"] == 600
    assert "slot 75 + 2 x 8-pin = 375 W; slot + 12V-2x6 = 675 W" in text
    assert SLOT_W + 2 * PLUG_W["8"] == 375 and SLOT_W + PLUG_W["16"] == 675 and HEAVY_W == 225


# The budget


def test_the_sums_by_hand() -> None:
    """Known: 160 + 300 + 0.2 A x 12 V = 462.4. Assumed: board 40, USB 15, two modules 10, M.2 8, disk 10,
    two fans of the case 6, cooler 3: 92. Together 554.4."""
    found = budget_of(build())
    assert found.least_w == pytest.approx(462.4)
    assert found.sustained_w == pytest.approx(554.4)
    assert found.whole


def test_a_thermal_figure_is_the_least_and_never_the_most() -> None:
    """AM5: 1.36 x 120 W = 163.2 W. Elsewhere by the guide's current: 26 A at 12 V = 312 W for 125 W."""
    assert rows_of({"cpu.limit_w": None})["processor"] == pytest.approx((163.2, 120))
    intel = {"cpu.limit_w": None, "cpu.tdp_w": 125, "cpu.socket": "LGA 1700"}
    assert rows_of(intel)["processor"] == pytest.approx((312, 125))
    assert rows_of({**intel, "cpu.tdp_w": 65})["processor"] == pytest.approx((276, 65))
    assert rows_of({**intel, "cpu.tdp_w": 35})["processor"] == pytest.approx((132, 35))


def test_what_is_above_the_guide_is_not_known() -> None:
    found = budget_of(build({"cpu.limit_w": None, "cpu.tdp_w": 280, "cpu.socket": "sTR5"}))
    assert not found.whole
    assert found.rows[0].basis == "fit.budget.unknown"
    assert found.rows[0].least_w == 280


def test_excursions_by_hand() -> None:
    """Others 94.4 W. For 1 ms 300 x 1.8 + 160 x 1.5 + 94.4 = 874.4; for 100 ms 300 x 1.2 + 160 + 94.4.
    An 850 W supply of ATX 3.1 with the 16-pin plug: 180 and 120 %: 1530 and 1020 W."""
    peaks = {peak.lasts_s: peak for peak in budget_of(build()).excursions}
    assert peaks[0.001].load_w == pytest.approx(874.4)
    assert peaks[0.1].load_w == pytest.approx(614.4)
    assert peaks[0.001].allowed_w == pytest.approx(1530)
    assert peaks[0.1].allowed_w == pytest.approx(1020)


def test_a_750_w_supply_stands_what_its_sheet_lists() -> None:
    """1500, 1350, 1200 and 900 W (a 750 W supply's sheet, in check-values/pcie-power.md)."""
    found = budget_of(build({"psu.watts": 750})).excursions
    assert [peak.allowed_w for peak in found] == pytest.approx([1500, 1350, 1200, 900])


@pytest.mark.parametrize(
    "change", [{"psu.watts": 450}, {"psu.pcie_16_plugs": 0}, {"psu.pcie_16_plugs": None}]
)
def test_smaller_ones_and_those_without_the_plug_stand_less(change: dict[str, object]) -> None:
    found = budget_of(build(change))
    assert found.supply_w is not None
    assert [p.allowed_w for p in found.excursions] == pytest.approx(
        [found.supply_w * f for f in (1.5, 1.45, 1.35, 1.1)]
    )


@pytest.mark.parametrize("version", ["", "2.52", "2.4"])
def test_of_an_older_supply_nothing_is_known(version: str) -> None:
    assert {p.allowed_w for p in budget_of(build({"psu.atx_version": version})).excursions} == {None}


def test_draw_from_the_wall_at_the_points_and_at_the_sum() -> None:
    """Gold, 850 W: 170 / 0.87 = 195.4; 425 / 0.90 = 472.2; 850 / 0.87 = 977.0. 554.4 W is 65.2 %: 89.1 %."""
    walls = budget_of(build()).wall
    assert [round(w.wall_w or 0, 1) for w in walls] == [195.4, 472.2, 977.0, 622.3]


def test_two_supplies_have_no_one_rating() -> None:
    found = budget_of(build({"psu.quantity": 2}))
    assert found.supply_w is None
    assert found.wall == ()
