"""What the part numbers of memory say: type, sizes, speed, latency. One grammar a maker, none for the rest.

The grammars are those of makers' own part-number guides (Kingston, Crucial, Micron, Samsung and SK hynix
publish such pages; from memory), or evident from the names of parts in open data, against which
`tests/words/test_memory_codes.py` holds every one. A field that a number does not hold stays None.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from shipworthy.words.likeness import Likeness, code_likeness
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
        return self.grammar.split()[0].split(".")[0]

    @property
    def series(self) -> str:
        """The family, in a way that two grammars of one maker can be compared; empty where it is not told."""
        if self.grammar.startswith("kingston"):
            own = "" if self.grammar == "kingston shown" else self.family
            return "ValueRAM" if "valueram" in self.grammar else own
        return f"{self.grammar} {self.family}" if self.family else ""


# Rates that makers write with two figures; others are so many hundreds.
_BY_TWO = {
    10: 1066,
    13: 1333,
    18: 1866,
    21: 2133,
    26: 2666,
    29: 2933,
    33: 3333,
    34: 3466,
    37: 3733,
    38: 3866,
    41: 4133,
    42: 4266,
    51: 5133,
    53: 5333,
}
# The speed bins of JEDEC, as makers of modules and chips write them behind the last hyphen.
_SAMSUNG_BINS = {
    "F8": 1066,
    "H9": 1333,
    "K0": 1600,
    "MA": 1866,
    "PB": 2133,
    "RC": 2400,
    "TD": 2666,
    "VF": 2933,
    "WE": 3200,
    "QK": 4800,
    "WM": 5600,
}
_HYNIX_BINS = {"G7": 1066, "H9": 1333, "PB": 1600, "RD": 1866, "TF": 2133, "UH": 2400, "VK": 2666, "XN": 3200}
_MICRON_BINS = {
    "1G1": 1066,
    "1G4": 1333,
    "1G6": 1600,
    "1G9": 1866,
    "2G1": 2133,
    "2G3": 2400,
    "2G4": 2400,
    "2G6": 2666,
    "2G9": 2933,
    "3G2": 3200,
}
_CRUCIAL_BINS = {"213": 2133, "24A": 2400, "266": 2666, "293": 2933, "32A": 3200}
_CRUCIAL_DDR3_BINS = {"106": 1066, "1067": 1066, "133": 1333, "1339": 1333, "160": 1600, "186": 1866}
_KITS = {"S": 1, "D": 2, "T": 3, "Q": 4, "Q2": 8, "SC": 1, "DC": 2, "QC": 4}
_SILENT_ON_KITS = frozenset({"g.skill", "adata", "adata ddr5", "patriot signature", "patriot viper"})
_GENERATIONS = {"A": "DDR4", "B": "DDR3", "R": "DDR5", "T": "DDR3", "C": "DDR5"}

# Fields that stand in many grammars, written `<NAME>` there.
_FIELDS = {
    "TYPE": r"(?P<type>[2-5])",
    "TOTAL": r"(?P<total>\d{1,3})",
    "EACH": r"(?P<each>\d{1,3})",
    "CAS": r"(?P<cas>\d{1,2})",
    "RATE": r"(?P<rate>\d{3,5})",
    "TWO": r"(?P<two>\d{2})",
    "KIT": r"(?:K(?P<kit>\d))?",
    "KIT FIRST": r"(?:(?P<kit>\d)K)?",
    "LETTERS": r"(?P<family>[A-Z0-9]+)",
    "BIN": r"(?P<crucial>213|24A|266|293|32A)",
    "PAIR": r"(?:[A-Z]?(?P<kit>SC|DC|QC))",
    "JEDEC": r"(?P<rate>[468]00|533|667|1066|1333|1600|1866|2133|2400|2666|2933|3200|4800|5200|5600|6[04]00)",
}
_GRAMMARS = {
    # CMK32GX5M2B6400C32: 32 GB in all, DDR5, two modules, version B.
    "corsair": r"(?P<family>CM[A-Z]{1,2})<TOTAL>GX<TYPE>M(?P<kit>\d)[A-Z]<RATE>(?:[CZ]<CAS>[A-Z]*)?",
    # F4-3200C16D-32GVK, and on a module F4-3200C16-16GVK; F3-12800CL9D-8GBXL.
    "g.skill": r"F<TYPE>-<RATE>CL?<CAS>(?P<kit>S|D|T|Q2?)?-<TOTAL>G(?P<family>[A-Z0-9]*)",
    # F5-6000J3038F16GX2-TZ5N: latency 30, two modules of 16 GB.
    "g.skill ddr5": r"F<TYPE>-<RATE>[A-Z](?P<cas>\d{2})\d{2,3}[A-Z]<EACH>G[A-Z](?P<kit>\d)-<LETTERS>",
    # KF432C16BBK2/16: DDR4, 3200, latency 16, two modules, 16 GB in all. A single module leaves out K1.
    "kingston": r"(?:KF|HX)<TYPE><TWO>[A-Z]<CAS>(?P<family>[A-Z0-9]*?)<KIT>[/-]<TOTAL>G?",
    # What those modules show of themselves: KHX3200C16D4/8GX, KF3200C16D4/8GX.
    "kingston shown": r"K(?:HX|F)<RATE>C<CAS>D<TYPE>/<EACH>GX?",
    # KVR26N19S8/8, KVR48U40BS8-16: of the type, the speed alone tells.
    "kingston valueram": r"KVR<TWO>(?P<family>[A-Z])<CAS>[A-Z0-9]*?<KIT>[/-]<TOTAL>G?",
    "kingston valueram ddr3": r"KVR<RATE>D<TYPE>(?P<family>[A-Z])<CAS>[A-Z0-9]*?<KIT>/<TOTAL>G",
    # CT2K8G4DFS8266: two modules of 8 GB, DDR4, bin 266.
    "crucial": r"CT<KIT FIRST><EACH>G<TYPE>(?P<family>[A-Z]{2})[A-Z]*\d?<BIN>[A-Z0-9]*",
    # CP2K16G60C36U5B: two modules of 16 GB, DDR5-6000, latency 36. Ballistix of DDR4 alike.
    "crucial named": r"(?P<family>CT|CP|BL[A-Z]?)<KIT FIRST><EACH>G<TWO>C<CAS>[A-Z]<TYPE>[A-Z0-9]*",
    # CT51264BD160B: 512 Mi words of 64 bits are 4 GB; DDR3.
    "crucial ddr3": r"(?P<family>CT)<KIT FIRST>(?P<words>128|256|512|1024)(?:64|72)B(?P<form>[A-Z])"
    r"(?P<crucial3>1067|1339|106|133|160|186)[A-Z0-9.]*",
    # TF4D416G3200HC16FDC01: DDR4, 16 GB in all, 3200, latency 16, a pair (DC).
    "team": r"(?P<family>[CFT][A-Z0-9]{1,4})D<TYPE><TOTAL>G<RATE>H?C(?P<cas>\d{2})<PAIR>?[0-9A-Z-]*",
    # PSD34G13332: DDR3, 4 GB, 1333; what follows is the build.
    "patriot signature": r"(?P<family>PSD)<TYPE><TOTAL>G<JEDEC>\w*",
    # PVB416G320C6K: DDR4, 3200.
    "patriot viper": r"(?P<family>P[VX][A-Z0-9]*?)(?P<type>[345])<TOTAL>G(?P<three>\d{3})C\w*",
    # AX5U6000C3016G-DTLABBK: DDR5-6000, latency 30, modules of 16 GB.
    "adata ddr5": r"(?P<family>A[XD])(?P<type>5)[US](?P<rate>\d{4})C(?P<cas>\d{2})<EACH>G[\w-]*",
    "adata": r"(?P<family>A[XD])(?P<type>4)[US](?P<rate>\d{4})\d{1,3}G\d{2}[\w-]*",
    # MD16GK2D4266616XR: 16 GB in all, two modules, DDR4-2666, latency 16.
    "pny": r"(?P<family>MD)<TOTAL>G<KIT>[DS]<TYPE>(?P<rate>\d{4})<CAS>[A-Z-]*",
    # GAOSG416GB3600C18BDC: DDR4, 16 GB in all, latency 18, a pair.
    "geil": r"(?P<family>G[A-Z]+)<TYPE><TOTAL>GB(?P<rate>\d{4})C<CAS><PAIR>",
    # M378A1K43CB2-CTD: UDIMM (378), DDR4 (A), bin TD.
    "samsung": r"(?P<family>M[34][0-9]{2})(?P<made>[ABR])[0-9A-Z]{4,7}-[A-Z](?P<samsung>[A-Z][A-Z0-9])\w*",
    # HMA81GU6AFR8N-UH
    "sk hynix": r"(?P<family>HM)(?P<made>[ATC])[0-9A-Z]{6,10}-(?P<hynix>[A-Z][A-Z0-9])\w*",
    # MTA18ADF2G72AZ-3G2E1
    "micron": r"(?P<family>(?:MT)?[A-Z]?\d{1,2}[A-Z]{3})[0-9A-Z]{4,9}-(?P<micron>[1-3]G\d)\w*",
}


def _compiled(grammar: str) -> re.Pattern[str]:
    for name, field in _FIELDS.items():
        grammar = grammar.replace(f"<{name}>", field)
    return re.compile(grammar)


_PATTERNS = {name: _compiled(grammar) for name, grammar in _GRAMMARS.items()}
_BINS: Mapping[str, Mapping[str, int]] = {
    "samsung": _SAMSUNG_BINS,
    "hynix": _HYNIX_BINS,
    "micron": _MICRON_BINS,
    "crucial": _CRUCIAL_BINS,
    "crucial3": _CRUCIAL_DDR3_BINS,
}


@lru_cache(maxsize=4096)
def read_memory_code(number: str) -> MemoryCode | None:
    """Return what a part number says by its maker's grammar; None for one of no grammar known here."""
    plain = number.strip().upper()
    for name, pattern in _PATTERNS.items():
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
        return _KITS.get(kit, int(kit) if kit.isdigit() else None)
    return None if grammar in _SILENT_ON_KITS else 1


def _speed(said: Mapping[str, str | None]) -> int | None:
    for name, bins in _BINS.items():
        if said.get(name):
            return bins.get(said[name] or "")
    if two := _number(said.get("two")):
        return _BY_TWO.get(two, two * 100)
    if three := _number(said.get("three")):
        return next((rate for rate in _BY_TWO.values() if rate // 10 == three), three * 10)
    rate = _number(said.get("rate"))
    by_bandwidth = rate is not None and rate > 4000 and said.get("type") in ("2", "3")
    return rate // 8 if rate is not None and by_bandwidth else rate  # F3-12800: MB/s, as the module's name


def _type(said: Mapping[str, str | None], speed: int | None) -> str | None:
    if said.get("type"):
        return f"DDR{said['type']}"
    if said.get("made"):
        return _GENERATIONS.get(said["made"] or "")
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
