"""Versions of a board's firmware: those that an order asks for, and which of two is the later.

Every maker counts in a way of his own: `F14` and `F14b`, `1203`, `3.20`, `7C56vA8`, `1.A0`. Versions are
compared only where they are of one shape, and nothing is said of others. A letter behind the number (`F14b`)
is a trial version of it with one maker and a later one with the next: it tells nothing beside that number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, plain, where


@dataclass(frozen=True, slots=True)
class FirmwareWish(Span):
    """A version that the firmware must at least have."""

    version: str


_WISH = re.compile(
    r"\b(?:BIOS|firmware)[\s:,]{0,2}"
    r"(?:(?:version|ver\.?|rev(?:ision)?\.?|v)(?![A-Za-z])[\s:]{0,2})?"
    r"(?:(?:>=|≥|at\sleast|min(?:imum)?\.?|from|since|not\solder\sthan)\s?)?"
    r"(?:(?:version|ver\.?|v)(?![A-Za-z])\s?)?"
    r"(?P<version>[A-Z]\d{1,2}[a-z]?|[A-Z]?\d[A-Za-z0-9]?\.[A-Za-z0-9]+(?:\.[A-Za-z0-9]+)*|\d{4}|\w{4}v\w{2,3})"
    r"(?:\s?\+|(?:,\s|\s)(?:or|and)\s(?:later|newer|higher|above|up))?(?![\w])",
    re.IGNORECASE,
)
_RUNS = re.compile(r"\d+|[a-z]+|\.")
_PREFIX = re.compile(r"^(?:version|ver|v|bios|p(?=\d\.)|[0-9a-z]{4}v(?=[0-9a-z]))\.?\s*")
"""Words before a version; ASRock's P; MSI's number of the board (`7C56vA8`)."""


def find_firmware_wishes(text: str) -> tuple[FirmwareWish, ...]:
    """Return every version that the text asks of the firmware (`BIOS F14 or later`, `firmware >= 3.20`)."""
    return tuple(FirmwareWish(*where(m, text), m["version"].rstrip(".")) for m in _WISH.finditer(plain(text)))


def is_at_least(got: str, want: str) -> bool | None:
    """Return whether a version is the wanted one or a later one; None where that cannot be told."""
    found, wanted = _runs(got), _runs(want)
    if not found or not wanted:
        return None
    if found == wanted:
        return True
    if _shape(found) != _shape(wanted):
        return _by_number_before_letter(found, wanted)
    for position, (one, other) in enumerate(zip(found, wanted, strict=True)):
        if one == other:
            continue
        if not one.isdigit():
            return None  # another letter: another line, or a trial version
        return _later(one, other, is_fraction=position > 0 and found[position - 1] == "." and len(found) == 3)
    return True


def _later(one: str, other: str, *, is_fraction: bool) -> bool | None:
    """Compare two numbers; behind a point 3.2 may stand for 3.20, so both ways have to agree."""
    as_number = int(one) > int(other)
    if not is_fraction:
        return as_number
    as_fraction = one.ljust(9, "0") >= other.ljust(9, "0")
    return as_number if as_number == as_fraction else None


def _by_number_before_letter(found: list[str], wanted: list[str]) -> bool | None:
    """Compare `F15b` with `F14`: the numbers tell, if they are not the same."""
    short = min(len(found), len(wanted))
    one, other = found[:short], wanted[:short]
    rest = (found[short:], wanted[short:])
    if _shape(one) != _shape(other) or any(len(r) > 1 or (r and not r[0].isalpha()) for r in rest):
        return None
    differing = [(a, b) for a, b in zip(one, other, strict=True) if a != b]
    if not differing or not differing[0][0].isdigit():
        return None
    return int(differing[0][0]) > int(differing[0][1])


def _runs(version: str) -> list[str]:
    return _RUNS.findall(_PREFIX.sub("", plain(version).casefold().strip()))


def _shape(runs: list[str]) -> list[str]:
    return ["9" if run.isdigit() else run if run == "." else "a" for run in runs]
