"""An order held against a list: what the list adds, what it never overrides, and what it asks."""

from __future__ import annotations

import msgspec
import pytest

from shipworthy.messages import known_codes, sentence
from shipworthy.model.catalogue import CardFacts, CataloguePart
from shipworthy.model.catalogue_used import Decided, LineUsed
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.orders.catalogue.resolve import Resolved, resolved
from shipworthy.orders.expect import with_expectations
from tests.orders import catalogue_samples as samples

LIST = samples.catalogue()


def held(line: OrderLine, parts: tuple[CataloguePart, ...] = samples.PARTS) -> Resolved:
    order = Order(order_id="KD-1", shop="Kestrel Desk", units=("KD-1-1",), lines=(line,))
    return resolved(with_expectations(order), samples.catalogue(parts))


def line(text: str, category: Category = Category.MEMORY, **more: object) -> OrderLine:
    return msgspec.convert({"line_id": "1", "category": category, "text": text, **more}, OrderLine)


def used(result: Resolved) -> LineUsed:
    (only,) = result.used.lines
    return only


def asked(result: Resolved) -> str:
    """Return the code of the one question; nothing is then added."""
    (question,) = result.used.questions
    assert used(result).decided is Decided.SEVERAL and used(result).part is None
    assert used(result).added == ()
    assert question.code in known_codes()
    said = sentence(question.code, question.values)
    assert "{" not in said.say and said.do
    return question.code


NAME = "Fennec Quiet 16GB (2x8GB) DDR5-6000"


def test_a_part_adds_all_its_numbers_of_which_any_will_do_and_its_maker() -> None:
    result = held(line(NAME))
    number = result.order.lines[0].wanted(Aspect.PART_NUMBER)
    assert number == Expectation(
        aspect=Aspect.PART_NUMBER,
        want="FQ5-60-8X",
        or_else=("FQ5608X/K",),
        words=samples.QUIET_16.name,
        source="fennec-quiet-16",
    )
    maker = result.order.lines[0].wanted(Aspect.MAKER)
    assert maker is not None and (maker.want, maker.source) == ("Fennec", "fennec-quiet-16")
    assert used(result).part == samples.QUIET_16
    assert used(result).added == (number, maker)
    assert result.used.questions == ()
    assert result.used.list_digest == LIST.index.list_digest


def test_what_the_order_says_stands_before_and_is_not_touched() -> None:
    own = line(NAME, part_number="FQ5-60-8X", maker="Fennec Works")
    before = with_expectations(Order(order_id="K", shop="K", units=("K",), lines=(own,))).lines[0]
    result = held(own)
    assert result.order.lines[0] == before
    assert used(result).decided is Decided.ONE and used(result).added == ()


def test_doing_it_twice_changes_nothing() -> None:
    once = held(line(NAME)).order
    assert resolved(once, LIST).order == once


@pytest.mark.parametrize(
    "more",
    [
        {"part_number": "fq5 60 8x"},
        {"gtin": samples.GTIN},
        {"part_number": "FQ5608X/K", "gtin": samples.GTIN},
    ],
)
def test_a_number_tells_the_part_where_the_words_do_not(more: dict[str, str]) -> None:
    result = held(line("Memory, quiet, as agreed", **more))
    assert used(result).part == samples.QUIET_16
    assert result.used.questions == ()


def test_what_is_not_in_the_list_is_left_as_it_is_and_not_asked() -> None:
    result = held(line("Osprey Long 8GB DDR5-4800", part_number="OL-48-8"))
    assert used(result).decided is Decided.NONE
    assert result.used.questions == ()
    assert result.order.lines[0].wanted(Aspect.MAKER) is None


def test_a_service_is_not_looked_up() -> None:
    result = held(line(NAME, Category.SERVICE))
    assert result.used.lines == ()


# Questions


def test_words_for_several_parts_are_asked() -> None:
    assert asked(held(line("Fennec Quiet DDR5-6000"))) == "catalogue.several"


def test_words_that_leave_something_open_are_asked_though_one_is_left() -> None:
    assert asked(held(line("Quarrel NVMe SSD 1TB", Category.STORAGE))) == "catalogue.is-it-this"


def test_a_number_of_several_parts_is_asked_unless_the_words_tell_which() -> None:
    assert asked(held(line("Memory, quiet", part_number="FQ5-SHARED"))) == "catalogue.several"
    told = held(line("Fennec Quiet 32GB (2x16GB) DDR5-6000", part_number="FQ5-SHARED"))
    assert used(told).part == samples.QUIET_32
    assert asked(held(line(NAME, part_number="FQ5-SHARED"))) in (
        "catalogue.several",
        "catalogue.name-differs",
    )


def test_number_and_gtin_of_different_parts_are_asked() -> None:
    assert (
        asked(held(line("Memory", part_number="FQ5-60-16X", gtin=samples.GTIN)))
        == "catalogue.numbers-disagree"
    )


def test_words_that_name_another_part_than_the_number_are_asked() -> None:
    assert asked(held(line(NAME, part_number="FQ5-60-16X"))) == "catalogue.name-differs"
    sibling = line("Sandpiper Breeze Heron HX 670 12GB", Category.GRAPHICS, part_number="SB-HX680-16")
    assert asked(held(sibling)) == "catalogue.name-differs"


def test_a_number_that_the_part_of_these_words_does_not_have_is_asked() -> None:
    assert asked(held(line(NAME, part_number="FQ5-60-9X"))) == "catalogue.number-not-listed"
    assert asked(held(line(NAME, gtin="2000000000022"))) == "catalogue.number-not-listed"


def test_a_number_of_another_category_is_asked() -> None:
    assert asked(held(line("Fennec memory", part_number="QM2X-1T0"))) == "catalogue.other-category"


@pytest.mark.parametrize(
    ("own", "part", "aspect"),
    [
        (line("Memory 32GB (2x16GB)", part_number="FQ5-60-8X"), samples.QUIET_16, "capacity"),
        (line("Memory 16GB (1x16GB)", part_number="FQ5-60-8X"), samples.QUIET_16, "count"),
        (line("Memory DDR5-6400", part_number="FQ5-60-8X"), samples.QUIET_16, "speed"),
        (line("Memory DDR4, 16GB", part_number="FQ5-60-8X"), samples.QUIET_16, "technology"),
        (line("SSD 2TB", Category.STORAGE, part_number="QM2X-1T0"), samples.DRIVE, "capacity"),
        (line("SATA SSD 1TB", Category.STORAGE, part_number="QM2X-1T0"), samples.DRIVE, "interface"),
        (line("HDD 1TB", Category.STORAGE, part_number="QM2X-1T0"), samples.DRIVE, "technology"),
        (line("6-core", Category.PROCESSOR, part_number="MC7-7600K-BOX"), samples.CORE, "cores"),
        (line("Card 8GB", Category.GRAPHICS, part_number="SB-HX680-16"), samples.EIGHT, "capacity"),
    ],
    ids=lambda value: value.text if isinstance(value, OrderLine) else getattr(value, "part_id", value),
)
def test_a_line_that_says_otherwise_than_its_part_is_asked(
    own: OrderLine, part: CataloguePart, aspect: str
) -> None:
    result = held(own)
    wish = Aspect(aspect)
    assert result.order.lines[0].wanted(wish) is not None, "the text has to say it"
    code = asked(result)
    assert code in ("catalogue.says-otherwise", "catalogue.name-differs")
    assert used(result).may_be == (part.part_id,)


def test_a_contradiction_that_is_given_as_data_names_both_sides() -> None:
    own = line("Memory as agreed", part_number="FQ5-60-8X")
    wish = Expectation(aspect=Aspect.CAPACITY, want=32 * samples.GIB, unit=Unit.BYTES)
    result = held(msgspec.structs.replace(own, expectations=(wish,)))
    assert asked(result) == "catalogue.says-otherwise"
    (question,) = result.used.questions
    said = sentence(question.code, question.values).say
    assert "32 GiB" in said and "16 GiB" in said and "capacity" in said


def test_a_line_of_two_kits_is_held_against_two_of_the_part() -> None:
    result = held(line(NAME, quantity=2))
    assert used(result).part == samples.QUIET_16
    capacity = result.order.lines[0].wanted(Aspect.CAPACITY)
    assert capacity is not None and capacity.want == 32 * samples.GIB


def test_low_voltage_memory_is_of_the_type_that_the_trade_calls_it_and_not_the_other_way_round() -> None:
    def of(kind: str) -> CataloguePart:
        facts = msgspec.structs.replace(samples.QUIET_16.facts, type=kind)
        return msgspec.structs.replace(samples.QUIET_16, facts=facts)

    def says(kind: str) -> OrderLine:
        return line(f"Memory {kind}, 16GB", part_number="FQ5-60-8X")

    assert used(held(says("DDR3"), (of("DDR3L"),))).part == of("DDR3L")
    assert asked(held(says("DDR3L"), (of("DDR3"),))) in ("catalogue.says-otherwise", "catalogue.name-differs")
    assert asked(held(says("DDR4"), (of("DDR3L"),))) in ("catalogue.says-otherwise", "catalogue.name-differs")


def test_a_known_maker_against_another_known_one_is_asked_and_an_unknown_one_is_not() -> None:
    part = msgspec.structs.replace(
        samples.QUIET_16, maker="Kingston", name="Kingston Quiet 16GB (2x8GB) DDR5-6000"
    )
    assert (
        asked(held(line("Memory", part_number="FQ5-60-8X", maker="Corsair"), (part,)))
        == "catalogue.says-otherwise"
    )
    assert held(line("Memory", part_number="FQ5-60-8X", maker="Fennec"), (part,)).used.questions == ()


def test_a_size_as_marketed_contradicts_none_by_rounding() -> None:
    big = msgspec.structs.replace(
        samples.DRIVE, facts=msgspec.structs.replace(samples.DRIVE.facts, capacity_bytes=1024 * 10**9)
    )
    assert used(held(line("Quarrel M2X 1TB NVMe SSD", Category.STORAGE), (big,))).part == big


def test_what_the_list_does_not_know_contradicts_nothing() -> None:
    bare = CataloguePart(
        part_id="n",
        category=Category.NETWORK,
        name="Tern Card 2500",
        part_numbers=("TC-2500",),
        facts=CardFacts(),
    )
    assert used(held(line("Tern Card 2500", Category.NETWORK), (bare,))).part == bare


def test_every_question_has_a_code_with_a_sentence_and_every_sentence_is_asked_somewhere() -> None:
    import inspect

    from shipworthy.orders.catalogue import resolve

    text = inspect.getsource(resolve)
    codes = {code for code in known_codes() if code.startswith("catalogue.")}
    assert len(codes) == 7
    assert {code for code in codes if f'"{code}"' not in text} == set()


def test_prose_and_the_parts_own_number_in_the_words_name_no_other_part() -> None:
    for text in ("Card, white, in a gift box", "Card SB-HX670TI-12", "Breeze card with 12GB"):
        assert (
            used(held(line(text, Category.GRAPHICS, part_number="SB-HX670TI-12"))).part == samples.SIX_TI
        ), text
    for text in ("Heron HX 670", "Heron HX 680 Ti", "Heron HX 670 SUPER", "SB-HX680-16"):
        asked(held(line(text, Category.GRAPHICS, part_number="SB-HX670TI-12")))
