"""The series that part numbers tell, against the open records; what shops shorten is no contradiction."""

from __future__ import annotations

import json
import lzma
from collections import Counter
from pathlib import Path

import pytest

from shipworthy.words.memory_codes import read_memory_code
from shipworthy.words.memory_names import memory_name
from shipworthy.words.memory_series import named_otherwise, series_of


@pytest.mark.parametrize(
    ("number", "series"),
    [
        ("CMK32GX4M2B3200C16", "vengeance lpx"),
        ("CMK32GX5M2B6000C36", "vengeance"),  # the same letters, another generation
        ("CMK8GX3M2A1600C11", ""),
        ("F4-3200C16D-32GVK", "ripjaws"),
        ("F4-3600C18D-32GTZN", "trident neo"),
        ("F4-3600C18D-32GTZR", "trident"),
        ("F5-6000J3038F16GX2-TZ5N", "trident neo"),
        ("F5-6000J3038F16GX2-FX5", "flare"),
        ("KF432C16BBK2/16", "beast"),
        ("HX432C16FB3/8", ""),  # HyperX Fury, sold later as FURY Beast
        ("KHX3200C16D4/8GX", ""),
        ("M378A1K43CB2-CTD", ""),
    ],
)
def test_the_letters_of_a_number_tell_its_series(number: str, series: str) -> None:
    code = read_memory_code(number)
    assert code is not None and series_of(code) == series


@pytest.mark.parametrize(
    ("name", "number", "otherwise"),
    [
        ("Vengeance LPX Black", "CMK32GX4M2B3200C16", False),
        ("Vengeance", "CMK32GX4M2B3200C16", False),  # shortened
        ("Black CL16", "CMK32GX4M2B3200C16", False),
        ("Dominator Platinum RGB", "CMK32GX4M2B3200C16", True),
        ("Vengeance RGB Pro", "CMK32GX4M2B3200C16", True),
        ("Vengeance LPX", "CMW32GX4M2C3200C16", True),
        ("Vengeance RGB Pro SL", "CMW32GX4M2C3200C16", True),
        ("Vengeance RGB Pro", "CMN32GX4M2Z3200C16", True),
        ("Vengeance RGB Pro", "CMH32GX4M2Z3200C16", False),  # shortened, or another: the label tells
        ("Vengeance LPX", "CMK32GX5M2B6000C36", True),
        ("TridentZ RGB", "F4-3600C18D-32GTZR", False),
        ("Trident Z Neo", "F4-3600C18D-32GTZR", True),
        ("Trident Z", "F4-3600C18D-32GTZN", False),
        ("Ripjaws V", "F4-3600C18D-32GTZR", True),
        ("FURY Renegade", "KF432C16BBK2/16", True),
        ("HyperX Predator", "HX432C16FB3/8", False),  # letters that tell nothing
        # what it is for, and what describes, is no series
        ("Vengeance LPX for Ryzen Pro", "CMK32GX4M2B3200C16", False),
        ("Vengeance LPX für Threadripper Pro", "CMK32GX4M2B3200C16", False),
        ("Vengeance LPX compatible with Xeon Platinum", "CMK32GX4M2B3200C16", False),
        ("for Ryzen Pro Vengeance LPX", "CMK32GX4M2B3200C16", False),
        ("Vengeance RGB LED", "CMH32GX5M2B6000C36", False),
        # a series that stands behind that, or a word of one that does not describe
        ("for Ryzen Pro Vengeance RGB", "CMK32GX4M2B3200C16", True),
        ("für Spieler Dominator Platinum", "CMK32GX4M2B3200C16", True),
        ("Vengeance Pro for Ryzen", "CMK32GX4M2B3200C16", True),
        ("Vengeance Forest Pro", "CMK32GX4M2B3200C16", True),
        ("Vengeance LED", "CMH32GX5M2B6000C36", True),
        ("Vengeance RGB LED", "CMU32GX4M2C3200C16", True),
    ],
)
def test_a_name_of_another_series_is_told_and_a_shorter_one_is_not(
    name: str, number: str, otherwise: bool
) -> None:
    code = read_memory_code(number)
    assert code is not None and named_otherwise(name, code) is otherwise


def test_letters_agree_with_the_open_records(reference: Path) -> None:
    """Records have errors of their own: a kit of Ripjaws under the name of another one."""
    counts: Counter[str] = Counter()
    text = lzma.decompress((reference / "names" / "open-db" / "RAM.jsonl.xz").read_bytes()).decode("utf-8")
    for record in map(json.loads, text.splitlines()):
        for number in record["metadata"].get("part_numbers") or ():
            code = read_memory_code(number)
            if code is not None and series_of(code):
                counts["read"] += 1
                counts["wrong"] += named_otherwise(record["metadata"]["name"], code)
    assert counts["read"] > 1000 and counts["wrong"] <= 0.003 * counts["read"]


def test_words_for_memory_in_german_and_french_name_no_kit_and_words_that_do_stay() -> None:
    assert memory_name("Fennec Basic 8 GB DDR4-3200 Arbeitsspeicher", "Fennec") == "Basic"
    assert memory_name("Fennec Basic 8 Go DDR4-3200, barrette mémoire", "Fennec") in ("Basic", "Basic 8 Go")
    assert memory_name("Fennec Speicherwerk 8 GB DDR4-3200", "Fennec") == "Speicherwerk"
