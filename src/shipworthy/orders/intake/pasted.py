"""Pasted text of an order confirmation: one part a row, and what stands around the parts."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from shipworthy.model.intake import Became
from shipworthy.model.words import Category
from shipworthy.orders.intake import columns, phrases, private
from shipworthy.orders.intake.categories import guess_category, named_categories
from shipworthy.orders.intake.positions import without_positions
from shipworthy.orders.intake.quantities import count_in_cell, take_quantity
from shipworthy.orders.intake.rawrow import RawRow, Taken, note

_CELLS = re.compile(r"\t+|\s{2,}|\s*\|\s*")
_BULLET = re.compile(r"^\s*(?:[-*•·▪●‣–—>+]|\[[ xX]?\])\s+")
_NUMBERED = re.compile(
    r"^\s*(?:(?:pos(?:ition)?\.?|item|line|#)\s*)(?P<n>\d{1,3})[.:)]?\s+|^\s*\d{1,3}[.)]\s+", re.I
)
_LABEL = re.compile(r"^(?P<label>[^\W\d][\w ./&-]{1,30}?)\s*(?::|=|\s[-–—]\s|\t+|\s{2,})\s*(?P<rest>\S.*)$")
_LEADER = re.compile(r"[\s.·…_]*(?:\.{3,}|…{2,}|·{3,}|_{3,})[\s.·…_]*$")
_MOST_OF_BLOCK = 7
# Whose bare word sells nothing: `Memory` alone heads what follows, `Thermal paste` alone is goods.
_NO_GOODS = frozenset(Category) - {
    *(Category.CABLE, Category.ACCESSORY, Category.SERVICE, Category.CUSTOMISATION, Category.SYSTEM_SOFTWARE)
}


@dataclass
class _Page:
    """What the rows above tell of a row. block: rows left of an address; headings: a table's columns."""

    head: dict[str, tuple[str, str]] = field(default_factory=dict)
    block: int = 0
    signature: int = 0
    headings: list[str] = field(default_factory=list)
    group: frozenset[Category] = frozenset()
    line_indent: int | None = None
    private_above: bool = False


def read_pasted(text: str) -> Taken:
    """Return the rows of a pasted text; rows are numbered from 1 as an editor numbers them."""
    page = _Page()
    rows: list[RawRow] = []
    blank = 0
    for number, raw in enumerate(_rows(text), 1):
        if not raw.strip():
            blank += 1
            page.block = 0
            page.private_above = False
            continue
        row = _row(raw, str(number), page)
        page.private_above = row.became is Became.LEFT_OUT
        if row.became is None:
            page.line_indent = _indent(raw)
        rows.append(row)
    return Taken("pasted text", tuple(without_positions(rows)), page.head, blank)


def _rows(text: str) -> list[str]:
    """Return the rows as an editor shows them: ended by LF, CR LF or CR, and by nothing else."""
    return re.split(r"\r\n|\n|\r", text)


def _row(raw: str, place: str, page: _Page) -> RawRow:
    if not any(map(str.isalnum, raw)):
        return RawRow(place, raw.strip(), Became.NO_PART)
    bare, named, kinds = private.without_private(raw)
    bare = _LEADER.sub("", bare)
    row = RawRow(place, " ".join(named.split()), left_out=kinds)
    for reader in (_personal, _head, _no_part, _headings, _attribute):
        if (found := reader(row, bare, page)) is not None:
            return found
    return _position(row, bare, page)


def _personal(row: RawRow, bare: str, page: _Page) -> RawRow | None:
    """Addresses and names: below their heading, beside a street, or below a letter's end."""
    words = bare.strip()
    if _is_part(words) or private.PRICE in row.left_out or take_quantity(words, None).count is not None:
        page.block = page.signature = 0
        return None
    if private.BLOCK.fullmatch(words.rstrip(":")):
        page.block = _MOST_OF_BLOCK
        return _left_out(row, private.ADDRESS)
    if page.block:
        page.block -= 1
        return _left_out(row, private.ADDRESS)
    if page.signature:
        page.signature -= 1
        if len(words.split()) <= 5 and not phrases.SENTENCE.search(words):
            return _left_out(row, private.NAME)
    if private.is_street(words) or (page.private_above and private.is_town(words)):
        return _left_out(row, private.ADDRESS)
    if private.GREETING.fullmatch(words):
        return _left_out(row, private.NAME)
    customer = phrases.CUSTOMER.fullmatch(words)
    if customer is not None:
        page.head.setdefault("customer_reference", (customer["value"] or customer["ref"], f"row {row.place}"))
        return _left_out(row, private.CUSTOMER)
    rest = re.sub(
        r"\b(?:e-?mail|tel\w*|phone|fax|web|www\S*|iban|bic|swift|konto|bank\w*|mobile?)\b",
        " ",
        words,
        flags=re.I,
    )
    if set(row.left_out) - {private.PRICE} and len(re.findall(r"\w", rest)) <= 12:
        return replace(row, became=Became.LEFT_OUT, words="")
    return None


def _head(row: RawRow, bare: str, page: _Page) -> RawRow | None:
    words = " ".join(bare.split())
    for name, pattern in phrases.HEAD:
        match = pattern.fullmatch(words.rstrip(" .,"))
        if match is None or _is_part(words):
            continue
        if name == "units":
            earlier = page.head.get(name, ("", ""))[0]
            page.head[name] = (f"{earlier}\n{match['value']}".strip(), f"row {row.place}")
        elif name in page.head:
            continue
        else:
            page.head[name] = (match["value"], f"row {row.place}")
        return replace(row, became=Became.HEAD)
    if phrases.DATE.fullmatch(words.rstrip(" .,")) and not _is_part(words):
        return replace(row, became=Became.HEAD)
    return None


def _no_part(row: RawRow, bare: str, page: _Page) -> RawRow | None:
    if phrases.is_total(row.words):
        return _left_out(row, private.TOTAL)
    words = bare.strip()
    if private.PRICE in row.left_out and not any(map(str.isalnum, bare)):
        return replace(row, became=Became.LEFT_OUT)
    if phrases.is_talk(words):
        if phrases.CLOSING.match(words):
            page.signature = 3
        page.group = frozenset()
        return replace(row, became=Became.NO_PART)
    named = named_categories(words)
    if not row.left_out and named and (words.endswith(":") or named <= _NO_GOODS or _is_rule(words)):
        page.group = named
        return replace(row, became=Became.NO_PART)
    if words.endswith(":") and not row.left_out and guess_category(words).category is None:
        page.group = frozenset()
        return replace(row, became=Became.NO_PART)
    return None


def _is_rule(words: str) -> bool:
    return re.fullmatch(r"[-=*#_ ]{2,}.*[-=*#_ ]{2,}|\[.*\]|#+ .*", words) is not None


def _headings(row: RawRow, bare: str, page: _Page) -> RawRow | None:
    cells = [cell for cell in _CELLS.split(bare.strip()) if cell]
    if len(cells) == 1 and len(bare.split()) <= 8:
        cells = bare.split()
    found = columns.guess_columns(cells)
    if found is None:
        return None
    page.headings = found
    return replace(row, became=Became.NO_PART)


def _attribute(row: RawRow, bare: str, page: _Page) -> RawRow | None:
    """A row that belongs to the line above: `EAN: …`, `Colour: black`, or words further in than it."""
    words = _BULLET.sub("", bare).strip()
    if page.line_indent is None:
        return None
    match = phrases.ATTRIBUTE.fullmatch(words)
    if match is None:
        deeper = _indent(bare) >= page.line_indent + 2
        if not deeper or row.left_out or _BULLET.match(bare) or take_quantity(words, None).count is not None:
            return None
        if guess_category(words).sure:
            return None
        return replace(row, became=Became.JOINED, text=" ".join(words.split()))
    label, value = columns.heading_key(match["label"]), match["value"].strip()
    meaning = columns.meaning_of(label)
    if label in ("ean", "gtin", "upc"):
        return replace(row, became=Became.JOINED, gtin=value)
    if meaning == columns.QUANTITY:
        if not isinstance(count_in_cell(value), int):
            return None
        return replace(row, became=Became.JOINED, quantity=value)
    if meaning == columns.MAKER:
        return replace(row, became=Became.JOINED, maker=value)
    if meaning == columns.PART_NUMBER:
        return replace(row, became=Became.JOINED, part_number=value)
    if meaning == private.PRICE or not value:
        return replace(row, became=Became.LEFT_OUT)
    return replace(row, became=Became.JOINED, text=" ".join(words.split()))


def _position(row: RawRow, bare: str, page: _Page) -> RawRow:
    """A row of the order itself: a label or a group above it, a quantity, a text."""
    numbered = _NUMBERED.match(bare)
    body = _BULLET.sub("", bare[numbered.end() :] if numbered else bare).strip()
    if row.left_out and not any(map(str.isalnum, body)):
        return replace(row, became=Became.LEFT_OUT)
    if page.headings and (found := _by_columns(row, bare, page)) is not None:
        return found
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
    if taken.notes and taken.count is None:
        return replace(row, became=Became.NOT_IMPORTED, notes=taken.notes)
    shaped = priced or taken.count is not None or numbered is not None or bool(row.among)
    if not shaped and phrases.SENTENCE.search(body):
        return replace(row, became=Became.NOT_IMPORTED, notes=(note("intake.reads-like-talk"),))
    return replace(
        row,
        text=taken.rest.strip(" ,;|") or taken.rest,
        count=taken.count,
        shaped=shaped or taken.position is not None,
        notes=taken.notes,
        quantity="" if taken.position is None or numbered else f"?{taken.position}",
    )


def categories_of_label(label: str) -> frozenset[Category]:
    """Return the categories that the label before a part names (`CPU: …`, `Fan 2: …`)."""
    return named_categories(re.sub(r"[\s#]*\d{1,2}$", "", label))


def _by_number_column(row: RawRow, body: str) -> RawRow | None:
    """Return the row whose quantity is the one number that has a cell of its own."""
    cells = [cell for cell in _CELLS.split(body) if cell]
    numbers = [cell for cell in cells if re.fullmatch(r"\d{1,4}", cell)]
    counts = numbers[1:] if len(numbers) > 1 and cells[0] == numbers[0] else numbers
    if len(counts) != 1 or len(cells) == len(numbers):
        return None
    text = " ".join(cell for cell in cells if cell not in numbers)
    return replace(row, text=text, quantity=counts[0], shaped=True)


def _by_columns(row: RawRow, bare: str, page: _Page) -> RawRow | None:
    """Return the row by the headings above it, where it has a cell for each column that is not money."""
    kept = [meaning for meaning in page.headings if meaning != private.PRICE]
    cells = [cell for cell in _CELLS.split(bare.strip()) if cell]
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


def _left_out(row: RawRow, kind: str) -> RawRow:
    return replace(
        row, became=Became.LEFT_OUT, words="", left_out=tuple(dict.fromkeys((*row.left_out, kind)))
    )


def _is_part(words: str) -> bool:
    return guess_category(words).sure


def _indent(raw: str) -> int:
    return len(raw.expandtabs(4)) - len(raw.expandtabs(4).lstrip())
