"""A table to raw rows: by a mapping, or by its headings where there is none."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shipworthy.model.base import Trouble
from shipworthy.model.intake import Became, Note
from shipworthy.model.mapping import Mapping, TableLayout
from shipworthy.orders.intake import columns, private
from shipworthy.orders.intake.counts import count_in_cell
from shipworthy.orders.intake.grids import Grid, GridRow, filled
from shipworthy.orders.intake.mapping import categories_said, names_of
from shipworthy.orders.intake.page import Page, left_out
from shipworthy.orders.intake.pasted import read_pasted
from shipworthy.orders.intake.persons import personal
from shipworthy.orders.intake.quantities import with_count_of_text
from shipworthy.orders.intake.rawrow import RawRow, Taken, note, too_long, with_notes
from shipworthy.orders.intake.sources import MOST_OF_ROW
from shipworthy.orders.intake.surroundings import head, no_part
from shipworthy.orders.intake.totals import kind_of_total

_TOP = 60
"""Rows among which the headings are looked for."""
IGNORED = "ignored by the mapping"


@dataclass(frozen=True)
class Layout:
    """Where a sheet's headings stand (index of the row), and what each column holds; `""` for unknown."""

    at: int
    headings: tuple[str, ...]
    meanings: tuple[str, ...]
    fill_down: frozenset[int] = frozenset()


@dataclass(frozen=True)
class _Cell:
    """text: without what is private. shown: the same with the kinds' names in its place. kinds: of those."""

    meaning: str
    text: str
    shown: str
    kinds: tuple[str, ...] = ()


def layout_of(grid: Grid, mapping: Mapping | None, name: object) -> Layout | None:
    """Return the layout of a sheet; None if no row of its first 60 has headings.

    Raises Trouble if the mapping names a heading that no row has beside the others.
    """
    if mapping is not None and mapping.table is not None:
        return _mapped(grid, mapping.table, name)
    for index, row in enumerate(grid.rows[:_TOP]):
        meanings = columns.guess_columns(row.cells)
        if meanings is not None:
            return Layout(index, row.cells, tuple(meanings))
    return None


def mapping_of(layout: Layout, sheet: str = "") -> Mapping:
    """Return the mapping that a guessed layout is, for a person to keep."""
    pairs = list(zip(layout.headings, layout.meanings, strict=True))
    of = {meaning: heading for heading, meaning in pairs if meaning in columns.FIELDS}
    left_out = tuple(heading for heading, meaning in pairs if meaning in columns.LEFT_OUT and heading.strip())
    table = TableLayout(
        sheet=sheet,
        text=of.get(columns.TEXT) or of.get(columns.PART_NUMBER, ""),
        quantity=of.get(columns.QUANTITY, ""),
        category=of.get(columns.CATEGORY, ""),
        maker=of.get(columns.MAKER, ""),
        part_number=of.get(columns.PART_NUMBER, "") if columns.TEXT in of else "",
        gtin=of.get(columns.GTIN, ""),
        left_out=left_out,
    )
    return Mapping(table=table)


def read_grid(grid: Grid, layout: Layout | None, mapping: Mapping | None, prefix: str = "") -> Taken:
    """Return the rows of a sheet. prefix: stands before each row's number (`Sheet1 row `)."""
    if layout is None:
        return _as_pasted(grid.rows, prefix, (note("intake.no-headings", sheet=grid.name),))
    above = _as_pasted(grid.rows[: layout.at], prefix, ())
    rows = [_not_above(row) for row in above.rows]
    blank = above.blank
    rows.append(_heading(grid, layout, prefix))
    said_above: dict[int, str] = {}
    page = Page(head=dict(above.head))
    for row in grid.rows[layout.at + 1 :]:
        if not any(cell.strip() for cell in row.cells) and not row.no_value:
            blank += row.lines
            page.block = 0
            continue
        cells = list(row.cells) + [""] * (len(layout.headings) - len(row.cells))
        for column in layout.fill_down:
            cells[column] = cells[column] if cells[column].strip() else said_above.get(column, "")
            said_above[column] = cells[column]
        if max(map(len, cells)) > MOST_OF_ROW:
            rows.append(too_long(f"{prefix}{row.number}", sum(map(len, cells))))
            continue
        raw = _row(replace(row, cells=tuple(cells)), layout, mapping, prefix, page)
        rows.append(with_count_of_text(raw))
        page.private_above = rows[-1].became is Became.LEFT_OUT
    return Taken("table", tuple(rows), page.head, blank, grid.remarks)


def _mapped(grid: Grid, table: TableLayout, name: object) -> Layout | None:
    wanted = {columns.heading_key(h): columns.TEXT for h in names_of(table.text)}
    for meaning in (m for m in columns.FIELDS if m != columns.TEXT):
        if heading := getattr(table, meaning):
            wanted.setdefault(columns.heading_key(heading), meaning)
    wanted |= {columns.heading_key(h): columns.SHOPS_OWN for h in table.left_out}
    wanted |= {columns.heading_key(h): IGNORED for h in table.ignore}
    needed = {key for key, meaning in wanted.items() if meaning not in (columns.SHOPS_OWN, IGNORED)}
    best: set[str] = set()
    for index, row in enumerate(grid.rows[:_TOP]):
        keys = [columns.heading_key(cell) for cell in row.cells]
        if needed <= set(keys):
            meanings = [wanted.get(key, "") if keys.index(key) == i else "" for i, key in enumerate(keys)]
            down = {columns.heading_key(h) for h in table.fill_down}
            return Layout(
                index, row.cells, tuple(meanings), frozenset(i for i, key in enumerate(keys) if key in down)
            )
        best = max(best, needed & set(keys), key=len)
    missing = ", ".join(repr(key) for key in sorted(needed - best))
    raise Trouble(f"no row has the mapping's headings; {missing} is missing", name, "Correct the mapping.")


def _as_pasted(rows: Sequence[GridRow], prefix: str, remarks: tuple[Note, ...]) -> Taken:
    """Return rows without columns as those of a pasted text."""
    texts = ["   ".join(filled(row.cells)) for row in rows]
    taken = read_pasted("\n".join(texts)) if texts else Taken("table", (), {})
    named = [replace(raw, place=f"{prefix}{rows[int(raw.place) - 1].number}") for raw in taken.rows]
    head = {
        key: (value, f"row {rows[int(said.rpartition(' ')[2]) - 1].number}")
        for key, (value, said) in taken.head.items()
    }
    return Taken("table", tuple(named), head, taken.blank if texts else 0, remarks)


def _not_above(row: RawRow) -> RawRow:
    """A row above the headings is none of the table's; what is no value of the head is asked about."""
    if row.became in (None, Became.JOINED):
        return replace(row, became=Became.NOT_IMPORTED, notes=(note("intake.above-headings"),))
    return row


def _heading(grid: Grid, layout: Layout, prefix: str) -> RawRow:
    row = grid.rows[layout.at]
    notes = []
    for index, (heading, meaning) in enumerate(zip(layout.headings, layout.meanings, strict=True)):
        if meaning:
            continue
        below = [r.cells for r in grid.rows[layout.at + 1 :] if r.cells != layout.headings]
        full = [cells for cells in below if index < len(cells) and cells[index].strip()]
        if full and heading.strip():
            notes.append(note("intake.column-unused", heading=heading.strip()[:60], count=len(full)))
    words = "  ".join(filled(row.cells))
    became = Became.NOT_IMPORTED if notes else Became.NO_PART
    return RawRow(f"{prefix}{row.number}", words, became, notes=tuple(notes))


def _row(row: GridRow, layout: Layout, mapping: Mapping | None, prefix: str, page: Page) -> RawRow:
    place = f"{prefix}{row.number}"
    cells = list(_cells(row, layout))
    words = [cell.shown for cell in cells if cell.shown]
    kinds = tuple(dict.fromkeys(kind for cell in cells for kind in cell.kinds))
    raw = RawRow(place, "  ".join(words), left_out=kinds)
    if [c.strip() for c in row.cells] == [c.strip() for c in layout.headings]:
        return replace(raw, words="  ".join(filled(row.cells)), became=Became.NO_PART, left_out=())
    if not any(map(str.isalnum, "".join(row.cells))) and not row.no_value:
        return replace(raw, words="  ".join(filled(row.cells)), became=Became.NO_PART, left_out=())
    of: dict[str, str] = {}
    for cell in cells:
        of[cell.meaning] = ", ".join(filter(None, (of.get(cell.meaning), cell.text)))
    text, quantity = of.get(columns.TEXT, ""), of.get(columns.QUANTITY, "")
    said = [words for words in (of.get(m, "") for m in columns.FIELDS) if words]
    if not said and (stray := list(_stray(row, layout))):
        kinds = tuple(kind for kind in raw.left_out if kind != columns.SHOPS_OWN)
        said, raw = stray, replace(raw, words="  ".join((*stray, *(f"[{k}]" for k in kinds))), left_out=kinds)
    alone = said[0] if len(said) == 1 and not quantity else ""
    if not alone and quantity and not isinstance(count_in_cell(quantity), int):
        alone = "   ".join(said)
    if alone and (found := _around(alone, raw, mapping, page)) is not None:
        return found
    if not said and not row.no_value:
        became = Became.LEFT_OUT if kinds and not _words_beside(raw.words) else Became.NOT_IMPORTED
        reason = () if became is Became.LEFT_OUT else (note("intake.no-text"),)
        return replace(raw, became=became, notes=reason)
    raw = with_notes(raw, *_odd(row, layout))
    if lost := [n for n in raw.notes if n.code == "intake.formula-no-value"]:
        return replace(raw, became=Became.NOT_IMPORTED, notes=tuple(lost))
    among = categories_said(of.get(columns.CATEGORY, ""), mapping)
    if of.get(columns.CATEGORY) and not among and text:
        text_of_category = of[columns.CATEGORY]
        raw = with_notes(raw, note("intake.category-word-unknown", said=text_of_category[:60]))
    return replace(
        raw,
        text=text or (of.get(columns.CATEGORY, "") if not of.get(columns.PART_NUMBER) else ""),
        quantity=quantity,
        maker=of.get(columns.MAKER, ""),
        part_number=of.get(columns.PART_NUMBER, ""),
        gtin=of.get(columns.GTIN, ""),
        among=among or page.group,
        shaped=bool(quantity or kinds or len(said) > 1),
    )


def _around(alone: str, raw: RawRow, mapping: Mapping | None, page: Page) -> RawRow | None:
    """Return a row of one cell that stands around the parts: a group, a total, a person, a courtesy."""
    if kind := kind_of_total(raw.words):
        return left_out(raw, kind)
    if not raw.left_out and (named := categories_said(alone, mapping)):
        page.group = named
        return replace(raw, became=Became.NO_PART)
    readers = (personal, head, no_part)
    return next((found for reader in readers if (found := reader(raw, alone, page)) is not None), None)


def _words_beside(words: str) -> bool:
    """Whether anything but names of kinds (`[price]`) stands in the words of a report."""
    return any(not (word.startswith("[") and word.endswith("]")) for word in words.split("  ") if word)


def _cells(row: GridRow, layout: Layout) -> Iterator[_Cell]:
    """Yield each cell that holds something and is not ignored, nor the number of the row."""
    for index, cell in enumerate(row.cells):
        meaning = layout.meanings[index] if index < len(layout.meanings) else ""
        plain = " ".join(cell.split())
        if not plain or meaning in (IGNORED, columns.POSITION):
            continue
        if meaning in columns.LEFT_OUT:
            yield _Cell(meaning, "", f"[{meaning}]", (meaning,))
        elif meaning in (columns.TEXT, columns.CATEGORY, ""):
            bare, shown, kinds = private.without_private(plain)
            yield _Cell(meaning, " ".join(bare.split()), shown, kinds)
        else:
            yield _Cell(meaning, plain, plain)


def _stray(row: GridRow, layout: Layout) -> Iterator[str]:
    """Yield words that stand in a column of row numbers or of the shop's own numbers (`Total`, `Note: …`)."""
    for cell, meaning in zip(row.cells, layout.meanings, strict=False):
        words = private.without_private(" ".join(cell.split()))[1]
        if meaning in (columns.POSITION, columns.SHOPS_OWN) and re.search(r"[^\W\d_]{3,}", words):
            yield words


def _odd(row: GridRow, layout: Layout) -> Iterator[Note]:
    if row.hidden:
        yield note("intake.row-hidden")
    for column in sorted(row.no_value):
        meaning = layout.meanings[column] if column < len(layout.meanings) else ""
        if meaning in columns.FIELDS:
            yield note("intake.formula-no-value", heading=layout.headings[column].strip()[:60])
    for column in sorted(row.merged):
        meaning = layout.meanings[column] if column < len(layout.meanings) else ""
        if meaning == columns.QUANTITY and (said := row.cells[column].strip()):
            yield note("intake.quantity-merged", said=said[:60])
    beyond = [
        cell
        for index, cell in enumerate(row.cells)
        if cell.strip() and (index >= len(layout.headings) or not layout.headings[index].strip())
    ]
    if beyond:
        yield note("intake.cell-without-heading", count=len(beyond))
