"""What every find of the grammar has in common: the words it came from, and where they stand."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a part text. words: the text as it stands there; start, end: where."""

    words: str
    start: int
    end: int

    def overlaps(self, other: Span) -> bool:
        return self.start < other.end and other.start < self.end


def where(match: re.Match[str]) -> tuple[str, int, int]:
    """Return a match as the first three fields of a Span, without spaces around it."""
    text = match.group()
    start = match.start() + len(text) - len(text.lstrip())
    return text.strip(), start, start + len(text.strip())


def without(text: str, spans: Iterable[Span]) -> str:
    """Return the text with each span blanked out, so that all other places stay as they are."""
    for span in spans:
        text = text[: span.start] + " " * (span.end - span.start) + text[span.end :]
    return text


def number(text: str) -> float:
    """Return a number as shops write it: `1.5`, `1,5`, and `1,000` (a comma before three digits)."""
    if re.fullmatch(r"\d{1,3}(,\d{3})+", text):
        return float(text.replace(",", ""))
    return float(text.replace(",", "."))
