"""Laws of substitutions on any findings and rules: nothing is hidden, what no rule names is not touched."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from shipworthy.compare import with_substitutions
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.policy import Demand, Direction, Substitution
from shipworthy.model.substituted import ORIGINAL, SUBSTITUTED_CODES
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome

ORDER = Order(
    order_id="KD-1",
    shop="Kestrel Desk",
    units=("KD-1-1",),
    lines=(
        OrderLine(line_id="1", category=Category.STORAGE, text="Quarrel M2"),
        OrderLine(line_id="2", category=Category.MEMORY, text="Fennec Quiet"),
        OrderLine(line_id="3", category=Category.STORAGE, text="Quarrel M4, no substitution"),
    ),
)
CATEGORIES = {line.line_id: line.category for line in ORDER.lines} | {"": Category.UNIT}
ASPECTS = (Aspect.CAPACITY, Aspect.SPEED, Aspect.MODEL, Aspect.NEWNESS, Aspect.PRESENCE, Aspect.TECHNOLOGY)
NUMBERS = st.integers(min_value=0, max_value=4) | st.sampled_from(["SATA", "NVMe"]) | st.none()


@st.composite
def findings(draw: st.DrawFn) -> Finding:
    line = draw(st.sampled_from(sorted(CATEGORIES)))
    return Finding(
        code=draw(st.sampled_from(["any.code", "inspection.differs", "inspection.leak"])),
        outcome=draw(st.sampled_from(list(Outcome))),
        category=CATEGORIES[line],
        aspect=draw(st.sampled_from(ASPECTS)),
        by=draw(st.sampled_from(list(EvidenceKind))),
        line=line,
        part=draw(st.sampled_from(["", "a", "b"])),
        want=draw(NUMBERS),
        got=draw(NUMBERS),
    )


DEMANDS = st.builds(
    Demand,
    aspect=st.sampled_from(ASPECTS[:3]),
    direction=st.sampled_from(list(Direction)),
    most_ratio=st.none() | st.just(2.0),
    ranks=st.just(()) | st.just(("SATA", "NVMe")),
)
RULES = st.builds(
    Substitution,
    rule_id=st.sampled_from(["one", "two"]),
    category=st.sampled_from([Category.STORAGE, Category.MEMORY]),
    words=st.just("Better, at no charge."),
    demands=st.lists(DEMANDS, min_size=1, max_size=3).map(tuple),
    besides=st.lists(st.sampled_from((Aspect.MODEL, Aspect.TECHNOLOGY)), max_size=2).map(tuple),
)


@given(st.lists(findings(), max_size=10), st.lists(RULES, max_size=3))
def test_a_substitution_stays_a_difference_with_all_that_it_said(
    found: list[Finding], rules: list[Substitution]
) -> None:
    after = with_substitutions(ORDER, found, rules)
    assert len(after) == len(found)
    for before, now in zip(found, after, strict=True):
        if now == before:
            continue
        assert before.outcome is now.outcome is Outcome.DIFFERS
        assert now.code in SUBSTITUTED_CODES
        assert [v.value for v in now.values if v.name == ORIGINAL] == [before.code]
        kept = ("category", "aspect", "by", "line", "part", "want", "got", "unit", "evidence")
        assert all(getattr(before, name) == getattr(now, name) for name in kept)


@given(st.lists(findings(), max_size=10), st.lists(RULES, max_size=3))
def test_only_what_a_rule_names_is_touched_and_never_a_line_that_forbids_it(
    found: list[Finding], rules: list[Substitution]
) -> None:
    named = {
        (rule.category, aspect)
        for rule in rules
        for aspect in (*rule.besides, *(d.aspect for d in rule.demands))
    }
    for before, now in zip(found, with_substitutions(ORDER, found, rules), strict=True):
        if now != before:
            assert (before.category, before.aspect) in named
            assert before.line in ("1", "2")
            assert before.code != "inspection.leak" or before.by is EvidenceKind.READING
            assert before.by is not EvidenceKind.BURN_IN


@given(st.lists(findings(), max_size=10), st.lists(RULES, max_size=3))
def test_doing_it_again_changes_nothing(found: list[Finding], rules: list[Substitution]) -> None:
    once = with_substitutions(ORDER, found, rules)
    assert with_substitutions(ORDER, once, rules) == once


@given(st.lists(findings(), max_size=10))
def test_without_rules_nothing_changes(found: list[Finding]) -> None:
    assert with_substitutions(ORDER, found, ()) == tuple(found)
