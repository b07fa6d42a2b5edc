"""Names of displays in thirteen characters: whole, cut short, with an x in it, or of a series."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.words.display_names import display_likeness
from shipworthy.words.likeness import Likeness

SAME, OTHER, PARTLY = Likeness.SAME, Likeness.OTHER, Likeness.PARTLY


@pytest.mark.parametrize(
    ("want", "got", "maker", "likeness"),
    [
        ("U3014", "U3014", "dell", SAME),
        ("UltraSharp U3419W", "U3419W", "dell", SAME),
        ("U2723QE", "U2723D", "dell", OTHER),
        ("U2723QE", "U2724D", "dell", OTHER),
        ("Z22n G2", "Z22n G2", "hp", SAME),
        ("E24 G5", "E24 G4", "hp", OTHER),
        ("VG270U bmiipx", "VG270U P", "acer", OTHER),
        ("Predator X34 S", "X34", "acer", PARTLY),
        ("VP2768-4K", "VP2768 Series", "viewsonic", PARTLY),
        # cut short: siblings share what is left
        ("276E9QDSB", "PHL 276E9Q", "philips", PARTLY),
        ("27GL850-B", "27GL850", "lg", PARTLY),
        ("276E9QDSB", "PHL 278E9Q", "philips", OTHER),
        # an x for what varies, and Samsung's L
        ("S24R350FHU", "S24R35x", "samsung", PARTLY),
        ("S24R650FDU", "S24R35x", "samsung", OTHER),
        ("C27G75T", "LC27G7xT", "samsung", PARTLY),
        ("U28R550", "LU28R55", "samsung", PARTLY),
        # codes of their own
        ("24G2U", "24G2W1G4", "aoc", PARTLY),
        ("27G2U", "24G2W1G4", "aoc", OTHER),
        ("ProLite XUB2792QSN-B1", "PL2792QN", "iiyama", PARTLY),
        ("ProLite XUB2792QSN-B1", "PL2530H", "iiyama", OTHER),
        # a series, or nothing
        ("UltraGear", "ULTRAGEAR", "lg", PARTLY),
        ("UltraGear 27GP850", "ULTRAGEAR", "lg", PARTLY),
        ("27UP850", "HDR", "lg", PARTLY),
    ],
)
def test_a_name_of_thirteen_characters_is_no_more_than_it_says(
    want: str, got: str, maker: str, likeness: Likeness
) -> None:
    assert display_likeness(want, got, maker) is likeness


CODES = st.builds(
    lambda a, n, b: f"{a}{n}{b}",
    st.sampled_from(["U", "P", "VG", "XB"]),
    st.integers(2200, 2799),
    st.sampled_from(["", "H", "QE", "D"]),
)


@given(CODES, CODES)
def test_two_displays_of_one_series_are_never_the_same(one: str, other: str) -> None:
    assert (display_likeness(one, other) is SAME) == (one == other)


@given(st.text(max_size=40), st.text(max_size=13), st.sampled_from(["", "samsung", "aoc"]))
def test_any_texts_can_be_compared(one: str, other: str, maker: str) -> None:
    assert display_likeness(one, other, maker) in Likeness
