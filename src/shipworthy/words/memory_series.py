"""The series that the letters of a part number stand for, in the words under which its maker sells them.

A module shows its number and never the name on its box. Where its maker writes the series into the number,
a name of another series can be told from it all the same. The letters are evident from the names of parts in
open data, against which `tests/words/test_memory_series.py` holds them; those under which a maker has sold
two series (Kingston's of HyperX, later called FURY) are left out.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache

from shipworthy.words.memory_codes import MemoryCode

_Series = tuple[tuple[str, str], ...]
_CORSAIR: dict[str, _Series] = {
    "DDR3": (
        ("CMD", "dominator platinum"),
        ("CMX", "xms3"),
        ("CML", "vengeance lp"),
        ("CMY", "vengeance pro"),
        ("CMZ", "vengeance"),
        ("CMV|VS", "valueselect"),
    ),
    "DDR4": (
        ("CMK", "vengeance lpx"),
        ("CMG", "vengeance rgb rs"),
        ("CMH", "vengeance rgb pro sl"),
        ("CMN", "vengeance rgb rt"),
        ("CMR", "vengeance rgb"),
        ("CMW", "vengeance rgb pro"),
        ("CMU", "vengeance led"),
        ("CMD", "dominator platinum"),
        ("CMT", "dominator platinum rgb"),
        ("CMV", "valueselect"),
    ),
    "DDR5": (
        ("CMK", "vengeance"),
        ("CMH", "vengeance rgb"),
        ("CMT", "dominator platinum rgb"),
        ("CMP", "dominator titanium rgb"),
    ),
}
_G_SKILL: dict[str, _Series] = {
    "DDR3": (("B?X[LM]|BRL|BZ[HL]", "ripjaws"), ("TX.*", "trident"), ("B?SR", "sniper"), ("A[BO]", "ares")),
    "DDR4": (
        ("V.*|R[KRS].*", "ripjaws"),
        ("TZN.*", "trident neo"),
        ("TZ[^N]?.*", "trident"),
        ("T[ER][GS]C?", "trident royal"),
        ("FX.*", "flare"),
        ("IS.?", "aegis"),
    ),
    "DDR5": (
        ("RM5N.*", "ripjaws neo"),
        ("R[MS].*", "ripjaws"),
        ("TZ5N.*", "trident neo"),
        ("TZ5[^N]*", "trident"),
        ("TR5N.", "trident royal neo"),
        ("TR5[GS]", "trident royal"),
        ("FX5.*", "flare"),
        ("IS", "aegis"),
        ("ZR5N.*", "zeta neo"),
        ("ZR5.*", "zeta"),
    ),
}
_FURY: _Series = (("B[BW].*", "beast"), ("R.*", "renegade"), ("I.*", "impact"))
_SERIES = {"corsair": _CORSAIR, "g.skill": _G_SKILL, "kingston": {"DDR4": _FURY, "DDR5": _FURY}}
_SPELLINGS = {"tridentz": "trident", "ripjawsv": "ripjaws"}

_FOR = r"\b(?:for|für|fuer|pour|(?:compatible|works)\swith|kompatibel\s(?:mit|zu)|compatible\savec)"


@lru_cache(maxsize=4096)
def series_of(code: MemoryCode) -> str:
    """Return the words of the series that a part number belongs to; empty where its letters tell none."""
    for letters, words in _SERIES.get(code.maker, {}).get(code.type or "", ()):
        if re.fullmatch(letters, code.family):
            return words
    return ""


def named_otherwise(name: str, code: MemoryCode) -> bool:
    """Return whether a name bears a word of a series of that maker's which the number's own series lacks.

    A name that says less than the number, as shops shorten it, is none: `Vengeance` may be any of them.
    """
    own = set(series_of(code).split())
    if not own:
        return False
    words = re.findall(r"[^\W_]+", _without_purpose(name.casefold(), code.maker))
    said = {_SPELLINGS.get(word, word) for word in words}
    if "rgb" in said:
        said.discard("led")  # it describes the lamps there; a series of LED has one colour
    return bool((said & _words_of(code.maker)) - own)


def _without_purpose(name: str, maker: str) -> str:
    """Return a name without what it says the memory is for (`for Ryzen Pro`): up to where a series begins."""
    return _purpose(maker).sub(" ", name)


@cache
def _purpose(maker: str) -> re.Pattern[str]:
    first_words = sorted({words.split()[0] for kinds in _SERIES[maker].values() for _, words in kinds})
    return re.compile(rf"{_FOR}\b.*?(?=\b(?:{'|'.join(first_words)})|$)")


@cache
def _words_of(maker: str) -> frozenset[str]:
    return frozenset(
        word for kinds in _SERIES[maker].values() for _, words in kinds for word in words.split()
    )
