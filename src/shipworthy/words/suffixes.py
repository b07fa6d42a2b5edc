"""Suffixes that make a model another one: K, KF, X3D; Ti, SUPER, XTX; D4, WIFI, V2; OC.

The plain name is a name of its own: a text without a suffix says that there is none, and nothing is open.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.model.words import Category
from shipworthy.words.phrases import Word
from shipworthy.words.spans import plain

# As the makers write them behind the number (Intel and AMD on processor names; common practice).
_PROCESSOR = re.compile(
    r"(?<=\d{3})(?P<a>X3D2?|XTX?|KFC?|KS|GE|GT|HX3D|HX|HK|HS|H|TE|UE|[FGKPSTUVX])(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_GRAPHICS = re.compile(
    r"(?<=\d{3})[\s-]?(?P<a>Ti|XTX|XT|GRE|SUPER|S)(?:[\s-]?(?P<b>SUPER))?(?![A-Za-z0-9])"
    r"|\b(?P<c>OC|LHR|LE|SE)(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_BOARD = re.compile(
    r"(?<![A-Za-z0-9])(?:(?P<a>D(?:DR)?[345])|(?P<b>Wi-?Fi(?:[\s-]?\d?E?(?![A-Za-z0-9]))?)|(?P<c>AX|AC|AD)"
    r"|(?P<d>(?:rev(?:ision)?\.?|ver(?:sion)?\.?|[VR])\s?\d(?:\.\d{1,2})?|II|III|IV|VI{1,3}))(?![A-Za-z0-9.])",
    re.IGNORECASE,
)
_ANY = re.compile(r"(?<![A-Za-z0-9])(?P<a>V\d(?:\.\d)?)(?![A-Za-z0-9.])", re.IGNORECASE)
_PATTERNS = {Category.PROCESSOR: _PROCESSOR, Category.GRAPHICS: _GRAPHICS, Category.BOARD: _BOARD}
_WRITTEN = {"ti": "Ti", "super": "SUPER"}


def find_suffixes(text: str, category: Category) -> tuple[Word, ...]:
    """Return the suffixes of a model's name in the text, in order, in their makers' spelling.

    Of a graphics card `S` behind the number is SUPER; of a board `DDR4` is `D4`, and a revision keeps its
    number only (`V2`, `V1.3`).
    """
    return tuple(_found(text, _PATTERNS.get(category, _ANY)))


def _found(text: str, pattern: re.Pattern[str]) -> Iterator[Word]:
    for match in pattern.finditer(plain(text)):
        for name, said in match.groupdict().items():
            if said:
                start, end = match.span(name)
                yield Word(text[start:end], start, end, _meaning(said, pattern))


def _meaning(said: str, pattern: re.Pattern[str]) -> str:
    low = said.casefold()
    if pattern is _GRAPHICS and low == "s":
        return "SUPER"
    if pattern is _BOARD:
        if low.startswith("d"):
            return f"D{low[-1]}" if low[-1].isdigit() else said.upper()
        if low.startswith("wi"):
            return "WIFI" + re.sub(r"[^0-9e]", "", low[4:]).upper()
        if revision := re.fullmatch(r"(?:rev|ver|v|r)\D*(\d.*)", low):
            return f"V{revision[1]}"
    return _WRITTEN.get(low, said.upper())
