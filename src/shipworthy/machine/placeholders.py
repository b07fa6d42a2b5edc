"""Texts that firmware leaves where a value belongs. They are silence, never values (design rule 3).

Each was seen in the decoded tables of real desktops (linuxhw/DMI, CC BY 4.0) or is named in the notes to
that set; how often is counted by a test, against that set.
"""

from __future__ import annotations

import re

PLACEHOLDERS = frozenset(
    (
        "0123456789",
        "1234",
        "123456",
        "12345678",
        "123456789",
        "1234567890",
        "123456789012345678",
        "<bad index>",
        "<empty>",
        "<out of spec>",
        "[empty]",
        "a1_bcdef",
        "abcd",
        "asset tag",
        "asset tag:",
        "asset-1234567890",
        "bad index",
        "base board asset tag",
        "base board manufacturer",
        "base board product name",
        "base board serial number",
        "base board version",
        "board manufacturer",
        "board product name",
        "board serial number",
        "board version",
        "chassis manufacturer",
        "chassis serial number",
        "chassis version",
        "default",
        "default string",
        "empty",
        "fill by oem",
        "filled by oem",
        "invalid",
        "manufacturer",
        "n/a",
        "na",
        "no asset information",
        "no asset tag",
        "no dimm",
        "no enclosure",
        "none",
        "not applicable",
        "not available",
        "not defined",
        "not provided",
        "not specified",
        "null",
        "o.e.m",
        "o.e.m.",
        "oem",
        "oem default string000",
        "oem string",
        "product name",
        "serial number",
        "sku",
        "sku number",
        "system manufacturer",
        "system name",
        "system product name",
        "system serial number",
        "system version",
        "to be filled by o.e.m",
        "to be filled by o.e.m.",
        "to be filled by oem",
        "tobefilledbyo.e.m.",
        "type1family",
        "type1productconfigid",
        "type2 - board asset tag",
        "type2 - board product name1",
        "type2 - board serial number",
        "undefine",
        "undefined",
        "unknow",
        "unknown",
        "unspecified",
    )
)
"""In lower case, spaces around stripped."""

_NUMBERED = re.compile(
    r"(manufacturer|partnum|modulepartnumber|serialnum|sernum|assettagnum|assettag|moduleserialnumber"
    r"|modulemanufacturer|array\d_partnumber|array\d_manufacturer|dimm\d_manufacturer|dimm\d_partnum"
    r"|dimm\d_sernum|dimm\d_assettag|a\d_partnum|a\d_manufacturer|a\d_sernum|a\d_assettagnum"
    r"|(?:processor|a\d|dimm)_?\w*_(?:assettag|partnumber|partnum|sernum|manufacturer))\d*"
)
_ONE_SIGN = re.compile(r"([0fx.\-_* ?])\1*|(0x)?0+|(0x)?f+")


def is_placeholder(text: str) -> bool:
    """Return whether a text of firmware stands where a value should be and says nothing."""
    bare = text.strip().casefold()
    return bare in PLACEHOLDERS or bool(_NUMBERED.fullmatch(bare)) or bool(_ONE_SIGN.fullmatch(bare))
