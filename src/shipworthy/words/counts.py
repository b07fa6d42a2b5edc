"""Counts, revisions, ids and screen sizes: `8-Core`, `rev 1.2`, `8086:15f3`, `27" 2560x1440`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, number, where


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
    width_px: int
    height_px: int


_NUMERALS = {"dual": 2, "quad": 4, "six": 6, "hexa": 6, "eight": 8, "octa": 8, "ten": 10, "twelve": 12}
_CORES = re.compile(rf"\b(?P<count>\d{{1,3}}|{'|'.join(_NUMERALS)})[\s-]?cores?\b", re.IGNORECASE)
_REVISION = re.compile(
    r"\b(?:rev(?:ision)?\b\.?|version\b)\s?(?P<revision>\d[\w.]*|[A-Z]\d?)(?![\w.])|\bv(?P<v>\d+\.\d+)(?![\w.])",
    re.IGNORECASE,
)
_PCI_ID = re.compile(r"(?<![\w:])(?P<vendor>[0-9a-f]{4}):(?P<device>[0-9a-f]{4})(?![\w:])", re.IGNORECASE)
_DIAGONAL = re.compile(
    r"(?<![\w.,])(?P<inches>\d{1,2}(?:[.,]\d{1,2})?)[\s-]?(?:\"|″|''|inch(?:es)?\b)", re.IGNORECASE
)
_PIXELS = re.compile(r"(?<!\w)(?P<width>\d{3,5})\s?[x×]\s?(?P<height>\d{3,5})(?!\w)")
# Names of the trade for resolutions of 16:9 screens (common practice; 4K here means UHD).
_NAMED = {"1080p": (1920, 1080), "full hd": (1920, 1080), "fhd": (1920, 1080), "1440p": (2560, 1440)}
_NAMED |= {
    "wqhd": (2560, 1440),
    "qhd": (2560, 1440),
    "4k": (3840, 2160),
    "uhd": (3840, 2160),
    "2160p": (3840, 2160),
}
_NAMED_PIXELS = re.compile(rf"(?<!\w)(?:{'|'.join(_NAMED)})(?!\w)", re.IGNORECASE)


def find_cores(text: str) -> tuple[Count, ...]:
    """Return every number of cores in the text."""
    return tuple(
        Count(*where(m), _NUMERALS.get(m["count"].lower()) or int(m["count"])) for m in _CORES.finditer(text)
    )


def find_revisions(text: str) -> tuple[Revision, ...]:
    """Return every revision of a board in the text, without the word before it."""
    return tuple(Revision(*where(m), (m["revision"] or m["v"]).rstrip(".")) for m in _REVISION.finditer(text))


def find_pci_ids(text: str) -> tuple[PciId, ...]:
    """Return every pair of PCI ids written `8086:15f3`."""
    return tuple(PciId(*where(m), m["vendor"].lower(), m["device"].lower()) for m in _PCI_ID.finditer(text))


def find_diagonals(text: str) -> tuple[Diagonal, ...]:
    """Return every screen size in inches."""
    return tuple(Diagonal(*where(m), number(m["inches"])) for m in _DIAGONAL.finditer(text))


def find_resolutions(text: str) -> tuple[Resolution, ...]:
    """Return every resolution in pixels, written out or by its name."""
    found = [Resolution(*where(m), int(m["width"]), int(m["height"])) for m in _PIXELS.finditer(text)]
    found += [Resolution(*where(m), *_NAMED[m.group().lower()]) for m in _NAMED_PIXELS.finditer(text)]
    return tuple(sorted(found, key=lambda resolution: resolution.start))
