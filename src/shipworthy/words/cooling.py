"""Coolers and fans: sizes (`360mm AIO`, `120 mm`), packs (`3-pack`), whether one comes with a processor."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.counts import Count
from shipworthy.words.spans import Span, number, plain, where


@dataclass(frozen=True, slots=True)
class Millimetres(Span):
    mm: float


@dataclass(frozen=True, slots=True)
class CoolerWith(Span):
    """Words for whether a cooler comes with a processor."""

    included: bool


FAN_SIZES_MM = (40, 60, 70, 80, 92, 120, 140, 180, 200, 220, 230)
RADIATOR_SIZES_MM = (92, 120, 140, 180, 200, 240, 280, 360, 400, 420, 480, 560)
"""Whole fans in a row, one to four (common practice)."""
_LONGER_THAN_A_TOWER_MM = 240
_MM = re.compile(r"(?<![\w.,])(?P<mm>\d{1,4}(?:[.,]\d{1,2})?)[\s-]?mm(?!\w|\sdrive)", re.IGNORECASE)
_LIQUID = re.compile(
    r"\bAIO\b|\ball[ -]in[ -]one\b|\b(?:water|liquid)\b|\bradiators?\b|\bclosed[ -]loop\b", re.IGNORECASE
)
_BESIDE = re.compile(
    r"\b(?:AIO|radiator)\s(?P<a>\d{2,3})(?![\w.,])|(?<![\w.,])(?P<b>\d{2,3})(?:er)?\s(?:AIO|radiator)\b",
    re.IGNORECASE,
)
_BARE = re.compile(r"(?<![\w.,/-])(?P<mm>\d{3})(?![\w.,/-]|\s?(?:W|mm|rpm|CFM)\b)", re.IGNORECASE)
_NUMERALS = {"single": 1, "two": 2, "twin": 2, "dual": 2, "double": 2, "three": 3, "triple": 3, "five": 5}
_PACK = re.compile(
    rf"\b(?P<a>\d{{1,2}}|{'|'.join(_NUMERALS)})(?:er)?[\s-]?pack\b|\bpack\sof\s(?P<b>\d{{1,2}})\b"
    r"|(?<![\w.,])(?P<c>\d{1,2})\s?x\s(?=\d{2,3}\s?mm)|(?<![\w.,])(?P<d>\d{1,2})x(?=\d{2,3}\s?mm)"
    r"|(?<![\w.,])(?P<e>\d{1,2})\s?(?:fans|pcs|pieces)\b",
    re.IGNORECASE,
)

# English, German and French. A processor from a tray has no box that could hold a cooler (common practice);
# of a box nothing follows, as makers sell boxes of both kinds.
_WITH_PROCESSOR = re.compile(
    r"(?:\b(?:(?P<no>no|without|w/o|ohne|sans|excl(?:\.|uding)?|exkl(?:\.|usive)?)"
    r"|(?<!not )(?<!nicht )(?<!pas )(?<!use )(?<!used )"
    r"(?:with|incl(?:\.|uding)?|mit|inkl(?:\.|usive)?|avec))|\bw/)"
    r"\s?(?:an?\s|the\s|stock\s|box(?:ed)?[\s-]?)*"
    r"(?:coolers?|fans?|heatsinks?|K(?:ü|ue)hler|L(?:ü|ue)fter|ventirad|ventilateur)\b|\b(?P<tray>tray)\b",
    re.IGNORECASE,
)


def find_coolers_included(text: str) -> tuple[CoolerWith, ...]:
    """Return all words of a processor's text for whether a cooler comes with it: `no cooler`, `tray`."""
    found = _WITH_PROCESSOR.finditer(plain(text))
    return tuple(CoolerWith(*where(m, text), not (m["no"] or m["tray"])) for m in found)


def find_millimetres(text: str) -> tuple[Millimetres, ...]:
    """Return every length in the text that is given in mm."""
    return tuple(Millimetres(*where(m, text), number(m["mm"])) for m in _MM.finditer(plain(text)))


def says_liquid(text: str) -> bool:
    """Return whether a cooler's text says that it cools by liquid."""
    return _LIQUID.search(plain(text)) is not None


def find_radiators(text: str) -> tuple[Millimetres, ...]:
    """Return every size of radiator in a cooler's text.

    A number beside the word (`360 AIO`) counts without its unit, and so does a lone one of a radiator's
    larger sizes (`Liquid Sprout 280`). Where nothing says that it cools by liquid, only a length that no
    tower has is a radiator's.
    """
    least = 0 if says_liquid(text) else _LONGER_THAN_A_TOWER_MM
    found = [one for one in find_millimetres(text) if one.mm in RADIATOR_SIZES_MM and one.mm >= least]
    for match in _BESIDE.finditer(plain(text)):
        one = Millimetres(*where(match, text), float(match["a"] or match["b"]))
        if one.mm in RADIATOR_SIZES_MM and not any(one.overlaps(known) for known in found):
            found.append(one)
    if not found and least == 0:
        bare = (Millimetres(*where(m, text), float(m["mm"])) for m in _BARE.finditer(plain(text)))
        found = [one for one in bare if one.mm in RADIATOR_SIZES_MM and one.mm >= _LONGER_THAN_A_TOWER_MM]
    return tuple(sorted(found, key=lambda one: one.start))


def find_fan_sizes(text: str) -> tuple[Millimetres, ...]:
    """Return every size of fan in a fan's text. (25 mm is how thick one is.)"""
    return tuple(one for one in find_millimetres(text) if one.mm in FAN_SIZES_MM)


def find_packs(text: str) -> tuple[Count, ...]:
    """Return how many fans a pack holds."""
    found = []
    for match in _PACK.finditer(plain(text)):
        said = next(filter(None, match.group("a", "b", "c", "d", "e"))).casefold()
        count = _NUMERALS.get(said) or (int(said) if said.isdigit() else 0)
        if count:
            found.append(Count(*where(match, text), count))
    return tuple(found)
