"""Generations of interfaces: SATA rates, Wi-Fi, the ATX version of a supply."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.phrases import Word
from shipworthy.words.spans import Span, number, plain, where


@dataclass(frozen=True, slots=True)
class SataRate(Span):
    gbit_s: float


# SATA-IO: revision 1.x, 2.x and 3.x run at 1.5, 3 and 6 Gbit/s; "SATA III" is the trade's for 6 Gbit/s.
_SATA = re.compile(
    r"\bSATA[\s-]?(?:(?P<rate>6(?:[.,]0)?|3(?:[.,]0)?|1[.,]5)\s?G(?:b(?:it)?(?:/s|ps)?)?(?!\w)"
    r"|(?P<roman>I{1,3})(?!\w)|(?P<revision>[123])(?:\.\d)?(?![\w.]|\s?G))"
    r"|(?<![\w.,])(?P<before>6(?:[.,]0)?|3(?:[.,]0)?|1[.,]5)\s?G(?:b(?:it)?(?:/s|ps)?)?\sSATA\b",
    re.IGNORECASE,
)
_SATA_RATES = {1: 1.5, 2: 3.0, 3: 6.0}
# Wi-Fi Alliance: generations 4 to 7 are IEEE 802.11n, ac, ax and be; 6E is ax in the 6 GHz band.
_WIFI = re.compile(
    r"\bWi-?\s?Fi[\s-]?(?P<generation>[4-8]E?)(?!\w)|\b802\.11\s?(?P<letters>[abgn/]*(?:ac|ax|be|n))(?!\w)",
    re.IGNORECASE,
)
_STANDARDS = {"n": "4", "ac": "5", "ax": "6", "be": "7"}
_NOT = r"(?:no|non|not|without|w/o|excl(?:uding|\.)?|less)"
_BESIDE = r"(?:(?:any|built-?in|on-?board|integrated|bluetooth|BT)(?:\s?[/&+]\s?|\s(?:and|or|nor)\s|[\s-]))"
# A board that is ready for it has a place for the card; an antenna is none.
_WIRELESS = re.compile(
    rf"(?P<no>(?<!\w){_NOT}[\s-]{_BESIDE}{{0,2}})?"
    r"(?<![A-Za-z0-9])(?:Wi-?\s?Fi(?:[\s-]?[4-8]E?)?|wireless|WLAN|802\.11\s?[abgn/]*(?:ac|ax|be|n))(?!\w)"
    r"(?P<behind>\s?[:=]\s?(?:no|none|-)(?!\w)|[\s-](?:less|free)(?!\w)|\s(?:is\s)?not\s(?:included|fitted))?"
    r"(?P<open>[\s-](?:ready|capable|upgrad(?:e|able)|optional|antennas?|antennae|aerials?)(?!\w))?",
    re.IGNORECASE,
)
_ATX = re.compile(r"\bATX(?:12V)?[\s-]?v?(?P<version>[23]\.\d{1,2})(?![\w.])", re.IGNORECASE)


def find_sata_rates(text: str) -> tuple[SataRate, ...]:
    """Return every rate of SATA, in Gbit/s. `SATA 3.0 Gb/s` is 3; `SATA 3.0` and `SATA III` are 6."""
    return tuple(SataRate(*where(m, text), _sata(m)) for m in _SATA.finditer(plain(text)))


def find_wifi(text: str) -> tuple[Word, ...]:
    """Return every generation of Wi-Fi: `Wi-Fi 6E`, also from the standard's letters (802.11ax)."""
    found = []
    for match in _WIFI.finditer(plain(text)):
        letters = (match["letters"] or "").casefold()
        newest = next((s for s in ("be", "ax", "ac", "n") if letters.endswith(s)), "")
        generation = match["generation"] or _STANDARDS[newest]
        found.append(Word(*where(match, text), f"Wi-Fi {generation.upper()}"))
    return tuple(found)


def says_wireless(text: str) -> bool | None:
    """Return whether a part has Wi-Fi by its text; None where it says nothing, or both.

    `no Wi-Fi` and `without Wi-Fi` say no; `Wi-Fi ready` says nothing.
    """
    found = [m for m in _WIRELESS.finditer(plain(text)) if not m["open"]]
    said = {not (match["no"] or match["behind"]) for match in found}
    return said.pop() if len(said) == 1 else None


def find_supply_versions(text: str) -> tuple[Word, ...]:
    """Return every version of the ATX supply's design guide: `ATX 3.1`."""
    return tuple(Word(*where(m, text), f"ATX {m['version']}") for m in _ATX.finditer(plain(text)))


def _sata(match: re.Match[str]) -> float:
    rate = match["rate"] or match["before"]
    if rate:
        return number(rate)
    return _SATA_RATES[len(match["roman"]) if match["roman"] else int(match["revision"])]
