"""What counts as a placeholder, and how often real desktops say so."""

from __future__ import annotations

import tarfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.placeholders import PLACEHOLDERS, is_placeholder
from tests.machine.dmidecode_text import structures


@pytest.mark.parametrize(
    "text",
    [
        "To be filled by O.E.M.",
        "To Be Filled By O.E.M.",
        "Default string",
        "Not Specified",
        "System Product Name",
        "PartNum0",
        "Manufacturer00",
        "ModulePartNumber00",
        "123456789012345678",
        "ABCD",
        "Undefined",
        "None",
        "Unknown",
        "   ",
        "00000000",
        "FFFFFFFF",
        "0000000000000000",
        "..........",
        "XXXXXXXX",
    ],
)
def test_what_the_notes_to_the_real_texts_call_a_placeholder_is_one(text: str) -> None:
    """dmi-desktop-text/SOURCE.md, "What to watch for", and the obvious of one sign."""
    assert is_placeholder(text)


@pytest.mark.parametrize(
    "text",
    [
        "KD-0412-1",
        "00A1B2C3",
        "F7",
        "0x",
        "CMK32GX5M2B6000C36",
        "MS-7D75",
        "1.0",
        "5.27",
        "B650M",
        "Fennec",
        "0001",
        "A1",
    ],
)
def test_what_can_be_a_value_is_none(text: str) -> None:
    assert not is_placeholder(text)


@given(st.sampled_from(sorted(PLACEHOLDERS)), st.integers(0, 3), st.booleans())
def test_space_and_case_do_not_make_a_value_of_it(text: str, spaces: int, upper: bool) -> None:
    assert is_placeholder(" " * spaces + (text.upper() if upper else text) + " " * spaces)


FIELDS = {
    1: ("Manufacturer", "Product Name", "Version", "Serial Number", "SKU Number", "Family"),
    2: ("Manufacturer", "Product Name", "Version", "Serial Number", "Asset Tag"),
    3: ("Manufacturer", "Version", "Serial Number", "Asset Tag"),
    17: ("Manufacturer", "Serial Number", "Asset Tag", "Part Number"),
}


def test_no_text_that_stands_on_boards_of_many_makers_passes_for_a_value(reference: Path) -> None:
    """A text found in one identity field of boards of five or more makers names none of them.

    linuxhw/DMI (CC BY 4.0), 2,489 desktops; there, serials were blanked to `--`. What is left over is named
    here with why it may stand.
    """
    makers: dict[tuple[int, str, str], set[str]] = {}
    silences: Counter[str] = Counter()
    with tarfile.open(reference / "dmi-desktop-text" / "dmi-desktop-text.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() else None
            if file is not None:
                _count(file.read().decode("utf-8", "replace"), makers, silences)
    common = {key: names for key, names in makers.items() if len(names) >= 5}
    left = {
        (number, field, text)
        for number, field, text in common
        if not is_placeholder(text) and field not in ("Manufacturer", "Part Number") and len(text) > 4
    }
    print(silences.most_common(40))
    print(sorted(left))
    assert silences["default string"] > 1000
    assert silences["to be filled by o.e.m."] > 500
    assert left == set()


def _count(text: str, makers: dict[tuple[int, str, str], set[str]], silences: Counter[str]) -> None:
    found = structures(text)
    board = next((fields.get("Manufacturer", "").strip() for _, number, fields in found if number == 2), "")
    for _, number, fields in found:
        for field in FIELDS.get(number, ()):
            value = fields.get(field, "").strip()
            if value in ("", "--"):
                continue
            if is_placeholder(value):
                silences[value.casefold()] += 1
            makers.setdefault((number, field, value), set()).add(board)
