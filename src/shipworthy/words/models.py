"""What is left of a part text, or of a device's own name, when the grammar has taken its part: the model."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

from shipworthy.model.words import Category
from shipworthy.words.cooling import find_coolers_included
from shipworthy.words.counts import (
    find_cores,
    find_diagonals,
    find_pci_ids,
    find_resolutions,
    find_revisions,
)
from shipworthy.words.firmware_versions import find_firmware_wishes
from shipworthy.words.kinds import find_colours, find_interfaces, find_pci_links, find_technologies
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.sockets import CONTACTS
from shipworthy.words.spans import Span, without

Finder = Callable[[str], tuple[Span, ...]]


def _drive_sizes(text: str) -> tuple[Span, ...]:
    return (*find_kits(text, Base.DECIMAL), *find_sizes(text, Base.DECIMAL))


def _free_resolutions(text: str) -> tuple[Span, ...]:
    """Resolutions, but for the one in a model's own name: `VP2768-4K`."""
    return tuple(found for found in find_resolutions(text) if text[: found.start][-1:] != "-")


_GRAMMAR: dict[Category, tuple[Finder, ...]] = {
    Category.PROCESSOR: (find_cores, find_coolers_included),
    Category.BOARD: (find_firmware_wishes, find_revisions, find_colours),
    Category.STORAGE: (_drive_sizes, find_pci_links, find_interfaces, find_technologies),
    Category.GRAPHICS: (_drive_sizes, find_pci_links, find_pci_ids),
    Category.DISPLAY: (find_diagonals, _free_resolutions),
    Category.NETWORK: (find_pci_ids,),
}

_NAMED_SOCKET = (
    rf"(?:{CONTACTS}(?:[\s-]?v?\d)?|370|423|462|47[89]|60[34]|754|939|940|[A-Z]|G34|C32|S1|F[MPST]\d\+?|AM\d\+?)"
    r"(?![\w+-])"
)
_SOCKET = (
    r"(?:socke[tl]\s?)?(?:LGA\s?-?\d{3,4}(?:-\d)?|\b(?:s?TRX?\d|sWRX\d|SP\d|[AF]M\d\+?)(?![\w+-]))"
    rf"|\bsocke[tl]\b(?:\s{_NAMED_SOCKET})?"
)
"""What stands behind the word may be a socket's name (common practice), or the part's own."""
# Words that describe and never tell two models apart. (A board's own name may hold the memory type: it is
# then found in the text as sold.)
_NOISE: dict[Category, str] = {
    Category.PROCESSOR: rf"""
        \(R\)|\(TM\)|\(C\)|[®™©] | \bCPU\b | \bprocessors?\b | @\s?\d+(?:\.\d+)?\s?[GM]Hz
        | (?<![\w.,])(?:\d{{1,2}}x\s?)?(?:\d[.,]\d{{1,2}}\s?-\s?)?\d+(?:[.,]\d+)?\s?[GM]Hz
        | \d+(?:\.\d+)?\s?[GM]Hz | \b\d+(?:st|nd|rd|th)\sGen(?:eration)?\b | \bwith\s(?:Radeon|Vega)\b.*$
        | \b\d{{1,3}}[\s-]?threads?\b | {_SOCKET} | \bOEM(?:/Tray)? | \btray\b | \bbox(?:ed)?\b | \bretail\b
        | \b\d+\s?nm\b | (?<![\w-])\d{{1,3}}\s?W\b | \b\d+\s?MB(?:\s(?:L[23]\s)?cache)?\b | \bdesktop\b
        | \bProzessor(?:en)?\b | \bprocesseurs?\b
    """,
    Category.BOARD: rf"""
        (?:{_SOCKET})(?:\s(?:narrow|square)\b)? | \bDDR\d\b
        | (?<![\w-])(?:(?:E|micro|mini|µ|XL|SSI)[\s-]?|m[\s-]?(?=ATX)|m\s?(?=[ID]TX))?(?:ATX|[ID]TX|EEB|CEB)\b
        | (?<=\s)(?:AMD|Intel)\b | \bNVIDIA\s[gn]e?Force\s\d+\w* | \b(?:mother-?|main-?)?board\b | \bchipset\b
        | \bHauptplatine\b | \bmobo\b | \bcarte\sm[èe]re\b
        | \bSATA\s\d(?:\.\d)?\s?Gb(?:it)?/s | \b(?:Atom|Celeron|Pentium|Xeon)\s[A-Z]+-?\d+
        | \bRyzen\s\d+\sSeries\b | \bCPU\sready\b
        | \([A-Z]{{2}}-[0-9A-F]{{4}}\)\s*$
    """,
    Category.STORAGE: r"""
        \b(?:6|3|1\.5|6\.0|3\.0|12)\s?Gb(?:it)?/s | \b[23][.,]5(?:\s?(?:"|″|'')|[\s-]?(?:inch|Zoll|pouces))
        | \b[23]\.5\b | \bFestplatten?\b | \bLaufwerk\b | \binterne?[rs]?\b | \bdisque\s(?:dur|interne|SSD)\b
        | \bM\.2(?:[\s-]?22\d\d)?\b | \bU\.[23]\b | \bmSATA\b | \bSATA\s?(?:I{1,3}|\d)\b | \bIII\b
        | \b\d{4,5}\s?rpm\b | \binternal\b | \bdrive\b | \bdisk\b | \bhard\b | \bsolid[\s-]state\b
        | \bw/\s?heatsink\b | \b(?:(?:with|mit|avec|incl(?:\.|uding)?|inkl(?:\.|usive)?)\s)?
        (?:heatsink|dissipateur|K(?:ü|ue)hlk(?:ö|oe)rper)\b
        | \b\d+\s?MB\scache\b | \b\d[\d,.]*\s?MB/s | \bvirtual\b
        | \bNAS\b | \b(?:x[124]|gen\s?\d)\b
    """,
    Category.GRAPHICS: r"""
        \bGDDR\d[XW]?\b | \bHBM\d\w?\b | \bgraphics\s(?:card|device|adapter|processor)\b | \bvideo\scard\b
        | \bGra(?:f|ph)ikkarten?\b | \bcarte\sgraphique\b | \b\d{3}\s?mm(?:\s(?:long|lang|length))?\b
        | \bGPU\b | \b\d+[\s-]?bit\b | \bPCI(?:e|[\s-]Express)\b | \bblack\b(?!\sedition) | \bwhite\b
        | \bsilver\b | \bgr[ae]y\b | \b(?:schwarz|wei(?:ß|ss)|silber|grau|noire?|blanc(?:he)?|gris)\b
        | \(R\)|\(TM\)|[®™]
    """,
    Category.DISPLAY: r"""
        \b\d{2,3}\s?Hz\b | \b(?:IPS|VA|TN|OLED|QD-OLED|LED|LCD|mini\sLED)\b | \bcurved\b | \bmonitor\b
        | \bBildschirm\b | \b[ée]cran\b | \b\d{2}(?:[.,]\d)?[\s-]?(?:Zoll|pouces)(?!\w) | \bdisplay\b
        | \bscreen\b | \b\d+\s?ms\b | \bHDR\d*\b
    """,
    Category.NETWORK: r"\bnetwork\b | \badapter\b | \bcard\b | \bethernet\b | \binterface\b",
}
_NOISE_PATTERNS = {
    category: re.compile(words, re.IGNORECASE | re.VERBOSE) for category, words in _NOISE.items()
}
_LOOSE = re.compile(r"\s[,;/|+–—-]+(?=\s|$)|,(?=\s|$)")
_EMPTY = re.compile(r"\(\s*\)|\[\s*\]")
_EDGES = " ,;:/|·–—-@"
_DETAILS = re.compile(r";\s(?=[^\W\d][\w ./-]{1,24}:\s)")
"""What stands behind a part in an order and speaks of it (`…; Warranty: 3 years`) names no model."""


@lru_cache(maxsize=4096)
def model_text(text: str, category: Category) -> str:
    """Return the words of a text that name a model; empty where none are left.

    Works on a part text as sold and on what a device calls itself, so that both lose the same words.
    """
    text = _DETAILS.split(text)[0]
    for finder in _GRAMMAR.get(category, ()):
        text = without(text, finder(text))
    pattern = _NOISE_PATTERNS.get(category)
    if pattern is not None:
        text = pattern.sub(" ", text)
    text = _EMPTY.sub(" ", _LOOSE.sub(" ", text))
    return " ".join(text.split()).strip(_EDGES).rstrip("([" + _EDGES).lstrip(")]" + _EDGES)
