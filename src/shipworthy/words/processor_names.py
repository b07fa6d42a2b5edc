"""Names of processors: maker, family, number, suffix. What stands behind these is description.

`Intel(R) Core(TM) i5-12400F CPU @ 2.50GHz`, `AMD Ryzen 7 8700G w/ Radeon 780M Graphics`, and a shop's
`Ryzen 7 7800X3D 8x 4.20GHz So.AM5 WOF`: a name ends with its number, with the suffix on it or just behind it.
"""

from __future__ import annotations

import re

from shipworthy.words.likeness import Likeness, full_name_likeness

_TRADE_MARKS = re.compile(r"\((?:R|TM|C)\)|[®™©]", re.IGNORECASE)
_ORDER_CODES = re.compile(r"\b(?:BX|BXC|CM|SR|PK)\d{5,}\w*|\b\d{2,3}-\d{9,}\w*", re.IGNORECASE)
"""Of boxes and trays: Intel's BX8071512400, AMD's 100-100000910WOF (from boxes; common practice)."""
_FAMILY = re.compile(
    r"\b(?P<family>Core|Xeon|Pentium|Celeron|Atom|Ryzen|Threadripper|Athlon|Phenom|Sempron|Opteron|EPYC"
    r"|FX|A\d{1,2}|E[12])(?=\b|[\d-])",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"(?<![\w.])[A-Z]{0,3}\d{3,5}[A-Z]{0,3}(?:\dD\d?)?(?!\w|\.\d)", re.IGNORECASE)
_SUFFIX = r"(?:v\d|PRO|XT|X\s?3D2?|XE|WX|HX|HK|HS|KF|KS|GE|GT|TE|[FGHKPSTUX]|(?-i:[A-Z]))"
_BEHIND = re.compile(
    rf"[\s-]{_SUFFIX}(?![\w./-])|(?<=\dX)[\s-]3D2?(?![\w.-])",
    re.IGNORECASE,
)
"""What belongs to the name though a space parts it from its number: `E5-2620 v4`, `8700 K`, `6248 R`,
`5800X 3D`. A letter alone is a suffix if it is a capital."""
_PERHAPS = re.compile(rf"\s?(?:/\s?{_SUFFIX}(?![\w.-])|\({_SUFFIX}\))", re.IGNORECASE)
"""Who writes `12400(F)` or `12400/F` leaves open which of the two it is."""
_FREQUENCY = re.compile(r"\b\d+(?:[.,]\d+)?\s?[GM]Hz?\b", re.IGNORECASE)
_DESCRIPTION = re.compile(
    r"\b(?:\d{1,3}|dual|triple|quad|six|eight|twelve|sixteen)[\s-]?cores?\b|\b(?:processor|CPU|APU)\b",
    re.IGNORECASE,
)
"""What firmware and kernels write behind a name: `… 16-Core Processor`."""
_SAMPLE = re.compile(r"\beng(?:ineering)?\.?\s?sample\b", re.IGNORECASE)
_NO_NUMBER = re.compile(r"(?<!\w)0000(?!\w)")
_THREE_DIGITS = re.compile(r"\d{3}")
_CLOCK = re.compile(r"@.*|[\d.]+ ?[MG]Hz", re.IGNORECASE)


def processor_name(text: str) -> str:
    """Return the text up to the end of its processor's name; where none is found, all but its description."""
    plain = _ORDER_CODES.sub(" ", _TRADE_MARKS.sub(" ", text))
    plain = " ".join(_FREQUENCY.sub(" ", plain).split())
    family = _FAMILY.search(plain)
    number = _NUMBER.search(plain.replace("-", " "), family.start() if family else 0)
    if number is None:
        return " ".join(_DESCRIPTION.sub(" ", plain).split()) or plain
    end = number.end()
    while (more := _BEHIND.match(plain, end)) is not None:
        end = more.end()
    return plain[:end]


def processor_likeness(want: str, got: str, context: str = "") -> Likeness:
    """Compare a processor's name as sold with what the machine calls it.

    Two families with one number are two processors: an FX-6130 and a Xeon Gold 6130.
    """
    wanted, found = processor_name(want), processor_name(got)
    if tells_no_model(got):
        return Likeness.PARTLY
    if (one := _families(wanted)) and (other := _families(found)) and not one & other:
        return Likeness.OTHER
    likeness = full_name_likeness(wanted, found, context)
    return Likeness.PARTLY if likeness is Likeness.SAME and _leaves_open(want, wanted) else likeness


def _leaves_open(text: str, name: str) -> bool:
    """Whether a suffix that may be there or not stands behind a name in a text."""
    plain = " ".join(_TRADE_MARKS.sub(" ", text).split())
    at = plain.find(name)
    return at >= 0 and _PERHAPS.match(plain, at + len(name)) is not None


def is_sample(name: str) -> bool:
    """Return whether a processor says that it is an engineering sample, which nobody may sell."""
    return _SAMPLE.search(name) is not None


def tells_no_model(name: str) -> bool:
    """Return whether a processor's own name has zeros where its number would be, as samples of Intel's do."""
    return _NO_NUMBER.search(name) is not None


def is_cut_short(name: str) -> bool:
    """Return whether a processor's name from a firmware's table stops before its number, or within it.

    Every model of today has three digits in a row, but some tables cut the name off: `Core(TM)2 Quad CPU Q6`
    for a Q6600 (reference data, bsd-joined-machines: 7 of 733 machines). Kernels give the full name.
    """
    return _THREE_DIGITS.search(_CLOCK.sub(" ", name)) is None


def _families(name: str) -> frozenset[str]:
    found = {match["family"].casefold() for match in _FAMILY.finditer(name)}
    return frozenset(found)
