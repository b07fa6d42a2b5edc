"""What kind of thing a text speaks of: memory type, a drive's technology and interface, link, colour."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.phrases import Word, find_words, spellings
from shipworthy.words.spans import Span, plain, where

__all__ = [
    "PciLink",
    "Word",
    "find_card_memory",
    "find_colours",
    "find_error_correction",
    "find_interfaces",
    "find_memory_types",
    "find_pci_links",
    "find_technologies",
]


@dataclass(frozen=True, slots=True)
class PciLink(Span):
    """`PCIe 4.0 x4`. width is None where the text gives none."""

    generation: int
    width: int | None

    @property
    def speed_gt_s(self) -> float:
        """What each lane of that generation carries."""
        return _SPEEDS_GT_S[self.generation]


# GT/s of the generations of PCI Express (PCI Express Base Specification, from memory).
_SPEEDS_GT_S = {1: 2.5, 2: 5.0, 3: 8.0, 4: 16.0, 5: 32.0, 6: 64.0, 7: 128.0}

_MEMORY_TYPE = re.compile(r"\b(?P<kind>LPDDR[2-6]X?|DDR[2-6]L?)(?=[^\w]|\d{3}|$)", re.IGNORECASE)
_MODULE_NAME = re.compile(
    r"\bPC(?P<kind>[2-5])(?P<low>L?)[\s-]?\d{4,5}[A-Z]{0,2}(?![A-Za-z0-9])", re.IGNORECASE
)
_INTERFACES = (
    ("NVMe", re.compile(r"\bNVMe(?![^\W\d_])|\bNVM\sExpress\b", re.IGNORECASE)),
    ("SATA", re.compile(r"\bm?SATA(?![^\W\d_])", re.IGNORECASE)),
    ("SAS", re.compile(r"\bSAS(?![^\W\d_])")),
    ("USB", re.compile(r"\bUSB\b", re.IGNORECASE)),
    ("virtio", re.compile(r"\bvirtio\b", re.IGNORECASE)),
)
_TECHNOLOGIES = (
    ("solid state", re.compile(r"\bSSDs?\b|\bsolid[ -]state\b|\bNVMe\b", re.IGNORECASE)),
    (
        "spinning",
        re.compile(r"\bHDDs?\b|\bhard[ -](?:disk|drive)\b|\b\d{4,5}\s?rpm\b", re.IGNORECASE),
    ),
    ("hybrid", re.compile(r"\bSSHD\b|\bhybrid\s(?:hard\s)?(?:drive|disk)\b", re.IGNORECASE)),
    ("virtual", re.compile(r"\bvirtual (?:disk|drive)\b", re.IGNORECASE)),
)
_LINK = re.compile(
    r"\b(?:PCI(?:-?e|[ -]Express)\s?-?(?:Gen\s?)?|(?=Gen\s?\d))(?:Gen\s?)?(?P<generation>[1-7])(?:\.[01])?"
    r"(?![\d.])(?:\s?x\s?(?P<width>16|8|4|2|1)\b)?(?!\.?\d)",
    re.IGNORECASE,
)
_USB_BEFORE = re.compile(r"\bUSB[\s\d.]{0,8}\(?$", re.IGNORECASE)
_CARD_MEMORY = spellings(
    {
        "GDDR5X": r"\bGDDR5X\b",
        "GDDR6X": r"\bGDDR6X\b",
        **{kind: rf"\b{kind}\b" for kind in ("GDDR3", "GDDR4", "GDDR5", "GDDR6", "GDDR6W", "GDDR7")},
        **{kind: rf"\b{kind}\b" for kind in ("DDR2", "DDR3", "DDR4", "HBM2", "HBM2e", "HBM3", "HBM3e")},
        "SDDR3": r"\bSDDR3\b",
        "HBM": r"\bHBM1?\b",
    }
)
_ERROR_CORRECTION = spellings(
    {
        "non-ECC": r"\b(?:non|no|not|without|w/o)[\s-]?ECC\b",
        "on-die ECC": r"\bon[\s-]die[\s-](?:ECC|error[\s-]correction)\b|\bODECC\b",
        "ECC": r"\bECC\b|\berror[\s-]correct(?:ing|ion)\b",
    }
)
_COLOURS = re.compile(
    r"\b(?P<colour>black|white|silver|gr[ae]y|red|blue|green|yellow|orange|purple|pink|gold|brown|beige)\b",
    re.IGNORECASE,
)


def find_memory_types(text: str) -> tuple[Word, ...]:
    """Return every memory type in the text, as SMBIOS spells it (`DDR5`, `LPDDR5`), also from a module's
    name (`PC4-25600`)."""
    flat = plain(text)
    found = [Word(*where(m, text), m["kind"].upper()) for m in _MEMORY_TYPE.finditer(flat)]
    found += [Word(*where(m, text), f"DDR{m['kind']}{m['low'].upper()}") for m in _MODULE_NAME.finditer(flat)]
    return tuple(sorted(found, key=lambda word: word.start))


def find_card_memory(text: str) -> tuple[Word, ...]:
    """Return every type of a graphics card's memory: `GDDR6X`, `HBM2` …"""
    return find_words(text, _CARD_MEMORY)


def find_error_correction(text: str) -> tuple[Word, ...]:
    """Return what the text says of error correction: `ECC`, `non-ECC`; what each DDR5 chip does within itself
    is `on-die ECC`, and is none of the module."""
    return find_words(text, _ERROR_CORRECTION)


def find_interfaces(text: str) -> tuple[Word, ...]:
    """Return every drive interface in the text: NVMe, SATA, SAS, USB, virtio."""
    return find_words(text, _INTERFACES)


def find_technologies(text: str) -> tuple[Word, ...]:
    """Return every drive technology in the text: solid state, spinning, hybrid, virtual.

    A hybrid drive spins too: beside that word nothing else is said.
    """
    found = find_words(text, _TECHNOLOGIES)
    hybrid = tuple(word for word in found if word.meaning == "hybrid")
    return hybrid or found


def find_pci_links(text: str) -> tuple[PciLink, ...]:
    """Return every PCI Express generation with its width, if said (`PCIe 4.0 x4`, `Gen4 x4`)."""
    flat = plain(text)
    return tuple(
        PciLink(*where(m, text), int(m["generation"]), int(m["width"]) if m["width"] else None)
        for m in _LINK.finditer(flat)
        if not _USB_BEFORE.search(flat, max(0, m.start() - 16), m.start())
    )


def find_colours(text: str) -> tuple[Word, ...]:
    """Return every plain colour word, in British spelling and lower case."""
    return tuple(
        Word(*where(m, text), m["colour"].lower().replace("gray", "grey"))
        for m in _COLOURS.finditer(plain(text))
    )
