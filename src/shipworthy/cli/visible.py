"""Texts for a terminal: what a machine, a file or its name says of itself commands none and hides nothing."""

from __future__ import annotations

import unicodedata

_COMMANDING = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Unicode's controls, signs without a shape (which turn the direction of writing), halves of signs, and
separators of lines."""
_INSTEAD = "\N{REPLACEMENT CHARACTER}"


def visible(text: str, keep: str = "") -> str:
    """Return the text with a mark in place of what a terminal would obey. keep: signs that may stay."""
    if text.isprintable():
        return text
    return "".join(
        sign if sign in keep or unicodedata.category(sign) not in _COMMANDING else _INSTEAD for sign in text
    )


def visible_json(text: str) -> str:
    """Return JSON in which such signs are written as numbers: JSON asks that only of those below 20h."""
    if text.isascii() and "\x7f" not in text:
        return text
    return "".join(
        f"\\u{ord(sign):04x}"
        if sign != "\n" and ord(sign) < 0x10000 and unicodedata.category(sign) in _COMMANDING
        else sign
        for sign in text
    )
