"""Where a long word may be broken, so that a serial or a digest never bursts its column."""

from __future__ import annotations

import re

_LONGEST = 18
_WORD = 14  # words up to this length fit the narrowest column and stay whole
_SHORT = 15
_COUNT = re.compile(r"\d{1,3}(,\d{3}){0,4}", re.ASCII)  # in two lines it would be read as two numbers
_AFTER = "/:,_"


def pieces(text: str) -> list[str]:
    """Return the text in pieces between which a line may end; joined, they are the text.

    Long words are cut after separators, and anywhere after a run without one.
    """
    out: list[str] = []
    for number, word in enumerate(text.split(" ")):
        if len(word) > _WORD and not _is_count(word):
            out.extend(_cut(word, lead=" " if number else ""))
        else:
            out.append(" " + word if number else word)
    return _joined(out)


def stays_whole(text: str) -> bool:
    """Whether a cell's text never goes over a line's end: a word or two, or a number."""
    return len(text) <= _SHORT or _is_count(text)


def _is_count(text: str) -> bool:
    return _COUNT.fullmatch(text) is not None


def _cut(word: str, *, lead: str) -> list[str]:
    out, run = [], lead
    for char in word:
        run += char
        if len(run) >= _LONGEST or (len(run) > 3 and char in _AFTER):
            out.append(run)
            run = ""
    return [*out, run] if run else out


def _joined(parts: list[str]) -> list[str]:
    """Put short words together again: a space is a place to break already."""
    out: list[str] = []
    for part in parts:
        if out and part.startswith(" "):
            out[-1] += part
        else:
            out.append(part)
    return out
