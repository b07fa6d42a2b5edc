"""The shipped policy, and policies of a shop's own."""

from __future__ import annotations

import pytest

from shipworthy.model.base import Trouble
from shipworthy.model.policy import Need
from shipworthy.model.words import Category, Origin
from shipworthy.verdict.policies import parse_policy, shipped_policy


def test_the_shipped_policy_asks_something_of_every_category() -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    asked = {rule.category for rule in policy.coverage if rule.need is not Need.NOTE}
    assert asked == set(Category)


def test_the_shipped_policy_names_each_key_once_and_says_who_set_each_limit() -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    keys = [(rule.category, rule.aspect) for rule in policy.coverage]
    assert len(keys) == len(set(keys))
    assert {limit.origin for limit in policy.limits} == {Origin.SHOP}


@pytest.mark.parametrize(
    "text",
    [
        b"schema = 1",
        b"\xff\xfe",
        b"schema = 2\npolicy_id='x'\ncoverage=[]",
        b"schema = 1\npolicy_id = 'x'\ncoverage = []\nextra = 1",
    ],
)
def test_a_bad_policy_is_told_in_one_sentence_with_its_place(text: bytes) -> None:
    with pytest.raises(Trouble, match=r"not a valid policy: .* \(mine\.toml\)\. Compare"):
        parse_policy(text, "mine.toml")
