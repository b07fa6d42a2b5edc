"""The expectations of an order's lines: those that it gives, and those that its texts say."""

from __future__ import annotations

import msgspec

from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect
from shipworthy.orders.expect.categories import said_by_text
from shipworthy.words.conditions import without_conditions


def with_expectations(order: Order) -> Order:
    """Return the order with what its texts say added as expectations; those that it gives win.

    Of memory, the capacity and the count are of the whole line, its quantity included; so is the count of
    fans. Of all other lines an expectation is of each piece. Doing it twice changes nothing.
    """
    return msgspec.structs.replace(order, lines=tuple(line_with_expectations(line) for line in order.lines))


def line_with_expectations(line: OrderLine) -> OrderLine:
    """Return one order line with its derived expectations, after those that it has."""
    given = {expectation.aspect for expectation in line.expectations}
    derived = tuple(e for e in derived_expectations(line) if e.aspect not in given)
    return msgspec.structs.replace(line, expectations=line.expectations + derived)


def derived_expectations(line: OrderLine) -> tuple[Expectation, ...]:
    """Return what a line's text, maker and part number say, one expectation an aspect.

    Words that are a condition of the sale are none of a part's name.
    """
    sold = msgspec.structs.replace(line, text=without_conditions(line.text))
    found = [
        Expectation(aspect=said.aspect, want=said.want, unit=said.unit, words=said.words)
        for said in said_by_text(sold)
        if said.want is not None
    ]
    if line.part_number.strip():
        found.append(Expectation(aspect=Aspect.PART_NUMBER, want=line.part_number.strip()))
    if line.maker.strip():
        found.append(Expectation(aspect=Aspect.MAKER, want=line.maker.strip()))
    return tuple(found)
