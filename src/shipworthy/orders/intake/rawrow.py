"""A row as a reader of sources hands it on, before it is an order line."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from shipworthy.model.base import Scalar, Trouble, values
from shipworthy.model.intake import Became, Note
from shipworthy.model.words import Category
from shipworthy.orders.files import MOST_LINES


@dataclass(frozen=True)
class RawRow:
    """One row of a source.

    words: as they stand there, without money and personal data. became: set where the reader knows that
    the row is no order line of its own. text to gtin: the row's parts, empty where it has none.
    count: how many, where the reader could tell; None is one. position: the bare number that it begins with,
    which may be how many or which row. among: the only categories that it can be of.
    shaped: it has a price, a quantity or a place in a table, as a position of an order has.
    of: the place of the row that it belongs to or stands below; empty for the last line above.
    wraps: its text goes on where the row above was broken.
    """

    place: str
    words: str
    became: Became | None = None
    text: str = ""
    quantity: str = ""
    count: int | None = None
    position: int | None = None
    maker: str = ""
    part_number: str = ""
    gtin: str = ""
    among: frozenset[Category] = frozenset()
    shaped: bool = False
    left_out: tuple[str, ...] = ()
    of: str = ""
    wraps: bool = False
    notes: tuple[Note, ...] = field(default=())


def note(code: str, **named: Scalar) -> Note:
    """Return a note of that code."""
    return Note(code=code, values=values(**named))


def too_long(place: str, length: int) -> RawRow:
    """Return a row that was not looked at, as no row of an order is so long; it may hold anything."""
    return RawRow(place, "", Became.NOT_IMPORTED, notes=(note("intake.row-too-long", length=length),))


def too_many(count: int, where: object) -> Trouble:
    """Return the refusal of a source with more lines than an order can have."""
    return Trouble(
        f"at least {count:,} order lines, and an order may have {MOST_LINES}",
        where,
        "Check that this is the right file, or split the order.",
    )


def with_notes(row: RawRow, *notes: Note) -> RawRow:
    """Return the row with notes added."""
    return replace(row, notes=(*row.notes, *notes))


def with_kind(row: RawRow, kind: str) -> RawRow:
    """Return the row with a kind added to what was cut out of it, once."""
    return replace(row, left_out=tuple(dict.fromkeys((*row.left_out, kind))))


@dataclass(frozen=True)
class Taken:
    """What a reader made of a whole source. head: values of the order's head with the place that says so."""

    kind: str
    rows: tuple[RawRow, ...]
    head: dict[str, tuple[str, str]]
    blank: int = 0
    remarks: tuple[Note, ...] = ()
