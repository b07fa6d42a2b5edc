"""Part numbers of boards that are names: which tell the board sold, and which a sibling as well."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.words.board_numbers import is_cut_at_a_slash, sells_another, stands_whole


@pytest.mark.parametrize(
    ("number", "name", "cut"),
    [
        ("Q97-A", "Q97-A/USB 3.1", True),
        ("Q97-A", "Q97 A/USB 3.1", True),
        ("Q97A-X1", "Q97 A-X1/3.1", True),
        ("Fatal1ty 970 Meadow", "970 FATAL1TY MEADOW/3.1", True),
        ("B9M Pro RS", "B9M Pro RS/D4", True),
        ("Q8-M LE", "Q8-M LE/ R2.0", True),
        ("Q97-A/USB 3.1", "Q97-A/USB 3.1", False),
        ("Q97-A/USB31", "Q97-A/USB 3.1", False),
        ("Q97-A", "Q97-A", False),
        ("7-A", "Q97-A/USB 3.1", False),
        ("Q97-A", "Q97-AR/USB 3.1", False),
        ("", "Q97-A/USB 3.1", False),
    ],
)
def test_a_part_number_can_be_a_name_cut_at_a_slash(number: str, name: str, cut: bool) -> None:
    assert is_cut_at_a_slash(number, name) is cut


@pytest.mark.parametrize(
    ("number", "name", "whole"),
    [
        ("H51M H", "H51M H", True),
        ("H51M H", "H51M H HDMI Gaming", True),
        ("H51M H", "Series of boards (H51M-H)", True),
        ("B45 MEADOW", "ARSENAL B45 MEADOW B45 USB 3.1", True),  # the chipset once more is no mark
        ("H51M H", "H51M H V2", False),
        ("H51M H", "H51M H II", False),
        ("H51M H", "H51M HD", False),
        ("H51M H", "A-H51M", False),
        ("B45 Pro4", "B45 Pro4 R2.0", False),
        ("B45 Pro", "B45 Pro WIFI", False),
        ("H51M H", "B560M MEADOW", False),
        ("", "H51M H", False),
    ],
)
def test_a_part_number_can_stand_whole_in_a_name(number: str, name: str, whole: bool) -> None:
    assert stands_whole(number, name) is whole


@pytest.mark.parametrize(
    ("want", "got", "another"),
    [
        ("B45 Fen R2.0", "B45 Fen", True),
        ("H37 Fen", "H37M Fen", True),
        ("Z27 Fen SLI", "Z27 Fen SLI/ac", True),
        ("gaming", "B35M FEN-QDH", False),
        ("of the Q1 kind", "PRIME Q1-A", False),
    ],
)
def test_words_that_name_no_board_sell_no_other(want: str, got: str, another: bool) -> None:
    assert sells_another(want, got) is another


@given(st.text(max_size=30), st.text(max_size=60))
def test_any_texts_can_be_numbers_and_names(number: str, name: str) -> None:
    assert not is_cut_at_a_slash(number, number)
    assert not stands_whole(number, name) or bool(number)
    assert sells_another(number, number)
