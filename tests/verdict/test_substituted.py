"""A substitution releases only under a policy that has its rule, and nothing else is let through with it."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.model.base import Trouble, values
from shipworthy.model.findings import Finding
from shipworthy.model.policy import CoverageState, Demand, Direction, Policy, Substitution
from shipworthy.model.substituted import SUBSTITUTED
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, VerdictWord
from shipworthy.verdict import decide
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.verdict.cases import COVERING, POLICY, R, case, finding

RULE = Substitution(
    rule_id="faster-memory",
    category=Category.MEMORY,
    words="Faster memory, at no charge.",
    demands=(Demand(aspect=Aspect.SPEED, direction=Direction.MORE),),
)


def substituted(aspect: Aspect = Aspect.SPEED, rule: str = "faster-memory", **more: object) -> Finding:
    made = finding("1", Category.MEMORY, aspect, R, Outcome.DIFFERS, SUBSTITUTED)
    named = values(rule=rule, words="Faster memory, at no charge.", original="memory.speed.above-sold")
    return msgspec.structs.replace(made, values=named, **more)


def with_speed(one: Finding, *also: Finding) -> tuple[Finding, ...]:
    kept = (f for f in COVERING if f.aspect is not one.aspect)
    return (*kept, one, *also)


def policy(*rules: Substitution, **more: object) -> Policy:
    return msgspec.structs.replace(POLICY, substitutions=rules, **more)


def test_a_rule_of_the_policy_releases_and_it_is_a_note_and_a_state_of_its_own() -> None:
    decision = decide(case(with_speed(substituted()), policy(RULE)))
    assert decision.verdict is VerdictWord.RELEASE
    (note,) = [n for n in decision.notes if n.code == SUBSTITUTED]
    assert note.state is CoverageState.SUBSTITUTED
    (key,) = [c for c in decision.coverage if c.aspect is Aspect.SPEED]
    assert key.state is CoverageState.SUBSTITUTED


@pytest.mark.parametrize(
    "rules",
    [
        (),
        (msgspec.structs.replace(RULE, rule_id="another"),),
        (msgspec.structs.replace(RULE, category=Category.STORAGE),),
        (msgspec.structs.replace(RULE, demands=(Demand(aspect=Aspect.CAPACITY, direction=Direction.MORE),)),),
    ],
    ids=["no rule", "another rule", "of another category", "of another aspect"],
)
def test_a_finding_that_only_says_so_holds(rules: tuple[Substitution, ...]) -> None:
    assert decide(case(with_speed(substituted()), policy(*rules))).verdict is VerdictWord.HOLD


def test_a_policy_that_never_concedes_the_difference_holds_for_its_substitution_too() -> None:
    strict = policy(RULE, never_conceded=("memory.speed.above-sold",))
    assert decide(case(with_speed(substituted()), strict)).verdict is VerdictWord.HOLD


def test_another_difference_of_the_same_key_still_holds() -> None:
    other = finding("1", Category.MEMORY, Aspect.SPEED, R, Outcome.DIFFERS, "memory.speed.module-slower")
    decision = decide(case(with_speed(substituted(), other), policy(RULE)))
    assert [r.code for r in decision.reasons] == ["memory.speed.module-slower"]
    (key,) = [c for c in decision.coverage if c.aspect is Aspect.SPEED]
    assert key.state is CoverageState.DIFFERS


def test_what_is_open_of_the_same_key_still_holds() -> None:
    open_one = finding("1", Category.MEMORY, Aspect.SPEED, R, Outcome.CANNOT_TELL)
    decision = decide(case(with_speed(substituted(), open_one), policy(RULE)))
    assert [r.code for r in decision.reasons] == ["coverage.cannot-tell"]


def test_the_shipped_policy_allows_nothing() -> None:
    assert parse_policy(shipped_policy(), "shipped").substitutions == ()


TEXT = """
schema = 1
policy_id = "mine"
coverage = []
[[substitutions]]
rule_id = "larger-drive"
category = "{category}"
words = "A larger drive, at no charge."
besides = [{besides}]
demands = [{demands}]
"""
MORE = '{ aspect = "capacity", direction = "more" }'


def parsed(category: str = "storage", besides: str = '"model"', demands: str = MORE) -> Policy:
    text = TEXT.format(category=category, besides=besides, demands=demands)
    return parse_policy(text.encode(), "mine.toml")


def test_a_rule_is_data_in_the_policy() -> None:
    (rule,) = parsed().substitutions
    assert (rule.demands[0].direction, rule.besides) == (Direction.MORE, (Aspect.MODEL,))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"besides": '"newness"'}, "no rule can allow"),
        ({"demands": '{ aspect = "load", direction = "more" }'}, "no rule can allow"),
        ({"besides": '"capacity"'}, "names capacity twice"),
        ({"category": "unit"}, "none can stand for another"),
        ({"besides": "", "demands": '{ aspect = "capacity", direction = "same" }'}, "nothing to differ"),
        ({"demands": '{ aspect = "capacity", direction = "same", most_ratio = 2.0 }'}, "how much more"),
        ({"demands": '{ aspect = "speed", direction = "more", ranks = ["one"] }'}, "from the least"),
        ({"demands": '{ aspect = "speed", direction = "more", ranks = ["a b", "A  B"] }'}, "each once"),
        ({"demands": ""}, "not a valid policy"),
        ({"demands": '{ aspect = "capacity", direction = "more", most_ratio = 0.5 }'}, "not a valid policy"),
    ],
)
def test_a_rule_that_would_count_for_nothing_or_for_too_much_is_refused(
    changed: dict[str, str], said: str
) -> None:
    with pytest.raises(Trouble, match=said):
        parsed(**changed)


def test_no_evidence_of_another_kind_makes_it_covered() -> None:
    look = finding("1", Category.MEMORY, Aspect.SPEED, EvidenceKind.INSPECTION)
    decision = decide(case(with_speed(substituted(), look), policy()))
    assert decision.verdict is VerdictWord.HOLD
