"""Files that a person writes in TOML are read in one place: whatever is in them ends in one sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.inspection import read_answers
from shipworthy.jobs.known import GEAR_FILE, known_to
from shipworthy.model.base import Trouble, decode_toml
from shipworthy.model.catalogue import FanFacts
from shipworthy.verdict.policies import parse_policy
from tests.compare import machines as m


def read(text: str | bytes) -> FanFacts:
    data = text.encode() if isinstance(text, str) else text
    return decode_toml(data, FanFacts, "fan.toml", called="valid facts", mend="Mend it.")


def test_what_is_right_is_read() -> None:
    assert read("current_a = 0.2\nlighting = '5 V'") == FanFacts(current_a=0.2, lighting="5 V")


BAD: list[tuple[str | bytes, str]] = [
    ("current_a = nan", "current_a is nan"),
    ("current_a = -inf", "current_a is -inf"),
    ("pack = 1" + "0" * 5000, "digits"),
    ("pack = " + "[" * 5000, "nested too deep|line 1"),
    ("pack = 1\npack = 2", "overwrite"),
    ("packs = 1", "there is no key packs"),
    ("lighting = 5", "str"),
    (b"lighting = '\xff'", "utf-8"),
    ("lighting", "document"),
]


@pytest.mark.parametrize(("text", "why"), BAD)
def test_anything_else_is_one_sentence_with_its_place(text: str | bytes, why: str) -> None:
    with pytest.raises(Trouble, match=rf"not valid facts: .*(?:{why}).* \(fan\.toml\)\. Mend it\.$"):
        read(text)


@pytest.mark.parametrize("text", ["number = 1" + "0" * 5000, "nested = " + "[" * 5000])
def test_no_file_of_a_shop_ends_in_an_error_of_ours(tmp_path: Path, text: str) -> None:
    """Numbers of thousands of digits and deep nesting are no faults of TOML's own reader."""
    for name in ("answers.toml", GEAR_FILE):
        (tmp_path / name).write_text(text)
    with pytest.raises(Trouble, match="not valid answers"):
        read_answers(tmp_path / "answers.toml")
    with pytest.raises(Trouble, match="not a valid policy"):
        parse_policy(text.encode(), "policy.toml")
    with pytest.raises(Trouble, match="not a valid list"):
        known_to(tmp_path, None, m.machine(), "KD-1")


def test_a_missing_key_of_a_list_is_named_with_its_place_in_words(tmp_path: Path) -> None:
    (tmp_path / GEAR_FILE).write_text('[[gear]]\nserial = "H27-0042"\n')
    with pytest.raises(Trouble, match=r"not a valid list: the key what is missing, at gear number 1 \("):
        known_to(tmp_path, None, m.machine(), "KD-1")
    with pytest.raises(Trouble, match="not a valid policy: the key policy_id is missing"):
        parse_policy(b"schema = 1", "policy.toml")
