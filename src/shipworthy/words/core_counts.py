"""Counts of a processor's cores by kind, and of its threads: `8P+16E`, `6 P-cores + 8 E-cores`, `12C/20T`."""

from __future__ import annotations

import re
from dataclasses import dataclass

_COUNT = r"(?<![\w.,+-])(?P<{name}>\d{{1,3}})\s?[x×]?\s?"
_PERFORMANCE = r"(?:P(?:[\s-]?cores?)?|performance(?:[\s-]cores?)?)"
_EFFICIENCY = r"(?:E(?:[\s-]?cores?)?|efficien(?:cy|t)(?:[\s-]cores?)?)"
_KINDS = re.compile(
    rf"{_COUNT.format(name='p')}{_PERFORMANCE}\s?(?:\+|/|,|and|&)\s?(?P<e>\d{{1,3}})\s?[x×]?\s?{_EFFICIENCY}(?!\w)",
    re.IGNORECASE,
)
_CORES_AND_THREADS = re.compile(
    r"(?<![\w.,])(?P<c>\d{1,3})\s?C\s?/\s?(?P<t>\d{1,3})\s?T(?!\w)", re.IGNORECASE
)
_THREADS = re.compile(r"(?<![\w.,])(?P<t>\d{1,3})[\s-]?threads?\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class CoreCounts:
    """What a text says of a processor's cores, each None where it says nothing, or several things."""

    cores: int | None = None
    performance: int | None = None
    efficiency: int | None = None
    threads: int | None = None


def find_core_counts(text: str) -> CoreCounts:
    """Return the counts that the text of a processor gives. `8P+16E` are 24 cores."""
    kinds = {(int(m["p"]), int(m["e"])) for m in _KINDS.finditer(text)}
    both = {(int(m["c"]), int(m["t"])) for m in _CORES_AND_THREADS.finditer(text)}
    threads = {t for _, t in both} | {int(m["t"]) for m in _THREADS.finditer(text)}
    cores = {p + e for p, e in kinds} | {c for c, _ in both}
    performance, efficiency = next(iter(kinds)) if len(kinds) == 1 else (None, None)
    return CoreCounts(_only(cores), performance, efficiency, _only(threads))


def _only(found: set[int]) -> int | None:
    return next(iter(found)) if len(found) == 1 and 0 not in found else None
