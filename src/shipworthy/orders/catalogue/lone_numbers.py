"""Numbers that stand by themselves in a name: the 3 of `Gaming 3` is not that of `DDR3`, and 3.5 not 3 and 5.

Names are compared by atoms, which is right for spelling and too kind to lone numbers.
"""

from __future__ import annotations

import re

from shipworthy.words.names import ATOM, PIECE, Name

_DECIMAL = re.compile(r"\d+[.,]\d+")


def lone_numbers_lacking(one: Name, other: Name) -> frozenset[str]:
    """Return the lone numbers and decimals of `one` that do not stand in `other` as such.

    A lone number may have grown together there with its neighbour (`Gaming 3` and `Gaming3`).
    """
    alone = {piece for token in other.tokens for piece in PIECE.split(token) if piece.isdigit()}
    pieces = [piece for token in one.tokens for piece in PIECE.split(token) if ATOM.search(piece)]
    found = {text for token in one.tokens for text in _DECIMAL.findall(token) if not _stands(text, other)}
    for before, piece, behind in zip(("", *pieces), pieces, (*pieces[1:], ""), strict=False):
        if piece.isdigit() and piece not in alone and not _grown(before, piece, behind, other):
            found.add(piece)
    return frozenset(found)


def _stands(decimal: str, other: Name) -> bool:
    """Whether a decimal stands in a name, its two halves side by side."""
    halves = ".".join(ATOM.findall(decimal))
    return re.search(rf"(?<!\d){re.escape(halves)}(?!\d)", other.compact) is not None


def _grown(before: str, number: str, behind: str, other: Name) -> bool:
    """Whether the number has grown together with the letters that stand before or behind it."""
    last, first = "".join(ATOM.findall(before)[-1:]), "".join(ATOM.findall(behind)[:1])
    forms = [rf"{re.escape(last)}{number}(?!\d)"] if last.isalpha() else []
    forms += [rf"(?<!\d){number}{re.escape(first)}"] if first.isalpha() else []
    return any(re.search(form, other.compact) for form in forms)
