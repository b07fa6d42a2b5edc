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


def test_the_shipped_limit_on_heat_lies_above_what_processors_regulate_at_by_design() -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    (heat,) = [limit.value for limit in policy.limits if limit.quantity == "temperature"]
    assert 96.0 < heat <= 100.0, "AMD's of the last years regulate at 95 °C, and show up to a degree more"


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


LIMIT = 'quantity = "{0}"\nvalue = {1}\nunit = "{2}"\norigin = "{3}"\n'
RULE = '[[coverage]]\ncategory = "case"\naspect = "presence"\nneed = "always"\nby = [{0}]\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (RULE.format("") + RULE.format('"reading"').replace("case", "fan"), "names no kind of evidence"),
        (RULE.format('"reading"') * 2, "stands there twice"),
        (
            "coverage = []\n[[limits]]\n" + LIMIT.format("tempreature", 90, "celsius", "shop's policy"),
            "judged",
        ),
        (
            "coverage = []\n[[limits]]\n" + LIMIT.format("temperature", 90, "h", "shop's policy"),
            "not in celsius",
        ),
        (
            "coverage = []\n[[limits]]\n" + LIMIT.format("temperature", "nan", "celsius", "shop's policy"),
            r"limits\[0\]\.value is nan",
        ),
        (
            "coverage = []\n[[limits]]\n" + LIMIT.format("temperature", -1, "celsius", "shop's policy"),
            "nothing can reach",
        ),
        ("coverage = []\nburn_in_least_s = nan", "burn_in_least_s is nan"),
        (
            "coverage = []\n[[limits]]\n" + LIMIT.format("temperature", 90, "celsius", "device"),
            "by the device",
        ),
    ],
)
def test_a_rule_or_limit_that_would_count_for_nothing_is_refused(text: str, said: str) -> None:
    with pytest.raises(Trouble, match=said):
        parse_policy(f'schema = 1\npolicy_id = "mine"\n{text}'.encode(), "mine.toml")
