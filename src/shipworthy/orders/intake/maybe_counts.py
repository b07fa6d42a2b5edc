"""What in a row may be a quantity though none was read: it is asked about, so that none is lost."""

from __future__ import annotations

import re

from shipworthy.model.intake import Note
from shipworthy.orders.intake.counts import UNITS
from shipworthy.orders.intake.rawrow import note
from shipworthy.words.sizes import find_kits

# `PCIe 4.0 x4` is a link.
NOT_LINK = r"(?<!pcie)(?<!pci-e)(?<!pci)(?<!express)(?<!gen\d)(?<!gen \d)(?<!pcie \d)(?<!pcie\d)(?<!\d\.0)"
_LINK = re.compile(r"pci|nvme|m\.2|gen ?\d|slot|riser|usb|sata|sas\b|oculink|thunderbolt", re.IGNORECASE)
_WITHIN = (
    # `X2` at the end, `3 x` within
    re.compile(rf"(?i:{NOT_LINK})\s+X(?P<n>\d{{1,2}})\s*$"),
    re.compile(r"(?<=[\s>:,;])(?P<n>\d{1,2})\s?[x×]\s+(?=[^\W\d])(?!Gigabit)"),
    # at the start, set off from the words by a sign: `(2) …`, `2 - …`, `2: …`, `2 @ …`, `2 (two) …`, `-2 …`
    re.compile(r"^\s*[(\[](?P<n>\d{1,3})[)\]]\s*(?=\S)"),
    re.compile(rf"^\s*(?P<n>\d{{1,3}})\s*(?:[-–—:/@]\s|\s\()\s*(?!{UNITS}\b)(?=\S)", re.IGNORECASE),
    re.compile(rf"^\s*[-+−](?P<n>\d{{1,3}})\s+(?!{UNITS}\b)(?=\S)", re.IGNORECASE),
    re.compile(r"^\s*no\.?\s?(?P<n>\d{1,2})\s", re.IGNORECASE),
    # a sum: `2+1 …`, `… (10+2)`, `… 10 + 2`
    re.compile(r"^\s*(?P<n>\d{1,3})\s?\+\s?\d{1,3}(?=\s)"),
    re.compile(r"(?:\(|\s)(?P<n>\d{1,3})\s?\+\s?\d{1,3}\s*\)?\s*$"),
)
# At the end, behind an aside too: `… : 2`, `… *2`, `… 2x`, `… 2 @`, `… USB 3.0 x2`
_ENDS = (
    re.compile(r"(?:[^\W\d]\s*:\s*|\d\s*:\s+)(?P<n>\d{1,2})\s*$"),
    re.compile(r"\s\*(?P<n>\d{1,2})\s*$"),
    re.compile(r"\s(?P<n>\d{1,2})x\s*$"),
    re.compile(r"\s(?P<n>\d{1,2})\s?@\s*(?:,|$)"),
    re.compile(r"usb \d\.\d\s+(?:[x×]\s?(?P<n>\d{1,2})|(?P<m>\d{1,2})\s?[x×])\s*$", re.IGNORECASE),
    re.compile(r",\s*(?P<n>\d{1,3})\s+(?:per|each|pro|je|par)\b", re.IGNORECASE),
)
_OF_NO_LINK = (
    re.compile(r"[(\[]\s*(?:[x×]\s?(?P<n>\d{1,2})|(?P<m>\d{1,2})\s?[x×])\s*[)\]]\s*\S"),
    re.compile(r"\s[x×]\s?(?P<n>\d{1,3})\s*[(\[]"),
)
_PIECES = re.compile(r"[(\[]\s*(?P<n>\d{1,3})\s?(?:pcs?|pieces?|stk|stück|units?|pièces?)\.?\s*[)\]]", re.I)
# Counts in words that say no number, or none that stands for one alone.
_VAGUE = re.compile(
    r"^\s*(?P<said>(?:(?:a|an|half a|ein halbes|une?|one)\s+)?(?:couple|few|several|dozens?|douzaine|dutzend|"
    r"twice|thrice|einige|mehrere|quelques|plusieurs|zweimal|dreimal|score)(?:\s+of)?)\s+\w"
    r"|(?:\s|,)(?P<end>twice|thrice|zweimal|dreimal|deux fois|trois fois)\s*$"
    r"|^\s*(?P<part>\d{0,3}\s?[¼½¾²³])\s*[x×]?\s",
    re.IGNORECASE,
)
_OF_WORDS = re.compile(
    r"\b(?:qty|quantity|menge|anzahl|stückzahl|quantité|qté)\b\.?\s*[:=]?\s*(?P<said>[^\W\d]+)", re.I
)


def maybe_count(text: str, whole: str) -> Note | None:
    """Return the question about what may be a quantity in a text from which none was read.

    text: up to its aside, whose counts are not the part's. whole: with it; a quantity may stand at its end.
    """
    if match := _VAGUE.search(text):
        said = match["said"] or match["end"] or match["part"]
        return note("intake.quantity-not-understood", said=said.strip()[:60])
    if match := _OF_WORDS.search(text):
        return note("intake.quantity-not-understood", said=match["said"][:60])
    of_no_link = () if _LINK.search(text) or find_kits(text) else _OF_NO_LINK
    found = [match for pattern in (*_WITHIN, _PIECES, *of_no_link) if (match := pattern.search(text))]
    found += [match for pattern in _ENDS if (match := pattern.search(whole))]
    if not found:
        return None
    return note("intake.quantity-maybe", number=int(found[0]["n"] or found[0]["m"]))


def names_two_kits(text: str) -> bool:
    """Return whether kits of different modules stand in a text: `2x16GB, 2x32GB` are two parts.

    A kit that adds up to a module of the one before is what that one holds (`2x 32GB (2x16GB)`).
    """
    kits = [(kit.count, kit.module_bytes) for kit in find_kits(text) if kit.module_bytes]
    return any(
        one != other and more * other != one
        for at, (_, one) in enumerate(kits)
        for more, other in kits[at + 1 :]
    )
