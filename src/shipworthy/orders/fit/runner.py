"""All rules asked of one build, in the order in which a person would look."""

from __future__ import annotations

from shipworthy.model.base import values
from shipworthy.model.fit import Fit, FitFinding, FitQuestion
from shipworthy.model.orders import Order
from shipworthy.orders.fit import (
    accessories,
    case,
    cooler,
    displays,
    graphics,
    headers,
    memory,
    parts,
    places,
    plugs,
    power,
    processor,
)
from shipworthy.orders.fit.budget import budget_of
from shipworthy.orders.fit.build import Build, fact_name
from shipworthy.orders.fit.facts import Looked, build_of
from shipworthy.orders.fit.rules import RULES, Rule

TOPICS = (
    *(parts, processor, memory, case, graphics, cooler, places, plugs),
    *(headers, displays, accessories, power),
)
"""Each registers its rules; they are asked in this order."""


def rules() -> tuple[Rule, ...]:
    """Return all rules, in the order in which they are asked."""
    order = [topic.__name__ for topic in TOPICS]
    return tuple(sorted(RULES.values(), key=lambda rule: order.index(rule.check.__module__)))


def check_fit(order: Order, catalogue: Looked | None = None) -> Fit:
    """Return all that can be told of one unit's parts; the catalogue may be left out. Pure."""
    return fit_of(build_of(order, catalogue))


def fit_of(build: Build) -> Fit:
    """Return what every rule finds of a build. A rule with nothing to ask says so: it is *not checked*."""
    findings: list[FitFinding] = []
    for rule in rules():
        found = tuple(rule.check(rule, build))
        findings += found or (rule.not_checked(),)
    return Fit(
        lines=build.lines,
        questions=_questions(build),
        findings=tuple(findings),
        budget=budget_of(build),
    )


def _questions(build: Build) -> tuple[FitQuestion, ...]:
    return tuple(
        FitQuestion(
            code=doubt.code,
            line=line.line,
            values=(
                *values(text=line.text, fact=fact_name(line.facts, doubt.name)),
                *doubt.values,
            ),
        )
        for line in build.lines
        for doubt in line.doubts
        if line.facts is not None
    )
