"""Words of a closed set in a part text: each meaning with the pattern of its spellings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from shipworthy.words.spans import Span, plain, where


@dataclass(frozen=True, slots=True)
class Word(Span):
    """A word of a closed set. meaning: the one spelling of it that records use."""

    meaning: str


Spellings = tuple[tuple[str, re.Pattern[str]], ...]


def spellings(patterns: Mapping[str, str]) -> Spellings:
    """Return patterns, by meaning, ready for `find_words`; letters of either case."""
    return tuple((meaning, re.compile(pattern, re.IGNORECASE)) for meaning, pattern in patterns.items())


def find_words(text: str, patterns: Spellings) -> tuple[Word, ...]:
    """Return every word of the set in the text, in order; of several at one place the longest.

    `Micro ATX` is no `ATX`, and `FM2+` no `FM2`. Several words that say the same thing are all returned.
    """
    flat = plain(text)
    found = [Word(*where(m, text), meaning) for meaning, pattern in patterns for m in pattern.finditer(flat)]
    found.sort(key=lambda word: (word.start, -word.end))
    kept: list[Word] = []
    for word in found:
        if not kept or word.start >= kept[-1].end:
            kept.append(word)
        elif word.end - word.start > kept[-1].end - kept[-1].start:
            kept[-1] = word
    return tuple(kept)
