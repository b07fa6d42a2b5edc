"""An order: what was sold, line by line, and what each line says must be true (ADR 0006)."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Record, Scalar
from shipworthy.model.words import Aspect, Category, Unit

Identifier = Annotated[str, msgspec.Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
LineText = Annotated[str, msgspec.Meta(min_length=1, max_length=500)]


class Expectation(Record):
    """One predicate of an order line.

    words: the words it came from; empty where the order gave it as data. or_else: other values that would do
    as well (the part numbers of one part). source: the shop's own part that it was looked up from, if so.
    """

    aspect: Aspect
    want: Scalar
    unit: Unit = Unit.TEXT
    words: str = ""
    or_else: tuple[Scalar, ...] = ()
    source: str = ""

    @property
    def wants(self) -> tuple[Scalar, ...]:
        """All values of which one is enough, the wanted one first."""
        return (self.want, *self.or_else)


_TELLS_WHICH = {
    **dict.fromkeys(
        (Category.PROCESSOR, Category.BOARD, Category.GRAPHICS), (Aspect.MODEL, Aspect.PART_NUMBER)
    ),
    **dict.fromkeys((Category.MEMORY, Category.STORAGE), (Aspect.MODEL, Aspect.PART_NUMBER, Aspect.CAPACITY)),
}
"""Expectations of which a line needs one to tell its part from any other. Memory and drives are sold by their
size too, whoever made them (common practice)."""


class OrderLine(Record):
    """One thing sold: a part, a service or a customisation. gtin: 8, 12, 13 or 14 digits (GS1)."""

    line_id: Identifier
    category: Category
    quantity: Annotated[int, msgspec.Meta(ge=1, le=1000)] = 1
    text: LineText
    maker: str = ""
    part_number: str = ""
    gtin: Annotated[str, msgspec.Meta(pattern=r"^(\d{8}|\d{12,14})?$")] = ""
    expectations: tuple[Expectation, ...] = ()

    def wanted(self, aspect: Aspect) -> Expectation | None:
        """Return the expectation on that aspect; None if the line says nothing of it."""
        return next((e for e in self.expectations if e.aspect is aspect), None)

    @property
    def tells_no_part(self) -> bool:
        """Whether any part of its category would be the one sold, by what is expected of this line."""
        telling = _TELLS_WHICH.get(self.category, ())
        return bool(telling) and not any(map(self.wanted, telling))


class Order(Record):
    """What a customer ordered. customer_reference stays out of every customer-facing file but the cover."""

    schema: Literal[1] = 1
    order_id: Identifier
    shop: Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
    units: Annotated[tuple[Identifier, ...], msgspec.Meta(min_length=1)]
    lines: Annotated[tuple[OrderLine, ...], msgspec.Meta(min_length=1, max_length=500)]
    customer_reference: str = ""
    due: date | None = None

    def line(self, line_id: str) -> OrderLine | None:
        return next((line for line in self.lines if line.line_id == line_id), None)
