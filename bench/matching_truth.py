"""What is right, told without the comparison: which facts tell two retail parts apart, and does a witness
state one of them? For `bench/matching.py`.

Everything rests on the open records (names, part numbers, facts) and on the device's strings and facts.

- A *token* is a word of a retail name without hyphens and case. Words that only describe (form factors,
  interfaces, units, what kind of part it is) and sizes, speeds and timings, which are facts, are none.
- A token *stands* in a string if it is one of its words, or several in a row, or if it is of letters and
  digits, four characters and more, and stands within a word with no other digit beside its own
  (`BX500` in `CT480BX500SSD1`).
- A witness *separates* the part that it has from another record if (a) a token of the first that the other
  lacks stands in its strings; or (b) a token of the other that the first lacks does not stand, though the
  word before it in the other's name does, and is of both (`EVO` stands and `Plus` does not); or (c) they
  differ in a fact that the witness states: size, count, type, technology, interface; the speed of memory
  where it runs at, or is rated at, its own, or its part number holds the figure; timings where its part
  number holds them (`C16`).
- A witness *carries the deciding token* of its part if it separates it from every other record of that
  maker and category, and from one of them at least by a token of its own that stands. (The maker's name,
  which some records leave out, is none.) Where the facts alone do it (the only kit of that size and speed),
  no token is carried: that is counted apart, since one who does not know the other records cannot know it.
  Records that share a part number are one part.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from matching_tables import Device, Retail

_SPLIT = re.compile(r"[\s,;()\[\]|\"'”″]+")
_FACT_WORDS = re.compile(
    r"\d+(?:[.,]\d+)?[gtm]i?b|\d+x\d+[gt]b|\d{1,2}x|x\d{1,2}|ddr\dl?|l?pddr\d|(?:l?pddr\d|ddr\dl?)-?\d{3,5}|cl?\d{2}"
    r"|\d{3,5}(?:mhz|mt/?s)|\d+(?:\.\d+)?(?:gb?/?s|gbps|mb/?s|ghz)|\d+-core|m\.2(?:-\d{4,5})?|2\.5|3\.5"
    r"|\d{4,5}rpm|pcie|lga-?\d+(?:-\d)?|gen\d|[\d.]+-?inch|22(?:30|42|60|80|110)|\d\.0"
)
_DESCRIBING = frozenset(
    [
        *("ssd", "hdd", "sshd", "sata", "iii", "nvme", "sas", "internal", "hybrid", "rpm", "drive", "disk"),
        *("hard", "solid", "state", "ghz", "gb/s", "gb", "tb", "mb", "mhz", "mt/s", "w/heatsink", "heatsink"),
        *("memory", "kit", "dram", "ram", "dimm", "udimm", "sodimm", "so-dimm", "desktop", "registered"),
        *("oem/tray", "oem", "tray", "box", "boxed", "processor", "cpu", "motherboard", "mainboard", "atx"),
        *("micro", "mini", "itx", "micro-atx", "mini-itx", "e-atx", "eatx", "matx", "m-atx", "xl-atx", "dtx"),
        *("intel", "amd", "cache", "core", "cl", "of", "with", "and", "for", "pci", "express", "module"),
    ]
)
COLOURS = frozenset(
    [
        *("black", "white", "red", "blue", "green", "silver", "grey", "gray", "gold", "yellow", "pink"),
        *("orange", "purple", "brown", "beige", "titanium", "camo", "mint"),
    ]
)
_RATES = ("running", "rated")
_STATED = ("size", "count", "type", "technology", "interface", "chip")


@dataclass(frozen=True)
class Change:
    """What tells a sold part from the fitted one, and which of it the device states."""

    kinds: tuple[str, ...]
    stated: tuple[str, ...]

    @property
    def kind(self) -> str:
        """The kind it is counted under: of those stated the first, else of all."""
        return (*self.stated, *self.kinds, "nothing told")[0]


@cache
def tokens(name: str) -> tuple[str, ...]:
    """Return the tokens of a retail name, in order."""
    plain = unicodedata.normalize("NFKC", name).casefold().replace("®", "").replace("™", "")
    words = _SPLIT.split(re.sub(r"(?<=\d)\s(?=(?:[gtm]b|rpm|mhz|mt/s)\b)", "", plain))
    kept = [w for w in words if w not in _DESCRIBING and not _FACT_WORDS.fullmatch(w)]
    return tuple(filter(None, (_compact(word) for word in kept)))


@cache
def _lacking(one: str, other: str) -> tuple[str, ...]:
    """Return the tokens of one name that the other does not have, however it joins its words."""
    whole = _runs(" ".join(_SPLIT.split(unicodedata.normalize("NFKC", other))))
    return tuple(token for token in tokens(one) if token not in whole)


def _compact(text: str) -> str:
    return re.sub(r"[^a-z0-9+]", "", text.casefold())


@cache
def _runs(text: str) -> frozenset[str]:
    """Every run of up to six neighbouring words of a string, written as one."""
    words = [word for word in re.split(r"[^a-z0-9+]+", text.casefold()) if word]
    return frozenset(
        "".join(words[start : start + length]) for start in range(len(words)) for length in range(1, 7)
    )


@cache
def stands(token: str, strings: tuple[str, ...]) -> bool:
    """Return whether a token stands in one of these strings."""
    if any(token in _runs(text) for text in strings):
        return True
    if len(token) < 4 or token.isalpha() or token.isdigit():
        return False
    before = r"(?<!\d)" if token[0].isdigit() else ""
    after = r"(?!\d)" if token[-1].isdigit() else ""
    pattern = before + re.escape(token) + after
    return any(re.search(pattern, _compact(text)) for text in strings)


def same_part(one: Retail, other: Retail) -> bool:
    """Return whether two records are one part: the same record, or a part number in common."""
    numbers = {_compact(number) for number in one.numbers}
    return one.record_id == other.record_id or any(_compact(number) in numbers for number in other.numbers)


def names(words: str, retail: Retail) -> bool:
    """Return whether these words stand in a record's own name."""
    return _compact(words) in _runs(retail.name)


class Carried(StrEnum):
    """What a device says of its part, against all other records of that maker and category."""

    TOKEN = "carried"  # told from each of them, by a token of the name from one at least
    FACTS = "by facts alone"  # told from each of them, and no word of the name had a part in it
    NO = "not carried"


def carries(retail: Retail, device: Device, siblings: list[Retail]) -> Carried:
    """Return whether a device tells its part from all siblings of the maker, and by what."""
    others = [other for other in siblings if not same_part(retail, other)]
    if not all(separations(retail, other, device) for other in others):
        return Carried.NO
    said = any(stands(token, device.strings) for other in others for token in _own_words(retail, other))
    return Carried.TOKEN if said else Carried.FACTS


def separations(own: Retail, other: Retail, device: Device) -> tuple[str, ...]:
    """Return by which kinds of fact the device, which is `own`, separates it from another record."""
    kinds = [name for name in _STATED if _states(device, name) and _differ(own, other, name)]
    if _differ(own, other, "speed") and _states_speed(own, other, device):
        kinds.append("speed")
    if _differ(own, other, "timings") and _holds(device, rf"cl?{own.fact('timings')}(?!\d)"):
        kinds.append("timings")
    told = any(stands(token, device.strings) for token in _own_words(own, other))
    if told or any(_left_out(token, own, other, device) for token in _lacking(other.name, own.name)):
        kinds += _kinds_of_words(own, other)
    return tuple(dict.fromkeys(kinds))


def _own_words(own: Retail, other: Retail) -> tuple[str, ...]:
    """The tokens that the other's name lacks; its maker's name, which some records leave out, is none."""
    maker = tokens(own.maker)
    return tuple(token for token in _lacking(own.name, other.name) if token not in maker)


def changes(sold: Retail, fitted: Retail, device: Device) -> Change:
    """Return what tells the part sold from the one fitted, and what of it the fitted device states."""
    names = [*_STATED, "speed", "timings", "form"]
    kinds = [name for name in names if _differ(sold, fitted, name)] + _kinds_of_words(fitted, sold)
    return Change(tuple(dict.fromkeys(kinds)), separations(fitted, sold, device))


def _differ(one: Retail, other: Retail, name: str) -> bool:
    first, second = one.fact(name), other.fact(name)
    return first is not None and second is not None and first != second


def _states(device: Device, name: str) -> bool:
    return any(key == name for key, _ in device.states)


def _states_speed(own: Retail, other: Retail, device: Device) -> bool:
    """Whether the module tells its own speed: it runs at it, is rated at it, or has it in its part number."""
    speed = own.fact("speed")
    rates = [value for key, value in device.states if key in _RATES]
    return speed in rates or _holds(device, rf"(?<!\d){speed}(?!\d)")


def _holds(device: Device, pattern: str) -> bool:
    return any(re.search(pattern, text.casefold()) for text in device.strings)


def _left_out(token: str, own: Retail, other: Retail, device: Device) -> bool:
    """Rule (b): the device would have said it, for it says the word before."""
    if stands(token, device.strings):
        return False
    names = tokens(other.name)
    position = names.index(token)
    before = names[position - 1] if position else ""
    if not before or before in tokens(own.maker):  # the maker's name before a code is no language
        return False
    return before in tokens(own.name) and stands(before, device.strings)


def _kinds_of_words(own: Retail, other: Retail) -> list[str]:
    """Name what differs in two names: colour, revision, suffix or model."""
    first, second = _lacking(own.name, other.name), _lacking(other.name, own.name)
    told = [token for token in (*first, *second) if token not in COLOURS]
    if not told:
        return ["colour"] if first or second else []
    if all(re.fullmatch(r"(?:rev|r|v)?\d(?:\d)?|i{1,3}|iv|v", token) for token in told):
        return ["revision"]
    if any(_one_stem(a, b) for a in first for b in second) or not first or not second:
        return ["suffix"]
    return ["model"]


def _one_stem(one: str, other: str) -> bool:
    """7700 and 7700k, b450m and b450: the same figures, and other letters about them."""
    digits = re.findall(r"\d{3,}", one)
    return bool(digits) and digits == re.findall(r"\d{3,}", other) and one != other
