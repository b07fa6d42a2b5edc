"""Is the model that a device names the one that was sold? Whole machines ship on the answer.

One way of comparing for each way in which devices name themselves; all of them work on names cut into
atoms (see `words.names`), and none answers SAME or OTHER where one side says too little.
"""

from __future__ import annotations

from collections.abc import Collection
from enum import StrEnum

from shipworthy.words.names import (
    Name,
    difference,
    same_spelling,
)


class Likeness(StrEnum):
    SAME = "same"
    OTHER = "other"
    PARTLY = "partly"  # not enough is said on one side


def best_of(found: Collection[Likeness]) -> Likeness:
    """Return what several names or numbers of one part, of which one is enough, say together: it is another
    part only by all of them. ValueError for none."""
    return min(found, key=(Likeness.SAME, Likeness.PARTLY, Likeness.OTHER).index)


def full_name_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare where devices give their full name: processors. (Boards, drives, memory, graphics and displays
    have ways of their own: `board_names`, `drive_names`, `memory_names`, `graphics_names`, `display_names`.)

    Words that only one side has say nothing: code names, packaging.
    """
    if same_spelling(want, got):
        return Likeness.SAME
    wanted, found = Name.of(want), Name.of(got)
    found_out = difference(want, got, context)
    if not wanted.atoms or not found.atoms or bool(wanted.numbers) != bool(found.numbers):
        return Likeness.PARTLY
    if not found_out.hard_missing and _only_names_a_family(wanted, found_out.hard_extra):
        return Likeness.PARTLY
    if found_out.hard_missing or found_out.hard_extra:
        return Likeness.OTHER if wanted.numbers else Likeness.PARTLY
    return Likeness.SAME if wanted.numbers or not found_out.soft_extra else Likeness.PARTLY


def short_name_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare where devices give a name that may be cut short or bare: cards of all kinds.

    What the device says must all be sold, and what is sold and decides must all be said.
    """
    if same_spelling(want, got):
        return Likeness.SAME
    wanted, found = Name.of(want), Name.of(got)
    if not wanted.numbers or not found.numbers:
        return Likeness.PARTLY
    found_out = difference(want, got, context)
    if found_out.hard_extra:
        return Likeness.OTHER
    return Likeness.PARTLY if found_out.hard_missing else Likeness.SAME


def code_likeness(code: str, got: str) -> Likeness:
    """Compare a part number with what a device says.

    SAME: it stands there, whole. OTHER: something of exactly its shape stands there instead (a sibling of
    the series). PARTLY: anything else; kits and boxes have part numbers that no module or drive knows.
    """
    wanted, found = Name.of(code), Name.of(got)
    if not wanted.compact or not found.compact:
        return Likeness.PARTLY
    plain = wanted.compact.replace(".", "")
    candidates = {
        Name.of(part).compact.replace(".", "")
        for token in (got, *found.tokens)
        for part in (token, token.split("-")[0])
    }
    if plain in candidates and (len(plain) >= 5 or wanted.compact == found.compact):
        return Likeness.SAME
    if len(plain) >= 5 and any(c[:2] == plain[:2] and _shape(c) == _shape(plain) for c in candidates):
        return Likeness.OTHER
    return Likeness.PARTLY


def _only_names_a_family(wanted: Name, extra: frozenset[str]) -> bool:
    """`Core i7` sold and `Core i7-8700` found: the order does not say which."""
    return all(len(n) < 3 for n in wanted.numbers) and any(a.isdigit() and len(a) >= 3 for a in extra)


def _shape(compact: str) -> str:
    return "".join("9" if c.isdigit() else "a" if c.isalpha() else c for c in compact)
