"""Pasted text of an order confirmation: one part a row, and what stands around the parts."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.model.intake import Became
from shipworthy.model.words import Category
from shipworthy.orders.files import MOST_LINES
from shipworthy.orders.intake import columns, phrases, private
from shipworthy.orders.intake.categories import guess_category, named_categories
from shipworthy.orders.intake.positions import without_positions
from shipworthy.orders.intake.quantities import take_quantity
from shipworthy.orders.intake.rawrow import RawRow, Taken, note, too_long, too_many
from shipworthy.orders.intake.sources import MOST_OF_ROW
from shipworthy.orders.intake.surroundings import (
    BULLET,
    CELLS,
    Page,
    attribute,
    head,
    headings,
    indent,
    no_part,
    personal,
)

_NUMBERED = re.compile(
    r"^\s*(?:(?:pos(?:ition)?\.?|item|line|#)\s*)(?P<n>\d{1,3})[.:)]?\s+|^\s*\d{1,3}[.)]\s+", re.I
)
_LABEL = re.compile(r"^(?P<label>[^\W\d][\w ./&-]{1,30}?)\s*(?::|=|\s[-–—]\s|\t+|\s{2,})\s*(?P<rest>\S.*)$")
_LEADER = re.compile(r"\.{3}|…{2}|·{3}|_{3}")
"""Dots that lead from a part to its price."""
_CELLS_IN_A_ROW = re.compile(r"\S[;,]\d{1,4}[;,]\d+(?:[.,]\d+)?\s*$")
"""`Fan,2,12.90`: cells of a table whose headings are not there."""


def read_pasted(text: str, name: object = "the text") -> Taken:
    """Return the rows of a pasted text; rows are numbered from 1 as an editor numbers them.

    Raises Trouble as soon as more rows look like order lines than an order can have.
    """
    page = Page()
    rows: list[RawRow] = []
    blank = lines = 0
    for number, raw in enumerate(_rows(text), 1):
        if not raw.strip():
            blank += 1
            page.block = 0
            page.private_above = False
            continue
        row = too_long(str(number), len(raw)) if len(raw) > MOST_OF_ROW else _row(raw, str(number), page)
        page.private_above = row.became is Became.LEFT_OUT
        if row.became is None:
            page.line_indent = indent(raw)
        rows.append(row)
        lines += row.became is None and row.shaped
        if lines > MOST_LINES:
            raise too_many(lines, name)
    return Taken("pasted text", tuple(without_positions(rows)), page.head, blank)


def _rows(text: str) -> list[str]:
    """Return the rows as an editor shows them: ended by LF, CR LF or CR, and by nothing else."""
    return re.split(r"\r\n|\n|\r", text)


def _row(raw: str, place: str, page: Page) -> RawRow:
    if not any(map(str.isalnum, raw)):
        return RawRow(place, raw.strip(), Became.NO_PART)
    bare, named, kinds = private.without_private(raw)
    bare = _without_leader(bare)
    row = RawRow(place, " ".join(named.split()), left_out=kinds)
    for reader in (personal, head, no_part, headings, attribute):
        if (found := reader(row, bare, page)) is not None:
            return found
    return _position(row, bare, page)


def _without_leader(text: str) -> str:
    kept = text.rstrip(" \t.·…_")
    return kept if _LEADER.search(text, len(kept)) else text


def _position(row: RawRow, bare: str, page: Page) -> RawRow:
    """A row of the order itself: a label or a group above it, a quantity, a text."""
    numbered = _NUMBERED.match(bare)
    body = BULLET.sub("", bare[numbered.end() :] if numbered else bare).strip()
    if row.left_out and not any(map(str.isalnum, body)):
        return replace(row, became=Became.LEFT_OUT)
    if page.headings and (found := _by_columns(row, bare, page)) is not None:
        return found
    body = _without_price_words(body) if private.PRICE in row.left_out else body
    if _CELLS_IN_A_ROW.search(body):
        return replace(row, became=Became.NOT_IMPORTED, notes=(note("intake.reads-like-cells"),))
    label = _LABEL.match(body)
    if label and columns.meaning_of(label["label"]) == columns.TEXT:
        body = label["rest"]
        label = _LABEL.match(body)
    named = categories_of_label(label["label"]) if label else frozenset()
    if label and named:
        body, row = label["rest"], replace(row, among=named)
    elif page.group and not guess_category(body).sure:
        row = replace(row, among=page.group)
    priced = private.PRICE in row.left_out
    if (found := _by_number_column(row, body)) is not None:
        return found
    taken = take_quantity(" ".join(body.split()), guess_category(body, row.among).category)
    if taken.refused:
        return replace(row, became=Became.NOT_IMPORTED, notes=taken.notes)
    shaped = priced or taken.count is not None or numbered is not None or bool(row.among)
    if not shaped and phrases.SENTENCE.search(body):
        return replace(row, became=Became.NOT_IMPORTED, notes=(note("intake.reads-like-talk"),))
    return replace(
        row,
        text=taken.rest.strip(" ,;|/=") or taken.rest,
        count=taken.count,
        shaped=shaped or taken.position is not None,
        notes=taken.notes,
        position=None if numbered else taken.position,
    )


def _without_price_words(body: str) -> str:
    """Return a text without what stood around a price that was cut: `je`, `@`, `Price:`, empty brackets."""
    body = re.sub(r"[(\[]\s*[+-]?\s*[)\]]", " ", body)
    body = re.sub(r"^\s*(?:je|à|@|each|per|=)\s+", "", body, flags=re.I)
    body = re.sub(r"[\s,;]+(?:unit |einzel)?(?:price|preis)\s*:?\s*$", "", body, flags=re.I)
    return re.sub(r"\s+(?:je|à|@|each|per|=|[-–—])\s*$", "", body, flags=re.I).strip()


def categories_of_label(label: str) -> frozenset[Category]:
    """Return the categories that the label before a part names (`CPU: …`, `Fan 2: …`)."""
    return named_categories(re.sub(r"[\s#]*\d{1,2}$", "", label))


def _by_number_column(row: RawRow, body: str) -> RawRow | None:
    """Return the row whose quantity is the one number that has a cell of its own."""
    cells = [cell for cell in CELLS.split(body) if cell]
    numbers = [cell for cell in cells if re.fullmatch(r"\d{1,4}", cell)]
    counts = numbers[1:] if len(numbers) > 1 and cells[0] == numbers[0] else numbers
    if len(counts) != 1 or len(cells) == len(numbers):
        return None
    text = " ".join(cell for cell in cells if cell not in numbers)
    return replace(row, text=text, quantity=counts[0], shaped=True)


def _by_columns(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """Return the row by the headings above it, where it has a cell for each column that is not money."""
    kept = [meaning for meaning in page.headings if meaning != private.PRICE]
    cells = [cell for cell in CELLS.split(bare.strip()) if cell]
    if len(cells) != len(kept) or columns.TEXT not in kept:
        return None
    by_meaning = dict(zip(kept, cells, strict=True))
    category = by_meaning.get(columns.CATEGORY, "")
    return replace(
        row,
        text=" ".join(by_meaning[columns.TEXT].split()),
        quantity=by_meaning.get(columns.QUANTITY, ""),
        maker=by_meaning.get(columns.MAKER, ""),
        part_number=by_meaning.get(columns.PART_NUMBER, ""),
        gtin=by_meaning.get(columns.GTIN, ""),
        among=named_categories(category),
        shaped=True,
    )
