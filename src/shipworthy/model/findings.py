"""Findings: the results of comparing, one of four words each (ADR 0007)."""

from __future__ import annotations

from typing import Literal

from shipworthy.model.base import Record, RecordPath, Scalar, Value
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, Unit


class Finding(Record):
    """One result. Its weight is given by the verdict, from the policy; its sentence by `messages`.

    code: stable, dotted (`memory.speed.below-sold`). line: the order line; empty for the unit as a whole.
    part: place of the part it speaks of; empty if none. evidence: files of the record it rests on.
    configuration: digest of the configuration under which the evidence was taken; empty for evidence that
    does not depend on one (what a person saw).
    """

    code: str
    outcome: Outcome
    category: Category
    aspect: Aspect
    by: EvidenceKind
    line: str = ""
    part: str = ""
    want: Scalar | None = None
    got: Scalar | None = None
    unit: Unit = Unit.NONE
    values: tuple[Value, ...] = ()
    evidence: tuple[RecordPath, ...] = ()
    configuration: str = ""

    @property
    def key(self) -> tuple[str, Category, Aspect]:
        """What it covers: order line, category and aspect."""
        return (self.line, self.category, self.aspect)

    def value(self, name: str) -> Scalar | None:
        """Return the value of that name; None if it has none."""
        return next((value.value for value in self.values if value.name == name), None)


class Match(Record):
    """Which parts of the reading stand for which order line."""

    line: str
    places: tuple[str, ...]


class Comparison(Record):
    """An order held against a reading."""

    schema: Literal[1] = 1
    reading_id: str
    configuration: str
    matches: tuple[Match, ...]
    findings: tuple[Finding, ...]
    unclaimed: tuple[str, ...] = ()  # places of parts that no order line asks for
