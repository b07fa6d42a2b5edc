"""Words of the trade that name a category, and signs by which a part text shows one.

Common practice of shops' lists. A noun names the thing; a sign is grammar that only some things carry
(`80+ Gold`, `DDR5-6000`, `LGA 1700`) and counts by its weight: 3 alone is enough, 1 only helps.
"""

from __future__ import annotations

import re

from shipworthy.model.words import Category
from shipworthy.orders.intake.category_words_french import FRENCH

C = Category

# A longer noun wins over one inside it: a CPU cooler is no processor, a case fan no case.
_NOUNS: tuple[tuple[Category, str], ...] = (
    (C.PROCESSOR, r"processors?|cpus?|prozessor(?:en)?|hauptprozessor"),
    (C.BOARD, r"(?:main|mother|system)[- ]?boards?|mobos?|hauptplatine|grundplatine"),
    (C.MEMORY, r"(?:system |main |desktop |laptop )?(?:memory|ram)(?: (?:kit|modules?))?"),
    (C.MEMORY, r"arbeitsspeicher|speicherriegel|speichermodule?|ram-(?:kit|modul|riegel)"),
    (
        C.STORAGE,
        r"ssds?|hdds?|hard[- ](?:disks?|drives?)|hard disk drives?|solid[- ]state[- ](?:drives?|disks?)",
    ),
    (
        C.STORAGE,
        r"fest(?:speicher)?platten?|sshd|m\.2[- ](?:ssd|drive)|(?:nvme|sata|boot|data|system)[- ]drives?",
    ),
    (C.GRAPHICS, r"gpus?|(?:graphics?|video)[- ](?:cards?|adapters?)|grafikkarten?|\w*grafikkarte"),
    (C.POWER_SUPPLY, r"psus?|power suppl(?:y|ies)|(?:pc-|atx-)?netzteile?|stromversorgung"),
    (C.CASE, r"(?:pc|computer|tower|midi|atx)?[- ]?(?:cases?|chassis|gehäuse|gehaeuse|enclosures?)"),
    (C.CASE, r"(?:(?:mid|midi|full|mini|super|micro|ultra)[- ]?|micro atx )?towers?|\w*gehäuse|big[- ]tower"),
    (C.COOLER, r"(?:(?:cpu|processor|tower|liquid|air|water|aio|all-in-one|top[- ]down)[- ])*cooler"),
    (
        C.COOLER,
        r"(?:cpu|processor) (?:air )?(?:heat ?sinks?|cooling)|(?:cpu[- ]|prozessor|luft|wasser)?kühler",
    ),
    (C.COOLER, r"(?:aio|all-in-one)(?:[- ](?:liquid|water)[- ]?cool(?:ing|er))?"),
    (C.COOLER, r"(?:(?:liquid|water)[- ](?:cpu[- ])?cooling(?: (?:kit|system))?)"),
    (C.COOLER, r"(?:komplett)?wasserkühlung(?:en)?|cpu-kühlung|prozessorkühlung|\w*kühler"),
    (C.FAN, r"(?:(?:case|chassis|radiator|system|pwm|cooling)[- ])*fans?|(?:case|chassis) ventilators?"),
    (C.FAN, r"(?:gehäuse|radiator|system|pwm-)?lüfter|\w*lüfter(?:set)?|ventilatoren"),
    (
        C.OPTICAL_DRIVE,
        r"(?:dvd|blu-?ray|bd|cd|optical|optisches)(?:[-± /+]*r?w?)?[- ]*(?:drive|writer|burner)s?",
    ),
    (C.OPTICAL_DRIVE, r"(?:dvd|blu-?ray|bd|optisches)[- ]?(?:brenner|laufwerk)|brenner"),
    (
        C.NETWORK,
        r"(?:(?:network|ethernet|lan|wlan|wi-?fi|wireless)[- ])+(?:interface )?(?:cards?|adapters?|karte)",
    ),
    (C.NETWORK, r"(?:netzwerk|lan-|wlan-|funk)(?:karte|adapter|stick)|nic"),
    (C.SOUND, r"(?:sound|audio)[- ](?:cards?|interfaces?)|soundkarten?|soundcards?"),
    (C.DISPLAY, r"monitors?|displays?|bildschirme?|tft|flat ?screens?"),
    (
        C.CABLE,
        r"(?:[\w.-]+[- ])?(?:cables?|kabel|leads?|cords?)(?: (?:kit|set|extensions?))?|\w*kabel(?:satz|set)?",
    ),
    (C.CABLE, r"(?:[\w.-]+[- ])?(?:adapters?|splitters?)(?: cable)?"),
    (C.ACCESSORY, r"(?:cable|kabel)[ -]?(?:ties|combs?|clips?|sleeves?|tidy|binder|kämme|kanal)"),
    (
        C.ACCESSORY,
        r"(?:[\w.-]+ )?(?:batter(?:y|ies)|batterien?|arms?|feet|handles?|grills?|shrouds?|standoffs?|"
        r"washers?|tools?)",
    ),
    (C.CABLE, r"(?:cable )?extensions?(?: (?:kit|set))?|kabelverlängerung(?:en)?|verlängerung|riser"),
    (
        C.ACCESSORY,
        r"(?:[\w-]+ )?(?:brackets?|holders?|mounts?|mounting (?:kit|frame)s?|stands?|sag supports?)",
    ),
    (
        C.ACCESSORY,
        r"(?:graphics card|gpu|vga) (?:support|brace|bracket|holder|stand)s?|\w*halter(?:ung)?|\w*stütze",
    ),
    (C.ACCESSORY, r"thermal (?:paste|grease|compound|pads?)|wärmeleit(?:paste|pads?)|screws?|schrauben"),
    (
        C.ACCESSORY,
        r"keyboards?|tastaturen?|mouse|mice|maus|mouse ?pads?|mauspads?|headsets?|speakers?|lautsprecher",
    ),
    (
        C.ACCESSORY,
        r"(?:led|rgb|argb)[- ](?:strips?|streifen|hub|controller)|fan (?:hub|controller)s?|lüftersteuerung",
    ),
    (C.ACCESSORY, r"(?:memory|sd|micro ?sd|cf) cards?|speicherkarten?|cartes? mémoire"),
    (
        C.ACCESSORY,
        r"usb[- ](?:sticks?|hubs?|flash drives?)|card readers?|kartenleser|antennas?|antennen?|webcams?",
    ),
    (
        C.ACCESSORY,
        r"dust filters?|staubfilter|anti-static bags?|zubehör|accessories|accessory|tpm(?: module| modul)?",
    ),
    (
        C.ACCESSORY,
        r"(?:drive|hard drive|hdd|ssd) (?:cage|caddy|tray|enclosure)s?|einbaurahmen|heat ?sink for .*",
    ),
    (
        C.ACCESSORY,
        r"(?:(?:soft|hard) )?tub(?:ing|es?)|fittings?|coolant|reservoirs?|radiators?|water ?blocks?|pumps?",
    ),
    (C.SYSTEM_SOFTWARE, r"operating system|betriebssystem|(?:windows )?(?:licen[cs]e|lizenz)(?: key)?|os"),
    (
        C.SERVICE,
        r"(?:(?:pc|system|unit)[- ])?(?:assembly|assembling|build service|installation|installing|setup)",
    ),
    (
        C.SERVICE,
        r"(?:\w+-)?(?:zusammenbau|montage)|(?:vor)?installation|einrichtung|systemtest|funktionstest|dauertest",
    ),
    (C.SERVICE, r"(?:[\w-]+ )?(?:burn-in|stress test|soak test|test run|testing|warranty|insurance)"),
    (
        C.SERVICE,
        r"(?:\w+)?garantie(?:verlängerung)?|service|dienstleistung|einbau|inbetriebnahme|übertaktung",
    ),
    (
        C.SERVICE,
        r"(?:(?:memory|ram|xmp|expo|docp)[- ]profile?|xmp|expo|docp)(?: \w+){0,2} (?:on|enabled|"
        r"activated|set|loaded)",
    ),
    (
        C.SERVICE,
        r"(?:memory|ram|xmp|expo|docp)[- ]profile?|(?:xmp|expo|docp)(?:-profil)? (?:ein|aktiv)\w*|"
        r"speicherprofil",
    ),
    (
        C.SERVICE,
        r"(?:fan|lüfter)[- ]?(?:curves?|kurven?|profiles?|profil)|resizable bar|secure boot|"
        r"wake[- ]on[- ]lan",
    ),
    (
        C.SERVICE,
        r"(?:bios|firmware|uefi|driver|treiber)[- ]?(?:updates?|updated|flash(?:ed|ing)?|installation)|"
        r"cable management",
    ),
    (
        C.SERVICE,
        r"(?:os|windows|linux|software|system|treiber|driver|betriebssystem)[- ]?install(?:ation|ed|iert)?",
    ),
    (
        C.CUSTOMISATION,
        r"(?:[\w-]+ )?(?:engrav(?:ing|ed)|lettering|paint(?:ing|ed|work)?|spray(?:ing|ed)|uv[- ]print)",
    ),
    (C.CUSTOMISATION, r"(?:[\w-]+)?(?:gravur|lackier(?:ung|t)|beschriftung|folierung|aufdruck|bedruckung)"),
    (
        C.CUSTOMISATION,
        r"(?:[\w-]+ )?(?:sleeving|vinyl wrap|(?:custom|custom-made) (?:print|colou?r|wrap|finish))",
    ),
)
NOUN = tuple(
    (category, re.compile(rf"(?<![\w-])(?:{words})(?![\w])", re.IGNORECASE))
    for category, words in (*_NOUNS, *FRENCH)
)

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
