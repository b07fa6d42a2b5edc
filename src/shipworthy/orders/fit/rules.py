"""A rule of fit: its name, its weight, the source that it is from, and the findings that it makes.

A missing fact is never a pass: `judge` looks at all facts that it is given before it asks the question.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from shipworthy.model.base import Scalar, Value
from shipworthy.model.fit import FitFinding, FitWeight, GivenFact, MissingFact
from shipworthy.model.words import Outcome
from shipworthy.orders.fit.build import Build, Known, Pieces
from shipworthy.orders.fit.wording import fact_text

UNKNOWN = "not known"
"""What stands in a sentence for a fact that a rule had no need of."""
MUST, SHOULD = FitWeight.MUST, FitWeight.SHOULD
Found = Iterable[FitFinding]
Told = Known | Scalar
Given = dict[str, Told]
Check = Callable[["Rule", Build], Found]


@dataclass(frozen=True)
class Rule:
    """name: `topic.what`; its question is the sentence `fit.<name>.asks`. source: document and place,
    `common practice`, or `from memory`."""

    name: str
    weight: FitWeight
    source: str
    check: Check

    def judge(self, holds: Callable[..., bool], /, **given: Told) -> FitFinding:
        """Return whether it holds for the facts, in their order; *cannot tell* while any is not known.

        What is no fact is told in the sentence only.
        """
        facts = [value for value in given.values() if isinstance(value, Known)]
        if not all(fact.known for fact in facts):
            return self.cannot_tell(**given)
        met = holds(*(fact.value for fact in facts))
        return self.conforms(**given) if met else self.differs(**given)

    def conforms(self, **given: Told) -> FitFinding:
        return self._finding(Outcome.CONFORMS, "fit.conforms", given)

    def differs(self, how: str = "differs", /, **given: Told) -> FitFinding:
        """how: the ending of the sentence's code, where a rule can fail in several ways."""
        return self._finding(Outcome.DIFFERS, f"fit.{self.name}.{how}", given)

    def cannot_tell(self, how: str = "", missing: Iterable[Known] = (), /, **given: Told) -> FitFinding:
        """how: as above, for what no further fact of the order could settle. missing: facts to look up
        besides those given that are not known."""
        code = f"fit.{self.name}.{how}" if how else "fit.cannot-tell"
        return self._finding(Outcome.CANNOT_TELL, code, given, tuple(missing))

    def not_checked(self) -> FitFinding:
        return self._finding(Outcome.NOT_CHECKED, "fit.not-checked", {})

    def _finding(
        self, outcome: Outcome, code: str, given: Given, missing: tuple[Known, ...] = ()
    ) -> FitFinding:
        facts = [value for value in given.values() if isinstance(value, Known)]
        told = {name: _said(value) for name, value in given.items()}
        counted = [line for value in given.values() if isinstance(value, Pieces) for line in value.lines]
        lines = dict.fromkeys([*(fact.line for fact in (*facts, *missing) if fact.line), *counted])
        wanted = (*facts, *missing) if outcome is Outcome.CANNOT_TELL else ()  # else it was not needed
        absent = dict.fromkeys((f.line, f.name) for f in wanted if not f.known)
        return FitFinding(
            rule=self.name,
            code=code,
            outcome=outcome,
            weight=self.weight,
            lines=tuple(lines),
            values=tuple(Value(name=name, value=value) for name, value in told.items()),
            facts=tuple(
                GivenFact(line=f.line, fact=f.name, value=fact_text(f.name, f.value), source=f.source)
                for f in dict.fromkeys((*facts, *missing))
                if f.known
            ),
            missing=tuple(MissingFact(line=line, fact=name) for line, name in absent),
        )


def _said(value: Told) -> Scalar:
    if not isinstance(value, Known):
        return int(value) if isinstance(value, Pieces) else value
    return fact_text(value.name, value.value) if value.known else UNKNOWN


RULES: dict[str, Rule] = {}
"""By their names, in the order in which they are asked: the order of the modules in `runner`."""


def rule(name: str, weight: FitWeight, source: str) -> Callable[[Check], Check]:
    """Register a rule. Its function yields findings, or nothing where the build has nothing to ask of."""

    def register(check: Check) -> Check:
        if name in RULES:
            raise ValueError(f"two rules are called {name!r}")
        RULES[name] = Rule(name, weight, source, check)
        return check

    return register
