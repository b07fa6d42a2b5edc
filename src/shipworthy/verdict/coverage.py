"""Coverage: which keys the policy asks for, and what became of each.

A coverage key is (order line, category, aspect). The whole unit is the line with the empty id.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.policy import CoverageRule, CoverageState, Covered, Need, Policy
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome
from shipworthy.words.systems import sells_system

DEFAULT_BY = (EvidenceKind.READING, EvidenceKind.INSPECTION)
"""What may show an expectation for which the policy has no rule of its own."""


@dataclass(frozen=True)
class Key:
    """One coverage key, whether it must be covered, and by what."""

    line: str
    category: Category
    aspect: Aspect
    required: bool
    by: tuple[EvidenceKind, ...]


def keys_asked(order: Order, policy: Policy) -> tuple[Key, ...]:
    """Return every coverage key of an order under a policy, line by line, then those of the unit.

    A rule for orders without a system is left out of those that sell one.

    An expectation without a rule must be covered all the same: what was sold is never left out because
    the policy forgot it.
    """
    system = sells_system((line.category, line.text) for line in order.lines)
    rules = [rule for rule in policy.coverage if not (system and rule.need is Need.NO_SYSTEM)]
    keys = [key for line in order.lines for key in _keys_of_line(line, rules)]
    unit_rules = (rule for rule in policy.coverage if rule.category is Category.UNIT)
    return (*keys, *(_key("", rule, rule.need is Need.ALWAYS) for rule in unit_rules))


def _keys_of_line(line: OrderLine, rules: Sequence[CoverageRule]) -> Iterable[Key]:
    stated = [expectation.aspect for expectation in line.expectations]
    if line.tells_no_part:  # else any part of its category would do
        stated.append(Aspect.MODEL)
    own = [rule for rule in rules if rule.category is line.category]
    for rule in own:
        if rule.need is not Need.STATED or rule.aspect in stated:
            yield _key(line.line_id, rule, rule.need is not Need.NOTE)
    ruled = {rule.aspect for rule in own}
    for aspect in dict.fromkeys(stated):
        if aspect not in ruled:
            yield Key(line.line_id, line.category, aspect, required=True, by=DEFAULT_BY)


def _key(line: str, rule: CoverageRule, required: bool) -> Key:
    return Key(line, rule.category, rule.aspect, required, rule.by)


def state_of(key: Key, findings: Sequence[Finding], configuration: str) -> Covered:
    """Return what became of one key.

    A finding under another configuration than today's covers nothing (design rule 10). A *cannot tell* is
    answered only by a *conforms* of another kind of evidence: two drives of which one is unreadable stay
    unreadable, but a person may look.
    """
    about = [f for f in findings if f.key == (key.line, key.category, key.aspect) and f.by in key.by]
    fresh = [f for f in about if f.configuration in ("", configuration)]
    shown = {f.by for f in fresh if f.outcome is Outcome.CONFORMS}
    open_kinds = {f.by for f in fresh if f.outcome in (Outcome.CANNOT_TELL, Outcome.NOT_CHECKED)}
    covering = tuple(sorted(shown - open_kinds))
    if any(f.outcome is Outcome.DIFFERS for f in about):
        state = CoverageState.DIFFERS
    elif covering:
        state = CoverageState.COVERED
    elif any(f.outcome is Outcome.CANNOT_TELL for f in fresh):
        state = CoverageState.CANNOT_TELL
    elif len(fresh) < len(about):
        state = CoverageState.STALE
    else:
        state = CoverageState.NOT_CHECKED
    by = covering if state is CoverageState.COVERED else ()
    return Covered(
        line=key.line, category=key.category, aspect=key.aspect, required=key.required, state=state, by=by
    )
