"""The mapping file: how a shop's table or nested export is laid out (ADR 0030, docs/reference/mapping.md)."""

from __future__ import annotations

from typing import Annotated

import msgspec

from shipworthy.model.base import Record, Scalar
from shipworthy.model.words import Category

Names = str | Annotated[tuple[str, ...], msgspec.Meta(min_length=1, max_length=10)]
"""One heading or path, or several whose words are joined."""


class HeadFixed(Record):
    """Values of the order's head that are the same in every export of this shop."""

    shop: str = ""


class HeadPaths(Record):
    """Where a nested export has the head of the order."""

    order_id: str = ""
    shop: str = ""
    units: str = ""
    due: str = ""
    customer_reference: str = ""


class TableLayout(Record):
    """Columns by their headings. fill_down: columns whose empty cells mean the cell above.

    left_out: columns of money, persons or the shop's own numbers. ignore: columns of no use to an order.
    """

    sheet: str = ""
    text: Names
    quantity: str = ""
    category: str = ""
    maker: str = ""
    part_number: str = ""
    gtin: str = ""
    fill_down: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    ignore: tuple[str, ...] = ()


class Condition(Record):
    """Of an element: the value at a path is this one."""

    path: str
    equals: Scalar


class NestedLines(Record):
    """Where a nested export has order lines. at: a path that ends in a list (`order.items[]`).

    The other paths begin at the element. fixed_category: of all lines from here. leave_out: these are known
    to be no order lines.
    """

    at: str
    where: Condition | None = None
    text: Names = ""
    quantity: str = ""
    category: str = ""
    maker: str = ""
    part_number: str = ""
    gtin: str = ""
    fixed_category: Category | None = None
    leave_out: bool = False


class Mapping(Record):
    """categories: a shop's words for them, each with ours. ignore: paths of a nested export of no use."""

    order: HeadFixed = HeadFixed()
    order_at: HeadPaths = HeadPaths()
    table: TableLayout | None = None
    lines: tuple[NestedLines, ...] = ()
    ignore: tuple[str, ...] = ()
    categories: dict[str, Category] = msgspec.field(default_factory=dict)
