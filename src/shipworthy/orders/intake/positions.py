"""A bare number before a part: how many, or which row? `1 …`, `2 …`, `3 …`, `4 …` counts the rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shipworthy.orders.intake.quantities import without_position
from shipworthy.orders.intake.rawrow import RawRow, note

_PLAIN_RUN = 4
"""Rows from which a count 1, 2, 3, 4 is no chance; two or three could be quantities, so it is asked."""


def without_positions(rows: Sequence[RawRow]) -> list[RawRow]:
    """Return the rows with their bare numbers read as quantities, or as positions and cut, or asked about.

    A reader keeps the bare number that a row begins with as its position.
    """
    marked = [index for index, row in enumerate(rows) if row.became is None and row.position is not None]
    numbers = [number for index in marked if (number := rows[index].position) is not None]
    counted = numbers == list(range(1, len(numbers) + 1))
    # A number that all rows have beside another quantity cannot be the quantity too.
    doubled = all(rows[index].count is not None for index in marked)
    out = list(rows)
    for index, number in zip(marked, numbers, strict=True):
        row = out[index]
        text = without_position(row.text)
        if row.count is not None:
            out[index] = replace(row, text=text if doubled and counted else row.text)
        elif counted and len(numbers) >= _PLAIN_RUN:
            out[index] = replace(row, text=text)
        elif counted and number > 1:
            doubt = note("intake.quantity-or-position", number=number)
            out[index] = replace(row, text=text, count=number, notes=(*row.notes, doubt))
        else:
            out[index] = replace(row, text=text, count=number)
    return out
