"""Is there everything that a working PC has, and one of each?"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.model.fit import FitFinding
from shipworthy.model.words import Category
from shipworthy.orders.fit.build import Build
from shipworthy.orders.fit.rules import MUST, Rule, rule

NEEDED = (
    Category.PROCESSOR,
    Category.BOARD,
    Category.MEMORY,
    Category.STORAGE,
    Category.POWER_SUPPLY,
    Category.CASE,
)
"""Without these no PC works, or none can be shipped. Cooler and graphics have rules of their own."""
SINGLE = (Category.BOARD, Category.POWER_SUPPLY, Category.CASE)


@rule("parts.complete", MUST, "common practice: what a working PC has")
def _complete(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for category in NEEDED:
        count = build.pieces(category)
        if count:
            yield rule.conforms(category=category.value, pieces=count)
        else:
            yield rule.cannot_tell("none", category=category.value)


@rule("parts.single", MUST, "common practice: one board, supply and case a unit")
def _single(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for category in SINGLE:
        count = build.pieces(category)
        if count > 1:
            yield rule.cannot_tell("several", category=category.value, pieces=count)
        elif count:
            yield rule.conforms(category=category.value, pieces=count)
