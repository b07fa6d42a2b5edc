"""Is the model that a device names the one that was sold? Whole machines ship on the answer.

One way of comparing for each way in which devices name themselves; all of them work on names cut into
atoms (see `words.names`), and none answers SAME or OTHER where one side says too little.
"""

from __future__ import annotations

import re
from enum import StrEnum

from shipworthy.words.names import (
    ATOM,
    GRADES,
    PIECE,
    Difference,
    Name,
    difference,
    lacking,
    same_spelling,
)


class Likeness(StrEnum):
    SAME = "same"
    OTHER = "other"
    PARTLY = "partly"  # not enough is said on one side


def full_name_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare where devices give their full name: processors. (Boards have a way of their own, as have
    drives: `words.board_names`, `coded_name_likeness`.)

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
    """Compare where devices give a name that may be cut short or bare: displays, graphics.

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


def coded_name_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare where devices name themselves by a maker's code as often as by a name: drives.

    A code wraps the model's token in others (`CT240BX200SSD1`), or has nothing to do with it.
    """
    if same_spelling(want, got):
        return Likeness.SAME
    wanted, found = Name.of(want), Name.of(got)
    if not wanted.atoms or not found.atoms:
        return Likeness.PARTLY
    found_out = difference(want, got, context)
    if found_out.hard_missing:
        other = _sibling_number(wanted, found) or _same_naming(wanted, found, found_out)
        return Likeness.OTHER if other else Likeness.PARTLY
    if found_out.soft_missing and any(len(atom) >= 4 for atom in found_out.soft_extra):
        return Likeness.PARTLY  # FireCuda 120 sold, BarraCuda 120 found
    if not wanted.numbers:
        whole = not found_out.soft_missing and not found_out.hard_extra and not found_out.soft_extra
        return Likeness.SAME if whole else Likeness.PARTLY
    return _coded_extra(wanted, found, sold=Name.of(f"{want} {context}"))


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
    if len(plain) >= 5 and any(_shape(c) == _shape(plain) and c[:2] == plain[:2] for c in candidates):
        return Likeness.OTHER
    return Likeness.PARTLY


def _only_names_a_family(wanted: Name, extra: frozenset[str]) -> bool:
    """`Core i7` sold and `Core i7-8700` found: the order does not say which."""
    return all(len(n) < 3 for n in wanted.numbers) and any(a.isdigit() and len(a) >= 3 for a in extra)


def _sibling_number(wanted: Name, found: Name) -> bool:
    """Whether found has the letters of a wanted token before another number: BX200 sold, BX500 found."""
    for token in wanted.tokens:
        for letters, digits in re.findall(r"([^\W\d_]{2,})(\d{2,})", token):
            for other in re.findall(re.escape(letters) + r"(\d+)", found.compact):
                if not other.startswith(digits) and not digits.startswith(other):
                    return True
    return False


def _same_naming(wanted: Name, found: Name, found_out: Difference) -> bool:
    """Whether found speaks the language of the box, so that what it lacks is really not there.

    It does if it has a word or a number of the wanted name that tells the series, and a number of its own.
    """
    shared = [token for token in wanted.tokens if found.has(token) and len(token) >= 3]
    return bool(shared) and bool(found_out.hard_extra)


def _coded_extra(wanted: Name, found: Name, sold: Name) -> Likeness:
    """All that decides was found. Is the rest a code around it, or a suffix that makes it another model?"""
    pieces = [piece for token in found.tokens for piece in PIECE.split(token)]
    spoken = {_plain(part) for part in (*pieces, *found.tokens)}
    plain = True
    for token in wanted.tokens:
        code = _plain(token)
        if code in spoken or not any(c.isdigit() for c in code):
            continue
        wrapping = next((c for c in spoken if code in c), None)
        if wrapping is None or len(code) < 4:
            return Likeness.PARTLY  # `P3` stands in the code of a P3 Plus as well
        before, _, after = wrapping.partition(code)
        if after.isalpha() and not any(c.isdigit() for c in before):
            return Likeness.OTHER  # SN850 sold, SN850X found
        plain = False
    extra = lacking(found, sold)[0]
    if plain and extra & GRADES:
        return Likeness.OTHER
    return Likeness.SAME


def _plain(token: str) -> str:
    return "".join(ATOM.findall(token))


def _shape(compact: str) -> str:
    return "".join("9" if c.isdigit() else "a" if c.isalpha() else c for c in compact)
