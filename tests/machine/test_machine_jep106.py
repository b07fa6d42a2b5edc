"""Maker codes of JEP106: every spelling is one code, and what only looks like one is none."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.parse.jep106 import (
    MakerCode,
    canonical,
    is_odd,
    of_bytes,
    of_run,
    of_text,
    of_word,
)
from shipworthy.model.words import Absent

CORSAIR = MakerCode(3, 0x1E)  # memory.md: bank 3, bytes 0x02 0x9E
HYNIX = MakerCode(1, 0x2D)


@pytest.mark.parametrize(
    "text",
    ["029E", "0x029E", "Bank 3, Hex 0x9E", "7F7F9E0000000000", "029E0000802C", "Unknown (0x029E)", "029e   "],
)
def test_spellings_of_one_maker_are_one_code(text: str) -> None:
    assert of_text(text) == CORSAIR
    assert canonical(text) == "JEP106 bank 3 code 0x1E"


@pytest.mark.parametrize(
    "text", ["80AD000080AD", "JEDEC ID:80 AD", "AD00000000000000", "0xAD00000000000000", "Bank 1, Hex 0xAD"]
)
def test_first_bank_has_no_continuation(text: str) -> None:
    assert of_text(text) == HYNIX


def test_own_form_reads_back() -> None:
    assert of_text(str(CORSAIR)) == CORSAIR


@pytest.mark.parametrize("text", ["Corsair", "Samsung", "", "G Skill Intl", "12", "0x80", "Undefined"])
def test_names_are_no_codes(text: str) -> None:
    assert of_text(text) is None


@pytest.mark.parametrize("text", ["0000", "0x0000", "FFFF", "FFFFFFFFFFFFFFFF", "0x0000000000000000"])
def test_blank_bytes_name_nobody(text: str) -> None:
    assert of_text(text) is Absent.NOT_OFFERED


@pytest.mark.parametrize(
    "text",
    [
        "00DA",  # no parity in the count; seen on modules of another maker's
        "029F",  # parity of the code does not hold
        "Bank 3, Hex 0x1E",  # the byte without its parity
        "ABCD",  # bank 44
        "0x7FFF",  # 0x7F is no code
        "8080",  # nor is 0x00
        "JEDEC ID:CE 01 10 29 50 3A EE 0B",  # a code, and then what does not belong there
        "0215",  # another list: these stand on Corsair's modules
    ],
)
def test_wrong_parity_and_other_lists_are_implausible(text: str) -> None:
    assert of_text(text) is Absent.IMPLAUSIBLE


def test_all_makers_of_the_check_values(reference: Path) -> None:
    text = (reference / "check-values" / "jep106-examples.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert len(rows) == 16
    for row in rows:
        count, code = int(row["spd_continuation_byte"], 16), int(row["spd_code_byte"], 16)
        want = MakerCode(int(row["bank"]), int(row["id_without_parity"], 16))
        assert of_bytes(count, code) == want, row["name"]
        assert of_word(count | code << 8) == want
        assert of_run(bytes([0x7F] * (want.bank - 1) + [code]).ljust(8, b"\0")) == want
        assert of_text(f"{count:02X}{code:02X}") == want
        assert of_text(f"Bank {row['bank']}, Hex {row['id_with_parity']}") == want


@given(st.integers(0, 255), st.integers(0, 255))
def test_a_code_is_given_only_with_parity(count: int, code: int) -> None:
    found = of_bytes(count, code)
    if isinstance(found, MakerCode):
        assert is_odd(count) and is_odd(code)
        assert found.bank == count % 128 + 1
        assert found.number == code % 128


@given(st.text(max_size=40), st.binary(max_size=12))
def test_nothing_raises(text: str, data: bytes) -> None:
    for found in (of_text(text), of_text(data.hex()), of_run(data)):
        assert found is None or isinstance(found, MakerCode | Absent)
