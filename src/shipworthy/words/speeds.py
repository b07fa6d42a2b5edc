"""Transfer rates in part texts: memory in MT/s, network in Mbit/s.

The trade writes MHz where it means MT/s (`DDR5-6000`, `6000MHz` and `6000 MT/s` are one speed); the
module names count MB/s over a 64-bit channel, eight times the rate (JEDEC JESD79: `PC5-48000`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, number, plain, thousands, where


@dataclass(frozen=True, slots=True)
class MemorySpeed(Span):
    speed_mt_s: int


@dataclass(frozen=True, slots=True)
class NetworkSpeed(Span):
    speed_mbit_s: int


# Nominal rates in MT/s (JEDEC JESD79-2 to -5 and the steps above them); a module name is rounded.
_NOMINAL = (
    *(400, 533, 667, 800, 1066, 1333, 1600, 1866, 2133, 2400, 2666, 2933, 3000, 3200, 3466, 3600, 3733),
    *(3866, 4000, 4133, 4266, 4400, 4600, 4800, 5000, 5200, 5600, 6000, 6200, 6400, 6600, 6800, 7000),
    *(7200, 7600, 7800, 8000, 8200, 8400, 8533, 8800, 9600),
)
_RATE = re.compile(
    r"\b(?:(?:LP)?DDR(?:\d[LX]?)?[\s@-]{0,3}|(?:SO-?)?DIMM-)(?P<a>\d{3,5})(?=C(?:L\s?)?\d{2}\b|\b)(?!\s?[GT]i?B|\s?[x*]\s?\d)"
    r"|(?<![\w.,])(?P<b>\d{3,5}|\d{1,2}[.,]\d{3})\s?-?(?:MT/?s?|MHz|Mbps)\b"
    r"|(?<![\w.,])(?P<giga>\d{1,2}(?:[.,]\d{1,3})?)\s?GT/s\b",
    re.IGNORECASE,
)
_MODULE_NAME = re.compile(
    r"\bPC(?P<kind>[2-5]?)[LU]?[\s-]?(?P<mb_s>\d{4,5})[A-Z]{0,2}(?![A-Za-z0-9])", re.IGNORECASE
)
_RATE_BY_NAME = {"4": 6000, "5": 20_000}
"""Below this the number of a module's label is the rate itself: `PC4-3200AA`, `PC5-4800B` (JEDEC's module
labels for DDR4 and DDR5, from memory)."""
_BARE = re.compile(r"(?<![\w.,/+-])(?P<rate>\d{4,5})(?![\w.,/+-]|\s?(?:rpm|W|mm)\b)", re.IGNORECASE)
_NETWORK = re.compile(
    r"(?<![\w.,])(?:(?P<number>\d{1,6}(?:[.,]\d{1,3})?)\s?)?"
    r"(?P<unit>GbE|Gigabit|Gbit/s|Gb/s|Gbps|GBASE-\w{1,8}|MbE|Megabit|Mbit/s|Mb/s|Mbps|BASE-TX?)(?!\w)",
    re.IGNORECASE,
)
_PAIRS = re.compile(r"(?<![\w.,])\d{1,2}\s?[x*]\s?(?=\d|Gigabit)", re.IGNORECASE)


def find_memory_speeds(text: str) -> tuple[MemorySpeed, ...]:
    """Return every memory speed in the text, in MT/s, in order.

    A bare number counts only where nothing else tells a speed, and if memory is sold at that rate.
    """
    flat = plain(text)
    found = [MemorySpeed(*where(m, text), _rate(m)) for m in _RATE.finditer(flat)]
    found += [MemorySpeed(*where(m, text), _by_name(m)) for m in _MODULE_NAME.finditer(flat)]
    if not found:
        bare = (MemorySpeed(*where(m, text), int(m["rate"])) for m in _BARE.finditer(flat))
        found = [speed for speed in bare if speed.speed_mt_s in _NOMINAL]
    return tuple(sorted((f for f in found if f.speed_mt_s), key=lambda speed: speed.start))


def find_network_speeds(text: str) -> tuple[NetworkSpeed, ...]:
    """Return every network speed in the text, in Mbit/s; a lone `Gigabit` is 1000."""
    found: list[NetworkSpeed] = []
    flat = plain(text)
    for match in _NETWORK.finditer(_PAIRS.sub(lambda m: " " * len(m.group()), flat)):
        unit = match["unit"].lower()
        if match["number"] is None and unit not in ("gbe", "gigabit"):
            continue
        factor = 1000 if unit.startswith("g") else 1
        found.append(NetworkSpeed(*where(match, text), round(number(match["number"] or "1") * factor)))
    return tuple(found)


def same_rate(one: float, other: float, tolerance: float = 0.01) -> bool:
    """Return whether two rates are one speed: 2133, 2133.33 and 2134 are (1 %, common practice)."""
    return abs(one - other) <= tolerance * max(one, other)


def _rate(match: re.Match[str]) -> int:
    if match["giga"]:
        return round(number(match["giga"]) * 1000)
    return round(thousands(match["a"] or match["b"]))


def _by_name(match: re.Match[str]) -> int:
    said = int(match["mb_s"])
    return said if said < _RATE_BY_NAME.get(match["kind"], 0) else _nominal(said / 8)


def _nominal(rate: float) -> int:
    """Return the nominal rate that a module name means: PC3-10600 is 1325 by division, and means 1333."""
    nearest = min(_NOMINAL, key=lambda nominal: abs(nominal - rate))
    return nearest if same_rate(nearest, rate) else round(rate)
