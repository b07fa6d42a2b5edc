"""Whether a line's text names a part, or only a kind of part: `Core i7`, `B650 board`, `RTX 4070 graphics`.

Told by what is left when the words that many parts share are gone. The sets below are such words, of the
trade, and no models; any word that is not among them is taken for a name.
"""

from __future__ import annotations

import re

from shipworthy.model.orders import OrderLine
from shipworthy.words.counts import find_refresh_rates
from shipworthy.words.forms import find_drive_forms, find_modularity, find_supply_forms
from shipworthy.words.kinds import find_colours
from shipworthy.words.makers import is_known_maker, leading_maker, maker_key
from shipworthy.words.models import model_text
from shipworthy.words.power import find_grades, find_watts
from shipworthy.words.rotation import find_rotations
from shipworthy.words.spans import plain, without
from shipworthy.words.versions import find_sata_rates, find_supply_versions

_WORD = re.compile(r"[^\W_]+")
_CHIP_MAKERS = frozenset({"amd", "nvidia", "intel"})
_GRAPHICS = (
    frozenset(("geforce", "radeon", "arc", "rtx", "gtx", "gt", "rx", "ti", "super", "xt", "xtx", "gre"))
    | _CHIP_MAKERS
    | frozenset(("graphics", "graphic", "video", "card", "gpu", "new", "desktop", "a", "with", "lhr", "or"))
)
_CHIP = re.compile(r"\d{3,4}(?:ti|super|xt|xtx|gre|s)?|[ab]\d{3}|(?:rtx|gtx|rx|gt)\d{3,4}(?:ti|xt|xtx)?")
_PROCESSOR = frozenset(
    ("intel", "amd", "core", "ultra", "i3", "i5", "i7", "i9", "ryzen", "threadripper", "xeon", "pentium")
) | frozenset(("celeron", "athlon", "epyc", "pro", "3", "5", "7", "9", "processor", "cpu", "series", "gen"))
_CHIPSET = re.compile(r"(?:[abhqxzwc]|trx|wrx)\d{2,3}[ei]?m?")
_BOARD = frozenset(
    ("wifi", "wi", "fi", "ddr4", "ddr5", "d4", "d5", "motherboard", "mainboard", "board", "atx")
)
_DISPLAY = frozenset(
    ("gaming", "monitor", "display", "screen", "curved", "wide", "ultrawide", "office", "flat", "panel", "pc")
) | frozenset(("with", "and", "speakers", "hdmi", "displayport", "ips", "va", "oled", "tn", "freesync"))
_DRIVE = frozenset(
    (
        "ssd",
        "hdd",
        "drive",
        "disk",
        "internal",
        "solid",
        "state",
        "hard",
        "nvme",
        "sata",
        "pcie",
        "x4",
        "gen4",
    )
) | frozenset(
    ("gen5", "gen3", "m", "2", "new", "boot", "system", "storage", "data", "with", "heatsink", "for")
)
_SUPPLY = frozenset(
    ("power", "supply", "psu", "unit", "modular", "fully", "semi", "non", "certified", "rated", "quiet", "w")
) | frozenset(("a", "with", "and", "silent", "new", "compliant", "efficiency", "pcie", "5", "0", "1", "unit"))


def names_a_processor(line: OrderLine) -> bool:
    """Whether a processor's line says which of its family it is."""
    return _has_more(model_text(line.text, line.category), _PROCESSOR)


def names_a_board(line: OrderLine) -> bool:
    """Whether a board's line says more than a chipset. With a maker a chipset can be a model's whole name."""
    if line.maker.strip() or leading_maker(line.text) not in ("", *_CHIP_MAKERS):
        return True
    return _has_more(model_text(line.text, line.category), _BOARD | _CHIP_MAKERS, _CHIPSET)


def names_a_card(line: OrderLine) -> bool:
    """Whether a graphics line says whose card it is, or which: more than the chip."""
    if line.maker.strip() and maker_key(line.maker) not in _CHIP_MAKERS:
        return True
    return _has_more(model_text(line.text, line.category), _GRAPHICS, _CHIP)


def names_a_display(line: OrderLine) -> bool:
    """Whether a display's line names one."""
    if line.maker.strip():
        return True
    text = without(line.text, find_refresh_rates(line.text))
    return _has_more(model_text(text, line.category), _DISPLAY)


def names_a_drive(line: OrderLine) -> bool:
    """Whether a drive's line names more than its maker and its kind."""
    text = line.text
    for finder in (find_drive_forms, find_rotations, find_sata_rates):
        text = without(text, finder(text))
    return _has_more(model_text(_without_maker(text), line.category), _DRIVE)


def names_a_supply(line: OrderLine) -> bool:
    """Whether a power supply's line names more than its maker and its kind."""
    text = line.text
    for finder in (find_supply_versions, find_watts, find_grades, find_supply_forms, find_modularity):
        text = without(text, finder(text))
    return _has_more(_without_maker(without(text, find_colours(text))), _SUPPLY)


def _has_more(text: str, shared: frozenset[str], pattern: re.Pattern[str] | None = None) -> bool:
    words = (word.casefold() for word in _WORD.findall(plain(text)))
    return any(word not in shared and not (pattern and pattern.fullmatch(word)) for word in words)


def _without_maker(text: str) -> str:
    """Drop every known maker's name, wherever it stands."""
    return " ".join(word for word in text.split() if not is_known_maker(maker_key(word)))
