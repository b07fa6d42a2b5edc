"""Numbers as smartctl's text prints them, with the separators of the locale that printed them.

Seen in 1,000 real reports: comma (863), no-break space (120), point (8), space (2), narrow no-break
space (1).
"""

from __future__ import annotations

import re

from shipworthy.model.words import Absent

_SPACES = "\u0020\u00a0\u202f\u2009\u00ff"  # the last: a no-break space of code page 850, read as Latin-1
_GROUPED = re.compile(rf"(\d{{1,3}})((?:([,.'’{_SPACES}])\d{{3}})(?:\3\d{{3}}){{0,12}})(?!\d)")
_PLAIN = re.compile(r"\d{1,40}")


def whole(words: str) -> int | None:
    """Return the whole number that a text begins with; None if it begins with none, or with a huge one.

    A separator is one only if groups of three digits follow it, all with the same.
    """
    number = _integer(words)
    return None if number is None or number >> 63 else number


def counted(words: str) -> int | Absent | None:
    """Return a count; one that passes 63 bits is no count of anything that a drive has done."""
    number = _integer(words)
    return Absent.IMPLAUSIBLE if number is not None and number >> 63 else number


def _integer(words: str) -> int | None:
    words = words.strip()
    grouped = _GROUPED.match(words)
    if grouped:
        return int(grouped[1] + re.sub(r"\D", "", grouped[2]))
    plain = _PLAIN.match(words)
    return None if plain is None else int(plain[0])


def hexadecimal(words: str) -> int | None:
    """Return the number that a text begins with after `0x`; None if it does not."""
    match = re.match(r"0x([0-9a-fA-F]{1,16})(?![0-9a-fA-F])", words.strip())
    return int(match[1], 16) if match else None
