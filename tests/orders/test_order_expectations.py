"""From the text as sold to expectations; what is given wins and what is open stays open."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.base import Scalar
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.orders.expect import line_with_expectations, with_expectations

GIB = 2**30


def wants(category: Category, text: str, **more: object) -> dict[Aspect, Scalar]:
    line = OrderLine(line_id="1", category=category, text=text, **more)
    return {e.aspect: e.want for e in line_with_expectations(line).expectations}


def test_a_memory_kit_says_total_count_speed_and_type() -> None:
    assert wants(Category.MEMORY, "Fennec Quiet 32GB (2x16GB) DDR5-6000 CL30") == {
        Aspect.CAPACITY: 32 * GIB,
        Aspect.COUNT: 2,
        Aspect.SPEED: 6000,
        Aspect.TECHNOLOGY: "DDR5",
        Aspect.MODEL: "Fennec Quiet CL30",
    }


def test_a_text_of_facts_alone_names_no_kit() -> None:
    assert Aspect.MODEL not in wants(Category.MEMORY, "32GB (2x16GB) DDR5-6000 CL30 desktop memory kit")


def test_the_quantity_of_a_kit_multiplies_its_total_and_count() -> None:
    found = wants(Category.MEMORY, "2x16GB DDR5-6000", quantity=2)
    assert (found[Aspect.CAPACITY], found[Aspect.COUNT]) == (64 * GIB, 4)


def test_a_size_without_a_kit_does_not_say_how_many_modules() -> None:
    assert Aspect.COUNT not in wants(Category.MEMORY, "32GB DDR5")


def test_the_quantity_of_a_drive_is_of_pieces_and_not_of_bytes() -> None:
    assert wants(Category.STORAGE, "Quarrel M2 1TB NVMe SSD", quantity=2) == {
        Aspect.CAPACITY: 10**12,
        Aspect.TECHNOLOGY: "solid state",
        Aspect.INTERFACE: "NVMe",
        Aspect.MODEL: "Quarrel M2",
    }


@pytest.mark.parametrize("text", ["32GB (2x32GB) DDR5", "16GB or 32GB DDR5"])
def test_a_text_that_contradicts_itself_says_nothing_of_size(text: str) -> None:
    assert Aspect.CAPACITY not in wants(Category.MEMORY, text)


def test_two_speeds_in_one_text_are_a_question_and_no_speed() -> None:
    assert Aspect.SPEED not in wants(Category.MEMORY, "16GB DDR5-4800 up to 6000MHz")


def test_maker_and_part_number_of_the_line_are_expected() -> None:
    found = wants(Category.BOARD, "Holloway B6-Q rev 1.3", maker="Holloway", part_number="B6-Q")
    assert found == {
        Aspect.MODEL: "Holloway B6-Q",
        Aspect.VERSION: "1.3",
        Aspect.MAKER: "Holloway",
        Aspect.PART_NUMBER: "B6-Q",
    }


def test_cores_are_expected_where_the_text_says_them() -> None:
    assert wants(Category.PROCESSOR, "Tarn C7-S 8-Core") == {Aspect.MODEL: "Tarn C7-S", Aspect.CORES: 8}


def test_ids_in_a_text_are_the_model() -> None:
    assert wants(Category.NETWORK, "Network adapter 8086:15f3 2.5GbE") == {
        Aspect.MODEL: "8086:15f3",
        Aspect.SPEED: 2500,
    }


def test_what_the_order_gives_wins() -> None:
    given_one = Expectation(aspect=Aspect.SPEED, want=5600, unit=Unit.MEGATRANSFERS)
    found = wants(Category.MEMORY, "32GB (2x16GB) DDR5-6000", expectations=(given_one,))
    assert (found[Aspect.SPEED], found[Aspect.COUNT]) == (5600, 2)


def test_each_expectation_keeps_the_words_it_came_from() -> None:
    text = "Fennec 32GB (2x16GB) DDR5-6000"
    line = line_with_expectations(OrderLine(line_id="1", category=Category.MEMORY, text=text))
    assert line.expectations and all(e.words and e.words in text for e in line.expectations)


@given(st.sampled_from([c for c in Category if c is not Category.UNIT]), st.text(min_size=1, max_size=60))
def test_deriving_twice_changes_nothing(category: Category, text: str) -> None:
    order = Order(
        order_id="A",
        shop="K",
        units=("A",),
        lines=(OrderLine(line_id="1", category=category, text=text, maker="Tarn"),),
    )
    once = with_expectations(order)
    assert with_expectations(once) == once
    aspects = [e.aspect for e in once.lines[0].expectations]
    assert len(set(aspects)) == len(aspects)
