"""Whatever does not conform says what to do about it at the bench."""

from __future__ import annotations

import tomllib
from importlib import resources

import pytest

TEXT = (resources.files("shipworthy.messages") / "en" / "compare.toml").read_text("utf-8")
SENTENCES = dict(tomllib.loads(TEXT).items())
NOT_RIGHT = (
    *("differs", "cannot-tell", "not-checked", "missing", "unknown", "not-shown", "only-ids", "narrow"),
    *("below-sold", "above-sold", "profile-off", "offline", "used", "defects", "doubtful", "not-usable"),
    *("not-by-reading", "part-missing", "part-not-readable", "sold-cannot-tell", "candidates"),
)
"""Last parts of codes that say that something is not as sold, or that nobody can tell."""


@pytest.mark.parametrize("code", [code for code in SENTENCES if code.rsplit(".", 1)[-1] in NOT_RIGHT])
def test_it_says_what_to_do(code: str) -> None:
    assert SENTENCES[code].get("do", "").endswith("."), code


def test_what_nobody_ordered_and_what_was_elsewhere_say_it_too() -> None:
    about = [code for code in SENTENCES if code.startswith(("unordered.", "elsewhere.", "health."))]
    assert len(about) > 10 and all(SENTENCES[code].get("do") for code in about)


def test_what_conforms_asks_for_nothing() -> None:
    right = [code for code in SENTENCES if code.endswith(".conforms")]
    assert right and not [code for code in right if SENTENCES[code].get("do")]
