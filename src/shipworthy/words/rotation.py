"""Turns a minute: of drives (`7200 rpm`, `5400RPM`, `10K`) and of fans (`500-1800 RPM`)."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, number, plain, thousands, where


@dataclass(frozen=True, slots=True)
class Rotation(Span):
    """The highest of a range."""

    rpm: int


_RPM = re.compile(
    r"(?<![\w.,])(?:\d{2,5}\s?(?:-|to|~)\s?)?(?:(?P<rpm>\d{1,2}[.,]\d{3}|\d{3,6})|(?P<thousand>\d{1,2}(?:\.\d)?)\s?K)"
    r"[\s-]?(?:rpm|r/min|U/min)(?!\w)",
    re.IGNORECASE,
)
_DRIVES = (4200, 5400, 5700, 5900, 7200, 10_000, 10_500, 15_000)
"""Rates at which drives turn (common practice)."""
_BARE = re.compile(r"(?<![\w.,/+-])(?P<rpm>\d{4,5})(?![\w.,/+-]|\s?[TG]i?B)", re.IGNORECASE)
_SPINS = re.compile(r"\bHDDs?\b|\bhard[ -](?:disk|drive)s?\b", re.IGNORECASE)


def find_rotations(text: str) -> tuple[Rotation, ...]:
    """Return every number of turns in the text.

    A bare number (`2TB HDD 7200`) counts where the text sells a hard disk, if drives turn so fast.
    """
    flat = plain(text)
    found = [Rotation(*where(m, text), _rpm(m)) for m in _RPM.finditer(flat)]
    if not found and _SPINS.search(flat):
        bare = (Rotation(*where(m, text), int(m["rpm"])) for m in _BARE.finditer(flat))
        found = [one for one in bare if one.rpm in _DRIVES]
    return tuple(found)


def _rpm(match: re.Match[str]) -> int:
    if match["thousand"]:
        return round(number(match["thousand"]) * 1000)
    return round(thousands(match["rpm"]))
