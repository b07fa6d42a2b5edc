"""How many SATA ports go off when M.2 places are used, by the words of a board's manual."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from itertools import combinations

from shipworthy.model.catalogue import M2Place
from shipworthy.orders.fit.build import pieces
from shipworthy.orders.fit.m2 import Drive, placed

MOST_PLACES = 12
"""Of so many places every choice is looked at; boards have up to 6 (common practice)."""
_PORTS = re.compile(
    r"SATA(?:[\s-]?(?:6\s?G(?:b(?:it)?(?:/s|ps)?)?|Express|III)(?=[\s_-])|3(?=_))?[\s_-]*(?:ports?|#)?[\s_]*"
    r"(?P<ports>(?:\d{1,2}(?![^\W_]|\.)(?:\s*(?:[/,&+_-]|and|to)\s*(?=\d{1,2}(?![^\W_]|\.)))?)*)",
    re.IGNORECASE,
)


def ports_lost(places: Iterable[M2Place]) -> int:
    """Return how many SATA ports these places switch off together. A port that two of them name is lost
    once; one that is named without a number (`SATA`) is lost anew by each place."""
    named: set[int] = set()
    nameless = 0
    for place in places:
        for match in _PORTS.finditer(", ".join(place.shares_with)):
            found = _numbers(match["ports"])
            named |= found
            nameless += not found
    return len(named) + nameless


def _numbers(text: str) -> set[int]:
    """Return the ports of a list: `5`, `5/6`, `5, 6` and `5 and 6` name each, `3-6` is from, to."""
    found = {int(number) for number in re.findall(r"\d+", text)}
    for first, last in re.findall(r"(\d+)\s*(?:-|to)\s*(\d+)", text, re.IGNORECASE):
        found |= set(range(int(first), int(last) + 1))
    return found


def fewest_lost(
    drives: Sequence[Drive], places: Sequence[M2Place], goes: Callable[[Drive, M2Place], bool]
) -> int | None:
    """Return how many SATA ports are lost at least with each drive in a place; None if one gets none."""
    if placed(drives, places, goes) is None:
        return None
    kept = sorted(places, key=lambda place: ports_lost([place]))
    many = pieces(drives)
    if len(kept) > MOST_PLACES:
        return ports_lost(kept)  # more than any board has: all of them, which is no pass too many
    return min(
        ports_lost(chosen) for chosen in combinations(kept, many) if placed(drives, chosen, goes) is not None
    )
