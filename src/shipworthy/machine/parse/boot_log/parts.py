"""What the readers of kernel logs share: the lines, and parts that several lines tell of."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from shipworthy.machine.listing import said
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

MASKED = "..."  # what bsdhw puts in the place of a serial or an address
MOST_PARTS = 2048  # of one log; what a log repeats is one part


@dataclass(slots=True)
class Log:
    """A kernel's log: its lines without stamps."""

    lines: list[str]

    def first(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Return the first line that a pattern matches from its beginning."""
        return next((match for line in self.lines if (match := pattern.match(line))), None)

    def last(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Return the last such line: where a log holds several starts, it is of the latest."""
        return next((match for line in reversed(self.lines) if (match := pattern.match(line))), None)


@dataclass(slots=True)
class Found:
    """A part as its lines come in. A later line on a field, of a later start, replaces an earlier one."""

    kind: PartKind
    fields: dict[str, Said] = field(default_factory=dict)
    also_at: list[str] = field(default_factory=list)

    def add(self, *fields: Said) -> None:
        for one in fields:
            self.fields[one.name] = one


class Parts:
    """The parts of a log by place."""

    def __init__(self) -> None:
        self._found: dict[str, Found] = {}

    def at(self, place: str, kind: PartKind) -> Found:
        if place not in self._found and len(self._found) >= MOST_PARTS:
            return Found(kind)  # nobody asks for it again
        return self._found.setdefault(place, Found(kind))

    def known(self, place: str) -> Found | None:
        return self._found.get(place)

    def drop(self, place: str) -> None:
        self._found.pop(place, None)

    def sightings(self, source: str) -> Iterator[Sighting]:
        for place, found in self._found.items():
            yield Sighting(
                kind=found.kind,
                place=place,
                source=source,
                said=tuple(found.fields.values()),
                also_at=tuple(found.also_at),
            )


def text_or_silence(text: str) -> Scalar | Absent:
    """Return a text; what was masked is not readable, a placeholder is silence."""
    bare = text.strip()
    if bare == MASKED or bare.startswith("XXX"):
        return Absent.NOT_READABLE
    return Absent.NOT_OFFERED if is_placeholder(bare) else bare


def bytes_of(blocks: str, block_bytes: str) -> int | Absent:
    """Return a size of so many blocks; what no drive can hold (1 EB) cannot be."""
    size = int(blocks[:18]) * int(block_bytes[:6])
    return Absent.IMPLAUSIBLE if size >= 1 << 60 else size or Absent.NOT_OFFERED


def processors(
    source: str, packages: int, fields: tuple[Said, ...], cores: int | None, threads: int | None
) -> Iterator[Sighting]:
    """Yield a processor for each socket: a log tells of one and means all."""
    counts = (*((said("cores", cores),) if cores else ()), *((said("threads", threads),) if threads else ()))
    for socket in range(min(max(packages, 1), 16)):
        place = f"socket:{socket}"
        yield Sighting(kind=PartKind.PROCESSOR, place=place, source=source, said=(*fields, *counts))
