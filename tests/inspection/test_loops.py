"""A custom loop has to be on record as tested before any burn-in; a sealed cooler asks for nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest

from shipworthy.inspection import (
    LOOP_ITEM,
    findings_of,
    items_before_burn_in,
    items_for,
    loop_findings,
    on_record_before,
)
from shipworthy.messages import finding_sentence, known_codes, sentence
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Observation
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.policy import CoverageState
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Category, Danger, EvidenceKind, Outcome
from shipworthy.verdict import may_be_conceded
from shipworthy.verdict.coverage import Key, state_of
from shipworthy.verdict.policies import parse_policy, shipped_policy


def order(*lines: tuple[Category, str], technology: str = "") -> Order:
    given = (Expectation(aspect=Aspect.TECHNOLOGY, want=technology),) if technology else ()
    return Order(
        order_id="KD-1",
        shop="Kestrel Desk",
        units=("KD-1-1",),
        lines=tuple(
            OrderLine(line_id=str(n), category=category, text=text, expectations=given)
            for n, (category, text) in enumerate(lines, 1)
        ),
    )


LOOP = order(
    (Category.PROCESSOR, "Tarn C7 processor"),
    (Category.COOLER, "Radiator 360 mm"),
    (Category.ACCESSORY, "Tube reservoir, 150 ml"),
    (Category.ACCESSORY, "Coolant, clear, 1 l"),
)
SEALED = order((Category.COOLER, "Calder Tide 360 AIO, sealed liquid cooler with radiator and pump"))
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def at(minutes: float, *, boot: str | None = "one", set_right: bool | None = True, off: float = 0) -> Moment:
    """A moment so many minutes on; off: by how many minutes the wall clock is wrong."""
    return Moment(
        utc=START + timedelta(minutes=minutes + off),
        boot_id=boot,
        monotonic_s=minutes * 60,
        clock_synchronised=set_right,
    )


def answer(
    when: Moment,
    outcome: Outcome = Outcome.CONFORMS,
    note: str = "0.5 bar held for 30 min, board unpowered.",
    danger: Danger | None = None,
) -> Observation:
    return Observation(
        item_id=LOOP_ITEM, outcome=outcome, by="Odile Marsh", at=when, note=note, danger=danger
    )


def test_a_loop_is_one_item_of_the_unit_whose_question_names_the_words_and_lines() -> None:
    (item,) = items_before_burn_in(LOOP).items
    assert (item.item_id, item.because, item.line) == (LOOP_ITEM, "order", "")
    asked = sentence(item.ask, item.values).say
    assert "radiator, reservoir, coolant" in asked and "2, 3, 4" in asked
    assert "{" not in asked
    assert {item.ask, item.caution} <= known_codes()
    assert items_for(LOOP, [], []).items == (item,)


def test_a_sealed_cooler_asks_for_nothing() -> None:
    assert items_before_burn_in(SEALED).items == ()


def test_a_case_with_room_for_a_radiator_asks_for_nothing() -> None:
    assert items_before_burn_in(order((Category.CASE, "Case, room for a radiator"))).items == ()


@pytest.mark.parametrize(
    ("text", "technology", "asked"),
    [
        ("Calder Heron", "custom loop", True),
        ("Calder Heron", "liquid", False),
        ("Kit with reservoir and coolant", "closed loop", False),
        ("Custom loop", "closed loop", False),
        ("Calder Tide AIO", "custom loop", True),
        ("Tube reservoir", "clear", True),
    ],
)
def test_what_the_order_states_wins_over_its_text(text: str, technology: str, asked: bool) -> None:
    items = items_before_burn_in(order((Category.COOLER, text), technology=technology)).items
    assert bool(items) is asked


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        ([], Outcome.DIFFERS),
        ([answer(at(5))], Outcome.CONFORMS),
        ([answer(at(15))], Outcome.DIFFERS),
        ([answer(at(5), note=" ")], Outcome.DIFFERS),
        ([answer(at(5), Outcome.CANNOT_TELL)], Outcome.DIFFERS),
        ([answer(at(5), Outcome.DIFFERS), answer(at(6))], Outcome.CONFORMS),
        ([answer(at(5)), answer(at(6), Outcome.DIFFERS)], Outcome.DIFFERS),
        ([answer(at(5)), answer(at(15), Outcome.DIFFERS)], Outcome.CONFORMS),  # told by the item itself
        ([answer(at(5), danger=Danger.LEAK), answer(at(6))], Outcome.DIFFERS),
        # within one start the clock that never jumps decides, whatever the wall clock was set to
        ([answer(at(5, set_right=False, off=600))], Outcome.CONFORMS),
        ([answer(at(15, set_right=False, off=-600))], Outcome.DIFFERS),
        # over two starts, or on two machines, the wall clocks
        ([answer(at(5, boot="two", set_right=False))], Outcome.CONFORMS),
        ([answer(at(15, boot="two"))], Outcome.DIFFERS),
        ([answer(at(15, boot="two", set_right=False))], Outcome.CANNOT_TELL),
        ([answer(at(15, boot=None, set_right=None))], Outcome.CANNOT_TELL),
        ([answer(at(15, boot="two", set_right=False), note="")], Outcome.DIFFERS),
    ],
)
def test_whether_it_stood_on_record_when_the_burn_in_began(
    answers: list[Observation], expected: Outcome
) -> None:
    others = [msgspec.structs.replace(answer(at(1)), item_id="unit.condition")]
    assert on_record_before([*others, *answers], at(10)) is expected


def ending_with(*late: Finding) -> CoverageState:
    ended = Finding(
        code="burn-in.completed",
        outcome=Outcome.CONFORMS,
        category=Category.UNIT,
        aspect=Aspect.ENDING,
        by=EvidenceKind.BURN_IN,
    )
    key = Key("", Category.UNIT, Aspect.ENDING, required=True, by=(EvidenceKind.BURN_IN,))
    return state_of(key, [ended, *late], "sha512:0").state


def test_a_burn_in_without_it_is_a_difference_that_somebody_who_saw_the_test_may_concede() -> None:
    (finding,) = loop_findings(LOOP, [answer(at(15))], at(10), "burn-in/log-001.jsonl")
    assert finding.code == "burn-in.loop-test-not-before"
    assert finding.evidence == ("burn-in/log-001.jsonl", "inspection/observations.jsonl")
    assert ending_with(finding) is CoverageState.DIFFERS
    assert may_be_conceded(finding.code, parse_policy(shipped_policy(), "shipped"))


def test_by_clocks_that_nobody_set_right_the_end_of_the_burn_in_stays_open() -> None:
    late = answer(at(15, boot="two", set_right=False))
    (finding,) = loop_findings(LOOP, [late], at(10), "burn-in/log-001.jsonl")
    assert finding.code == "burn-in.loop-test-unclear"
    assert ending_with() is CoverageState.COVERED
    assert ending_with(finding) is CoverageState.CANNOT_TELL


def test_an_answer_before_and_an_order_without_a_loop_give_no_finding() -> None:
    assert loop_findings(LOOP, [answer(at(5))], at(10), "burn-in/log-001.jsonl") == ()
    assert loop_findings(SEALED, [], at(10), "burn-in/log-001.jsonl") == ()


@pytest.mark.parametrize(
    ("seen", "code"),
    [
        ([], "inspection.unanswered"),
        ([answer(at(5))], "inspection.conforms"),
        ([answer(at(5), note="")], "inspection.loop-cannot-tell"),
        ([answer(at(5), Outcome.CANNOT_TELL)], "inspection.loop-cannot-tell"),
        ([answer(at(5), Outcome.DIFFERS)], "inspection.loop-differs"),
        ([answer(at(5), danger=Danger.LEAK)], "inspection.leak"),
    ],
)
def test_what_an_answer_amounts_to(seen: list[Observation], code: str) -> None:
    (finding,) = findings_of(items_before_burn_in(LOOP), seen)
    assert finding.code == code
    assert code in known_codes() and "{" not in finding_sentence(finding).say


def test_no_answer_on_the_loop_stands_for_the_condition_of_the_unit_or_any_other_key() -> None:
    (finding,) = findings_of(items_before_burn_in(LOOP), [answer(at(5))])
    policy = parse_policy(shipped_policy(), "shipped")
    assert finding.key not in {("", rule.category, rule.aspect) for rule in policy.coverage}
