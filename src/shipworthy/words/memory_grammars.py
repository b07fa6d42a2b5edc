"""The grammars by which makers build the part numbers of memory, as patterns, and what their codes stand for.

One grammar a maker, none for the rest. They are those of makers' own part-number guides (Kingston, Crucial,
Micron, Samsung and SK hynix publish such pages; from memory), or evident from the names of parts in open
data, against which `tests/words/test_memory_codes.py` holds every one. `memory_codes` reads numbers by them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

# Rates that makers write with two figures; others are so many hundreds.
BY_TWO = {
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
KITS = {"02": 1, "22": 2, "D2": 2, "S": 1, "D": 2, "T": 3, "Q": 4, "Q2": 8, "SC": 1, "DC": 2, "QC": 4}
SILENT_ON_KITS = frozenset(
    [
        *("g.skill", "adata", "adata ddr5", "silicon power gaming", "klevv", "evga"),
        *("patriot signature", "patriot viper", "patriot viper ddr5"),
    ]
)
GENERATIONS = {
    "A": "DDR4",
    "B": "DDR3",
    "C": "DDR5",
    "F": "DDR4",
    "R": "DDR5",
    "T": "DDR3",
    "V": "DDR5",
    "W": "DDR5",
    "Z": "DDR4",
}
DEPTHS = {"12": 1, "25": 2, "28": 1, "51": 4, "52": 4, "56": 2, "57": 2}
"""What so many Mi words of 64 bits are in GiB; `1G` and `1K` are 1,024 of them. Of 736 modules in 2,489
desktops (linuxhw/DMI) the firmware counts another size in 8."""

# Fields that stand in many grammars, written `<NAME>` there.
_FIELDS = {
    "TYPE": r"(?P<type>[2-5])",
    "TOTAL": r"(?P<total>\d{1,3})",
    "EACH": r"(?P<each>\d{1,3})",
    "CAS": r"(?P<cas>\d{1,2})",
    "RATE": r"(?P<rate>\d{3,5})",
    "TWO": r"(?P<two>\d{2})",
    "KIT": r"(?:K(?P<kit>\d))?",
    "KIT FIRST": r"(?:(?P<kit>\d)(?:KIT|[CK]))?",
    "DEPTH": r"(?P<depth>12|25|28|5[1267]|[1248][GK])",
    "THREE": r"(?P<three>\d{3})",
    "LETTERS": r"(?P<family>[A-Z0-9]+)",
    "BIN": r"(?P<crucial>213|24A|266|293|32A)",
    "PAIR": r"(?:[A-Z]?(?P<kit>SC|DC|QC))",
    "JEDEC": r"(?P<rate>[468]00|533|667|1066|1333|1600|1866|2133|2400|2666|2933|3200|4800|5200|5600|6[04]00)",
}
_GRAMMARS = {
    # CMK32GX5M2B6400C32: 32 GB in all, DDR5, two modules, version B.
    "corsair": r"(?P<family>CM[A-Z]{1,2})<TOTAL>GX<TYPE>M(?P<kit>\d)[A-Z]<RATE>"
    r"(?:[CZ]<CAS>[A-Z]*)?(?:-[A-Z]+)?",
    # VS2GB1333D3: a module of 2 GB, DDR3.
    "corsair value": r"(?P<family>VS)<EACH>GB<JEDEC>D<TYPE>(?: ?G)?",
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
    # KCP424NS6/4: DDR4, 2400, 4 GB.
    "kingston client": r"KCP<TYPE>L?<TWO>(?P<family>[A-Z]{2})\d?<KIT>[/-]<TOTAL>",
    # CT2K8G4DFS8266: two modules of 8 GB, DDR4, bin 266. A module shows its build behind a dot.
    "crucial": r"C[TP]<KIT FIRST><EACH>G<TYPE>(?P<family>[A-Z]{2})[A-Z]*\d?<BIN>[A-Z0-9.]*",
    # CP2K16G60C36U5B: two modules of 16 GB, DDR5-6000, latency 36. Ballistix of DDR4 alike.
    "crucial named": r"(?P<family>CT|CP|BL[A-Z]?)<KIT FIRST><EACH>G<TWO>C<CAS>[A-Z]<TYPE>[A-Z0-9]*",
    # CT51264BD160B: 512 Mi words of 64 bits are 4 GB; DDR3.
    "crucial ddr3": r"(?P<family>CT)<KIT FIRST>(?P<words>128|256|512|1024)(?:64|72)B(?P<form>[A-Z])"
    r"(?P<crucial3>1067|1339|106|133|160|186)[A-Z0-9.]*",
    # BLS2K8G4D26BFSBK: two modules of 8 GB, DDR4-2666; BLS4G3D1609DS1S00: DDR3-1600, latency 9.
    "crucial ballistix": r"(?P<family>BL[A-Z])<KIT FIRST><EACH>G(?P<type>4)D(?:(?P<three>240)|<TWO>[A-Z])"
    r"(?P<form>[A-Z0-9]{3})[A-Z0-9.]*",
    "crucial ballistix ddr3": r"(?P<family>BL[A-Z])<KIT FIRST><EACH>G(?P<type>3)D<THREE>(?P<cas>\d)"
    r"(?P<form>[A-Z]{2}\d)[A-Z0-9]*",
    # SP016GBLFU320X22: 16 GB in all, DDR4 (F), 3200, two modules.
    "silicon power": r"SP<TOTAL>G[BL](?P<family>[LS])(?P<made>[FTV])U<THREE>(?P<form>[A-Z])"
    r"(?P<kit>02|22|D2)[A-Z0-9]*",
    # SP032GXLWU60AFDH: DDR5 (W), 6000; records disagree about size and count.
    "silicon power gaming": r"SP\d{3}GX(?P<family>[LS])(?P<made>[ZW])U(?:<THREE>|<TWO>[A-F])[A-Z]"
    r"[DS](?P<form>[A-Z])[A-Z0-9]*",
    # TF4D416G3200HC16FDC01: DDR4, 16 GB in all, 3200, latency 16, a pair (DC).
    "team": r"(?P<family>[CFT][A-Z0-9]{1,4})D<TYPE><TOTAL>G<RATE>H?C(?P<cas>\d{2})<PAIR>?[0-9A-Z-]*",
    # PSD34G13332: DDR3, 4 GB, 1333; what follows is the build.
    "patriot signature": r"(?P<family>PS[DP])<TYPE><TOTAL>G<JEDEC>\w*",
    # PVB416G320C6K: DDR4, 3200.
    "patriot viper": r"(?P<family>P[VX][A-Z0-9]*?)(?P<type>[345])<TOTAL>G<THREE>C\w*",
    # PVV516G56C36: DDR5-5600, latency 36.
    "patriot viper ddr5": r"(?P<family>P[VX][A-Z0-9]*?)(?P<type>5)<TOTAL>G<TWO>C(?P<cas>\d{2})[A-Z]*",
    # AX5U6000C3016G-DTLABBK: DDR5-6000, latency 30, modules of 16 GB.
    "adata ddr5": r"(?P<family>A[XD])(?P<type>5)[US](?P<rate>\d{4})C(?P<cas>\d{2})<EACH>G[\w-]*",
    "adata": r"(?P<family>A[XD])(?P<type>4)[US](?P<rate>\d{4})\d{1,3}G\d{2}[\w-]*",
    # MD16GK2D4266616XR: 16 GB in all, two modules, DDR4-2666, latency 16.
    "pny": r"(?P<family>MD)<TOTAL>G<KIT>[DS]<TYPE>(?P<rate>\d{4})<CAS>[A-Z-]*",
    # GAOSG416GB3600C18BDC: DDR4, 16 GB in all, latency 18, a pair.
    "geil": r"(?P<family>G[A-Z]+)<TYPE><TOTAL>GB(?P<rate>\d{4})C<CAS><PAIR>",
    # KD4AGU880-36A180U: DDR4-3600, latency 18.
    "klevv": r"KD<TYPE>[0-9A-Z]GU[0-9A-Z]{3}-<TWO>[A-Z](?P<cas>\d{2})0(?P<family>[A-Z])",
    # R009D408GX2-3600C18B: two modules of 8 GB, DDR4-3600, latency 18.
    "thermaltake": r"R(?P<family>[0-9A-Z]{3})[DR]<TYPE><EACH>GX(?P<kit>\d)-<RATE>C(?P<cas>\d{2})"
    r"(?P<form>[A-Z])",
    # MRF4U360JNNM8GX2: two modules of 8 GB, DDR4-3600.
    "mushkin": r"M(?P<family>[A-Z]{2})<TYPE>(?P<form>[A-Z])<THREE>[0-9A-Z]{1,3}[A-Z]<EACH>G"
    r"(?:\d8)?(?:X(?P<kit>\d))?",
    # 16G-D4-2400-MR: 16 GB in all, DDR4-2400.
    "evga": r"<TOTAL>GX?-D<TYPE>-<RATE>-(?P<family>[A-Z]+)",
    # M378A1K43CB2-CTD: UDIMM (378), DDR4 (A), 1 Gi words of 64 bits (1K), bin TD.
    "samsung": r"(?P<family>M[34][0-9]{2})(?P<made>[ABR])(?:<DEPTH>|[0-9A-Z]{2})[0-9A-Z]{2,5}"
    r"-[A-Z](?P<samsung>[A-Z][A-Z0-9])\w*",
    # HMA81GU6AFR8N-UH: DDR4 (A), 1 Gi words (1G), bin UH
    "sk hynix": r"(?P<family>HM)(?P<made>[ATC])(?:[0-9A]<DEPTH>(?=[A-Z]\d)|[0-9A-Z]{3})"
    r"[0-9A-Z]{3,7}-(?P<hynix>[A-Z][A-Z0-9])\w*",
    # MTA18ADF2G72AZ-3G2E1
    "micron": r"(?P<family>(?:MT)?[A-Z]?\d{1,2}[A-Z]{3})[0-9A-Z]{4,9}-(?P<micron>[1-3]G\d)\w*",
}


def _compiled(grammar: str) -> re.Pattern[str]:
    for name, field in _FIELDS.items():
        grammar = grammar.replace(f"<{name}>", field)
    return re.compile(grammar)


PATTERNS = {name: _compiled(grammar) for name, grammar in _GRAMMARS.items()}
BINS: Mapping[str, Mapping[str, int]] = {
    "samsung": _SAMSUNG_BINS,
    "hynix": _HYNIX_BINS,
    "micron": _MICRON_BINS,
    "crucial": _CRUCIAL_BINS,
    "crucial3": _CRUCIAL_DDR3_BINS,
}
