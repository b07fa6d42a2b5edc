"""Is a display the one that was sold, by the thirteen characters that its EDID has for a name?

Many give the code on the box (`DELL U2723QE`); some cut it short (`PHL 276E9Q` of a 276E9QDSB), put an x for
what varies (`S24R35x`), or give a series (`LG ULTRAGEAR`). AOC and iiyama have codes of their own there, and
share but the first number with the box (EDIDs of real displays: reference data, edid).
"""

from __future__ import annotations

import re

from shipworthy.words.likeness import Likeness
from shipworthy.words.names import Name, same_spelling

_OWN_CODES = frozenset({"aoc", "iiyama"})
_FILLING = re.compile(r"\b(?:PHL|LEN|series|SERIES|Series)\b")
_SAMSUNGS = re.compile(r"\bL(?=[A-Z]\d{2})")  # the L of `LC27G75TQSRXEN` is not printed on the display
_CODE = re.compile(r"(?=[\w-]*\d)\w[\w+-]*")
_LEAST = 4  # characters that two codes must share to be one, cut short


def display_likeness(want: str, got: str, maker: str = "") -> Likeness:
    """Compare a display's name as sold with its EDID's, both without the maker's name. maker: its key."""
    want, got = (_FILLING.sub(" ", _plain(name, maker)).strip() for name in (want, got))
    codes = [code for code in _CODE.findall(got) if len(code) > 2]
    if not codes or not _CODE.search(want):
        return Likeness.PARTLY
    if same_spelling(want, got):
        return Likeness.SAME
    wanted = Name.of(want)
    open_ = [code for code in codes if not wanted.has(code.casefold())]
    if any(not _may_be_one(code, want, maker) for code in open_):
        return Likeness.OTHER
    if open_:
        return Likeness.PARTLY
    found = Name.of(got)
    if _marks(found) - _marks(wanted):
        return Likeness.OTHER  # VG270U sold, VG270U P found
    missing = [code for code in _CODE.findall(want) if not found.has(code.casefold())]
    return Likeness.PARTLY if missing or _marks(wanted) - _marks(found) else Likeness.SAME


def _marks(name: Name) -> frozenset[str]:
    return frozenset(token for token in name.tokens if len(token) <= 2 and not token.isdigit())


def _plain(name: str, maker: str) -> str:
    return _SAMSUNGS.sub("", name) if maker == "samsung" else name


def _may_be_one(code: str, want: str, maker: str) -> bool:
    """Whether a code that does not stand in the name sold may be of that display all the same."""
    return any(_is_cut(code, other) or _is_own(code, other, maker) for other in _CODE.findall(want))


def _is_cut(code: str, other: str) -> bool:
    """Whether one is the begin of the other; a small x behind capitals and digits stands for anything."""
    varies = re.fullmatch(r"([A-Z0-9]+)x[A-Z]*", code)
    one, two = ((varies[1] if varies else code).replace("-", ""), other.replace("-", ""))
    shared = min(len(one), len(two))
    return shared >= _LEAST and one[:shared].casefold() == two[:shared].casefold()


def _is_own(code: str, other: str, maker: str) -> bool:
    one, two = (re.search(r"\d+", text) for text in (code, other))
    if one is None or two is None or one.group() != two.group():
        return False
    return maker in _OWN_CODES or (len(one.group()) >= _LEAST and code[: one.start()] != other[: two.start()])
