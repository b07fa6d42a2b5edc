"""Questions to the shop: few, and only where an answer changes what is built or checked.

A contradiction is always asked about. What is open is asked about only where the line names no part: a part
number, a GTIN or a model settles the rest, and a plain name (`RTX 4070`) is a name. An expectation that the
order gives on that aspect is the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from shipworthy.model.base import Scalar, values
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.questions import Question
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.expect.categories import said_by_text
from shipworthy.orders.expect.named import (
    names_a_board,
    names_a_card,
    names_a_display,
    names_a_drive,
    names_a_processor,
    names_a_supply,
)
from shipworthy.orders.expect.said import Said
from shipworthy.words.conditions import without_conditions
from shipworthy.words.cooling import says_liquid
from shipworthy.words.counts import Count, find_leading_counts
from shipworthy.words.kinds import find_card_memory
from shipworthy.words.sizes import Base, Kit, find_kits

_Open = Iterator[tuple[Aspect, str]]
"""What is open, and the code of the question."""


def questions_of(order: Order) -> tuple[Question, ...]:
    """Return all questions of an order, line by line; contradictions of a line come first.

    order: with or without its derived expectations.
    """
    return tuple(question for line in order.lines for question in line_questions(line))


def line_questions(line: OrderLine) -> tuple[Question, ...]:
    """Return the questions of one line, at most one of an aspect."""
    line = msgspec.structs.replace(line, text=without_conditions(line.text))
    said = {one.aspect: one for one in said_by_text(line)}
    given = {wish.aspect for wish in line.expectations if not wish.words}
    asked = [
        _question(line, one.aspect, "question.contradiction", one.words)
        for one in said.values()
        if one.want is None and one.aspect not in given
    ]
    asked += [question for question in _odd(line) if question.aspect not in given]
    if not line.part_number.strip() and not line.gtin:
        told = given | set(said)
        asked += [_question(line, aspect, code) for aspect, code in _open(line, said) if aspect not in told]
        if Aspect.MODEL not in given:
            asked += [_question(line, Aspect.MODEL, code) for code in _which_model(line)]
    return tuple(asked)


def _question(line: OrderLine, aspect: Aspect, code: str, words: str = "", **named: Scalar) -> Question:
    return Question(
        line=line.line_id,
        aspect=aspect,
        code=code,
        words=words or line.text,
        values=values(
            line=line.line_id, text=line.text, aspect=aspect.value, words=words or line.text, **named
        ),
    )


def _odd(line: OrderLine) -> Iterator[Question]:
    """Yield what a line's text says that a line of its kind cannot."""
    if line.category in (Category.BOARD, Category.MEMORY):
        found = [word for word in find_card_memory(line.text) if word.meaning.startswith(("GDDR", "HBM"))]
        if found:
            yield _question(
                line, Aspect.TECHNOLOGY, "question.category", found[0].words, category=line.category.value
            )
    for several in _unlike_quantity(line):
        counts = {"count": several.count, "quantity": line.quantity}
        yield _question(line, Aspect.COUNT, "question.quantity", several.words, **counts)


def _unlike_quantity(line: OrderLine) -> tuple[Count | Kit, ...]:
    """Return what in a text says that several are sold, where the quantity is to say so and does not."""
    kits = find_kits(line.text, Base.DECIMAL) if line.category is Category.STORAGE else ()
    said = (find_leading_counts(line.text) or kits)[:1]
    return tuple(found for found in said if found.count != line.quantity and found.count > 1)


def _open(line: OrderLine, said: dict[Aspect, Said]) -> _Open:
    if line.category is Category.MEMORY:
        if not any(_unlike_quantity(line)):
            yield from _open_of_memory(said)
    elif line.category is Category.STORAGE and not names_a_drive(line):
        yield Aspect.CAPACITY, "question.storage.capacity"
        if _is_solid_state(said):  # nearly all hard disks that shops fit are SATA
            yield Aspect.INTERFACE, "question.storage.interface"
    elif line.category is Category.GRAPHICS and not names_a_card(line):
        yield Aspect.MAKER, "question.graphics.maker"
    elif line.category is Category.POWER_SUPPLY and not names_a_supply(line):
        yield Aspect.RATED_POWER, "question.power-supply.rated-power"
        yield Aspect.EFFICIENCY, "question.power-supply.efficiency"
    elif line.category is Category.COOLER and says_liquid(line.text) and not _has_digit(line):
        yield Aspect.SIZE, "question.cooler.size"
    elif line.category is Category.FAN and not _has_digit(line):
        yield Aspect.SIZE, "question.fan.size"


def _open_of_memory(said: dict[Aspect, Said]) -> _Open:
    """Without a size nothing else is worth asking: the line tells of no memory that could be fitted."""
    yield Aspect.CAPACITY, "question.memory.capacity"
    if Aspect.CAPACITY in said:
        if said[Aspect.CAPACITY].want is not None:
            yield Aspect.COUNT, "question.memory.count"
        yield Aspect.SPEED, "question.memory.speed"
        yield Aspect.TECHNOLOGY, "question.memory.technology"


def _is_solid_state(said: dict[Aspect, Said]) -> bool:
    return Aspect.TECHNOLOGY in said and said[Aspect.TECHNOLOGY].want == "solid state"


def _has_digit(line: OrderLine) -> bool:
    return any(map(str.isdigit, line.text))


_ONE_OF_MANY: dict[Category, tuple[Callable[[OrderLine], bool], str]] = {
    Category.PROCESSOR: (names_a_processor, "question.processor.model"),
    Category.BOARD: (names_a_board, "question.board.model"),
    Category.DISPLAY: (names_a_display, "question.display.model"),
}


def _which_model(line: OrderLine) -> tuple[str, ...]:
    """Return the code of the question where a text names a kind of part, which stands as a model all the
    same (`Core i7`, `B650`)."""
    names_one, code = _ONE_OF_MANY.get(line.category, (None, ""))
    return (code,) if names_one is not None and not names_one(line) else ()
