"""Sizes and kits in part texts: `2TB`, `16 GiB`, `32GB (2x16GB)`, `kit of 2`.

IEC 80000-13: 1 GiB is 2^30 bytes, 1 GB is 10^9. The trade writes GB for both: memory is counted in
powers of 1024 and drives in powers of 1000, so the caller says which the text is about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import IntEnum

from shipworthy.words.spans import Span, number, where, without


class Base(IntEnum):
    """What a plain k, M, G or T stands for."""

    DECIMAL = 1000  # drives
    BINARY = 1024  # memory


@dataclass(frozen=True, slots=True)
class Size(Span):
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Kit(Span):
    """Several equal modules. module_bytes is None where only their number is said (`kit of 2`)."""

    count: int
    module_bytes: int | None


_NUMBER = r"(?P<number>\d{1,3}(?:,\d{3})+|\d+(?:[.,]\d+)?)"
_UNIT = r"(?P<unit>[TGM]i?B|[TG])(?!\w|\s?/\s?s|\s?ps)"
_SIZE = re.compile(rf"(?<![\w.,/-]){_NUMBER}\s?{_UNIT}", re.IGNORECASE)
_KIT = re.compile(rf"(?<![\w.,])(?P<count>\d{{1,2}})\s?[x×*]\s?{_NUMBER}\s?{_UNIT}", re.IGNORECASE)
_KIT_BEHIND = re.compile(rf"(?<![\w.,]){_NUMBER}\s?{_UNIT}\s?[x×*]\s?(?P<count>[1-8])(?!\w)", re.IGNORECASE)
_KIT_NUMBER = re.compile(
    r"\bkit\s+of\s+(?P<a>[1-8])\b|\b(?P<b>[1-8])[ -](?:module|stick|dimm|piece)s?\b", re.IGNORECASE
)
_POWERS = {"m": 2, "g": 3, "t": 4}


def find_sizes(text: str, base: Base) -> tuple[Size, ...]:
    """Return every size in the text, in order; those of a kit's modules are not among them."""
    rest = without(text, find_kits(text, base))
    return tuple(Size(*where(match), _bytes(match, base)) for match in _SIZE.finditer(rest))


def find_kits(text: str, base: Base = Base.BINARY) -> tuple[Kit, ...]:
    """Return every kit in the text, those that give the modules' size first."""
    kits: list[Kit] = []
    for pattern in (_KIT, _KIT_BEHIND):
        for match in pattern.finditer(text):
            kit = Kit(*where(match), int(match["count"]), _bytes(match, base))
            if kit.count and not any(kit.overlaps(known) for known in kits):
                kits.append(kit)
    kits.extend(Kit(*where(m), int(m["a"] or m["b"]), None) for m in _KIT_NUMBER.finditer(text))
    return tuple(kits)


def size_text(size_bytes: int, base: Base) -> str:
    """Return a size as a shop writes it (`16GB`, `2TB`, `274.9GB`), to four digits."""
    step = base.value
    for unit, power in (("TB", 4), ("GB", 3)):
        if size_bytes >= step**power:
            return f"{size_bytes / step**power:.4g}{unit}"
    return f"{size_bytes / step**2:.4g}MB"


def _bytes(match: re.Match[str], base: Base) -> int:
    unit = match["unit"].lower()
    step: int = 1024 if "i" in unit else base.value
    return round(number(match["number"]) * float(step ** _POWERS[unit[0]]))
