"""The demo's order and answers are files as a shop would write them, and they fit together."""

from __future__ import annotations

from collections import Counter

from shipworthy.inspection import read_answers
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.orders.files import read_order
from shipworthy.sim import ANSWERS_FILE, ORDER_FILE


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
