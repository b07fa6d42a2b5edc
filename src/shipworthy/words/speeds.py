"""Transfer rates in part texts: memory in MT/s, network in Mbit/s.

The trade writes MHz where it means MT/s (`DDR5-6000`, `6000MHz` and `6000 MT/s` are one speed); the
module names count MB/s over a 64-bit channel, eight times the rate (JEDEC JESD79: `PC5-48000`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, number, where


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
    r"\b(?:LP)?DDR\d?[LX]?[\s-]?(?P<a>\d{3,5})\b|\b(?P<b>\d{3,5})\s?(?:MT/?s|MHz)\b", re.IGNORECASE
)
_MODULE_NAME = re.compile(r"\bPC[2-5]L?-?(?P<mb_s>\d{4,5})[A-Z]?\b", re.IGNORECASE)
_NETWORK = re.compile(
    r"(?<![\w.,])(?:(?P<number>\d+(?:[.,]\d+)?)\s?)?"
    r"(?P<unit>GbE|Gigabit|Gbit/s|Gb/s|Gbps|GBASE-\w+|MbE|Megabit|Mbit/s|Mb/s|Mbps|BASE-TX?)(?!\w)",
    re.IGNORECASE,
)


def find_memory_speeds(text: str) -> tuple[MemorySpeed, ...]:
    """Return every memory speed in the text, in MT/s, in order."""
    found = [MemorySpeed(*where(m), int(m["a"] or m["b"])) for m in _RATE.finditer(text)]
    found += [MemorySpeed(*where(m), _nominal(int(m["mb_s"]) / 8)) for m in _MODULE_NAME.finditer(text)]
    return tuple(sorted(found, key=lambda speed: speed.start))


def find_network_speeds(text: str) -> tuple[NetworkSpeed, ...]:
    """Return every network speed in the text, in Mbit/s; a lone `Gigabit` is 1000."""
    found: list[NetworkSpeed] = []
    for match in _NETWORK.finditer(text):
        unit = match["unit"].lower()
        if match["number"] is None and unit not in ("gbe", "gigabit"):
            continue
        factor = 1000 if unit.startswith("g") else 1
        found.append(NetworkSpeed(*where(match), round(number(match["number"] or "1") * factor)))
    return tuple(found)


def same_rate(one: float, other: float, tolerance: float = 0.01) -> bool:
    """Return whether two rates are one speed: 2133, 2133.33 and 2134 are (1 %, common practice)."""
    return abs(one - other) <= tolerance * max(one, other)


def _nominal(rate: float) -> int:
    """Return the nominal rate that a module name means: PC3-10600 is 1325 by division, and means 1333."""
    nearest = min(_NOMINAL, key=lambda nominal: abs(nominal - rate))
    return nearest if same_rate(nearest, rate) else round(rate)
