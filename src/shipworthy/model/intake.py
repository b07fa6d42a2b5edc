"""What an import understood of a source: every row of it, and what became of each (ADR 0030)."""

from __future__ import annotations

from enum import StrEnum

from shipworthy.model.base import Record, Value
from shipworthy.model.orders import Order


class Became(StrEnum):
    """What became of one row of a source. There is no other way out of an import."""

    LINE = "order line"
    QUESTION = "order line with a question"
    JOINED = "joined to a line"  # a part number, a colour: it belongs to the line above
    HEAD = "head of the order"
    NO_PART = "no part"  # a heading, a rule, a greeting
    LEFT_OUT = "left out"  # money or personal data, by the name of its kind
    NOT_IMPORTED = "not imported"  # not understood; the note says why


OPEN = (Became.QUESTION, Became.NOT_IMPORTED)
"""What a person has to look at before the order is one."""


class Note(Record):
    """A code of the message files with its values."""

    code: str
    values: tuple[Value, ...] = ()


class Row(Record):
    """One row of the source. place: its number (`12`, `Sheet1 row 12`) or its path (`items[3]`).

    words: as they stand there, money and personal data replaced by the name of their kind.
    line_id: of the order line that it became, or was joined to. left_out: kinds of what was left out.
    """

    place: str
    words: str
    became: Became
    line_id: str = ""
    left_out: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()


class HeadValue(Record):
    """A value of the order's head, and who said so (`option`, `row 3`, `file name`, `nobody`)."""

    name: str
    value: str
    said_by: str


class Intake(Record):
    """An import. order: None where no row became a line. blank: rows with nothing in them.

    source: the file's name. kind: what it was read as, in words. remarks: on the source as a whole.
    """

    source: str
    kind: str
    order: Order | None
    head: tuple[HeadValue, ...]
    rows: tuple[Row, ...]
    blank: int = 0
    remarks: tuple[Note, ...] = ()

    @property
    def open_rows(self) -> tuple[Row, ...]:
        """Return the rows that a person has to look at."""
        return tuple(row for row in self.rows if row.became in OPEN)
