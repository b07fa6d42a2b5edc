"""One spelling for what shops and makers spell in many ways: sockets, form factors, plugs, memory.

A word that is not known stays unknown (None): it is asked for, and never taken for its neighbour.
"""

from __future__ import annotations

import re

from shipworthy.words.kinds import find_memory_types

_SPACES = re.compile(r"[\s_-]+")
_LGA = re.compile(
    r"(?:SOCKET)?(?:FC)?(?:LGA)?(?P<pins>775|1[1-9]\d\d|2011|2066|3647|4[16]\d\d|4710)(?:V?(?P<version>\d))?"
)
_NARROW = re.compile(r"\(?(?:NARROW|SQUARE)(?:ILM)?\)?$")
_AMD = re.compile(r"(?:SOCKET)?(?P<name>AM[23]\+|FM2\+|AM[1-5]|FM[12]|S?TRX?[45]|S?WRX8|SP[3-6]|G34|C32)")

_FORM_FACTORS = {
    "EATX": "E-ATX",
    "EXTENDEDATX": "E-ATX",
    "XLATX": "XL-ATX",
    "ATX": "ATX",
    "MATX": "Micro-ATX",
    "UATX": "Micro-ATX",
    "MICROATX": "Micro-ATX",
    "FLEXATX": "Flex-ATX",
    "ITX": "Mini-ITX",
    "MITX": "Mini-ITX",
    "MINIITX": "Mini-ITX",
    "THINMINIITX": "Thin Mini-ITX",
    "MINIDTX": "Mini-DTX",
    "DTX": "DTX",
    "SSICEB": "SSI CEB",
    "CEB": "SSI CEB",
    "SSIEEB": "SSI EEB",
    "EEB": "SSI EEB",
    "SSIMEB": "SSI MEB",
    "HPTX": "HPTX",
}
_SUPPLIES = {
    "ATX": "ATX",
    "ATX/EPS": "ATX",
    "ATXPS2": "ATX",
    "PS2": "ATX",
    "ATX12V": "ATX",
    "EPS": "ATX",
    "EPS12V": "ATX",
    "SFX": "SFX",
    "SFX12V": "SFX",
    "SFXL": "SFX-L",
    "TFX": "TFX",
    "FLEXATX": "Flex-ATX",
    "FLEX": "Flex-ATX",
}


def _packed(text: str) -> str:
    return _SPACES.sub("", text.upper())


def socket_of(text: str) -> str | None:
    """Return a processor socket in one spelling: `LGA1700` for `LGA 1700`, `FCLGA1700` and `1700`.

    LGA 2011 and LGA 2011-3 are two sockets; so are AM3 and AM3+. The second version of LGA 1151 has the
    name of the first: the chipset tells them apart. `Narrow` is of the cooler's holes only.
    """
    packed = _NARROW.sub("", _packed(text))
    if amd := _AMD.fullmatch(packed):
        return amd["name"] if not amd["name"].startswith(("TR", "WR")) else f"S{amd['name']}"
    lga = _LGA.fullmatch(packed)
    if lga is None:
        return None
    pins, version = lga["pins"], lga["version"]
    if version and (pins, version) not in (("2011", "3"), ("1151", "1"), ("1151", "2")):
        return None
    return f"LGA{pins}-3" if (pins, version) == ("2011", "3") else f"LGA{pins}"


def form_factor_of(text: str) -> str | None:
    """Return a board's form factor in one spelling: `Micro-ATX` for `mATX`, `µATX` and `Micro ATX`."""
    return _FORM_FACTORS.get(_packed(re.sub("[µμ]", "u", text)))


def supply_form_of(text: str) -> str | None:
    """Return a supply's form factor in one spelling. `ATX/EPS` and `PS/2` are the size of ATX."""
    return _SUPPLIES.get(_packed(text).replace("PS/2", "PS2"))


def plug_of(text: str) -> str | None:
    """Return a graphics card's plug: `8`, `6` or `16` (12VHPWR and 12V-2x6: one shape of plug)."""
    packed = _packed(text).replace(".", "")
    if packed in ("12VHPWR", "12V2X6", "16PIN", "H++", "12+4PIN", "16"):
        return "16"
    if packed in ("8PIN", "8", "6+2PIN", "2X4"):
        return "8"
    if packed in ("6PIN", "6", "2X3"):
        return "6"
    return None


def lighting_of(text: str) -> str | None:
    """Return `5 V` (addressable, 3 pins), `12 V` (plain RGB, 4 pins) or `none`."""
    packed = _packed(text).replace(",", "").replace(".", "")
    if packed in ("NONE", "NO", "WITHOUT"):
        return "none"
    five = packed in ("5V", "ARGB", "DRGB", "ADDRESSABLERGB", "5VARGB", "ARGB5V", "3PIN5V", "5V3PIN")
    twelve = packed in ("12V", "RGB12V", "12VRGB", "4PIN12V", "12V4PIN")
    return "5 V" if five else "12 V" if twelve else None  # `RGB` alone is said of both


def memory_type_of(text: str) -> str | None:
    """Return a memory type in one spelling: `DDR5` for `DDR5-5600`, `DDR5 SDRAM` and `DDR 5`."""
    found = {word.meaning for word in find_memory_types(text) or find_memory_types(_packed(text))}
    if not found and _packed(text) in ("DDR", "DDR1"):
        return "DDR"
    return found.pop() if len(found) == 1 else None


def memory_form_of(text: str) -> str | None:
    """Return `DIMM` or `SO-DIMM`. UDIMM and RDIMM are DIMMs; CU-DIMM as well."""
    packed = _packed(re.sub(r"\d{3}-?pin", "", text, flags=re.IGNORECASE))
    if packed in ("SODIMM", "CSODIMM"):
        return "SO-DIMM"
    return "DIMM" if packed in ("DIMM", "UDIMM", "RDIMM", "CUDIMM", "LRDIMM") else None
