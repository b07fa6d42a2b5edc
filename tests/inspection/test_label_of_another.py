"""A part that is not the one sold: what its label says, and a supply that a rule allows in its place."""

from __future__ import annotations

import pytest

from shipworthy.compare import with_substitutions
from shipworthy.inspection import findings_of, items_for
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Trouble
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Observation
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.substituted import SUBSTITUTED, SUBSTITUTED_WITH
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Aspect, Category, Danger, Outcome, Unit
from shipworthy.orders.expect import with_expectations
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy

RULE = """
[[substitutions]]
rule_id = "larger-supply"
category = "power supply"
words = "We fitted a stronger supply at no charge."
besides = ["presence", "model", "maker"]
demands = [
  { aspect = "rated power", direction = "more", most_ratio = 1.5 },
  { aspect = "efficiency", direction = "same or more", ranks = [
    "80 PLUS", "80 PLUS Bronze", "80 PLUS Silver", "80 PLUS Gold", "80 PLUS Platinum", "80 PLUS Titanium",
  ] },
]
"""
POLICY = parse_policy(shipped_policy() + RULE.encode(), "mine.toml")


def order(text: str = "Calder Still 550 W power supply, 80 PLUS Gold") -> Order:
    line = OrderLine(line_id="8", category=Category.POWER_SUPPLY, text=text)
    return with_expectations(Order(order_id="KD-1", shop="Kestrel Desk", units=("KD-1-1",), lines=(line,)))


def seen(sold: Order, danger: Danger | None = None, **labels: str | None) -> tuple[Finding, ...]:
    """Return the findings of answers. labels: by aspect what one says instead; None: nothing."""
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(sold, POLICY) if k.line]
    items = items_for(sold, keys, ())
    observations = [
        Observation(
            item_id=item.item_id,
            outcome=Outcome.DIFFERS
            if (name := item.aspect.value.replace(" ", "_")) in labels
            else Outcome.CONFORMS,
            by="Ines Vaal",
            at=PretendClock().now(),
            fitted=labels.get(name) or "",
            danger=danger if name in labels else None,
        )
        for item in items.items
    ]
    return with_substitutions(sold, findings_of(items, observations, sold), POLICY.substitutions)


def differing(found: tuple[Finding, ...]) -> dict[str, str]:
    return {f.aspect.value: f.code for f in found if f.outcome is Outcome.DIFFERS}


def test_a_label_is_read_as_the_order_is_and_stands_beside_what_was_wanted() -> None:
    (power,) = [f for f in seen(order(), rated_power="550W? no: 450 W") if f.aspect is Aspect.RATED_POWER]
    assert power.got == "550W? no: 450 W", "two powers are none"
    (power,) = [f for f in seen(order(), rated_power="450 W") if f.aspect is Aspect.RATED_POWER]
    assert (power.code, power.want, power.got, power.unit) == ("inspection.differs", 550, 450, Unit.WATTS)


def test_a_stronger_supply_of_the_same_grade_is_a_substitution_in_the_shop_s_words() -> None:
    label = "Calder Still 650 W, 80 PLUS Gold"
    found = seen(order(), presence=label, rated_power=label)
    assert differing(found) == {"rated power": SUBSTITUTED, "presence": SUBSTITUTED_WITH}
    (power,) = [f for f in found if f.aspect is Aspect.RATED_POWER]
    said = finding_sentence(power).say
    assert said.startswith("We fitted a stronger supply at no charge.")
    assert "550 W" in said and "650 W" in said and "Calder Still" in said


def test_a_better_grade_as_well_is_one_too() -> None:
    label = "Calder Still 650 W, 80 PLUS Platinum"
    found = seen(order(), presence=label, rated_power=label, efficiency=label)
    assert set(differing(found).values()) == {SUBSTITUTED, SUBSTITUTED_WITH}


@pytest.mark.parametrize(
    "labels",
    [
        {"presence": "450 W, 80 PLUS Gold", "rated_power": "450 W"},
        {"presence": "650 W, 80 PLUS Bronze", "rated_power": "650 W", "efficiency": "80 PLUS Bronze"},
        {"presence": "1000 W", "rated_power": "1000 W"},
        {"presence": "650 W", "rated_power": None},
        {"presence": "650 W", "rated_power": "a stronger one"},
        {"presence": "650 W, 80 PLUS Gold"},
    ],
    ids=[
        "weaker",
        "of a lesser grade",
        "by more than the rule",
        "no label",
        "no number",
        "only said to be another",
    ],
)
def test_anything_else_is_a_plain_difference(labels: dict[str, str | None]) -> None:
    assert set(differing(seen(order(), **labels)).values()) == {"inspection.differs"}


def test_a_supply_that_is_not_there_is_no_substitution() -> None:
    found = differing(seen(order(), presence=None, rated_power="650 W"))
    assert found["presence"] == "inspection.differs"


def test_an_order_that_says_no_grade_has_none_to_be_the_same() -> None:
    found = seen(order("Calder Still 550 W power supply"), presence="650 W", rated_power="650 W")
    assert set(differing(found).values()) == {"inspection.differs"}


def test_an_order_line_that_forbids_it_is_left_alone() -> None:
    sold = order("Calder Still 550 W power supply, 80 PLUS Gold, no substitution")
    assert set(differing(seen(sold, presence="650 W", rated_power="650 W")).values()) == {
        "inspection.differs"
    }


def test_a_danger_stays_a_danger() -> None:
    found = seen(order(), danger=Danger.MAINS_DAMAGE, rated_power="650 W")
    assert differing(found) == {"rated power": "inspection.mains-damage"}


def test_presence_may_differ_only_of_parts_that_no_machine_reports() -> None:
    other = RULE.replace("power supply", "storage")
    with pytest.raises(Trouble, match="presence, which no rule can allow"):
        parse_policy(shipped_policy() + other.encode(), "mine.toml")
