"""Versions of firmware: read from an order's words, and compared only with their like."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.words.firmware_versions import find_firmware_wishes, is_at_least


@pytest.mark.parametrize(
    ("got", "want", "later"),
    [
        ("F14", "F14", True),
        ("F15", "F14", True),
        ("F9", "F14", False),  # a number, not letters in a row
        ("F14b", "F14", None),  # a trial version, or a later one
        ("F15b", "F14", True),
        ("F13b", "F14", False),
        ("FB", "F9", None),
        ("0805", "1203", False),
        ("1203", "805", True),
        ("P3.20", "3.20", True),  # ASRock's P
        ("3.20", "3.40", False),
        ("3.2", "3.20", None),  # 3.2 may be 3.20
        ("3.20", "3.2", True),
        ("3.10", "3.9", None),
        ("2.10", "1.90", True),
        ("7C56vA8", "7C56vA5", True),
        ("7C56vB1", "7C56vA5", None),
        ("1.A0", "1.90", None),
        ("F14", "3.20", None),
        ("1203", "3.20", None),
        ("1.2.3", "1.2", None),
        ("", "F1", None),
    ],
)
def test_versions_of_one_shape_are_in_order_and_others_are_open(
    got: str, want: str, later: bool | None
) -> None:
    assert is_at_least(got, want) is later


@pytest.mark.parametrize(
    ("text", "versions"),
    [
        ("B650 board, firmware F14 or later", ["F14"]),
        ("B650 board (BIOS 3.20+)", ["3.20"]),
        ("UEFI BIOS version >= 1203", ["1203"]),
        ("with BIOS 7C56vA8 and newer", ["7C56vA8"]),
        ("firmware not older than 1.60, blue", ["1.60"]),
        ("BIOS flashback", []),
        ("UEFI 64-bit, dual BIOS 2 x 128 Mbit", []),
        ("BIOS: B650 board", []),
        ("firmware up to date", []),
    ],
)
def test_an_order_asks_for_a_version(text: str, versions: list[str]) -> None:
    assert [wish.version for wish in find_firmware_wishes(text)] == versions


VERSIONS = st.one_of(
    st.builds("F{}".format, st.integers(1, 60)),
    st.builds("{:04}".format, st.integers(100, 5999)),
    st.builds("{}.{}0".format, st.integers(1, 9), st.integers(1, 9)),
)


@given(VERSIONS, VERSIONS)
def test_of_two_versions_one_is_the_later_or_neither_is_told(one: str, other: str) -> None:
    assert is_at_least(one, one) is True
    there, back = is_at_least(one, other), is_at_least(other, one)
    assert (there is None) == (back is None)
    assert there is None or one == other or there is not back


@given(st.text(max_size=30), st.text(max_size=30))
def test_any_texts_can_be_asked(one: str, other: str) -> None:
    assert is_at_least(one, other) in (True, False, None)
    for wish in find_firmware_wishes(one):
        assert one[wish.start : wish.end] == wish.words
