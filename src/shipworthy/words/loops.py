"""Whether a text speaks of a custom liquid loop: one that the shop builds, fills and tests itself.

A sealed cooler comes filled and tested from its factory. The words tell the two apart; no product is named.
"""

from __future__ import annotations

import re

from shipworthy.words.kinds import Word
from shipworthy.words.spans import plain, where

CUSTOM = "custom loop"

_LIQUID = r"(?:water|liquid)"
_SAID = re.compile(
    rf"\b(?:custom|open|bespoke)[ -](?:{_LIQUID}[ -])?(?:cooling[ -])?loops?\b"
    rf"|\b(?:custom|bespoke)[ -]{_LIQUID}[ -]?cool(?:ing|ed)\b"
    r"|\bhard-?lines?\b|\bhard[ -]line[ -](?:tub(?:es?|ing)|loops?|cooling)\b|\bhard[ -]?tub(?:es?|ing)\b"
    r"|\bpump[\s/+&-]*(?:and[ -])?res(?:ervoirs?)?\b",
    re.IGNORECASE,
)
"""Says it by itself, whatever else the text says."""
_PIECES = re.compile(
    r"\breservoirs?\b|\bcoolants?\b|\bdistri?(?:o|bution)[ -](?:plates?|blocks?)\b"
    rf"|\b{_LIQUID}[ -]?blocks?\b|\bmonoblocks?\b|\bfittings\b|\bG\s?1/4\b"
    r"|\b(?:compression|barbed|barb|rotary)[ -]fitting\b"
    r"|\b(?:soft|rigid|PETG|PMMA|acrylic|glass)[ -]tub(?:es?|ing)\b|\bdrain[ -](?:valves?|ports?|taps?)\b",
    re.IGNORECASE,
)
"""Pieces that a loop is built of, unless the text sells a sealed cooler."""
_LOOSE_PIECES = re.compile(r"\bradiators?\b|\bpumps?\b", re.IGNORECASE)
"""A sealed cooler has these too: they hint at a loop only where they are sold by themselves."""
_WHOLE_COOLER = re.compile(r"\bcoolers?\b", re.IGNORECASE)
_SEALED = re.compile(
    r"\bAIO\b|\ball[ -]in[ -]one\b|\bCLC\b|\bclosed[ -](?:\w+[ -])?loops?\b"
    r"|\b(?:factory|pre)[ -]?(?:filled|sealed)\b"
    rf"|\bsealed[ -](?:loops?|units?|coolers?|systems?|circuits?|{_LIQUID}\b)|\bmaintenance[ -]free\b",
    re.IGNORECASE,
)


def find_loop_words(text: str, *, loose_pieces: bool = False) -> tuple[Word, ...]:
    """Return the words of the text that hint at a custom loop; none where it sells a sealed cooler.

    loose_pieces: whether a radiator or a pump counts too. Elsewhere (a case with room for radiators, a
    graphics card with a sealed cooler) they say nothing.
    """
    patterns, flat = [_SAID], plain(text)
    if not _SEALED.search(flat):
        patterns.append(_PIECES)
        if loose_pieces and not _WHOLE_COOLER.search(flat):
            patterns.append(_LOOSE_PIECES)
    found = [Word(*where(m, text), CUSTOM) for pattern in patterns for m in pattern.finditer(flat)]
    longest = [w for w in found if not any(w != o and w.start >= o.start and w.end <= o.end for o in found)]
    return tuple(sorted(longest, key=lambda word: word.start))


def says_sealed(text: str) -> bool:
    """Whether the text says that a cooler is a sealed one, and nothing of a custom loop."""
    flat = plain(text)
    return bool(_SEALED.search(flat)) and not _SAID.search(flat)
