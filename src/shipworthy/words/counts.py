"""Counts, revisions, ids and screens: `8-Core`, `rev 1.2`, `8086:15f3`, `27" 2560x1440 165Hz`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, number, plain, where


@dataclass(frozen=True, slots=True)
class Count(Span):
    count: int


@dataclass(frozen=True, slots=True)
class Revision(Span):
    revision: str


@dataclass(frozen=True, slots=True)
class PciId(Span):
    """A vendor and device id, lower case, four hex digits each."""

    vendor: str
    device: str


@dataclass(frozen=True, slots=True)
class Diagonal(Span):
    inches: float


@dataclass(frozen=True, slots=True)
class Resolution(Span):
    """width_px is None where a name tells the rows alone: `1440p` of a screen that may be wider than 16:9."""

    width_px: int | None
    height_px: int


@dataclass(frozen=True, slots=True)
class Refresh(Span):
    hertz: float


_NUMERALS = {"dual": 2, "quad": 4, "six": 6, "hexa": 6, "eight": 8, "octa": 8, "ten": 10, "twelve": 12}
_CORES = re.compile(
    rf"\b(?P<count>\d{{1,3}}|{'|'.join(_NUMERALS)})[\s-]?(?:cores?|Kerne?n?|c(?:œ|oe)urs?)\b", re.IGNORECASE
)
_REVISION = re.compile(
    r"\b(?:rev(?:ision)?\b\.?|version\b)\s?(?P<revision>\d[\w.]*|[A-Z]\d?)(?![\w.])"
    r"|(?<!bluetooth\s)(?<!BT\s)(?<!HDMI\s)(?<!DP\s)(?<!displayport\s)(?<!USB\s)(?<!PCIe\s)(?<!ATX\s)(?<!12V\s)"
    r"\bv(?P<v>\d+\.\d+)(?![\w.])",
    re.IGNORECASE,
)
_PCI_ID = re.compile(r"(?<![\w:])(?P<vendor>[0-9a-f]{4}):(?P<device>[0-9a-f]{4})(?![\w:])", re.IGNORECASE)
_DIAGONAL = re.compile(
    r"(?<![\w.,])(?P<inches>\d{1,2}(?:[.,]\d{1,2})?)[\s-]?(?:\"|''|inch(?:es)?\b|in\.)", re.IGNORECASE
)
_PIXELS = re.compile(r"(?<!\w)(?P<width>\d{3,5})\s?x\s?(?P<height>\d{3,5})(?!\w)", re.IGNORECASE)
# Names of the trade for resolutions (common practice; 4K here means UHD).
_NAMED = {
    **dict.fromkeys(("1080p", "full hd", "fhd"), (1920, 1080)),
    **dict.fromkeys(("1440p", "wqhd", "qhd"), (2560, 1440)),
    **dict.fromkeys(("2160p", "4k", "uhd"), (3840, 2160)),
    **dict.fromkeys(("wfhd", "uwfhd"), (2560, 1080)),
    **dict.fromkeys(("uwqhd", "ultra-wqhd", "ultra wqhd"), (3440, 1440)),
    **dict.fromkeys(("dqhd", "dual qhd"), (5120, 1440)),
    **dict.fromkeys(("duhd", "dual uhd", "dual 4k"), (7680, 2160)),
}
_NAMED_PIXELS = re.compile(
    rf"(?<![\w.])(?:{'|'.join(sorted(_NAMED, key=len, reverse=True))})(?!\w)", re.IGNORECASE
)
_HERTZ = re.compile(r"(?<![\w.,])(?P<hertz>\d{2,3}(?:[.,]\d{1,2})?)[\s-]?Hz(?!\w)", re.IGNORECASE)


_ROWS = frozenset({"1080p", "full hd", "fhd", "1440p", "wqhd", "qhd"})
"""Names that shops give to wider screens too."""
_WIDE = re.compile(r"\bultra[\s-]?wide\b|\b(?:21|32):9\b|\bUW\b|\bdual\b", re.IGNORECASE)
_WIDE_FROM_INCHES = ((29.0, 31.0), (33.5, 42.0), (44.0, 100.0))
"""Sizes at which screens wider than 16:9 are sold, 16:9 ones with few rows seldom (common practice)."""


def find_cores(text: str) -> tuple[Count, ...]:
    """Return every number of cores in the text."""
    return tuple(
        Count(*where(m, text), _NUMERALS.get(m["count"].lower()) or int(m["count"]))
        for m in _CORES.finditer(plain(text))
    )


_LEADING = re.compile(r"^\s*(?P<count>[1-9]\d?)\s?x\s(?=\s*[^\W\d])", re.IGNORECASE)


def find_leading_counts(text: str) -> tuple[Count, ...]:
    """Return how many a text sells by its first words (`2 x Fennec 16GB`); a kit (`2x 16GB`) is none."""
    match = _LEADING.match(plain(text))
    return (Count(*where(match, text), int(match["count"])),) if match else ()


def find_revisions(text: str) -> tuple[Revision, ...]:
    """Return every revision of a board in the text, without the word before it."""
    return tuple(
        Revision(*where(m, text), (m["revision"] or m["v"]).rstrip("."))
        for m in _REVISION.finditer(plain(text))
    )


def find_pci_ids(text: str) -> tuple[PciId, ...]:
    """Return every pair of PCI ids written `8086:15f3`."""
    return tuple(
        PciId(*where(m, text), m["vendor"].lower(), m["device"].lower())
        for m in _PCI_ID.finditer(plain(text))
    )


def find_diagonals(text: str) -> tuple[Diagonal, ...]:
    """Return every screen size in inches."""
    return tuple(Diagonal(*where(m, text), number(m["inches"])) for m in _DIAGONAL.finditer(plain(text)))


def find_resolutions(text: str) -> tuple[Resolution, ...]:
    """Return every resolution in pixels, written out or by its name."""
    found = [
        Resolution(*where(m, text), int(m["width"]), int(m["height"])) for m in _PIXELS.finditer(plain(text))
    ]
    wide = _may_be_wide(text)
    for match in _NAMED_PIXELS.finditer(plain(text)):
        name = match.group().casefold()
        width, height = _NAMED[name]
        found.append(Resolution(*where(match, text), None if wide and name in _ROWS else width, height))
    return tuple(sorted(found, key=lambda resolution: resolution.start))


def find_refresh_rates(text: str) -> tuple[Refresh, ...]:
    """Return every refresh rate of a screen, in Hz."""
    return tuple(Refresh(*where(m, text), number(m["hertz"])) for m in _HERTZ.finditer(plain(text)))


def _may_be_wide(text: str) -> bool:
    """Whether a screen may be wider than 16:9, so that its rows do not tell its columns."""
    inches = [found.inches for found in find_diagonals(text)]
    return bool(_WIDE.search(text)) or any(
        least <= one < most for one in inches for least, most in _WIDE_FROM_INCHES
    )
