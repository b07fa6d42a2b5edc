"""Rows that belong to a line above: its number, its count, words further in, and what a bundle holds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from shipworthy.model.intake import Became, Note
from shipworthy.model.words import Category
from shipworthy.orders.intake import columns, phrases, private
from shipworthy.orders.intake.categories import Guess, guess_category, named_categories
from shipworthy.orders.intake.counts import count_in_cell
from shipworthy.orders.intake.page import BULLET, CELLS, DEEPER, Above, Page, indent, left_out
from shipworthy.orders.intake.quantities import take_quantity
from shipworthy.orders.intake.rawrow import RawRow, note, with_notes

_COUNT = re.compile(
    r"(?P<word>(?:qty|quantity|menge|anzahl|stückzahl|qté|quantité)\.?\s*[:=]?\s*)?"
    r"(?P<sign>[x×]\s*)?(?P<n>\d{1,3})"
    r"(?P<piece>\s*(?:[x×]|pcs?|pieces?|stk|stück|st|ea|units?|pièces?)\.?)?\s*@?",
    re.IGNORECASE,
)
_OF_ALL = re.compile(r"notes?|hinweis|bemerkung|option", re.IGNORECASE)
"""Labels of what may be said of the whole order."""
_BUNDLE = re.compile(
    r"\b(?:\w*bundle|combo|\w*package|\w*paket|set|kit|pack|ensemble|lot)\b|"
    r"\b(?:pc|computer|rechner|workstation|ordinateur)\s*$",
    re.IGNORECASE,
)
_COMES_WITH = re.compile(
    r"\b(?:(?:pre-?|factory[- ])?(?:installed|fitted|mounted)|included|built[- ]in|bundled|supplied|"
    r"in the box|"
    r"(?:vor)?(?:montiert|installiert|verbaut)|enthalten|inklusive|inkl\.?|eingebaut|"
    r"préinstallée?s?|préinstallés?|inclus(?:es?)?|fournie?s?)(?!\w)",
    re.IGNORECASE,
)
_FRONT_NUMBER = re.compile(
    r"\s*(?:\d{1,3}(?:[.)]\s|\s{2,}|\t)|(?:pos(?:ition)?|item|line)\.?\s*\d)", re.IGNORECASE
)


_GOES_ON = re.compile(
    r"(?<![\w-])(?:with|and|an?|the|of|for|in|including|"
    r"mit|und|für|eine[mnrs]?|inklusive|"
    r"avec|et|de|du|des|pour|une?|ou|oder|or)\s*$",
    re.IGNORECASE,
)
"""Words with which no part's name ends."""
_BEFORE_WORDS = re.compile(
    r"(?:\s|[-*•·▪●‣–—+>]|\[[ xX]?\]|\d{1,3}\s?[x×]?(?=\s)|\d{1,3}[.)](?=\s)|[x×](?=\s))*"
)


def attribute(row: RawRow, raw: str, bare: str, page: Page) -> RawRow | None:
    """A row that names what it says of the line above (`EAN: …`, `Colour: black`), or is its count alone."""
    words = BULLET.sub("", bare).strip()
    if page.line is None:
        return None
    if (found := _count_alone(row, words, page.line)) is not None:
        return found
    words, *beside = (
        [cell for cell in CELLS.split(words) if cell] if private.PRICE in row.left_out else [words]
    )
    match = phrases.ATTRIBUTE.fullmatch(words)
    counts = [cell for cell in beside if isinstance(count_in_cell(cell), int)]
    if match is None or len(counts) != len(beside) or len(counts) > 1:
        return None
    further_in = indent(raw) >= page.line.indent + DEEPER
    if not further_in and named_categories(match["label"] or ""):
        return None
    row = replace(row, of=page.line.row.place)
    if not further_in and (page.line.row.among or _OF_ALL.fullmatch(match["label"] or "")):
        row = with_notes(row, note("intake.joined-maybe"))
    told = _attribute(row, match, words)
    if told is None or not counts:
        return told
    return replace(told, became=Became.JOINED, quantity=counts[0], words=row.words)


def _attribute(row: RawRow, match: re.Match[str], words: str) -> RawRow | None:
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
        return left_out(replace(row, notes=()), meaning)
    if meaning == private.PRICE:
        return left_out(replace(row, notes=()), private.PRICE)
    if not value:
        return replace(row, became=Became.NO_PART, notes=())
    return replace(row, became=Became.JOINED, text=" ".join(words.split()))


def _count_alone(row: RawRow, words: str, line: Above) -> RawRow | None:
    """A row of a count and perhaps a price, below a line that has none: cells that were pasted as rows."""
    match = _COUNT.fullmatch(words)
    if match is None or (line.row.count is not None or line.row.quantity):
        return None
    said = bool(match["word"] or match["sign"] or match["piece"]) or private.PRICE in row.left_out
    if not said and line.row.place != str(int(row.place) - 1):
        return None
    joined = replace(row, became=Became.JOINED, quantity=match["n"], of=line.row.place)
    if said or match["n"] == "1":
        return joined
    return with_notes(joined, note("intake.quantity-or-position", number=int(match["n"])))


def detail(row: RawRow, raw: str, bare: str, page: Page) -> RawRow | None:
    """A row further in than an order line: words of it, or a part of its own that is told to stand there.

    The latter is returned with no end yet, and `of` set: it is read on like any order line.
    """
    if not page.above or _FRONT_NUMBER.match(raw):
        return None
    parent = page.above[-1]
    words = " ".join(BULLET.sub("", bare).split())
    count = take_quantity(words, None).count
    guess = guess_category(words)
    above = guess_category(parent.row.text, parent.row.among)
    if count is not None and not BULLET.match(bare) and text_at(raw) <= parent.text_at:
        return None
    wraps = words[:1].islower() and not BULLET.match(bare)
    joined = replace(row, became=Became.JOINED, text=words, of=parent.row.place, wraps=wraps)
    alike = not (guess.sure and above.sure) or guess.category is above.category
    if private.PRICE in row.left_out:
        goes_on = private.PRICE not in parent.row.left_out and alike
        return joined if goes_on and not is_bundle(parent.row, above) else None
    if is_bundle(parent.row, above) and guess.sure:
        return replace(row, of=parent.row.place)
    if _is_told(guess, count, bulleted=BULLET.match(bare) is not None) and not comes_with(words):
        return _own_part(row, joined, guess, above, count)
    return joined


def wrapped(row: RawRow, raw: str, bare: str, page: Page) -> RawRow | None:
    """A row below a line that was broken within its words (`… with a`): it goes on there.

    What is surely a part is a line of its own, and asked about.
    """
    above, words = page.line, " ".join(bare.split())
    if above is None or above.row.place != str(int(row.place) - 1) or private.PRICE in above.row.left_out:
        return None
    begins = BULLET.match(bare) or _FRONT_NUMBER.match(raw) or take_quantity(words, None).count is not None
    if begins or not _GOES_ON.search(above.row.text):
        return None
    if guess_category(words).sure:
        return with_notes(replace(row, of=above.row.place), note("intake.part-or-content"))
    return replace(row, became=Became.JOINED, text=words, of=above.row.place, wraps=True)


def _is_told(guess: Guess, count: int | None, *, bulleted: bool) -> bool:
    """Whether a row further in is set out as a part: by a bullet or a count, and by surely being one."""
    return guess.sure and (bulleted or count is not None)


def _own_part(row: RawRow, joined: RawRow, guess: Guess, above: Guess, count: int | None) -> RawRow:
    """A part below a part: of the same kind it is that one's contents, of another kind it is asked about."""
    if not above.sure:
        return replace(row, of=joined.of)
    if guess.category is not above.category:
        return with_notes(replace(row, of=joined.of), note("intake.part-or-content"))
    if count is None or count == 1 or guess.category is Category.MEMORY:
        return joined
    return with_notes(joined, note("intake.quantity-maybe", number=count))


def comes_with(words: str) -> bool:
    """Whether words tell of something that comes with the part above them, and so not what that part is."""
    return _COMES_WITH.search(words) is not None


def is_bundle(row: RawRow, guess: Guess) -> bool:
    """Whether a line sells several parts under one name, and is not surely one itself (`fan kit`)."""
    return not guess.sure and _BUNDLE.search(row.text) is not None


def without_bundles(rows: Sequence[RawRow]) -> list[RawRow]:
    """Return the rows; a bundle whose parts stand below it, two at least, is a heading of theirs."""
    held: dict[str, int] = {}
    for row in rows:
        if row.became is None and row.of:
            held[row.of] = held.get(row.of, 0) + 1
    return [
        _heading(row)
        if row.became is None
        and held.get(row.place, 0) > 1
        and is_bundle(row, guess_category(row.text, row.among))
        else row
        for row in rows
    ]


def _heading(row: RawRow) -> RawRow:
    """A bundle as the heading of its parts; sold more than once, how many of each part there are is asked."""
    count = count_in_cell(row.quantity) if row.quantity else row.count
    if count in (None, 1):
        return replace(row, became=Became.NO_PART, notes=())
    notes = (count,) if isinstance(count, Note) else (note("intake.bundle-count", count=count or 0),)
    return replace(row, became=Became.NOT_IMPORTED, notes=notes)


def text_at(raw: str) -> int:
    """Return the column at which the words of a row begin, behind its bullet, number and count."""
    match = _BEFORE_WORDS.match(raw.expandtabs(4))
    return match.end() if match else 0
