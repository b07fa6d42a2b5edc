"""The demo's order and answers are files as a shop would write them, and they fit together."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from shipworthy.compare import compare
from shipworthy.inspection import items_for, read_answers
from shipworthy.machine.reading import take_reading
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Order
from shipworthy.model.policy import Policy
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import read_order
from shipworthy.sim import ANSWERS_FILE, ORDER_FILE
from shipworthy.sim.parts import Fault
from shipworthy.sim.unit import build
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy


def _order_and_policy() -> tuple[Order, Policy]:
    return with_expectations(read_order(ORDER_FILE)), parse_policy(shipped_policy(), "shipped")


def _compared(folder: Path, *faults: Fault) -> Comparison:
    order, policy = _order_and_policy()
    root = build(folder, frozenset(faults), cpus=(0, 1), device_number=(259, 0))
    reading = take_reading(root, lambda name, data: None, nonce=None, clock=PretendClock())
    return compare(order, reading, policy.limits, ("reading/reading.json",))


def _differing(comparison: Comparison) -> set[tuple[str, Aspect]]:
    return {(f.line, f.aspect) for f in comparison.findings if f.outcome is Outcome.DIFFERS}


def test_the_sound_unit_is_what_the_order_asks_and_has_nothing_besides(tmp_path: Path) -> None:
    comparison = _compared(tmp_path / "unit")
    assert _differing(comparison) == set()
    assert comparison.unclaimed == ()
    unclear = {(f.line, f.aspect) for f in comparison.findings if f.outcome is Outcome.CANNOT_TELL}
    assert unclear == {("5", Aspect.MODEL), ("5", Aspect.MAKER)}  # ids alone do not name a card


@pytest.mark.parametrize(
    ("fault", "lines"),
    [
        (Fault.WRONG_PART, {("1", Aspect.MODEL)}),
        (Fault.PROFILE_OFF, {("3", Aspect.SPEED), ("13", Aspect.SPEED)}),
        (Fault.DRIVE_NOT_NEW, {("4", Aspect.NEWNESS)}),
    ],
)
def test_each_planted_fault_differs_at_the_lines_that_it_breaks(
    tmp_path: Path, fault: Fault, lines: set[tuple[str, Aspect]]
) -> None:
    assert _differing(_compared(tmp_path / "unit", fault)) == lines


def test_the_answers_are_to_what_is_asked_of_the_sound_unit_and_to_nothing_else(tmp_path: Path) -> None:
    order, policy = _order_and_policy()
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, policy) if k.required]
    asked = {item.item_id for item in items_for(order, keys, _compared(tmp_path / "unit").findings).items}
    shown_by_burn_in = {"unit.fans", "unit.heat"}
    assert asked - shown_by_burn_in == {answer.item for answer in read_answers(ANSWERS_FILE).answers}


def test_the_order_names_every_part_of_the_unit_once() -> None:
    order = read_order(ORDER_FILE)
    counted = Counter(line.category for line in order.lines)
    assert counted == dict.fromkeys(counted, 1) | {Category.SERVICE: 2}
    assert {
        Category.PROCESSOR,
        Category.MEMORY,
        Category.STORAGE,
        Category.DISPLAY,
        Category.GRAPHICS,
    } <= set(counted)
    assert order.units == ("KD-0412-1", "KD-0412-2")


def test_an_invented_article_number_is_well_formed_and_of_the_range_for_use_inside_a_shop() -> None:
    numbers = [line.gtin for line in read_order(ORDER_FILE).lines if line.gtin]
    assert numbers
    for number in numbers:
        weighted = sum(int(digit) * (3 if place % 2 else 1) for place, digit in enumerate(number))
        assert weighted % 10 == 0  # GS1 General Specifications, 7.9: all digits weighted, the check digit too
        assert number.startswith("2")  # GS1 prefixes 200-299: restricted circulation


def test_each_item_is_answered_once_and_well() -> None:
    answers = read_answers(ANSWERS_FILE).answers
    assert max(Counter(answer.item for answer in answers).values()) == 1
    assert {answer.outcome for answer in answers} == {Outcome.CONFORMS}


def test_every_answer_is_for_a_line_of_the_order_or_the_unit_and_for_a_known_aspect() -> None:
    lines = {line.line_id for line in read_order(ORDER_FILE).lines} | {"unit"}
    aspects = {aspect.value.replace(" ", "-") for aspect in Aspect}
    for answer in read_answers(ANSWERS_FILE).answers:
        line, _, aspect = answer.item.partition(".")
        assert line in lines and aspect in aspects, answer.item
