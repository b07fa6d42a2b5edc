"""Form factors in part texts: boards, power supplies, memory modules, drives."""

from __future__ import annotations

from shipworthy.words.phrases import Word, find_words, spellings

_SEP = r"[\s-]?"
_NOT_WITHIN = r"(?<![\w+-])"
_END = r"(?!\w|\+)"

# ATX 2.2 (Intel, 2004) and its kin; SSI EEB and CEB (SSI Forum, 2011); the short forms are of the trade.
_BOARDS = {
    "E-ATX": rf"{_NOT_WITHIN}(?:E|extended){_SEP}ATX{_END}",
    "XL-ATX": rf"{_NOT_WITHIN}XL-?ATX{_END}",  # `North XL ATX` is an ATX case called XL
    "ATX": rf"(?<!mini\s)(?<!\bm\s){_NOT_WITHIN}ATX{_END}",  # `Mini ATX`: nobody knows
    "Micro ATX": rf"{_NOT_WITHIN}(?:micro{_SEP}|[mu]-?)ATX{_END}",
    "Mini-ATX": rf"{_NOT_WITHIN}mini-?ATX{_END}",
    "Flex ATX": rf"{_NOT_WITHIN}flex{_SEP}ATX{_END}",
    "Thin Mini-ITX": rf"{_NOT_WITHIN}thin\s(?:mini{_SEP})?ITX{_END}",
    "Mini-ITX": rf"{_NOT_WITHIN}(?:mini{_SEP}|m{_SEP})?ITX{_END}",
    "Mini-DTX": rf"{_NOT_WITHIN}mini{_SEP}DTX{_END}",
    "DTX": rf"{_NOT_WITHIN}DTX{_END}",
    "Mini-STX": rf"{_NOT_WITHIN}mini{_SEP}STX{_END}",
    "SSI EEB": rf"{_NOT_WITHIN}(?:SSI{_SEP})?EEB{_END}",
    "SSI CEB": rf"{_NOT_WITHIN}(?:SSI{_SEP})?CEB{_END}",
}
# SFX, SFX-L, TFX, Flex ATX: Intel's design guide for desktop supplies names all but SFX-L (common practice).
_SUPPLIES = {
    "SFX-L": rf"{_NOT_WITHIN}SFX{_SEP}L{_END}",
    "SFX": rf"{_NOT_WITHIN}SFX(?:12V)?{_END}",
    "TFX": rf"{_NOT_WITHIN}TFX(?:12V)?{_END}",
    "CFX": rf"{_NOT_WITHIN}CFX(?:12V)?{_END}",
    "LFX": rf"{_NOT_WITHIN}LFX(?:12V)?{_END}",
    "Flex ATX": rf"{_NOT_WITHIN}flex{_SEP}ATX{_END}",
    "ATX": rf"{_NOT_WITHIN}ATX(?:12V)?{_END}(?![\s-]?v?[23]\.\d)",  # `ATX 3.1` is a version
}
# JEDEC MO-309, MO-310 and others: pins of modules, by the memory type.
_MODULES = {
    "SO-DIMM": rf"{_NOT_WITHIN}(?:(?:200|204|260|262){_SEP}pin\s)?SO{_SEP}?DIMMs?{_END}"
    rf"|{_NOT_WITHIN}(?:200|204|260|262){_SEP}pins?{_END}",
    "DIMM": rf"{_NOT_WITHIN}(?:(?:184|240|288){_SEP}pin\s)?(?:[URL]{{1,2}}{_SEP}?)?DIMMs?{_END}"
    rf"|{_NOT_WITHIN}(?:184|240|288){_SEP}pins?{_END}",
    "CAMM2": rf"{_NOT_WITHIN}(?:LP)?CAMM2{_END}",
}
_INCH = rf"(?:{_SEP}?(?:\"|''|inch(?:es)?\b|in\b|zoll\b)|(?=\s(?:SSD|HDD|SATA)\b))"
# SFF-8201 (2.5"), SFF-8300 (3.5"); PCI Express M.2 specification: width and length in mm in one number.
_DRIVES = {
    **{
        f"M.2-{size}": rf"{_NOT_WITHIN}(?:M\.?2|NGFF)?[\s(-]{{0,2}}(?<![\d.,]){size}(?![\w.,])"
        for size in ("2230", "2242", "2260", "2280", "22110")
    },
    "M.2": rf"{_NOT_WITHIN}(?:M\.2|NGFF){_END}",
    '2.5"': rf"{_NOT_WITHIN}(?<![.,])2[.,]5{_INCH}",
    '3.5"': rf"{_NOT_WITHIN}(?<![.,])3[.,]5{_INCH}",
    "mSATA": rf"{_NOT_WITHIN}mSATA{_END}",
    "U.2": rf"{_NOT_WITHIN}U\.[23]{_END}",
    "PCIe card": rf"{_NOT_WITHIN}(?:AIC|HHHL|FHHL|add{_SEP}in{_SEP}card){_END}",
}
_MODULAR = {
    "Full": rf"{_NOT_WITHIN}full(?:y)?{_SEP}modular{_END}",
    "Semi-Modular": rf"{_NOT_WITHIN}(?:semi|partial(?:ly)?|hybrid){_SEP}modular{_END}",
    "Non-Modular": rf"{_NOT_WITHIN}(?:non|not){_SEP}modular{_END}",
}
_PATTERNS = {
    name: spellings(patterns)
    for name, patterns in (
        ("boards", _BOARDS),
        ("supplies", _SUPPLIES),
        ("modules", _MODULES),
        ("drives", _DRIVES),
        ("modular", _MODULAR),
    )
}


def find_board_forms(text: str) -> tuple[Word, ...]:
    """Return every form of board in the text: `ATX`, `Micro ATX`, `Mini-ITX`, `E-ATX` …"""
    return find_words(text, _PATTERNS["boards"])


def find_supply_forms(text: str) -> tuple[Word, ...]:
    """Return every form of power supply: `ATX`, `SFX`, `SFX-L`, `TFX`, `Flex ATX` …"""
    return find_words(text, _PATTERNS["supplies"])


def find_module_forms(text: str) -> tuple[Word, ...]:
    """Return every form of memory module: `DIMM`, `SO-DIMM`, also from the number of pins."""
    return find_words(text, _PATTERNS["modules"])


def find_drive_forms(text: str) -> tuple[Word, ...]:
    """Return every form of drive: `M.2-2280`, `M.2` where no length is said, `2.5"`, `3.5"`, `mSATA`, `U.2`.

    A drive's bay in a case, and a screen of 2.5 inches, look the same: ask only of a drive's text.
    """
    return find_words(text, _PATTERNS["drives"])


def find_modularity(text: str) -> tuple[Word, ...]:
    """Return whether a supply's leads come off: `Full`, `Semi-Modular`, `Non-Modular`."""
    return find_words(text, _PATTERNS["modular"])


def same_form(one: str, other: str) -> bool:
    """Return whether two forms can be one thing: `M.2` says less than `M.2-2280`, and nothing else."""
    return one == other or ("M.2" in (one, other) and one.startswith("M.2") and other.startswith("M.2"))
