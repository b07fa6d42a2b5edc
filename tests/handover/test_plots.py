"""Curves as drawings."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.handover.burnin_plots import mark_number
from shipworthy.handover.plots import HEIGHT, WIDTH, _apart, _ticks, draw
from shipworthy.handover.view import Band, Bar, Bars, Curve, Graph, Level, Plot, Upright

SVG = "{http://www.w3.org/2000/svg}"


def plot(drawing: Graph | Bars) -> Plot:
    return Plot(name="p", title="T & t", description="<d>", key=(), notes=(), drawing=drawing)


def graph(*curves: Curve, **more: object) -> Graph:
    given: dict[str, object] = {"x_unit": "seconds", "y_unit": "°C", "x_end": 60.0, "curves": curves}
    return Graph(**(given | more))  # type: ignore[arg-type]


def drawn(drawing: Graph | Bars) -> ET.Element:
    return ET.fromstring(draw(plot(drawing), standalone=True))


def curve_paths(root: ET.Element) -> list[str]:
    return [p.attrib["d"] for p in root.iter(f"{SVG}path") if p.attrib.get("stroke-linejoin") == "round"]


def test_a_curve_is_broken_where_no_sample_came_and_across_a_hole_in_time() -> None:
    steady = tuple(float(t) for t in range(10))
    missing = Curve("A", steady, tuple(None if t == 5 else 40.0 for t in range(10)))
    hole = Curve("B", (0.0, 1.0, 2.0, 3.0, 40.0, 41.0), (30.0,) * 6)
    assert [path.count("M") for path in curve_paths(drawn(graph(missing, hole)))] == [2, 2]
    assert [path.count("M") for path in curve_paths(drawn(graph(Curve("A", steady, (1.0,) * 10))))] == [1]


def test_a_curve_goes_up_when_the_value_does_and_right_with_time() -> None:
    [path] = curve_paths(drawn(graph(Curve("A", (0.0, 60.0), (20.0, 80.0)))))
    (x1, y1), (x2, y2) = (map(float, pair) for pair in re.findall(r"[ML]([\d.]+) ([\d.]+)", path))
    assert x2 > x1 and y2 < y1


def test_curves_are_told_apart_by_letter_and_dash_and_not_by_ink_alone() -> None:
    curves = [Curve(letter, (0.0, 60.0), (20.0, 30.0)) for letter in "ABCDE"]
    root = drawn(graph(*curves))
    dashes = [
        p.attrib.get("stroke-dasharray") for p in root.iter(f"{SVG}path") if p.attrib.get("stroke-linejoin")
    ]
    assert len(set(dashes)) == 5
    letters = [t for t in root.iter(f"{SVG}text") if t.text in list("ABCDE")]
    heights = sorted(float(t.attrib["y"]) for t in letters)
    assert len(letters) == 5
    assert all(b - a >= 10.9 for a, b in pairwise(heights))


def test_a_limit_is_a_line_across_with_whose_it_is() -> None:
    root = drawn(graph(Curve("A", (0.0, 60.0), (20.0, 30.0)), levels=(Level("limit of A", 95.0),)))
    assert "limit of A" in [t.text for t in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("value", [0.0, 1e-9, 42.0, 1e12])
def test_a_level_curve_and_a_single_sample_can_be_drawn(value: float) -> None:
    assert curve_paths(drawn(graph(Curve("A", (0.0, 60.0), (value, value)))))
    assert curve_paths(drawn(graph(Curve("A", (0.0,), (value,)), x_end=0.0)))


@given(
    st.lists(st.one_of(st.none(), st.floats(-50, 5000)), min_size=2, max_size=60).filter(
        lambda values: any(v is not None for v in values)
    )
)
def test_everything_drawn_lies_within_the_drawing(values: list[float | None]) -> None:
    times = tuple(float(t) for t in range(len(values)))
    bands = (Band("1", 0.0, times[-1] / 2), Band("2", times[-1] / 2, times[-1]))
    root = drawn(graph(Curve("A", times, tuple(values)), x_end=times[-1], bands=bands))
    for path in root.iter(f"{SVG}path"):
        for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", path.attrib["d"]):
            assert -0.1 <= float(x) <= WIDTH + 0.1
            assert -0.1 <= float(y) <= HEIGHT + 0.1


def test_title_and_description_are_escaped_and_named() -> None:
    root = drawn(Bars((Bar("A", 0.94), Bar("B", 1.02))))
    assert root.attrib["role"] == "img"
    assert [root.find(f"{SVG}{tag}").text for tag in ("title", "desc")] == ["T & t", "<d>"]  # type: ignore[union-attr]


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_are_round_few_and_within(low: float, span: float) -> None:
    ticks = _ticks(low, low + span, 5)
    assert 1 <= len(ticks) <= 7
    assert all(low - span * 0.01 <= tick <= low + span * 1.01 for tick in ticks)


@given(st.lists(st.floats(26, 178), max_size=5))
def test_letters_pushed_apart_keep_their_order_and_distance(heights: list[float]) -> None:
    apart = _apart(sorted(heights), 11.0, 26.0, 178.0)
    assert all(b - a >= 11.0 - 1e-9 for a, b in pairwise(apart))


def test_what_happened_is_an_upright_line_with_its_numeral_and_close_ones_do_not_lie_on_each_other() -> None:
    uprights = (Upright("i", 10.0), Upright("ii", 30.0), Upright("iii", 31.0), Upright("iv", 60.0))
    root = drawn(graph(Curve("A", (0.0, 60.0), (20.0, 30.0)), uprights=uprights))
    numerals = {t.text: t for t in root.iter(f"{SVG}text") if t.text in {u.number for u in uprights}}
    assert len(numerals) == 4
    assert numerals["ii"].attrib["y"] != numerals["iii"].attrib["y"]
    assert numerals["i"].attrib["y"] == numerals["ii"].attrib["y"]
    assert numerals["iv"].attrib["text-anchor"] == "end", "inside the drawing"
    dashes = [p for p in root.iter(f"{SVG}path") if p.attrib.get("stroke-dasharray") == "3 2"]
    assert len(dashes) == 4


def test_marks_have_roman_numerals() -> None:
    assert [mark_number(n) for n in (1, 4, 9, 14, 24)] == ["i", "iv", "ix", "xiv", "xxiv"]
