"""What kind of thing a text speaks of: memory type, a drive's technology and interface, link, colour."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, where


@dataclass(frozen=True, slots=True)
class Word(Span):
    """A word of a closed set. meaning: the one spelling of it that records use."""

    meaning: str


@dataclass(frozen=True, slots=True)
class PciLink(Span):
    """`PCIe 4.0 x4`. width is None where the text gives none."""

    generation: int
    width: int | None


_MEMORY_TYPE = re.compile(r"\b(?P<kind>LPDDR[2-6]X?|DDR[2-6]L?)(?=[\s,;)/-]|\d{3}|$)", re.IGNORECASE)
_INTERFACES = (
    ("NVMe", re.compile(r"\bNVMe\b", re.IGNORECASE)),
    ("SATA", re.compile(r"\bm?SATA\b", re.IGNORECASE)),
    ("SAS", re.compile(r"\bSAS\b")),
    ("USB", re.compile(r"\bUSB\b", re.IGNORECASE)),
    ("virtio", re.compile(r"\bvirtio\b", re.IGNORECASE)),
)
_TECHNOLOGIES = (
    ("solid state", re.compile(r"\bSSDs?\b|\bsolid[ -]state\b|\bNVMe\b", re.IGNORECASE)),
    ("spinning", re.compile(r"\bHDDs?\b|\bhard[ -](?:disk|drive)\b|\b\d{4,5}\s?rpm\b", re.IGNORECASE)),
    ("hybrid", re.compile(r"\bSSHD\b", re.IGNORECASE)),
    ("virtual", re.compile(r"\bvirtual (?:disk|drive)\b", re.IGNORECASE)),
)
_LINK = re.compile(
    r"\bPCI(?:e|[ -]Express)\s?(?:Gen\s?)?(?P<generation>[1-7])(?:\.0)?(?:\s?x\s?(?P<width>1|2|4|8|16)\b)?",
    re.IGNORECASE,
)
_COLOURS = re.compile(
    r"\b(?P<colour>black|white|silver|gr[ae]y|red|blue|green|yellow|orange|purple|pink|gold|brown|beige)\b",
    re.IGNORECASE,
)


def find_memory_types(text: str) -> tuple[Word, ...]:
    """Return every memory type in the text, as SMBIOS spells it (`DDR5`, `LPDDR5`)."""
    return tuple(Word(*where(m), m["kind"].upper()) for m in _MEMORY_TYPE.finditer(text))


def find_interfaces(text: str) -> tuple[Word, ...]:
    """Return every drive interface in the text: NVMe, SATA, SAS, USB, virtio."""
    return _words(text, _INTERFACES)


def find_technologies(text: str) -> tuple[Word, ...]:
    """Return every drive technology in the text: solid state, spinning, hybrid, virtual."""
    return _words(text, _TECHNOLOGIES)


def find_pci_links(text: str) -> tuple[PciLink, ...]:
    """Return every PCI Express generation with its width, if said."""
    return tuple(
        PciLink(*where(m), int(m["generation"]), int(m["width"]) if m["width"] else None)
        for m in _LINK.finditer(text)
    )


def find_colours(text: str) -> tuple[Word, ...]:
    """Return every plain colour word, in British spelling and lower case."""
    return tuple(
        Word(*where(m), m["colour"].lower().replace("gray", "grey")) for m in _COLOURS.finditer(text)
    )


def _words(text: str, patterns: tuple[tuple[str, re.Pattern[str]], ...]) -> tuple[Word, ...]:
    found = [Word(*where(m), meaning) for meaning, pattern in patterns for m in pattern.finditer(text)]
    return tuple(sorted(found, key=lambda word: word.start))
