"""Watts and 80 PLUS grades: `850W`, `1.2 kW`, `80+ Gold`, `80 PLUS Platinum`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.phrases import Word
from shipworthy.words.spans import Span, number, plain, thousands, where


@dataclass(frozen=True, slots=True)
class Watts(Span):
    watts: int


_WATTS = re.compile(
    r"(?<![\w.,/])(?:(?P<kilo>\d{1,2}(?:[.,]\d{1,3})?)\s?-?k|(?P<plain>\d{1,2}[.,]\d{3}|\d{1,4})[\s-]?)"
    r"W(?:atts?)?(?![\w/])",
    re.IGNORECASE,
)
# CLEAResult, 80 PLUS programme: plain (white), Bronze, Silver, Gold, Platinum, Titanium; Ruby since 2025.
_GRADES = r"bronze|silver|gold|platinum|titanium|ruby"
_GRADE = re.compile(
    r"(?<![\w.])80\s?-?(?:\+|plus\b)(?:\s{0,2}(?:certified\s|EU\s|230V\s|-\s?)?"
    rf"(?P<grade>(?:{_GRADES}|white|standard)\b)(?P<colour>\s?/)?)?|\b(?P<before>{_GRADES})[\s,(]{{0,2}}80\s?-?(?:\+|plus\b)",
    re.IGNORECASE,
)
_BARE_GRADES = "bronze|gold|platinum|titanium|ruby"  # silver is a colour as often
_BARE = re.compile(
    rf"(?P<behind>\b\w{{1,20}}\s)?(?<![\w/-])(?P<grade>{_BARE_GRADES})\b(?!\s?/)", re.IGNORECASE
)
_NO_GRADE = "80 PLUS"
_OTHER_MARKS = ("cybenetics", "eta", "lambda", "colour", "color")


_OF_A_PLUG = re.compile(
    r"\b(?:12VHPWR|12V-?2x6|PCIe|GPU)\s\(?\d{2,4}\s?W\b"
    r"|(?<![\w.,])\d{2,4}\s?W\s(?:12VHPWR|12V-?2x6|PCIe|GPU|cable|connector|plug)\b",
    re.IGNORECASE,
)
"""What one plug or cable carries is not what the supply does."""


def find_watts(text: str) -> tuple[Watts, ...]:
    """Return every power in the text, in W. A model's number (`RM850x`) is none, nor is a plug's power."""
    flat = _OF_A_PLUG.sub(lambda match: " " * len(match.group()), plain(text))
    found = (Watts(*where(m, text), _watts(m)) for m in _WATTS.finditer(flat))
    return tuple(one for one in found if one.watts)


def find_grades(text: str) -> tuple[Word, ...]:
    """Return every 80 PLUS grade in the text: `80 PLUS Gold`; `80 PLUS` alone is the plain one.

    A grade without the name (`850W Gold`) counts where the text has no 80 PLUS; a Cybenetics grade is
    another one.
    """
    flat = plain(text)
    found = [
        Word(*where(m, text), f"80 PLUS {_grade(m['grade'] or m['before'])}".strip())
        for m in _GRADE.finditer(flat)
        if not m["colour"]  # `80+ Silver / Black`
    ]
    named = [word for word in found if word.meaning != _NO_GRADE]
    if named:
        return tuple(named)
    if not found:
        found = [
            Word(*_tail(m, text), f"80 PLUS {m['grade'].capitalize()}")
            for m in _BARE.finditer(flat)
            if (m["behind"] or "").strip().casefold() not in _OTHER_MARKS
        ]
    return tuple(found)


def _tail(match: re.Match[str], text: str) -> tuple[str, int, int]:
    start, end = match.span("grade")
    return text[start:end], start, end


def _grade(word: str | None) -> str:
    return "" if word is None or word.casefold() in ("white", "standard") else word.capitalize()


def _watts(match: re.Match[str]) -> int:
    if match["kilo"]:
        return round(number(match["kilo"].replace(",", ".")) * 1000)
    return round(thousands(match["plain"]))
