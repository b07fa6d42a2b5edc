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


# One character for one character, so that a place in the plain text is the same place in the text.
_PLAIN = {
    **{full: full - 0xFEE0 for full in range(0xFF01, 0xFF5F)},  # full-width forms, as in Asian shop texts
    **dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f\u205f\u3000\t\n\r\f\v"), " "),
    **dict.fromkeys(map(ord, "″“”„‟〃"), '"'),
    **dict.fromkeys(map(ord, "′‘’‛ʹ`´"), "'"),
    **dict.fromkeys(map(ord, "×✕✖⨯╳"), "x"),
    **dict.fromkeys(map(ord, "‐‑‒–—―−"), "-"),
    **dict.fromkeys(map(ord, "µμ"), "u"),
    ord("ſ"): "s",
    0x212A: "K",
    ord("ı"): "i",
    ord("İ"): "I",  # letters that fold to another one's case
    **dict.fromkeys(map(ord, "®™©"), " "),
}


def plain(text: str) -> str:
    """Return the text in the signs that the grammar reads, each character in its place.

    Full-width forms, every kind of space, quote, dash and multiplication sign become the plain one; `µ`
    becomes `u`, and trade marks a space.
    """
    return text if text.isascii() and not _breaks(text) else text.translate(_PLAIN)


def _breaks(text: str) -> bool:
    return not text.isprintable()


def where(match: re.Match[str], text: str | None = None) -> tuple[str, int, int]:
    """Return a match as the first three fields of a Span, without spaces around it.

    text: the text as it was given, where the match was made in its plain form.
    """
    found = match.group()
    start = match.start() + len(found) - len(found.lstrip())
    end = start + len(found.strip())
    return (found.strip() if text is None else text[start:end]), start, end


def without(text: str, spans: Iterable[Span]) -> str:
    """Return the text with each span blanked out, so that all other places stay as they are."""
    left = list(text)
    for span in spans:
        left[span.start : span.end] = " " * (span.end - span.start)
    return "".join(left)


def number(text: str) -> float:
    """Return a number as shops write it: `1.5`, `1,5`, and `1,000` (a comma before three digits).

    An apostrophe, or a space, stands only between thousands.
    """
    text = re.sub(r"[' ]", "", text)
    if re.fullmatch(r"\d{1,3}(,\d{3})+", text):
        return float(text.replace(",", ""))
    return float(text.replace(",", "."))


def thousands(text: str) -> float:
    """Return a number of which a comma or a point before three digits parts the thousands (`1.000`)."""
    if re.fullmatch(r"\d{1,3}(?:[.,]\d{3})+", text):
        return float(re.sub(r"[.,]", "", text))
    return number(text)
