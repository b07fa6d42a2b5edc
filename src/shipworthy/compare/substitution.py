"""Substitutions that the shop allows: another part, the same or better, by a rule of the policy (ADR 0033).

Pure, after the comparison and before the verdict. A rule never makes a difference *conforms*: the finding
stays a difference, under a code of its own, with want, got, place and evidence as they were found, the code
of the difference among its values, and the words that the shop chose. What a rule does not speak of still
holds; so does whatever could not be told of an aspect that the rule demands.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import msgspec

from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.policy import Demand, Direction, Substitution
from shipworthy.model.substituted import (
    ORIGINAL,
    RULE,
    SUBSTITUTED,
    SUBSTITUTED_CODES,
    SUBSTITUTED_WITH,
    WORDS,
)
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome
from shipworthy.words.conditions import forbids_substitution

_WHOLE_LINE = (Category.MEMORY,)
"""A kit is compared as one thing, whichever of its modules a finding names."""
_OPEN = (Outcome.CANNOT_TELL, Outcome.NOT_CHECKED)
_FAULTS = frozenset(
    {
        *("capacity.not-usable", "capacity.sizes-differ", "capacity.usable-differs", "cores.offline"),
        *("link.narrow", "link.below-sold", "model.mixed", "model.sample", "newness.used", "newness.defects"),
    }
)
"""What is broken, or may be: seated badly, switched off, worn, of two kits, no product at all."""
_SETTINGS = frozenset(
    {
        *("speed.profile-off", "speed.profile-unread", "speed.not-set", "speed.below-module"),
        *("speed.below-sold", "speed.above-sold", "speed.set-above", "speed.number-slower"),
        *("position.differs", "position.one-channel"),
    }
)
"""What somebody has set, or has not, or may have; and modules that run, or could, beyond their own word."""
_LEAST_MORE = 1e-9
_MARKETED = 1.01
"""What is sold as twice as much may be a little more than that: see `words.marketed`."""


def with_substitutions(
    order: Order, findings: Sequence[Finding], rules: Sequence[Substitution], known: Sequence[Finding] = ()
) -> tuple[Finding, ...]:
    """Return the findings, those that a rule allows as substitutions, in the same order.

    known: findings made before these, which tell of the same parts: what a person answers about a part that
    the reading found to be a substitute.
    """
    if not rules:
        return tuple(findings)
    changed: dict[int, Finding] = {}
    for line in order.lines:
        if not forbids_substitution(line.text):
            own = [(at, f) for at, f in enumerate(findings) if _is_of(f, line)]
            before = [f for f in known if _is_of(f, line)]
            for rule in rules:
                if rule.category is line.category:
                    changed |= _by_rule(rule, line, own, before, changed)
    return tuple(changed.get(at, finding) for at, finding in enumerate(findings))


def _is_of(finding: Finding, line: OrderLine) -> bool:
    return finding.line == line.line_id and finding.category is line.category


def _by_rule(
    rule: Substitution,
    line: OrderLine,
    own: Sequence[tuple[int, Finding]],
    before: Sequence[Finding],
    changed: dict[int, Finding],
) -> dict[int, Finding]:
    """Return what the rule makes of the findings of its line, by their number, one part at a time."""
    out: dict[int, Finding] = {}
    whole = rule.category in _WHOLE_LINE
    for place in dict.fromkeys("" if whole else f.part for _, f in own):
        # What names no part (an answer on the line) speaks of all its pieces: each has to meet the demands.
        told = [f for f in (*before, *(f for _, f in own)) if not place or f.part in ("", place)]
        if not all(_is_met(demand, told) for demand in rule.demands):
            continue
        may = {*(demand.aspect for demand in rule.demands), *rule.besides}
        said = any(f.code == SUBSTITUTED and f.value(RULE) == rule.rule_id for f in told)
        differing = [
            (at, f)
            for at, f in own
            if f.outcome is Outcome.DIFFERS
            and f.aspect in may
            and (whole or f.part == place)
            and at not in changed
            and _may_become(f, said=said)
        ]
        for number, (at, finding) in enumerate(_demanded_first(differing, rule)):
            code = SUBSTITUTED if number == 0 and not said else SUBSTITUTED_WITH
            out[at] = _substituted(finding, rule, line, code)
    return out


def _may_become(finding: Finding, *, said: bool) -> bool:
    """A danger that somebody saw, or what is no part compared with the order, is none that a rule knows.

    Nor is a fault of the part, or a setting.

    That a part is not there is no substitution; that its label names another one may be. said: whether a
    reading has found the substitute; else an answer has to name what the label says.
    """
    if finding.by is EvidenceKind.INSPECTION:
        named = finding.got is not None or (said and finding.aspect is not Aspect.PRESENCE)
        return finding.code == "inspection.differs" and named
    if finding.aspect is Aspect.PRESENCE:
        return False
    if finding.code.partition(".")[2] in _FAULTS | _SETTINGS:
        return False
    return finding.by is EvidenceKind.READING and finding.code not in SUBSTITUTED_CODES


def _demanded_first(
    differing: Sequence[tuple[int, Finding]], rule: Substitution
) -> list[tuple[int, Finding]]:
    demanded = [demand.aspect for demand in rule.demands]
    return sorted(differing, key=lambda pair: (pair[1].aspect not in demanded, pair[0]))


def _substituted(finding: Finding, rule: Substitution, line: OrderLine, code: str) -> Finding:
    ours = {RULE: rule.rule_id, WORDS: rule.words, ORIGINAL: finding.code}
    kept = tuple(value for value in finding.values if value.name not in ours)
    names = {value.name for value in kept}
    told = {
        name: text
        for name, text in (("name", line.text), ("aspect", finding.aspect.value))
        if name not in names
    }
    return msgspec.structs.replace(finding, code=code, values=(*kept, *values(**told, **ours)))


def _is_met(demand: Demand, told: Iterable[Finding]) -> bool:
    """Whether it is shown what a rule demands of an aspect. Open, or not spoken of, is not shown.

    A label that a person read tells what the reading could not; against a reading it tells nothing.
    """
    about = [f for f in told if f.aspect is demand.aspect]
    seen = [f for f in about if f.by is EvidenceKind.INSPECTION]
    read = [f for f in about if f.by is EvidenceKind.READING and not (seen and f.outcome in _OPEN)]
    return bool(read or seen) and all(_meets(demand, finding) for finding in (*read, *seen))


def _meets(demand: Demand, finding: Finding) -> bool:
    if finding.outcome is Outcome.CONFORMS:
        # As sold: a drive of 1 TB has a few more bytes than its box says, and is no larger one for that.
        return demand.direction in (Direction.SAME, Direction.SAME_OR_MORE, Direction.SAME_OR_LESS)
    if finding.outcome is not Outcome.DIFFERS or demand.direction is Direction.SAME:
        return False
    want, got = (_measure(value, demand) for value in (finding.want, finding.got))
    if want is None or got is None:
        return False
    more = demand.direction in (Direction.MORE, Direction.SAME_OR_MORE)
    least, most = (want, got) if more else (got, want)
    if not least < most * (1 - _LEAST_MORE):
        return False  # the same number, and yet a difference: of something else than how much
    return demand.most_ratio is None or most <= least * demand.most_ratio * _MARKETED


def _measure(value: object, demand: Demand) -> float | None:
    """Return a value as a number above nought: its own, or its rank among the rule's words."""
    if demand.ranks:
        ranks = [" ".join(word.casefold().split()) for word in demand.ranks]
        word = " ".join(str(value).casefold().split())
        return ranks.index(word) + 1.0 if word in ranks else None
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if math.isfinite(value) and value > 0 else None
