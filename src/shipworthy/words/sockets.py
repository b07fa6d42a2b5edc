"""Sockets of processors in part texts: `LGA1700`, `S1700`, `AM5`, `sTR5`, `FM2+`, `2011-v3`."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.words.phrases import Word
from shipworthy.words.spans import plain, where

# Contacts of Intel's sockets of the desktop, the workstation and the server (common practice).
CONTACTS = r"(?:771|775|1150|1151|1155|1156|1200|1356|1366|1567|1700|1851|2011|2066|3647|4189|4677|4710|7529)"
_VERSION = r"(?P<version>[\s-]?v?\d(?![\w.]))?"
_LGA = re.compile(
    rf"(?<![\w-])(?:socke[tl]\s?-?|S|LGA[\s-]?|FCLGA[\s-]?)(?P<contacts>{CONTACTS}){_VERSION}(?!\w)"
    rf"|(?<![\w-])LGA[\s-]?(?P<any>\d{{3,4}})(?![\w-])|(?<![\w-])(?P<bare>2011)-?(?:v3|3)(?!\w)",
    re.IGNORECASE,
)
_PGA = re.compile(
    r"(?<![\w-])(?:socke[tl]\s?-?)?(?P<name>s?AM[1-5]\+?|FM[12]\+?|sTRX?[45]|s?WRX?[89]|SP[3-6]|TR4|G34|C32)(?![\w+-])",
    re.IGNORECASE,
)
_MORE = re.compile(rf"\s?/\s?(?P<contacts>{CONTACTS}|115x){_VERSION}(?!\w)", re.IGNORECASE)
"""What a list goes on with: `LGA1700/1200/115X`."""
_ANY_115 = ("1150", "1151", "1155", "1156")
_AMD = {
    "str4": "TR4",
    "tr4": "TR4",
    "str5": "sTR5",
    "strx4": "sTRX4",
    "swrx8": "sWRX8",
    "wrx8": "sWRX8",
    "swrx9": "sWRX9",
    "wrx9": "sWRX9",
}


def find_sockets(text: str) -> tuple[Word, ...]:
    """Return every socket in the text, as its maker writes it (`LGA 1700`, `LGA 2011-3`, `AM5`, `sTR5`).

    A revision of LGA 1151 (`1151-V2`) is told only by its chipset: the mechanical socket is one.
    """
    flat = plain(text)
    found = [word for m in _LGA.finditer(flat) for word in (Word(*where(m, text), _lga(m)), *_more(m, text))]
    found += [Word(*where(m, text), _amd(m["name"])) for m in _PGA.finditer(flat)]
    return tuple(sorted(found, key=lambda word: word.start))


def _more(match: re.Match[str], text: str) -> Iterator[Word]:
    """Yield the sockets that follow one behind a slash; `115X` is one word for four."""
    flat, end = plain(text), match.end()
    while (more := _MORE.match(flat, end)) is not None and not _LGA.match(flat, more.start("contacts")):
        contacts, end = more["contacts"], more.end()
        span = (text[more.start("contacts") : end], more.start("contacts"), end)
        for one in _ANY_115 if contacts.casefold() == "115x" else (contacts,):
            yield Word(*span, _written(one, more["version"]))


def _lga(match: re.Match[str]) -> str:
    if match["bare"]:
        return f"LGA {match['bare']}-3"
    return _written(match["contacts"] or match["any"], match["version"])


def _written(contacts: str, version: str | None) -> str:
    second = contacts == "2011" and (version or "").strip(" -vV") == "3"
    return f"LGA {contacts}-3" if second else f"LGA {contacts}"


def _amd(name: str) -> str:
    plain_name = name.casefold()
    return _AMD.get(plain_name, re.sub(r"^s(?=am)", "", plain_name).upper())
