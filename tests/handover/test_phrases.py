"""Outside text made safe, times in the shop's zone."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.handover.burnin_loads import rates_text
from shipworthy.handover.phrases import all_shown_as_text, shown_as_text, time_text, zone_of
from shipworthy.handover.view import Pair, Pairs
from shipworthy.model.time import Moment

# Unicode Standard Annex 9, section 2: the explicit directional characters, by name.
DIRECTIONAL = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


@given(st.text())
def test_shown_text_holds_nothing_that_steers(text: str) -> None:
    shown = shown_as_text(text)
    assert not set(shown) & set(DIRECTIONAL)
    assert all(ord(char) >= 32 and char not in "\x7f\u2028\u2029" for char in shown)


@given(st.text(st.characters(categories=["L", "N", "P", "S"])))
def test_ordinary_text_is_shown_as_it_is(text: str) -> None:
    assert shown_as_text(text) == text


@pytest.mark.parametrize("char", DIRECTIONAL)
def test_a_directional_character_is_spelt_by_its_code(char: str) -> None:
    assert shown_as_text(f"a{char}b") == f"a[U+{ord(char):04X}]b"


def test_marks_piled_on_a_letter_are_spelt_beyond_a_handful() -> None:
    assert shown_as_text("a" + "\u0301" * 6) == "a" + "\u0301" * 4 + "[U+0301]" * 2


def test_every_text_of_a_view_goes_through_and_numbers_stay_beside_their_units() -> None:
    view = Pairs((Pair("a\u202e", "81.3 °C of 95 °C"),))
    assert all_shown_as_text(view) == Pairs((Pair("a[U+202E]", "81.3\u00a0°C of 95\u00a0°C"),))


def test_a_time_is_told_in_the_shops_zone_with_its_name() -> None:
    """Central European Time is UTC+1, and UTC+2 from the last Sunday of March (Directive 2000/84/EC)."""

    def at(month: int) -> Moment:
        return Moment(
            utc=datetime(2026, month, 30, 23, 30, tzinfo=UTC),
            boot_id=None,
            monotonic_s=0.0,
            clock_synchronised=True,
        )

    zone = zone_of("Europe/Ljubljana")
    assert time_text(at(1), zone) == "31 January 2026, 00:30 CET"
    assert time_text(at(6), zone) == "1 July 2026, 01:30 CEST"
    assert time_text(at(6), None) == "30 June 2026, 23:30 UTC"


@pytest.mark.parametrize("name", ["Nowhere/At-All", "", "../../etc/passwd", "/etc/passwd", "a\x00b"])
def test_a_zone_that_is_none_gives_none(name: str) -> None:
    assert zone_of(name) is None


@pytest.mark.parametrize(
    ("rates", "unit", "text"),
    [
        ((11.4e9,), "bytes", "11.4 GB/s"),
        (
            (38.2e9, 39.5e9),
            "floating-point operations",
            "38.2 of 39.5 billion floating-point operations a second",
        ),
        ((12.0,), "products", "12.0 products a second"),
        ((9.55e9, 6.33e9), "bytes passed over", "9.55 of 6.33 GB/s passed over"),
        ((1.25e9, 1.66e9), "bytes written", "1.25 of 1.66 GB/s written"),
        ((732e6, 178e6), "bytes written", "732 of 178 MB/s written"),
        ((999.96,), "bytes", "1,000 B/s"),
    ],
)
def test_a_rate_is_told_in_its_own_unit(rates: tuple[float, ...], unit: str, text: str) -> None:
    assert rates_text(rates, unit) == text
