"""The rules that decide verdicts, one promise a test, and as laws over random findings."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.base import digest_of, encode
from shipworthy.model.findings import Finding
from shipworthy.model.policy import (
    Conceder,
    Concession,
    CoverageRule,
    CoverageState,
    Need,
    Policy,
    Weight,
    WeightRule,
)
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, VerdictWord
from shipworthy.verdict import decide
from tests.verdict.cases import AT, COVERING, LOOK, ORDER, OTHER, POLICY, B, R, case, finding

RELEASE, HOLD = VerdictWord.RELEASE, VerdictWord.HOLD
KEYS = [(f.line, f.category, f.aspect) for f in COVERING] + [("", Category.UNIT, Aspect.PORTS)]

findings = st.builds(
    lambda key, by, outcome, configuration: finding(*key, by, outcome, configuration=configuration),
    st.sampled_from(KEYS),
    st.sampled_from(list(EvidenceKind)),
    st.sampled_from(list(Outcome)),
    st.sampled_from([case().configuration, OTHER]),
)


def test_it_releases_when_everything_asked_is_shown() -> None:
    decision = decide(case())
    assert decision.verdict is RELEASE
    assert decision.reasons == ()
    assert {c.state for c in decision.coverage if c.required} == {CoverageState.COVERED}


@pytest.mark.parametrize("missing", range(len(COVERING)))
def test_it_holds_when_any_one_thing_asked_is_not_shown(missing: int) -> None:
    decision = decide(case(COVERING[:missing] + COVERING[missing + 1 :]))
    assert decision.verdict is HOLD
    assert [r.code for r in decision.reasons] == ["coverage.not-checked"]
    assert (decision.reasons[0].line, decision.reasons[0].aspect) == KEYS[missing][::2]


def test_cannot_tell_and_not_checked_are_told_apart() -> None:
    unclear = finding("1", Category.MEMORY, Aspect.CAPACITY, R, Outcome.CANNOT_TELL, "memory.unreadable")
    decision = decide(case((unclear, *COVERING[1:])))
    assert [(r.code, r.finding) for r in decision.reasons] == [("coverage.cannot-tell", unclear)]


def test_a_person_can_answer_what_a_reading_cannot_tell_where_the_policy_lets_them() -> None:
    unclear = finding("2", Category.CASE, Aspect.PRESENCE, R, Outcome.CANNOT_TELL)
    assert decide(case((*COVERING, unclear))).verdict is RELEASE
    answered = finding("1", Category.MEMORY, Aspect.CAPACITY, LOOK)
    unreadable = finding("1", Category.MEMORY, Aspect.CAPACITY, R, Outcome.CANNOT_TELL)
    assert decide(case((unreadable, answered, *COVERING[1:]))).verdict is HOLD


def test_one_unreadable_part_of_two_is_not_covered_by_the_other() -> None:
    other_module = finding("1", Category.MEMORY, Aspect.CAPACITY, R, Outcome.CANNOT_TELL, part="DIMM_B2")
    assert decide(case((*COVERING, other_module))).verdict is HOLD


def test_evidence_of_another_configuration_covers_nothing_and_is_named_stale() -> None:
    decision = decide(case(configuration=OTHER))
    assert decision.verdict is HOLD
    stale = {(r.line, r.aspect) for r in decision.reasons if r.state is CoverageState.STALE}
    assert stale == {(f.line, f.aspect) for f in COVERING if f.by is not LOOK}


def test_a_policy_that_asks_nothing_never_releases() -> None:
    decision = decide(case(policy=Policy(policy_id="empty", coverage=())))
    assert decision.verdict is HOLD
    assert {"policy.unit-without-evidence", "policy.line-without-evidence"} <= {
        r.code for r in decision.reasons
    }


def test_an_expectation_that_the_policy_forgot_must_be_shown_all_the_same() -> None:
    without_speed = tuple(f for f in COVERING if f.aspect is not Aspect.SPEED)
    assert [r.aspect for r in decide(case(without_speed)).reasons] == [Aspect.SPEED]


def test_a_note_in_the_policy_never_holds_and_is_shown() -> None:
    assert [n.aspect for n in decide(case()).notes] == [Aspect.PORTS]


def test_a_difference_holds_even_where_the_policy_asks_nothing_of_it() -> None:
    odd = finding("", Category.UNIT, Aspect.COLOUR, R, Outcome.DIFFERS, "odd.colour")
    decision = decide(case((*COVERING, odd)))
    assert [r.code for r in decision.reasons] == ["odd.colour"]


def test_the_policy_can_make_a_difference_a_note() -> None:
    odd = finding("2", Category.CASE, Aspect.PRESENCE, R, Outcome.DIFFERS, "case.other-shade")
    rule = WeightRule(code="case.other-shade", outcome=Outcome.DIFFERS, weight=Weight.NOTE)
    decision = decide(case((*COVERING, odd), msgspec.structs.replace(POLICY, weights=(rule,))))
    assert decision.verdict is RELEASE
    assert "case.other-shade" in [n.code for n in decision.notes]


HEAT = CoverageRule(category=Category.UNIT, aspect=Aspect.HEAT, need=Need.ALWAYS, by=(B, LOOK))
BELOW = finding("", Category.UNIT, Aspect.HEAT, B, Outcome.DIFFERS, "clock.below-base")
NO_SENSOR = finding("", Category.UNIT, Aspect.HEAT, B, Outcome.CANNOT_TELL, "heat.no-sensor")
WITHIN = finding("", Category.UNIT, Aspect.HEAT, B, code="heat.within-limits")
FELT = finding("", Category.UNIT, Aspect.HEAT, LOOK)
NOTED = WeightRule(code=BELOW.code, outcome=Outcome.DIFFERS, weight=Weight.NOTE)
NOTING = msgspec.structs.replace(POLICY, coverage=(*POLICY.coverage, HEAT), weights=(NOTED,))


@pytest.mark.parametrize(
    ("beside", "verdict"),
    [((NO_SENSOR,), HOLD), ((NO_SENSOR, FELT), RELEASE), ((WITHIN,), RELEASE), ((FELT,), RELEASE)],
)
def test_a_note_closes_nothing_that_another_finding_leaves_open(
    beside: tuple[Finding, ...], verdict: VerdictWord
) -> None:
    decision = decide(case((*COVERING, BELOW, *beside), NOTING))
    assert decision.verdict is verdict
    assert BELOW.code in [note.code for note in decision.notes]
    if verdict is HOLD:
        assert [(r.code, r.finding) for r in decision.reasons] == [("coverage.cannot-tell", NO_SENSOR)]


def test_nor_does_a_concession_of_another_difference() -> None:
    conceder = Conceder(name="Ines Vaal", thumbprint="t" * 43)
    policy = msgspec.structs.replace(NOTING, weights=(), conceders=(conceder,))
    concession = Concession(
        attempt_id="a",
        code=BELOW.code,
        line="",
        part="",
        aspect=BELOW.aspect,
        finding=digest_of(encode(BELOW)),
        by="Ines Vaal",
        reason="agreed",
        at=AT,
    )

    def verdict(*beside: Finding) -> VerdictWord:
        return decide(replace(case((*COVERING, BELOW, *beside), policy), concessions=(concession,))).verdict

    assert verdict() is RELEASE
    assert verdict(WITHIN) is RELEASE
    assert verdict(NO_SENSOR) is HOLD


def _with_concession(code: str, by: str = "Ines Vaal", listed: str = "Ines Vaal") -> VerdictWord:
    wrong = finding("2", Category.CASE, Aspect.PRESENCE, R, Outcome.DIFFERS, code)
    policy = msgspec.structs.replace(POLICY, conceders=(Conceder(name=listed, thumbprint="t" * 43),))
    concession = Concession(
        attempt_id="a",
        code=code,
        line="2",
        part="",
        aspect=Aspect.PRESENCE,
        finding=digest_of(encode(wrong)),
        by=by,
        reason="agreed",
        at=AT,
    )
    return decide(replace(case((*COVERING, wrong), policy), concessions=(concession,))).verdict


def test_a_listed_person_can_concede_a_difference() -> None:
    assert _with_concession("case.other-shade") is RELEASE


def test_a_concession_by_somebody_else_changes_nothing() -> None:
    assert _with_concession("case.other-shade", by="Somebody") is HOLD


def test_a_concession_covers_the_one_finding_that_it_names_and_no_other_of_its_code() -> None:
    seen = finding("2", Category.CASE, Aspect.PRESENCE, LOOK, Outcome.DIFFERS, "inspection.differs")
    later = finding("2", Category.CASE, Aspect.CONDITION, LOOK, Outcome.DIFFERS, "inspection.differs")
    policy = msgspec.structs.replace(POLICY, conceders=(Conceder(name="Ines Vaal", thumbprint="t" * 43),))
    concession = Concession(
        attempt_id="a",
        code=seen.code,
        line="2",
        part="",
        aspect=seen.aspect,
        finding=digest_of(encode(seen)),
        by="Ines Vaal",
        reason="agreed",
        at=AT,
    )
    decision = decide(replace(case((*COVERING, seen, later), policy), concessions=(concession,)))
    assert [r.aspect for r in decision.reasons] == [Aspect.CONDITION]


@pytest.mark.parametrize(
    "code",
    [
        *("load.wrong", "guard.lost", "binding.other-nonce", "inspection.leak"),
        *(
            "health.kernel-uncorrected",
            "health.counter-rose",
            "health.memory-uncorrected",
            "health.bus-fatal",
        ),
    ],
)
def test_some_differences_can_never_be_conceded(code: str) -> None:
    assert _with_concession(code) is HOLD


@pytest.mark.parametrize("code", ["load.wrong", "guard.lost"])
def test_no_policy_can_make_them_a_note(code: str) -> None:
    wrong = finding("1", Category.MEMORY, Aspect.LOAD, B, Outcome.DIFFERS, code)
    rule = WeightRule(code=code, outcome=Outcome.DIFFERS, weight=Weight.NOTE)
    policy = msgspec.structs.replace(POLICY, weights=(rule,))
    assert decide(case((*COVERING, wrong), policy)).verdict is HOLD


def test_a_simulated_unit_says_so_in_its_decision() -> None:
    assert decide(replace(case(), simulated=True)).simulated


@given(st.lists(findings, max_size=12))
def test_law_a_release_has_everything_shown_and_nothing_against_it(found: list[Finding]) -> None:
    decision = decide(case(tuple(found)))
    open_keys = [c for c in decision.coverage if c.required and c.state is not CoverageState.COVERED]
    against = [f for f in found if f.outcome is Outcome.DIFFERS]
    assert (decision.verdict is RELEASE) == (not open_keys and not against)


@given(st.lists(findings, max_size=12), findings)
def test_law_one_more_difference_always_holds(found: list[Finding], more: Finding) -> None:
    differs = msgspec.structs.replace(more, outcome=Outcome.DIFFERS)
    assert decide(case((*found, differs))).verdict is HOLD


@given(st.lists(findings, max_size=12), st.randoms())
def test_law_the_order_of_findings_decides_nothing(found: list[Finding], random: object) -> None:
    shuffled = list(found)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = decide(case(tuple(found))), decide(case(tuple(shuffled)))
    assert one.verdict is other.verdict
    assert one.coverage == other.coverage


@given(st.lists(findings, max_size=8))
def test_law_same_inputs_same_decision(found: list[Finding]) -> None:
    assert decide(case(tuple(found))) == decide(case(tuple(found)))


@given(st.sets(st.sampled_from(range(len(COVERING))), min_size=1))
def test_law_nothing_checked_is_never_a_pass(left_out: set[int]) -> None:
    kept = tuple(f for i, f in enumerate(COVERING) if i not in left_out)
    assert decide(case(kept)).verdict is HOLD


def test_each_kind_of_evidence_counts_only_where_the_rule_names_it() -> None:
    for named, given_kind in product(EvidenceKind, EvidenceKind):
        rule = CoverageRule(category=Category.UNIT, aspect=Aspect.HEAT, need=Need.ALWAYS, by=(named,))
        policy = msgspec.structs.replace(POLICY, coverage=(*POLICY.coverage, rule))
        heat = finding("", Category.UNIT, Aspect.HEAT, given_kind)
        verdict = decide(case((*COVERING, heat), policy)).verdict
        assert (verdict is RELEASE) == (named is given_kind)


def test_the_order_of_the_cases_has_a_line_for_each_kind_of_rule() -> None:
    assert [line.category for line in ORDER.lines] == [Category.MEMORY, Category.CASE]
