"""Fit and power of an order's parts, before anything is unpacked (ADR 0032).

A rule asks one thing of the parts of one unit. What it finds is one of the four words; whether a *differs*
means that the unit cannot be built so, or only that it is unwise, is the rule's weight.
"""

from __future__ import annotations

from enum import StrEnum

from shipworthy.model.base import Record, Scalar, Value
from shipworthy.model.catalogue import Facts
from shipworthy.model.orders import Order
from shipworthy.model.words import Category, Outcome


class FitWeight(StrEnum):
    """What it means if a rule is not met."""

    MUST = "must"  # it cannot be built so, does not work, or is destroyed
    SHOULD = "should"  # it can be built: a warning


class FactSource(Record):
    """Where one fact of a line is from. name: the field of the facts (`length_mm`)."""

    name: str
    source: str


class Doubt(Record):
    """A fact that cannot be used as it stands. code: `fit.question.*`; name: the field of the facts."""

    name: str
    code: str
    values: tuple[Value, ...] = ()


class BuildLine(Record):
    """One order line with what is known of its part; no facts where nothing of that kind is told of it.

    quantity: pieces in one unit. A fact in doubt is left out of the facts.
    """

    line: str
    category: Category
    quantity: int = 1
    text: str
    facts: Facts | None = None
    sources: tuple[FactSource, ...] = ()
    doubts: tuple[Doubt, ...] = ()


class GivenFact(Record):
    """One fact that a finding rests on. fact: `case.graphics_length_mm`; source: where it is from."""

    line: str
    fact: str
    value: Scalar
    source: str


class MissingFact(Record):
    """One fact that a finding would need. line: empty for what no order line stands for."""

    line: str
    fact: str


class FitFinding(Record):
    """What one rule found. code: of its sentence; rule: which one asked (`graphics.length`)."""

    rule: str
    code: str
    outcome: Outcome
    weight: FitWeight
    lines: tuple[str, ...] = ()
    values: tuple[Value, ...] = ()
    facts: tuple[GivenFact, ...] = ()
    missing: tuple[MissingFact, ...] = ()

    @property
    def warns(self) -> bool:
        return self.outcome is Outcome.DIFFERS and self.weight is FitWeight.SHOULD

    @property
    def fails(self) -> bool:
        return self.outcome is Outcome.DIFFERS and self.weight is FitWeight.MUST


class FitQuestion(Record):
    """Something that the shop has to answer, as no rule can. line: empty for the order as a whole."""

    code: str
    line: str = ""
    values: tuple[Value, ...] = ()


class BudgetRow(Record):
    """One consumer, all its pieces. load_w: the most DC power that it may draw for long; least_w: what it
    surely may. basis: a code, `fit.budget.*`, of where the figure is from; known: whether it is a figure of
    the part itself, and no assumption."""

    line: str
    what: str
    pieces: int
    load_w: float
    least_w: float
    basis: str
    known: bool


class Excursion(Record):
    """A short peak. lasts_s: for how long; allowed_w: what the supply stands that long, None if not known."""

    lasts_s: float
    load_w: float
    least_w: float
    allowed_w: float | None


class WallPoint(Record):
    """Draw from the wall at one load. load_ratio: DC load by the supply's rating; wall_w: at most, as the
    grade states the least efficiency; None where the grade says nothing of such a load."""

    load_w: float
    load_ratio: float
    efficiency_ratio: float | None
    wall_w: float | None


class Budget(Record):
    """What the parts may draw: the most, sustained_w, and the least. whole: whether every consumer has a
    figure, known or assumed; if not, the most is not known. margin_ratio: what should be left over it."""

    rows: tuple[BudgetRow, ...]
    least_w: float
    sustained_w: float
    whole: bool
    supply_w: float | None
    margin_ratio: float
    grade: str
    excursions: tuple[Excursion, ...] = ()
    wall: tuple[WallPoint, ...] = ()


class Fit(Record):
    """All that can be told of an order's parts before they are unpacked."""

    lines: tuple[BuildLine, ...]
    questions: tuple[FitQuestion, ...]
    findings: tuple[FitFinding, ...]
    budget: Budget

    @property
    def fits(self) -> bool:
        """Whether nothing fails; what cannot be told is no fault, and no pass either."""
        return not any(finding.fails for finding in self.findings)


class OrderCheck(Record):
    """What `order check` tells. list_name: the part list that was looked into; credits: of its sources."""

    order: Order
    questions: tuple[FitQuestion, ...]
    fit: Fit
    list_name: str = ""
    credits: tuple[str, ...] = ()
