"""What stands around the parts of a pasted confirmation: persons, the order's head, headings, details."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from shipworthy.model.intake import Became
from shipworthy.model.words import Category
from shipworthy.orders.intake import columns, phrases, private
from shipworthy.orders.intake.categories import guess_category, named_categories
from shipworthy.orders.intake.quantities import count_in_cell, take_quantity
from shipworthy.orders.intake.rawrow import RawRow

CELLS = re.compile(r"\t+|\s{2,}|\s*\|\s*")
BULLET = re.compile(r"^\s*(?:(?:[-*•·▪●‣–—+]|\[[ xX]?\])\s+|>+\s*)+")
_MOST_OF_BLOCK = 7
# Whose bare word sells nothing: `Memory` alone heads what follows, `Thermal paste` alone is goods.
_NO_GOODS = frozenset(Category) - {
    *(Category.CABLE, Category.ACCESSORY, Category.SERVICE, Category.CUSTOMISATION, Category.SYSTEM_SOFTWARE)
}


@dataclass
class Page:
    """What the rows above tell of a row.

    block, signature: rows left of an address, of a letter's end. headings: of a table's columns. group: what
    a heading says of the parts below it. persons: rows and values that were left out as a person's.
    """

    head: dict[str, tuple[str, str]] = field(default_factory=dict)
    block: int = 0
    signature: int = 0
    headings: list[str] = field(default_factory=list)
    group: frozenset[Category] = frozenset()
    line_indent: int | None = None
    private_above: bool = False
    persons: set[str] = field(default_factory=set)


def personal(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """Addresses and names: below their heading, beside a street, or below a letter's end."""
    words = bare.strip()
    if is_part(words) or private.PRICE in row.left_out or take_quantity(words, None).count is not None:
        page.block = page.signature = 0
        return None
    if private.BLOCK.fullmatch(words.rstrip(":")):
        page.block = _MOST_OF_BLOCK
        return left_out(row, private.ADDRESS)
    if page.block:
        page.block -= 1
        page.persons.add(words.casefold())
        return left_out(row, private.ADDRESS)
    if words.casefold() in page.persons:
        return left_out(row, private.NAME)
    if page.signature:
        page.signature -= 1
        if len(words.split()) <= 5 and not phrases.SENTENCE.search(words):
            return left_out(row, private.NAME)
    if private.is_street(words) or (page.private_above and private.is_town(words)):
        return left_out(row, private.ADDRESS)
    if private.GREETING.fullmatch(words) or private.QUOTED.match(words):
        return left_out(row, private.NAME)
    customer = phrases.CUSTOMER.fullmatch(words)
    if customer is not None:
        value = customer["value"] or customer["ref"]
        page.head.setdefault("customer_reference", (value, f"row {row.place}"))
        page.persons.add(value.casefold())
        return left_out(row, private.CUSTOMER)
    rest = re.sub(
        r"\b(?:e-?mail|tel\w*|phone|fax|web|www\S*|iban|bic|swift|konto|bank\w*|mobile?)\b",
        " ",
        words,
        flags=re.I,
    )
    if set(row.left_out) - {private.PRICE} and len(re.findall(r"\w", rest)) <= 12:
        return replace(row, became=Became.LEFT_OUT, words="")
    return None


def head(row: RawRow, bare: str, page: Page) -> RawRow | None:
    words = " ".join(bare.split())
    for name, pattern in phrases.HEAD:
        match = pattern.fullmatch(words.rstrip(" .,"))
        if match is None or is_part(words):
            continue
        if name == "units":
            earlier = page.head.get(name, ("", ""))[0]
            page.head[name] = (f"{earlier}\n{match['value']}".strip(), f"row {row.place}")
        elif name in page.head:
            continue
        else:
            page.head[name] = (match["value"], f"row {row.place}")
        return replace(row, became=Became.HEAD)
    if phrases.DATE.fullmatch(words.rstrip(" .,")) and not is_part(words):
        return replace(row, became=Became.HEAD)
    return None


def no_part(row: RawRow, bare: str, page: Page) -> RawRow | None:
    if phrases.is_total(row.words):
        return left_out(row, private.TOTAL)
    words = bare.strip()
    if private.PRICE in row.left_out and not any(map(str.isalnum, bare)):
        return replace(row, became=Became.LEFT_OUT)
    if phrases.is_talk(words):
        if phrases.CLOSING.match(words):
            page.signature = 3
        page.group = frozenset()
        return replace(row, became=Became.NO_PART)
    if phrases.NONE.fullmatch(words) and _is_none(words):
        return replace(row, became=Became.NO_PART)
    named = named_categories(words)
    if not row.left_out and named and (words.endswith(":") or named <= _NO_GOODS or _is_rule(words)):
        page.group = named
        return replace(row, became=Became.NO_PART)
    if words.endswith(":") and not row.left_out and guess_category(words).category is None:
        page.group = frozenset()
        return replace(row, became=Became.NO_PART)
    return None


def _is_none(words: str) -> bool:
    """Whether a row of none names, before its colon or behind its `no`, what an order could have."""
    label, colon, _ = words.partition(":")
    thing = words.split(maxsplit=1)[-1]
    return (
        bool(label and colon) or bool(named_categories(thing)) or guess_category(thing).category is not None
    )


def _is_rule(words: str) -> bool:
    return re.fullmatch(r"[-=*#_ ]{2,}.*[-=*#_ ]{2,}|\[.*\]|#+ .*", words) is not None


def headings(row: RawRow, bare: str, page: Page) -> RawRow | None:
    cells = [cell for cell in CELLS.split(bare.strip()) if cell]
    found = columns.guess_columns(cells)
    if len(cells) == 1 and all(map(columns.meaning_of, bare.split())):
        found = columns.guess_columns(bare.split())
    if found is None:
        return None
    page.headings = found
    return replace(row, became=Became.NO_PART)


def attribute(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """A row that belongs to the line above: `EAN: …`, `Colour: black`, or words further in than it."""
    words = BULLET.sub("", bare).strip()
    if page.line_indent is None:
        return None
    match = phrases.ATTRIBUTE.fullmatch(words)
    if match is None:
        deeper = indent(bare) >= page.line_indent + 2
        if not deeper or row.left_out or BULLET.match(bare) or take_quantity(words, None).count is not None:
            return None
        if guess_category(words).sure:
            return None
        return replace(row, became=Became.JOINED, text=" ".join(words.split()))
    label = columns.heading_key(match["label"] or match["number"])
    value = (match["value"] or match["code"] or "").strip()
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
    if meaning in (columns.SHOPS_OWN, columns.POSITION):
        return left_out(row, meaning)
    if meaning == private.PRICE or not value:
        return replace(row, became=Became.LEFT_OUT)
    return replace(row, became=Became.JOINED, text=" ".join(words.split()))


def left_out(row: RawRow, kind: str) -> RawRow:
    return replace(
        row, became=Became.LEFT_OUT, words="", left_out=tuple(dict.fromkeys((*row.left_out, kind)))
    )


def is_part(words: str) -> bool:
    return guess_category(words).sure


def indent(raw: str) -> int:
    return len(raw.expandtabs(4)) - len(raw.expandtabs(4).lstrip())
