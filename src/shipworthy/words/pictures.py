"""Sockets for displays in part texts, and processors that drive none by themselves."""

from __future__ import annotations

import re

from shipworthy.words.spans import plain

# A count may stand before the word without a space (`2xHDMI`), a version behind it (`HDMI2.1`).
_START = r"(?<![a-wyz])"
OUTPUTS = tuple(
    (kind, re.compile(pattern, re.IGNORECASE))
    for kind, pattern in (
        ("DisplayPort", rf"display\s?-?ports?|{_START}m?DP(?![a-z])|{_START}miniDP(?![a-z])"),
        ("HDMI", r"HDMI"),
        ("DVI", rf"{_START}DVI(?![a-hj-z])"),
        ("VGA", rf"{_START}VGA(?![a-z])|{_START}D[\s-]?Sub(?![a-z])"),
        (
            "USB-C",
            rf"{_START}USB[\s-]?(?:Type[\s-]?)?C(?![a-z])|{_START}Type[\s-]?C(?![a-z])"
            rf"|{_START}Thunderbolt|{_START}USB\s?4(?!\d)",
        ),
    )
)
"""Kinds of sockets, whatever their version, each with the pattern of its spellings; read in this order."""
_COUNTED = re.compile(
    r"\s*(?:(?P<before>\d{1,2})\s?x\s?(?=\D)(?P<rest>.*?)|(?P<word>.*?)\s?x\s?(?P<behind>\d))\s*"
)
# Intel's and AMD's suffix for a processor without graphics of its own (their naming guides, from memory).
_NO_GRAPHICS = re.compile(
    r"(?<![\w.])(?:i[3579][-\s]?)?\d{4,5}K?F(?!\w)|\bUltra\s+[579]\s+\d{3}K?F(?!\w)", re.IGNORECASE
)


def output_of(text: str) -> str | None:
    """Return the kind of a display's socket (`HDMI` for `HDMI 2.1`); None where there is none such."""
    flat = plain(text.replace("_", " "))
    return next((kind for kind, pattern in OUTPUTS if pattern.search(flat)), None)


def output_count(text: str) -> int:
    """Return how many sockets a word of a list stands for: 2 for `2xHDMI`, `2 x HDMI 2.1` and `HDMI x2`."""
    match = _COUNTED.fullmatch(plain(text.replace("_", " ")).casefold())
    return int(match["before"] or match["behind"]) if match else 1


def says_no_graphics(text: str) -> bool:
    """Return whether a processor's name ends in F or KF: its maker's suffix for one without own graphics."""
    return _NO_GRAPHICS.search(plain(text)) is not None
