"""Part numbers and GTINs, in the one spelling by which they are looked up."""

from __future__ import annotations

import re
import unicodedata

from shipworthy.orders.files import gtin_adds_up

_SPELLING = re.compile(r"[\s\-_‐-―−]+")  # spaces and every kind of hyphen
LEAST_SIGNS = 4
"""Letters and digits that a part number has at least: shorter ones (`OC`, `3.1`) are pieces of names (common
practice; the open part records hold hundreds of such pieces)."""


def number_key(number: str) -> str:
    """Return a part number without case, spaces and hyphens; empty if what is left is too short for one."""
    plain = unicodedata.normalize("NFKC", _SPELLING.sub("", unicodedata.normalize("NFKC", number)).casefold())
    return plain if sum(map(str.isalnum, plain)) >= LEAST_SIGNS else ""


def gtin_key(gtin: str) -> str:
    """Return the 14 digits of a GTIN of 8, 12, 13 or 14; empty if it is none, or its check digit is wrong.

    Shorter forms are the long one without its leading zeros (GS1 General Specifications, 3.3 and 7.9).
    """
    digits = _SPELLING.sub("", gtin)
    if not (digits.isascii() and digits.isdigit() and len(digits) in (8, 12, 13, 14)):
        return ""
    return digits.zfill(14) if gtin_adds_up(digits) else ""
