"""What an order's words ask of an optical drive: `Blu-ray writer`, `DVD±RW`, `BD-ROM`.

A word for writing belongs to the kind of disc before it. Of kinds that stand joined before it (`Blu-ray/DVD
writer`) the last is certain; whether the others are to be written as well, the text leaves open.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_MEDIUM = re.compile(
    r"\b(?P<medium>Blu-?\s?ray|BD|DVD|CD)(?:XL)?(?P<code>(?:[\s/±+-]{0,3}(?:RAM|ROM|RW|RE|R(?:\s?DL)?|DL)\b)*)"
    r"(?![A-Za-z]|-?\d)",  # a `BD-12` is a model
    re.IGNORECASE,
)
_WRITES = re.compile(r"\b(?:re-?)?(?:writer|burner|recorder|writes|writing|burns)\b", re.IGNORECASE)
_JOINT = re.compile(r"\s*(?:[/&+,]|and)?\s*", re.IGNORECASE)
_WORDS = {"blu": "bd", "bd": "bd", "dvd": "dvd", "cd": "cd"}
_READ_BY_ALL = "cd"


@dataclass(frozen=True, slots=True)
class Need:
    """One ability sold. fact: the drive's fact that tells it. certain: whether the text leaves no doubt."""

    fact: str
    certain: bool = True


def needs_of(text: str) -> tuple[Need, ...]:
    """Return which abilities a text asks for; every drive reads CDs, so that is none."""
    found = list(_MEDIUM.finditer(text))
    needs: dict[str, bool] = {}
    for number, match in enumerate(found):
        after = text[match.end() : found[number + 1].start() if number + 1 < len(found) else len(text)]
        disc = _disc(match["medium"])
        by_code = re.search(r"\b(?:RAM|RW|RE|R)\b", match["code"], re.IGNORECASE) is not None
        if by_code or _WRITES.search(after):
            needs[f"writes_{disc}"] = True
            continue
        if disc != _READ_BY_ALL:
            needs.setdefault(f"reads_{disc}", True)
        if number + 1 < len(found) and _JOINT.fullmatch(after) and _is_written_later(text, found, number):
            needs.setdefault(f"writes_{disc}", False)
    return tuple(Need(fact, certain) for fact, certain in needs.items())


def _is_written_later(text: str, found: list[re.Match[str]], number: int) -> bool:
    """Whether a word for writing follows the last of the kinds that are joined to this one."""
    for position in range(number + 1, len(found)):
        last = position + 1 == len(found)
        after = text[found[position].end() : len(text) if last else found[position + 1].start()]
        if _WRITES.search(after):
            return True
        if last or not _JOINT.fullmatch(after):
            return False
    return False


def _disc(word: str) -> str:
    return next(disc for stem, disc in _WORDS.items() if word.casefold().startswith(stem))
