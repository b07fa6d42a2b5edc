"""Quantities as shops write them: `2x`, `x2`, `Qty: 2`, `(2)`, `2 pcs`, `two`; never a kit's `2x16GB`."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from shipworthy.model.intake import Note
from shipworthy.model.words import Category
from shipworthy.orders.intake.categories import guess_category
from shipworthy.orders.intake.category_words import ASIDE
from shipworthy.orders.intake.counts import NOT_SOLD, NUMERALS, UNITS, count_in_cell, count_of
from shipworthy.orders.intake.maybe_counts import NOT_LINK, maybe_count, names_two_kits
from shipworthy.orders.intake.rawrow import RawRow, note, with_notes
from shipworthy.words.sizes import find_kits


@dataclass(frozen=True)
class Quantity:
    """A quantity taken out of a text. count: None where it says none. rest: the text without it.

    position: a bare number at the start, which may count the rows instead of the parts.
    """

    count: int | None
    rest: str
    notes: tuple[Note, ...] = ()
    position: int | None = None

    @property
    def refused(self) -> bool:
        """Whether it says one by which nothing is sold."""
        return self.count is None and any(found.code in NOT_SOLD for found in self.notes)


_NUMBER = r"(?P<n>[-+−]?\d[\d.,']*(?:e\+?\d+)?)"
_COUNTED = r"(?:psch|pcs?|pieces?|pce|stk|stück|stueck|pièces?|ea|units?)"
_FRONT = (
    re.compile(rf"^\s*{_NUMBER}\s?[x×*]\s*(?=[^\W\d]|[\"'(]|\s)", re.IGNORECASE),
    re.compile(rf"^\s*{_NUMBER}\s?(?:{_COUNTED}|off|nos?|times|mal|fois)\b\.?(?:\s+of\b)?\s*", re.IGNORECASE),
    re.compile(r"^\s*[x×]\s?(?P<n>\d{1,2})\s+(?=\S)"),
)
_ANYWHERE = (
    re.compile(
        rf"[\s,;|(\[]*\b(?:qty|quantity|menge|anzahl|stückzahl|amount ordered)\b\.?\s*[:=]?\s*{_NUMBER}"
        rf"(?:\s?(?:{_COUNTED}|x)\b\.?)?[)\]]?",
        re.IGNORECASE,
    ),
)
# Names end in `7700X`, `X36` and `(2025)`, and dimensions in `x 497`: a count is small, its x a small letter.
_END = (
    re.compile(r"[\s,;|]*[(\[]\s*(?:[x×]\s?)?(?P<n>\d{1,3})(?:\s?[x×])?\s*[)\]]\s*$", re.IGNORECASE),
    re.compile(rf"(?i:{NOT_LINK})(?:[\s,;|]+|(?<=\)))[x×]\s?(?P<n>\d{{1,3}})\s*$"),
    re.compile(r"(?<=[gGtT][bB])\s?[x×]\s?(?P<n>\d{1,2})\s*$"),
    re.compile(rf"[\s,;|]+{_NUMBER}\s?(?:{_COUNTED}|off|nos)\.?\s*$", re.IGNORECASE),
    re.compile(rf"(?i:{NOT_LINK})[\s,;|]+(?P<n>\d{{1,3}})(?:\s[x×]|×)\s*$"),
    re.compile(r"[\s,;|]+\*\s(?P<n>\d{1,3})\s*$"),
    re.compile(r"\s*[,;|]\s*(?P<n>\d{1,3})\s?[x×]\s*$", re.IGNORECASE),
)
# `1x SSD 1TB, 1x SSD 2TB`: a second count behind a comma or a plus is a second part.
_SECOND = re.compile(r"\S\s*(?:[,;+&]|\b(?:and|und|et)\b)\s*\d{1,2}\s?[x×]\s+(?=[^\W\d])", re.IGNORECASE)
# `SSD 1TB + 1x 4TB WD Red`: so is one behind a plus, whatever follows but a connector or a length.
_PLUS = re.compile(
    r"\S\s\+\s?\d{1,2}\s?[x×](?:\s+|(?=\d+(?:[.,]\d)?\s?TB\b))"
    r"(?!\d+(?:\+\d+)?[- ]?(?:pin|pol)|\d+(?:[.,]\d+)?\s?(?:mm|cm|m\b|[\"″'])|\d{2,3}\b(?!\s?[GT]i?B)|"
    r"(?:usb|sata|m\.2|hdmi|dp|display ?port|pcie?|molex|rj-?45|audio|type|thunderbolt|vga|dvi|lan|eps|atx|"
    r"jack|mini|micro|port|slot|bay)\b)(?=\w)",
    re.IGNORECASE,
)
_DIMENSION = re.compile(r"\d\s?[x×]\s?\d+(?:[.,]\d+)?$")
_WORDS = "|".join(sorted((word for word in NUMERALS if len(word) > 2), key=len, reverse=True))
_WORD = re.compile(rf"^\s*(?P<word>{_WORDS})\s+(?=\w)", re.IGNORECASE)
# At the end a number in words counts only where it is set off, or `of them` follows.
_WORD_AT_END = re.compile(
    rf"(?:\s*[,;–—(\[]\s*|\s+-\s+)(?:x\s*)?(?P<set_off>{_WORDS})"
    r"(?:\s+(?:kits?|sets?|packs?|pieces?|pcs|off|units?|stück|pièces?|of(?:\s+(?:these|them|those|each))?))?"
    r"\s*[)\]]?\s*\.?\s*$"
    rf"|\s+(?P<of>{_WORDS})\s+of(?:\s+(?:these|them|those))?\s*\.?\s*$",
    re.IGNORECASE,
)
# A number at the start that may count parts: no size, length, rate or name stands behind it.
_BARE = re.compile(
    rf"^\s*(?P<n>\d{{1,2}})[.)]?\s+(?!{UNITS}\b|[\"″'%+×*-]|x\b)(?=[^\W_])",
    re.IGNORECASE,
)


def take_quantity(text: str, category: Category | None) -> Quantity:
    """Return how many a text says, and the text without that. A kit of memory stays in the text."""
    found: list[tuple[int, int, str]] = []
    for pattern in (*_FRONT, *_ANYWHERE, *_END):
        match = pattern.search(text)
        if match and not _is_kit(text, match, category) and not _DIMENSION.search(text[: match.start()]):
            found.append((match.start(), match.end(), match["n"]))
    size = _leading_pieces(text, category)
    if size is not None:
        found.insert(0, size)
    if not found:
        return _several(_maybe(_from_words(text)), text)
    counts: list[int] = []
    notes: list[Note] = []
    for start, end, number in found:
        said = count_of(number.strip(), text[start:end].strip())
        (counts if isinstance(said, int) else notes).append(said)  # type: ignore[arg-type]
    if len(set(counts)) > 1:
        notes.append(note("intake.quantity-twice", one=counts[0], other=counts[1]))
    rest = text
    for start, end in _joined(found):
        rest = rest[:start] + " " + rest[end:]
    if not any(map(str.isalnum, rest)):
        return Quantity(None, text)
    bare = _BARE.match(rest)
    position = int(bare["n"]) if bare else None
    taken = Quantity(counts[0] if counts else None, rest.strip(), tuple(notes), position)
    return _several(taken, text, counted=True)


def with_count_of_text(row: RawRow) -> RawRow:
    """Return a row of a table with the quantity that its text says: alone, or asked about beside a column's.

    A text that says the same as the column, or one, says nothing more.
    """
    category = guess_category(row.text, row.among).category
    taken = take_quantity(row.text, category)
    if row.became is not None or (taken.count is None and not taken.notes):
        return row
    said = count_in_cell(row.quantity)
    if said is None:
        return replace(row, count=taken.count, text=taken.rest, notes=(*row.notes, *taken.notes))
    row = with_notes(row, *(found for found in taken.notes if found.code == "intake.several-parts"))
    if isinstance(said, Note) or taken.count in (None, 1, said):
        return row
    return with_notes(row, note("intake.quantity-twice", one=said, other=taken.count or 0))


def _joined(found: list[tuple[int, int, str]]) -> list[tuple[int, int]]:
    """Return the spans of the finds, overlapping ones as one, the last first."""
    spans: list[tuple[int, int]] = []
    for start, end, _ in sorted(found):
        if spans and start < spans[-1][1]:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((start, end))
    return spans[::-1]


def without_aside(text: str) -> str:
    """Return a text up to its `with` or `for`."""
    aside = ASIDE.search(text, 1) if text else None
    return text[: aside.start()] if aside else text


def without_position(text: str) -> str:
    """Return a text without the bare number that it begins with."""
    match = _BARE.match(text)
    return text[match.end() :].strip() if match else text


def _from_words(text: str) -> Quantity:
    if (match := _WORD.match(text)) and "paar" in match["word"].split():
        doubt = note("intake.quantity-not-understood", said=match["word"])
        return Quantity(None, text[match.end() :].strip(), (doubt,))
    if match:
        return Quantity(NUMERALS[match["word"].casefold()], text[match.end() :].strip())
    if (match := _WORD_AT_END.search(text)) and any(map(str.isalnum, text[: match.start()])):
        count = NUMERALS[(match["set_off"] or match["of"]).casefold()]
        return Quantity(count, text[: match.start()].strip())
    bare = _BARE.match(text)
    return Quantity(None, text.strip(), position=int(bare["n"]) if bare else None)


def _several(taken: Quantity, text: str, *, counted: bool = False) -> Quantity:
    """Ask about a text that names several parts: counts behind a comma, kits of different modules."""
    second = counted and _SECOND.search(without_aside(taken.rest))
    if second or _PLUS.search(without_aside(text)) or names_two_kits(without_aside(text)):
        return replace(taken, notes=(*taken.notes, note("intake.several-parts")))
    return taken


def _maybe(taken: Quantity) -> Quantity:
    """Add a question where a text without a quantity holds what may be one, before any aside."""
    doubt = maybe_count(without_aside(taken.rest), taken.rest) if taken.count is None else None
    return replace(taken, notes=(*taken.notes, doubt)) if doubt else taken


def _is_kit(text: str, match: re.Match[str], category: Category | None) -> bool:
    """Whether a find is part of a kit (`16GB x2`, `2x 16GB`); of memory alone, and only where no other is."""
    kits = [kit for kit in find_kits(text) if kit.module_bytes]
    mine = [kit for kit in kits if kit.start < match.end() and match.start() < kit.end]
    return bool(mine) and category is Category.MEMORY and len(kits) == 1


def _leading_pieces(text: str, category: Category | None) -> tuple[int, int, str] | None:
    """Return the count of `2x1TB SSD`: a size that is counted, where it is no kit of memory."""
    match = re.match(r"\s*(?P<n>\d{1,3})\s?[x×*]\s?(?=\d)", text, re.IGNORECASE)
    if match is None:
        return None
    kits = [kit for kit in find_kits(text) if kit.module_bytes]
    if not any(kit.start <= match.start("n") < kit.end for kit in kits):
        return (match.start(), match.end(), match["n"]) if text[match.end() - 1].isspace() else None
    if category is Category.MEMORY and len(kits) == 1:
        return None
    return match.start(), match.end(), match["n"]
