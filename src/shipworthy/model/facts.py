"""Facts, parts and witnesses: what a machine says of itself (ADR 0003).

A field's unit is in its name (`size_bytes`, `temperature_c`, `speed_mt_s`), converted once, where the
source is parsed. A part is told by where it is wired (`place`) and by its serial, never by a nickname
such as `sda`.
"""

from __future__ import annotations

from shipworthy.model.base import Record, Scalar
from shipworthy.model.words import Absent, PartKind


class Said(Record):
    """One field as one source gives it: a value, or why there is none. Exactly one of the two is set."""

    name: str
    value: Scalar | None = None
    absent: Absent | None = None

    def __post_init__(self) -> None:
        if (self.value is None) == (self.absent is None):
            raise ValueError(f"{self.name}: a field has a value or a reason why it has none")


class Sighting(Record):
    """What one source says of one part.

    place: where the part is wired, as that source knows it (`pci:0000:01:00.0`,
    `smbios:DIMM_A1/BANK 0`, `cpu`). also_at: other places known to be the same part.
    source: id of the row of the raw index.
    """

    kind: PartKind
    place: str
    source: str
    said: tuple[Said, ...]
    also_at: tuple[str, ...] = ()


class Witness(Record):
    """What one source said of a fact."""

    source: str
    value: Scalar | None = None
    absent: Absent | None = None


class Fact(Record):
    """What is believed of one field of a part, and everybody's word on it.

    source: the row of the raw index that is believed. witnesses: the other sources, agreeing or not.
    rule: why this one is believed (`only`, `agreed`, or the name of a precedence rule).
    """

    name: str
    source: str
    value: Scalar | None = None
    absent: Absent | None = None
    rule: str = "only"
    witnesses: tuple[Witness, ...] = ()

    def __post_init__(self) -> None:
        if (self.value is None) == (self.absent is None):
            raise ValueError(f"{self.name}: a fact has a value or a reason why it has none")

    @property
    def disputed(self) -> bool:
        """Whether a witness gives another value."""
        return any(w.value is not None and w.value != self.value for w in self.witnesses)


class Part(Record):
    """One part of a machine, joined from all sources that speak of it."""

    kind: PartKind
    place: str
    facts: tuple[Fact, ...]
    also_at: tuple[str, ...] = ()

    def fact(self, name: str) -> Fact | None:
        """Return the fact of that name; None if no source was asked for it."""
        return next((fact for fact in self.facts if fact.name == name), None)

    def value(self, name: str) -> Scalar | None:
        """Return the value of a fact; None if it is absent for whatever reason."""
        fact = self.fact(name)
        return None if fact is None else fact.value

    def text(self, name: str) -> str:
        """Return a fact's text; empty if it is absent or no text."""
        value = self.value(name)
        return value if isinstance(value, str) else ""

    def number(self, name: str) -> int | float | None:
        """Return a fact's number; None if it is absent or no number."""
        value = self.value(name)
        return value if isinstance(value, int | float) and not isinstance(value, bool) else None

    def why_absent(self, name: str) -> Absent:
        """Return why a fact has no value; NOT_ASKED where no source was asked."""
        fact = self.fact(name)
        return Absent.NOT_ASKED if fact is None or fact.absent is None else fact.absent
