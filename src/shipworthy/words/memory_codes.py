"""What the part numbers of memory say: type, sizes, speed, latency, by their makers' grammars.

A field that a number does not hold stays None; a number of no known grammar says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from shipworthy.words.likeness import Likeness, code_likeness
from shipworthy.words.memory_grammars import (
    BINS,
    BY_TWO,
    DEPTHS,
    GENERATIONS,
    KITS,
    PATTERNS,
    SILENT_ON_KITS,
)
from shipworthy.words.speeds import same_rate


@dataclass(frozen=True, slots=True)
class MemoryCode:
    """A part number, read. grammar: whose. family: the letters that name series, colour and build.

    total_gib and modules are of the kit; module_gib of each module. A number that a module shows may be that
    of its kit (Corsair) or its own (G.Skill).
    """

    grammar: str
    family: str
    type: str | None = None
    speed_mt_s: int | None = None
    cas: int | None = None
    module_gib: float | None = None
    modules: int | None = None

    @property
    def maker(self) -> str:
        return self.grammar.split()[0]

    @property
    def series(self) -> str:
        """The family, in a way that two grammars of one maker can be compared; empty where it is not told."""
        if self.grammar.startswith("kingston"):
            own = "" if self.grammar == "kingston shown" else self.family
            return "ValueRAM" if "valueram" in self.grammar else own
        return f"{self.grammar} {self.family}" if self.family else ""


@lru_cache(maxsize=4096)
def read_memory_code(number: str) -> MemoryCode | None:
    """Return what a part number says by its maker's grammar; None for one of no grammar known here."""
    plain = number.strip().upper()
    for name, pattern in PATTERNS.items():
        match = pattern.fullmatch(plain)
        if match is not None:
            return _read(name, match.groupdict())
    return None


def _read(grammar: str, said: Mapping[str, str | None]) -> MemoryCode:
    kit, total = said.get("kit"), _number(said.get("total"))
    each: float | None = _number(said.get("each"))
    modules = _modules(grammar, kit)
    if said.get("words"):
        each = int(said["words"] or 0) / 128
    if depth := said.get("depth"):
        each = DEPTHS.get(depth) or 8 * int(depth[0])
    if each is None and total is not None and modules:
        each = total / modules
    if grammar == "g.skill" and not kit:
        each = total  # the number of the module itself
    speed = _speed(said)
    family = "/".join(filter(None, (said.get("family"), said.get("form"))))
    return MemoryCode(grammar, family, _type(said, speed), speed, _number(said.get("cas")), each, modules)


def _modules(grammar: str, kit: str | None) -> int | None:
    """Return how many modules a kit has; some makers leave out that it is one, others write nothing."""
    if kit:
        return KITS.get(kit, int(kit) if kit.isdigit() else None)
    return None if grammar in SILENT_ON_KITS else 1


def _speed(said: Mapping[str, str | None]) -> int | None:
    for name, bins in BINS.items():
        if said.get(name):
            return bins.get(said[name] or "")
    if two := _number(said.get("two")):
        return BY_TWO.get(two, two * 100)
    if three := _number(said.get("three")):
        return next((rate for rate in BY_TWO.values() if rate // 10 == three), three * 10)
    rate = _number(said.get("rate"))
    by_bandwidth = rate is not None and rate > 4000 and said.get("type") in ("2", "3")
    return rate // 8 if rate is not None and by_bandwidth else rate  # F3-12800: MB/s, as the module's name


def _type(said: Mapping[str, str | None], speed: int | None) -> str | None:
    if said.get("type"):
        return f"DDR{said['type']}"
    if said.get("made"):
        return GENERATIONS.get(said["made"] or "")
    if said.get("crucial3"):
        return "DDR3"
    if said.get("two") and speed is not None:
        return "DDR3" if speed < 2000 else "DDR4" if speed < 4800 else "DDR5"  # ValueRAM keeps to JEDEC
    return None


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isdigit() else None


def telling_difference(sold: MemoryCode, fitted: MemoryCode) -> str | None:
    """Return the first field in which two part numbers of one maker contradict each other; None of none.

    How many modules a kit has is no part of a module: the same one is sold in several kits.
    """
    if sold.maker != fitted.maker:
        return None
    pairs = {
        "type": (sold.type, fitted.type),
        "module size": (sold.module_gib, fitted.module_gib),
        "latency": (sold.cas, fitted.cas),
        "series": (sold.series, fitted.series),
    }
    for name, (one, other) in pairs.items():
        if one and other and one != other:
            return name
    if sold.speed_mt_s and fitted.speed_mt_s and not same_rate(sold.speed_mt_s, fitted.speed_mt_s):
        return "speed"
    return None


def module_likeness(sold: str, said: str) -> Likeness:
    """Compare a part number sold with one that a module says.

    SAME also where the module says its own number and its kit's was sold (`F4-3200C16D-32GVK` and
    `F4-3200C16-16GVK`). OTHER where both can be read and contradict each other.
    """
    plain = code_likeness(sold, said)
    if plain is Likeness.SAME:
        return plain
    wanted, found = read_memory_code(sold), read_memory_code(said)
    if wanted is None or found is None:
        return plain
    if telling_difference(wanted, found) is not None:
        return Likeness.OTHER
    of_kit = wanted.grammar == found.grammar and wanted.modules != found.modules and wanted.family
    return Likeness.SAME if of_kit and found.modules in (None, 1) else plain
