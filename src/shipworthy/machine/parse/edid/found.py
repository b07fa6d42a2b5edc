"""What one block of an EDID says: its fields for people, timings, claims about the display, and faults."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from shipworthy.machine.parse.edid.timing import Timing
from shipworthy.machine.raw import Fault, Section
from shipworthy.model.base import Scalar
from shipworthy.model.words import RemarkKind

Pairs = tuple[tuple[str, str | int | float | bool], ...]


@dataclass(slots=True)
class Found:
    """One block's yield, filled while it is read. claims: facts about the display that the block offers."""

    where: str
    pieces: list[tuple[str, int, Pairs | tuple[Timing, ...]]] = field(default_factory=list)
    timings: list[Timing] = field(default_factory=list)
    claims: dict[str, Scalar] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def section(self, title: str, at: int, pairs: Pairs) -> None:
        """Keep a piece's fields. at: its first byte within the block."""
        self.pieces.append((title, at, pairs))

    @property
    def sections(self) -> Iterator[Section]:
        """Yield the pieces for people, in their order; text is made only here."""
        for title, at, rows in self.pieces:
            pairs = tuple((r.origin, r.text()) if isinstance(r, Timing) else r for r in rows)
            yield Section(title, f"{self.where} at {at}", pairs)

    def claim(self, name: str, value: Scalar | None) -> None:
        """Keep a fact unless the block has said it before."""
        if value is not None:
            self.claims.setdefault(name, value)

    def fault(self, kind: RemarkKind, detail: str = "", at: int | None = None) -> None:
        where = self.where if at is None else f"{self.where} at {at}"
        self.faults.append(Fault(kind, where, detail))

    def add(self, title: str, at: int, timings: tuple[Timing, ...] | list[Timing]) -> None:
        """Keep timings, and show each as a field."""
        self.timings.extend(timings)
        if timings:
            self.pieces.append((title, at, tuple(timings)))


def flags(value: int, names: tuple[str, ...]) -> str:
    """Return the names of the bits that are set, from bit 0 up; a dash where none is."""
    return ", ".join(name for bit, name in enumerate(names) if name and value >> bit & 1) or "-"


def letters(word: int) -> str:
    """Return the three letters of a PNP maker's code: five bits each, A is 1; empty if they are none."""
    values = [word >> shift & 0x1F for shift in (10, 5, 0)]
    if word & 0x8000 or not all(1 <= value <= 26 for value in values):
        return ""
    return "".join(chr(64 + value) for value in values)


def number(data: bytes) -> int:
    """Return a little-endian number."""
    return int.from_bytes(data, "little")
