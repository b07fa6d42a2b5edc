"""Signs by which a part text shows its category, and words by which a noun in it names none.

Common practice of shops' lists. A sign is grammar that only some things carry (`80+ Gold`, `DDR5-6000`,
`LGA 1700`) and counts by its weight: 3 alone is enough, 1 only helps. The nouns: category_nouns.py.
"""

from __future__ import annotations

import re

from shipworthy.model.words import Category

C = Category

# Makers' names that hold a noun of the trade.
MAKERS = re.compile(r"\bcooler ?master\b|\bcase ?labs\b|\bid-cooling\b|\bpower ?color\b", re.IGNORECASE)

# What follows belongs to the thing, or is what it is for: `case with 3 fans`, `cooler for AM5`.
ASIDE = re.compile(
    r"\b(?:with|w/|for|including|incl\.?|inkl\.?|mit|für|fuer|without|ohne|supports?|supporting|"
    r"compatible|no|avec|pour|sans|on (?:the|its|his|her|your)|onto|auf (?:der|dem|die|das)|"
    r"am|sur (?:le|la|les))"
    r"(?![\w])|\bw/",
    re.IGNORECASE,
)

_CORE = r"(?:intel )?core(?:\(tm\)|™)?[ -](?:i[3579]|ultra [3579]|[3579] \d{3}[a-z]*|2 (?:duo|quad|extreme))"
_SIGNS: tuple[tuple[Category, int, str], ...] = (
    (C.PROCESSOR, 4, rf"{_CORE}\b|\bi[3579]-?\d{{3,5}}[a-z]{{0,3}}"),
    (C.PROCESSOR, 4, r"ryzen (?:threadripper|ai|[3579])|threadripper(?: pro)? \d{4}\w*|ryzen \d{4}\w*"),
    (
        C.PROCESSOR,
        4,
        r"xeon(?:[- ](?:e[357]?|w\d?|gold|silver|bronze|platinum|d|x))?|epyc(?: \d{4}\w*)?|opteron",
    ),
    (C.PROCESSOR, 4, r"athlon|phenom|sempron|celeron|pentium|fx[- ]\d{4}|a\d{1,2}[- ]\d{4}[a-z]?"),
    (C.PROCESSOR, 2, r"\d{1,3}-cores?(?: processor)?|oem/tray|tray|boxed"),
    (C.PROCESSOR, 1, r"\d\.\d{1,2} ?ghz"),
    (C.BOARD, 3, r"(?:amd|intel) (?:[abhpqwxz]\d{2,3}[a-z]?(?!-\d{4}|\s\d{4})|trx\d0|wrx\d0)(?![\w])"),
    (
        C.BOARD,
        2,
        r"[abhpqwxz]\d{2,3}[em]?[im]?(?=[ -]|$)(?!-\d{4})|(?:trx|wrx)\d0|9[79]0(?:fx|a|x|gx?)?|a88xm?|a85xm?",
    ),
    (C.BOARD, 2, r"boards?"),
    (C.BOARD, 1, r"(?:e-?|micro[- ]?|mini[- ]?|m-?|xl-|ss[iy]-?)?(?:atx|itx|ceb|eeb)|micro|dtx"),
    (
        C.BOARD,
        1,
        r"\(?rev\.? ?\d\.\d+\)?|(?:lga|socket|sockel) ?-?\d{3,4}(?:-\d)?|am[2345]\+?|fm[12]\+?|s?tr[x45]\d?",
    ),
    (C.BOARD, 1, r"wi-?fi ?\d?e?|ax|ac|lpddr[345]x?|ddr[2345]l?"),
    (C.MEMORY, 2, r"\(?\d{1,2} ?[x×] ?\d{1,3} ?gb\)?|kit of \d|(?:cl|c)\d{2}(?:-\d{2}-\d{2})?"),
    (C.MEMORY, 2, r"(?:lp)?ddr[2345]?l?[- ]?\d{3,5}(?: ?mhz| ?mt/s)?|pc\d?-?\d{4,5}[a-z]?|\d{4,5} ?mt/s"),
    (C.MEMORY, 2, r"(?:so-?|u|r|lr|cu|fb-?)dimms?|dimms?|\d{3}[- ]pin"),
    (C.MEMORY, 2, r"\d{1,3} ?gb(?= .*(?<!g)ddr\d)|\d{1,3} ?gb ?[x×] ?\d|ddr\d\w*\b.{0,40}? \d{1,3} ?gb"),
    (C.MEMORY, 1, r"ddr[2345]?l?|\d{3,5} ?mhz|ecc|unbuffered|registered"),
    (C.STORAGE, 2, r"drives?"),
    (C.STORAGE, 3, r"(?:3d )?(?:tlc|qlc|mlc) nand|m\.2[- ]22(?:30|42|60|80|110)"),
    (C.STORAGE, 2, r"nvme"),
    (C.STORAGE, 2, r"\d+(?:[.,]\d+)? ?tb|(?:5400|5640|5700|5900|7200|10000|10520|15000) ?rpm|msata|sas"),
    (
        C.STORAGE,
        1,
        r"m\.2|sata(?: ?(?:iii?|3|6|6\.0|3\.0)(?: ?gb/s)?)?|[23]\.5(?:\"|''|″|[ -]inch|[ -]zoll)|u\.[23]",
    ),
    (
        C.GRAPHICS,
        4,
        r"geforce|radeon(?: (?:rx|hd|r[579]|vii|pro|vega))?|quadro|gddr\d[x]?|firepro|titan [vx]p?",
    ),
    (
        C.GRAPHICS,
        4,
        r"(?:rtx|gtx)[ -]?(?:pro )?a?\d{3,4}(?: ?ti)?(?: super)?|(?:rx|gt)[ -]?\d{3,4}(?: ?xtx?)?",
    ),
    (C.GRAPHICS, 4, r"arc(?: pro)? [ab]\d{2,3}"),
    (C.POWER_SUPPLY, 4, r"80 ?(?:\+|plus)(?: (?:bronze|silver|gold|platinum|titanium|white))?"),
    (
        C.POWER_SUPPLY,
        4,
        r"(?:fully?|semi|non)[- ]?modular(?:es)?|(?:voll|teil)modular(?:es)?|sfx(?:-l)?|tfx|flex atx",
    ),
    (C.POWER_SUPPLY, 2, r"\d{3,4} ?w(?:att)?"),
    (C.POWER_SUPPLY, 2, r"(?:power )?(?:supply|unit)(?= *(?:[,(]|$))"),
    (
        C.CASE,
        3,
        r"(?:mid|midi|full|mini|super|micro)[- ]?tower|(?:atx|itx|htpc) desktop|side (?:panel|window)",
    ),
    (C.CASE, 3, r"(?:tempered glass|tg|acrylic|mesh)(?: (?:side )?(?:panel|window))|seitenfenster"),
    (C.CASE, 2, r"tempered glass|htpc|test bench|front panel"),
    (C.COOLER, 4, r"(?:water|air)(?: [\w.]+){0,3} \d{2,3} ?mm|air [\d.]+ cfm|\d{3} ?mm (?:aio|liquid)"),
    (
        C.COOLER,
        2,
        r"cfm|(?:120|140|240|280|360|420) ?mm(?: radiator)?|\d{2,3} ?w tdp|(?:water|liquid) ?cool\w*",
    ),
    (C.FAN, 2, r"(?:40|60|80|92|120|140|180|200) ?mm (?:pwm|argb|rgb|fan|case)|[345]-pin pwm"),
    (C.FAN, 1, r"pwm|cfm|(?:40|60|80|92|120|140|200) ?mm"),
    (C.DISPLAY, 2, r"(?:4[89]|5\d|60|7[05]|8\d|100|120|1[2468][045]|170|180|2[048]0|300|360|480|5[04]0) ?hz"),
    (C.DISPLAY, 2, r"(?:1080|1440|2160)p|w?qhd|uwqhd|full hd|uhd|\d{3,4} ?[x×] ?\d{3,4}(?=[ ,]|$)"),
    (C.DISPLAY, 2, r"(?:ips|va|tn|oled|qd-oled)(?: panel)?|curved|freesync(?: premium)?|g-sync"),
    (C.DISPLAY, 1, r"\d{2}(?:\.\d{1,2})?(?:\"|''|″|[ -]?inch|[ -]zoll)"),
    (C.NETWORK, 3, r"ethernet|802\.11\w*|\d+(?:\.\d+)? ?gbe|bluetooth adapter"),
    (C.NETWORK, 2, r"gigabit|\d+(?:\.\d+)? ?g(?:b/s|bit/s|base-t)|fast ethernet"),
    (C.SOUND, 2, r"(?:16|24|32)[- ]bit"),
    (C.SOUND, 2, r"\d{2,3} ?khz"),
    (C.SOUND, 3, r"[24579]\.[01][ -]channels?|sound ?blaster"),
    (C.SYSTEM_SOFTWARE, 4, r"windows (?:7|8(?:\.1)?|10|11|server)(?: (?:home|pro|professional|enterprise))?"),
    # at the start alone: elsewhere it is what a thing runs with
    (
        C.SYSTEM_SOFTWARE,
        4,
        r"^(?:(?:microsoft|ms) )?win ?(?:7|8(?:\.1)?|10|11)(?: (?:home|pro(?:fessional)?))?",
    ),
    (
        C.SYSTEM_SOFTWARE,
        4,
        r"(?:microsoft )?(?:windows )?server 20\d\d|ubuntu|debian|fedora|linux mint|red hat",
    ),
    (C.OPTICAL_DRIVE, 4, r"(?:dvd|bd|cd)[±+-]?(?:r|re|rw)\b.*|blu-?ray"),
)
SIGN = tuple(
    (category, weight, re.compile(rf"(?<![\w.])(?:{words})(?![\w])", re.IGNORECASE))
    for category, weight, words in _SIGNS
)
