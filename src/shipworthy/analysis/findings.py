"""A finding that rests on the burn-in: the one place where such a finding is made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shipworthy.model.base import Scalar, values
from shipworthy.model.findings import Finding
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome


@dataclass(frozen=True)
class Basis:
    """What every finding of one burn-in rests on: the configuration's digest, and the log's files."""

    configuration: str
    evidence: tuple[str, ...]

    def finding(
        self,
        code: str,
        outcome: Outcome,
        aspect: Aspect,
        said: Mapping[str, Scalar] | None = None,
        /,
        *,
        of_part: str = "",
        of_line: str = "",
        of_category: Category = Category.UNIT,
        **named: Scalar,
    ) -> Finding:
        """Return a finding of the burn-in; without a line and category it speaks of the unit.

        said and named: the values of its sentence.
        """
        return Finding(
            code=code,
            outcome=outcome,
            category=of_category,
            aspect=aspect,
            by=EvidenceKind.BURN_IN,
            line=of_line,
            part=of_part,
            values=values(**(said or {}), **named),
            evidence=self.evidence,
            configuration=self.configuration,
        )
