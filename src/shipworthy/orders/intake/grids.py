"""Tables as grids of text: a CSV file in any of its dialects, and the sheets of a workbook."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from shipworthy.model.base import Trouble
from shipworthy.model.intake import Note
from shipworthy.orders.intake.rawrow import note
from shipworthy.orders.intake.signs import readable

_DELIMITERS = ";\t,|"
_SAMPLE = 60
_MOST_CELLS = 500


@dataclass(frozen=True)
class GridRow:
    """number: in the source, from 1. no_value: columns whose formula has no value kept, or an error.

    merged: columns whose cell is one with the cell above.
    """

    number: int
    cells: tuple[str, ...]
    hidden: bool = False
    no_value: frozenset[int] = frozenset()
    merged: frozenset[int] = frozenset()
    lines: int = 1


@dataclass(frozen=True)
class Grid:
    """name: of the sheet; empty for a file that has none. hidden: the whole sheet is."""

    name: str
    rows: tuple[GridRow, ...]
    hidden: bool = False
    remarks: tuple[Note, ...] = field(default=())


def csv_grid(text: str, name: object, *, strict: bool = True) -> tuple[Grid, str]:
    """Return the grid of a CSV text and its delimiter; rows are numbered by their first line in the file.

    strict: the text is meant as a table; else one that is none gives a grid of no rows.

    Raises Trouble for a cell of more than 131,072 characters.
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    delimiter = _delimiter(plain)
    remarks: tuple[Note, ...] = ()
    try:
        rows = _parsed(plain, delimiter, csv.QUOTE_MINIMAL)
        if rows and rows[-1].lines > 1 and plain.count('"') % 2:
            remarks = (note("intake.quote-open", row=rows[-1].number),)
            rows = _parsed(plain, delimiter, csv.QUOTE_NONE)
    except csv.Error as error:
        if not strict:
            return Grid("", ()), delimiter
        raise Trouble(f"not a table that can be read: {error}", name, "Save it again as CSV.") from error
    return Grid("", tuple(rows), remarks=remarks), delimiter


def _parsed(text: str, delimiter: str, quoting: int) -> list[GridRow]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, quoting=quoting)  # type: ignore[arg-type]
    rows: list[GridRow] = []
    before = 0
    for cells in reader:
        if len(cells) > _MOST_CELLS:
            raise csv.Error(f"row {before + 1} has more than {_MOST_CELLS:,} cells")
        cells = [readable(cell) for cell in cells]
        rows.append(GridRow(before + 1, tuple(cells), lines=reader.line_num - before))
        before = reader.line_num
    return rows


def _delimiter(text: str) -> str:
    """Return the sign that cuts the most rows into one same number of cells."""
    sample = "\n".join(text.split("\n", _SAMPLE)[:_SAMPLE])
    best, score = ",", (0, 0)
    for sign in _DELIMITERS:
        try:
            widths = Counter(len(row.cells) for row in _parsed(sample, sign, csv.QUOTE_MINIMAL))
        except csv.Error:
            continue
        told = [(count, width) for width, count in widths.items() if width > 1]
        if told and max(told) > score:
            best, score = sign, max(told)
    return best


def cell_text(value: object) -> str:
    """Return a cell's value as text: whole numbers without a point, days as ISO 8601."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if not (value.hour or value.minute) else value.isoformat(" ")
    return value.isoformat() if isinstance(value, date) else readable(str(value))


def filled(cells: Sequence[str]) -> list[str]:
    """Return the cells that hold something, on one line each."""
    return [re.sub(r"\s+", " ", cell).strip() for cell in cells if cell.strip()]
