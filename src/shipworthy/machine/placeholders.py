"""Texts that firmware leaves where a value belongs. They are silence, never values (design rule 3).

The number behind a text is how often it stood in the maker, model, version, serial, asset or part number of
2,489 real desktops (linuxhw/DMI, CC BY 4.0; board, system, chassis and memory modules). Those without a
number are common practice, or were seen in other raw tables that the tests read.
"""

from __future__ import annotations

import re

PLACEHOLDERS = frozenset(
    (
        "0123456789",  # 32
        "1234",
        "123456",
        "12345678",
        "123456789",  # 17
        "1234567890",  # 9
        "123456789012345678",  # 40
        "<bad index>",  # 91
        "<empty>",
        "<out of spec>",
        "[empty]",  # 523
        "a1_bcdef",
        "abcd",  # 40
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
        "chassis manufacturer",  # 1
        "chassis serial number",
        "chassis version",  # 154
        "default",
        "default string",  # 3,006
        "empty",  # 43
        "fill by oem",
        "filled by oem",
        "invalid",  # 3
        "manufacturer",
        "n/a",  # 4
        "na",  # 22
        "no asset information",
        "no asset tag",
        "no dimm",  # 611
        "no enclosure",
        "none",  # 489
        "not applicable",
        "not available",  # 2
        "not defined",  # 2
        "not provided",
        "not specified",  # 1,684
        "null",  # 12
        "o.e.m",  # 8
        "o.e.m.",
        "oem",  # 52
        "oem default string000",
        "oem string",
        "product name",
        "redacted",
        "serial number",
        "sku",  # 311
        "sku number",
        "system manufacturer",  # 287
        "system name",
        "system product name",  # 410
        "system serial number",
        "system version",  # 449
        "to be filled by o.e.m",  # 17
        "to be filled by o.e.m.",  # 4,397
        "to be filled by oem",
        "tobefilledbyo.e.m.",
        "type1family",  # 1
        "type1productconfigid",
        "type2 - board asset tag",
        "type2 - board product name1",  # 1
        "type2 - board serial number",
        "undefine",
        "undefined",  # 211
        "unknow",  # 5
        "unknown",  # 1,753
        "unspecified",
        "x.x",
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
    return (
        not bare or bare in PLACEHOLDERS or bool(_NUMBERED.fullmatch(bare)) or bool(_ONE_SIGN.fullmatch(bare))
    )
