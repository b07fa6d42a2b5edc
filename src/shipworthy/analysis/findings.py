"""A finding that rests on the burn-in: the one place where such a finding is made."""

from __future__ import annotations

from shipworthy.model.base import Value
from shipworthy.model.findings import Finding
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome


def burn_in_finding(
    code: str,
    outcome: Outcome,
    aspect: Aspect,
    named: tuple[Value, ...],
    configuration: str,
    evidence: tuple[str, ...],
    *,
    part: str = "",
    line: str = "",
    category: Category = Category.UNIT,
) -> Finding:
    """Return a finding of the burn-in; without a line and category it speaks of the unit."""
    return Finding(
        code=code,
        outcome=outcome,
        category=category,
        aspect=aspect,
        by=EvidenceKind.BURN_IN,
        line=line,
        part=part,
        values=named,
        evidence=evidence,
        configuration=configuration,
    )
