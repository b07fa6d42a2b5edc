"""Timings and volts of memory: `CL30`, `C30`, `30-36-36-76`, `CL30-38-38-96`, `1.35 V`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.words.spans import Span, number, plain, where


@dataclass(frozen=True, slots=True)
class Timings(Span):
    """Clock cycles. cas: the first of them. all: `30-36-36-76`, or `CL30` where the text says no more."""

    cas: float
    all: str


@dataclass(frozen=True, slots=True)
class Volts(Span):
    volts: float


_CAS_LEAST, _CAS_MOST = 2, 80
"""Column latencies from DDR (2) to fast DDR5 (60 and more): common practice."""
_ROW = r"\d{1,2}-\d{1,3}-\d{1,3}(?:-\d{1,3})?"
_TIMINGS = re.compile(
    rf"\bCL?[\s-]?(?P<a>{_ROW})(?![\w-])"
    r"|\b(?:CL|CAS(?:\slatency)?|latency)[\s:=-]{0,2}(?P<b>\d{1,2}(?:\.5)?)(?![\w.]|-\d)"
    r"|(?<![\w./-])C(?P<c>\d{2})(?![\w-])"
    r"|\bDDR\d[\s-]?\d{4,5}C(?:L\s?)?(?P<d>\d{2})(?![\w-])"
    rf"|(?<![\w.-])(?P<e>{_ROW})(?![\w-])"
    r"|(?<=\d{4})CL(?P<f>\d{2})(?![\w-])",
    re.IGNORECASE,
)
_VOLTS = re.compile(r"(?<![\w.,])(?P<volts>\d{1,3}(?:[.,]\d{1,3})?)\s?V(?:olts?)?(?![\w/])", re.IGNORECASE)


def find_timings(text: str) -> tuple[Timings, ...]:
    """Return every set of timings of the text, in order.

    `16-18-18-38` is one set and no range. A row whose first number is no column latency is none.
    """
    found = []
    for match in _TIMINGS.finditer(plain(text)):
        row = match["a"] or match["e"]
        cas = float(row.split("-")[0] if row else next(filter(None, match.group("b", "c", "d", "f"))))
        if not _CAS_LEAST <= cas <= _CAS_MOST or (row and not _is_row(row)):
            continue
        found.append(Timings(*where(match, text), cas, row or f"CL{cas:g}"))
    return tuple(found)


def find_volts(text: str) -> tuple[Volts, ...]:
    """Return every number of volts in the text."""
    return tuple(Volts(*where(m, text), number(m["volts"])) for m in _VOLTS.finditer(plain(text)))


def fullest(timings: tuple[Timings, ...]) -> Timings | None:
    """Return the one that says most of several that agree; None where there is none, or they do not agree."""
    rows = {one.all for one in timings if "-" in one.all}
    if not timings or len({one.cas for one in timings}) > 1 or len(rows) > 1:
        return None
    return max(timings, key=lambda one: len(one.all))


def _is_row(row: str) -> bool:
    """Whether numbers can be timings: the last of four, the row's time, is no shorter than the first, and the
    two between are of the size of the first (common practice)."""
    cas, *rest = map(int, row.split("-"))
    between = rest[:2]
    return all(cas / 2 <= one <= cas * 3 for one in between) and (len(rest) < 3 or rest[2] >= cas)
