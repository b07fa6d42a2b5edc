"""Pasted text of an order confirmation: one part a row, and what stands around the parts."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

from shipworthy.model.intake import Became
from shipworthy.orders.files import MOST_LINES
from shipworthy.orders.intake import columns, private, talk
from shipworthy.orders.intake.categories import guess_category, named_categories
from shipworthy.orders.intake.counts import count_in_cell
from shipworthy.orders.intake.dates import A_DATE
from shipworthy.orders.intake.details import attribute, detail, text_at, without_bundles, wrapped
from shipworthy.orders.intake.head_cells import several
from shipworthy.orders.intake.inline_numbers import without_inline_numbers
from shipworthy.orders.intake.labels import WITHOUT, label_behind_count, without_label, without_price_words
from shipworthy.orders.intake.order_numbers import order_number
from shipworthy.orders.intake.page import BULLET, CELLS, DEEPER, Above, Page, indent
from shipworthy.orders.intake.persons import personal
from shipworthy.orders.intake.phrases import SHOP_BEFORE_TITLE
from shipworthy.orders.intake.positions import without_positions
from shipworthy.orders.intake.quantities import take_quantity, with_count_of_text
from shipworthy.orders.intake.rawrow import RawRow, Taken, note, too_long, too_many, with_kind, with_notes
from shipworthy.orders.intake.signs import readable
from shipworthy.orders.intake.sources import MOST_OF_ROW
from shipworthy.orders.intake.surroundings import courtesy, head, headings, no_part, told_within

_NUMBERED = re.compile(
    r"^\s*(?:(?:pos(?:ition)?\.?|item|line|#)\s*)(?P<n>\d{1,3})[.:)]?\s+|^\s*\d{1,3}[.)]\s+", re.I
)
_LEADER = re.compile(r"\.{3}|…{2}|·{3}|_{3}")
"""Dots that lead from a part to its price."""
_DATED = re.compile(rf"^\s*{A_DATE}\s+(?=\S)", re.IGNORECASE)
_NO_WORDS_AT_END = re.compile(r"\s[-–—]\s*$")
_CELLS_IN_A_ROW = re.compile(r"\S[;,]\d{1,4}[;,]\d+(?:[.,]\d+)?\s*$|\S;\s?\d{1,4}(?:;\s?\d[\d.,]*)+;?\s*$")
"""`Fan,2,12.90`: cells of a table whose headings are not there."""
_TITLE_BELOW = 4
"""Rows that are not empty, the first one's too, among which a letter has its title or the order's number."""
_QUOTED = re.compile(r"^(?:[ \t]*>)+[ \t]?")
_SPACED_AMOUNT = re.compile(r"(?<![\d.,])(?P<n>\d{1,2}) \d{3}[.,]\d{2}(?!\d)")
"""`1 299,00`: the thousands of an amount, set apart by a space, may be a quantity before it."""


def read_pasted(text: str, name: object = "the text") -> Taken:
    """Return the rows of a pasted text; rows are numbered from 1 as an editor numbers them.

    Raises Trouble as soon as more rows look like order lines than an order can have.
    """
    raws = _rows(text)
    filled = [n for n, raw in enumerate(raws) if raw.strip()]
    page = Page(title_below=any(_is_title(raws[n]) for n in filled[1:_TITLE_BELOW]))
    below = dict(pairwise(filled))
    rows: list[RawRow] = []
    blank = lines = 0
    for number, raw in enumerate(raws):
        if not raw.strip():
            blank += 1
            page.block = 0
            page.private_above = page.mail_head = False
            page.group_gap = page.group_used
            continue
        page.deeper_below = number in below and indent(raws[below[number]]) > indent(raw)
        place = str(number + 1)
        row = too_long(place, len(raw)) if len(raw) > MOST_OF_ROW else _row(raw, place, page)
        page.private_above = row.became is Became.LEFT_OUT or private.ADDRESS in row.left_out
        if row.became is None:
            _keep_above(row, raw, page)
        rows.append(row)
        lines += row.became is None and row.shaped
        if lines > MOST_LINES:
            raise too_many(lines, name)
    return Taken("pasted text", tuple(without_bundles(without_positions(rows))), page.head, blank)


def _rows(text: str) -> list[str]:
    """Return the rows as an editor shows them: ended by LF, CR LF or CR, and by nothing else."""
    return re.split(r"\r\n|\n|\r", text)


def _is_title(raw: str) -> bool:
    words = talk.bare_of_marks(raw)[:MOST_OF_ROW]
    first = CELLS.split(words)[0]
    return talk.is_title(first) or bool(order_number(first)) or SHOP_BEFORE_TITLE.fullmatch(words) is not None


def _keep_above(row: RawRow, raw: str, page: Page) -> None:
    page.line = Above(row, indent(raw), text_at(raw))
    page.above.append(page.line)
    page.group_used = bool(page.group)


def _row(raw: str, place: str, page: Page) -> RawRow:
    raw = _QUOTED.sub("", readable(raw))
    while page.above and indent(raw) < page.above[-1].indent + DEEPER:
        page.above.pop()
    if not any(map(str.isalnum, raw)):
        return RawRow(place, raw.strip(), Became.NO_PART)
    bare, named, kinds = private.without_private(raw)
    bare = _without_leader(bare)
    row = RawRow(place, " ".join(named.split()), left_out=kinds)
    if (found := several(row, named, page)) is not None:
        return found
    for reader in (personal, head, courtesy):
        if (found := reader(row, bare, page)) is not None:
            return found
    if (found := attribute(row, raw, bare, page)) is not None:
        return found
    inner = detail(row, raw, bare, page) or wrapped(row, raw, bare, page)
    if inner is not None and inner.became is not None:
        return inner
    for reader in (no_part, headings):
        if (found := reader(row, bare, page)) is not None:
            return found
    return _position(inner or row, raw, bare, page)


def _without_leader(text: str) -> str:
    kept = text.rstrip(" \t.·…_/")
    return kept if _LEADER.search(text, len(kept)) else text


def _position(row: RawRow, raw: str, bare: str, page: Page) -> RawRow:
    """A row of the order itself: a label or a group above it, a quantity, a text."""
    bare = _DATED.sub("", bare)
    numbered = _NUMBERED.match(bare)
    body = BULLET.sub("", bare[numbered.end() :] if numbered else bare).strip()
    if row.left_out and not any(map(str.isalnum, body)):
        return replace(row, became=Became.LEFT_OUT)
    if page.headings and (found := _by_columns(row, bare, page)) is not None:
        return found
    body = without_price_words(body) if private.PRICE in row.left_out else body
    if _CELLS_IN_A_ROW.search(body) or _CELLS_IN_A_ROW.search(raw.replace("€", "")):
        return _not_imported(row, "intake.reads-like-cells")
    own = numbered is not None or private.PRICE in row.left_out
    row, body = without_inline_numbers(row, body)
    if body.endswith(":") and private.PRICE not in row.left_out and guess_category(body).category is None:
        return _not_imported(row, "intake.reads-like-talk")
    body, among = without_label(body)
    if among and WITHOUT.match(body):
        return _not_imported(row, "intake.reads-like-talk")
    if among:
        row = replace(row, among=among)
    elif page.group and not guess_category(body).sure and not (page.group_gap and not own):
        row = replace(row, among=page.group)
    if (found := _by_number_column(row, body)) is not None:
        return _once_counted(found, raw)
    taken = take_quantity(" ".join(body.split()), guess_category(body, row.among).category)
    if taken.refused:
        return replace(row, became=Became.NOT_IMPORTED, notes=taken.notes)
    if not among and (taken.count is not None or taken.position is not None):
        row, taken = label_behind_count(row, taken)
    own = own or taken.count is not None or bool(among)
    if talk.SENTENCE.search(body) and not own:
        told_within(row, body, page)
        return _not_imported(row, "intake.reads-like-talk")
    if taken.count is None and (spaced := _SPACED_AMOUNT.search(raw)):
        row = with_notes(row, note("intake.quantity-maybe", number=int(spaced["n"])))
    return replace(
        row,
        text=_NO_WORDS_AT_END.sub("", taken.rest).strip(" ,;|/=") or taken.rest,
        count=taken.count,
        shaped=own or bool(row.among) or taken.position is not None,
        notes=(*row.notes, *taken.notes),
        position=None if numbered else taken.position,
    )


def _not_imported(row: RawRow, code: str) -> RawRow:
    return replace(row, became=Became.NOT_IMPORTED, notes=(note(code),))


def _by_number_column(row: RawRow, body: str) -> RawRow | None:
    """Return the row whose quantity is the one number that has a cell of its own.

    A number in the first cell alone may count the rows: it is kept as the row's position.
    """
    cells = [cell for cell in CELLS.split(body) if cell]
    numbers = [cell for cell in cells if re.fullmatch(r"\d{1,4}", cell)]
    if not numbers or len(cells) == len(numbers):
        return None
    text = " ".join(cell for cell in cells if cell not in numbers)
    counts = numbers[1:] if cells[0] == numbers[0] else numbers
    if not counts and len(numbers[0]) < 4:
        taken = take_quantity(text, guess_category(text, row.among).category)
        if taken.refused:
            return replace(row, became=Became.NOT_IMPORTED, notes=taken.notes)
        notes = (*row.notes, *taken.notes)
        return replace(
            row, text=taken.rest, count=taken.count, position=int(numbers[0]), shaped=True, notes=notes
        )
    if len(counts) > 1:
        return _not_imported(row, "intake.reads-like-cells")
    if not counts:
        return None
    return replace(row, text=text, quantity=counts[0], shaped=True)


def _once_counted(row: RawRow, raw: str) -> RawRow:
    """Return a row with a number in a cell of its own, whose text may say a quantity too (`2 x Fan   1`).

    Where the number is the thousands of an amount (`1 299,00`), the text's quantity is the only one.
    """
    if not row.quantity or row.became is not None:
        return row
    spaced = _SPACED_AMOUNT.search(raw)
    taken = take_quantity(row.text, guess_category(row.text, row.among).category)
    if spaced is not None and spaced["n"] == row.quantity and (taken.count is not None or taken.notes):
        row = replace(row, quantity="")
    return with_count_of_text(row)


def _by_columns(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """Return the row by the headings above it, where it has a cell for each column that is not money."""
    kept = [meaning for meaning in page.headings if meaning != private.PRICE]
    cells = [cell for cell in CELLS.split(bare.strip()) if cell]
    beyond = 0
    if "\t" in bare and len(apart := bare.rstrip().split("\t")) >= len(page.headings):
        kept, cells = page.headings, [cell.strip() for cell in apart[: len(page.headings)]]
        beyond = sum(any(map(str.isalnum, cell)) for cell in apart[len(page.headings) :])
    if len(cells) != len(kept) or columns.TEXT not in kept:
        return None
    told = list(zip(kept, cells, strict=True))
    of = dict(told)
    if any(map(str.isdigit, of.get(private.PRICE, ""))):
        shown = (f"[{meaning}]" if meaning == private.PRICE and cell else cell for meaning, cell in told)
        row = with_kind(replace(row, words=" ".join(filter(None, shown))), private.PRICE)
    quantity = of.get(columns.QUANTITY, "")
    if quantity and private.PRICE not in row.left_out and not isinstance(count_in_cell(quantity), int):
        return None
    if of.get(columns.SHOPS_OWN):
        row = with_kind(row, columns.SHOPS_OWN)
    words = [of[columns.TEXT], *(cell for meaning, cell in told if not meaning)]
    plain = [" ".join(BULLET.sub("", cell).split()) for cell in words if cell]
    row, text = without_inline_numbers(row, ", ".join(plain))
    if beyond:
        row = with_notes(row, note("intake.cell-without-heading", count=beyond))
    return replace(
        row,
        text=text,
        quantity=quantity,
        maker=of.get(columns.MAKER, ""),
        part_number=of.get(columns.PART_NUMBER, "") or row.part_number,
        gtin=of.get(columns.GTIN, "") or row.gtin,
        among=named_categories(of.get(columns.CATEGORY, "")),
        shaped=True,
    )
