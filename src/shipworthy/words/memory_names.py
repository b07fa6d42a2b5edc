"""The name of a memory kit, as a shop sells it: what is left of the text when its facts are taken out.

`Vengeance LPX Black` says nothing that a module tells of itself; a label does. Latency is left in the name:
no expectation speaks of it, and part numbers often do.
"""

from __future__ import annotations

import re

from shipworthy.words.kinds import find_memory_types
from shipworthy.words.makers import without_maker
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.spans import without
from shipworthy.words.speeds import find_memory_speeds
from shipworthy.words.timings import find_timings

_NOISE = re.compile(
    r"""
    \b(?:memory|RAM|DRAM|S?DRAM|kits?|modules?|sticks?|desktop|laptop|notebook|PC|model|upgrade)\b
    | \b(?:Arbeits)?speicher(?:kits?|module?|riegel)?\b | \b(?:m[ée]moire(?:\svive)?|barrettes?)\b
    | \b(?:SO-?|U|R|LR|CU)?-?DIMMs?\b | \b\d{3}[- ]pins?\b | \b(?:un)?buffered\b | \bregistered\b
    | \b(?:non-?)?ECC\b | \bPC\d?L?-?\s?\d{4,5}\w?\b | \bXMP(?:\s?\d(?:\.\d)?)?\b | \bEXPO\b
    | \b\d[.,]\d{1,3}\s?V(?:olts?)?\b | \b(?:dual|single|quad)[\s-](?:channel|rank)\b | \bof\b | [®™]
    | \b\d{3,5}\s?(?:MHz|MT/?s)\b | \b(?:LP)?DDR\d?L?X?(?:[\s-]?\d{3,5})?\b
    """,
    re.IGNORECASE | re.VERBOSE,
)
_LATENCY = re.compile(
    r"\b(?:CL[\s-]?|C(?=\d{2}\b)|CAS(?:\slatency)?\s?)(?P<cas>\d{1,2})(?:-\d{1,3}){0,3}\b", re.IGNORECASE
)
_CODE = re.compile(r"[A-Z0-9][A-Z0-9/.-]{4,}[A-Z0-9]", re.IGNORECASE)


def memory_name(text: str, maker: str = "") -> str:
    """Return the words of a text that name a kit; empty where there are none."""
    for spans in (find_kits(text, Base.BINARY), find_sizes(text, Base.BINARY), find_memory_speeds(text)):
        text = without(text, spans)
    text = _NOISE.sub(" ", without(text, find_memory_types(text)))
    text = re.sub(r"[()\[\]|,;]|(?<!\w)[-–—/+:]+(?!\w)", " ", text)
    name = " ".join(without_maker(" ".join(text.split()), maker).split())
    return name if any(map(str.isalpha, _LATENCY.sub(" ", name))) else ""


def latency_of(text: str) -> int | None:
    """Return the column latency that a text names; None where it names none, or two."""
    found = {timings.cas for timings in find_timings(text)}
    return int(found.pop()) if len(found) == 1 else None


def codes_of(name: str) -> tuple[str, ...]:
    """Return the words of a name that look like part numbers: six signs and more, letters and digits."""
    words = [word.strip(".-/") for word in name.split()]
    return tuple(
        word
        for word in words
        if _CODE.fullmatch(word) and sum(map(str.isdigit, word)) >= 3 and any(map(str.isalpha, word))
    )
