"""The verdict: release or hold, with every reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import msgspec

from shipworthy.model.base import digest_of, encode, values
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order
from shipworthy.model.policy import (
    Concession,
    CoverageState,
    Covered,
    Decision,
    Input,
    Policy,
    Reason,
    Weight,
)
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Category, Outcome, VerdictWord
from shipworthy.verdict.coverage import Key, keys_asked, state_of
from shipworthy.verdict.substituted import is_allowed, original_code

UNCORRECTED = (
    "health.kernel-uncorrected",
    "health.counter-rose",
    "health.memory-uncorrected",
    "health.bus-fatal",
)
"""Errors that nothing mended, under load or in a reading."""
NEVER_CONCEDED = (
    *("load.wrong", "guard.lost", "binding.", "inspection.leak", "inspection.mains-damage"),
    *UNCORRECTED,
)
"""Codes (or beginnings of codes, with a dot) that no policy can open to a concession (design rule 11)."""


@dataclass(frozen=True)
class Concerned:
    """Everything the verdict rests on. The same value gives the same decision, for ever.

    configuration: digest of the configuration read last. concessions: those whose signature was checked.
    """

    order: Order
    policy: Policy
    findings: tuple[Finding, ...]
    configuration: str
    simulated: bool
    inputs: tuple[Input, ...]
    at: Moment
    concessions: tuple[Concession, ...] = ()


def decide(case: Concerned) -> Decision:
    """Return the verdict on a case. Release only if there is no reason to hold."""
    differing = [f for f in case.findings if f.outcome is Outcome.DIFFERS]
    holding = [f for f in differing if weight_of(f, case.policy) is Weight.HOLD]
    conceded = [f for f in holding if _is_conceded(f, case.policy, case.concessions)]
    keys = keys_asked(case.order, case.policy)
    coverage = tuple(_covered(key, case, conceded, differing, holding) for key in keys)
    opened = [(key, c) for key, c in zip(keys, coverage, strict=True) if c.state in _OPEN]
    reasons = [_of_finding(f, CoverageState.DIFFERS) for f in holding if f not in conceded]
    reasons += [_of_key(key, c, case) for key, c in opened if c.required]
    reasons += _of_lines_without_keys(case, coverage)
    notes = [_of_finding(f, _noted_as(f, case.policy)) for f in differing if f not in holding]
    notes += [_of_finding(f, CoverageState.CONCEDED) for f in conceded]
    notes += [_of_key(key, c, case) for key, c in opened if not c.required]
    return Decision(
        verdict=VerdictWord.HOLD if reasons else VerdictWord.RELEASE,
        reasons=tuple(reasons),
        notes=tuple(notes),
        coverage=coverage,
        configuration=case.configuration,
        simulated=case.simulated,
        policy_id=case.policy.policy_id,
        inputs=case.inputs,
        at=case.at,
    )


_OPEN = (CoverageState.CANNOT_TELL, CoverageState.NOT_CHECKED, CoverageState.STALE)


def weight_of(finding: Finding, policy: Policy) -> Weight:
    """Return what a difference weighs: it holds, unless the policy makes it a note and may do so.

    A substitution that a rule of this policy allows is a note."""
    if not may_be_conceded(finding.code, policy) or not may_be_conceded(original_code(finding), policy):
        return Weight.HOLD
    if is_allowed(finding, policy):
        return Weight.NOTE
    rules = (r.weight for r in policy.weights if (r.code, r.outcome) == (finding.code, finding.outcome))
    return next(rules, Weight.HOLD)


def may_be_conceded(code: str, policy: Policy) -> bool:
    """Whether a person may release with this difference: some things never (design rule 11)."""
    return not any(
        code == bar or (bar.endswith(".") and code.startswith(bar))
        for bar in (*NEVER_CONCEDED, *policy.never_conceded)
    )


def _noted_as(finding: Finding, policy: Policy) -> CoverageState:
    return CoverageState.SUBSTITUTED if is_allowed(finding, policy) else CoverageState.DIFFERS


def _is_conceded(finding: Finding, policy: Policy, concessions: Iterable[Concession]) -> bool:
    names = {conceder.name for conceder in policy.conceders}
    return may_be_conceded(finding.code, policy) and any(
        c.finding == digest_of(encode(finding)) and c.by in names for c in concessions
    )


def _covered(
    key: Key,
    case: Concerned,
    conceded: Sequence[Finding],
    differing: Sequence[Finding],
    holding: Sequence[Finding],
) -> Covered:
    """Return what became of a key: conceded, if all its differences are, or are notes beside that; still
    open, if something else leaves it so."""
    covered = state_of(key, case.findings, case.configuration)
    about = [f for f in differing if f.key == (key.line, key.category, key.aspect)]
    if covered.state is not CoverageState.DIFFERS or any(f in holding and f not in conceded for f in about):
        return covered
    without = state_of(key, [f for f in case.findings if f not in about], case.configuration)
    if without.state in _OPEN and _says_something(key, case, about):
        return without
    if any(f in conceded for f in about):
        return msgspec.structs.replace(covered, state=CoverageState.CONCEDED)
    if about and all(is_allowed(f, case.policy) for f in about):
        return msgspec.structs.replace(covered, state=CoverageState.SUBSTITUTED)
    return covered


def _says_something(key: Key, case: Concerned, about: Sequence[Finding]) -> bool:
    """Whether anything but these differences speaks of a key: a note, or what one person has conceded, closes
    nothing that another finding leaves open."""
    named = (key.line, key.category, key.aspect)
    return any(f.key == named and f.by in key.by and f not in about for f in case.findings)


def _of_finding(finding: Finding, state: CoverageState) -> Reason:
    return Reason(
        code=finding.code,
        state=state,
        line=finding.line,
        category=finding.category,
        aspect=finding.aspect,
        finding=finding,
    )


def _of_key(key: Key, covered: Covered, case: Concerned) -> Reason:
    """Return the reason that an open key gives, with the finding that says most of why it is open."""
    about = [f for f in case.findings if f.key == (covered.line, covered.category, covered.aspect)]
    order = (Outcome.CANNOT_TELL, Outcome.NOT_CHECKED, Outcome.CONFORMS)
    why = min(about, key=lambda f: order.index(f.outcome) if f.outcome in order else 9, default=None)
    return Reason(
        code=f"coverage.{covered.state.value.replace(' ', '-')}",
        state=covered.state,
        line=covered.line,
        category=covered.category,
        aspect=covered.aspect,
        values=values(
            category=covered.category.value,
            aspect=covered.aspect.value,
            by=" or ".join(kind.value for kind in key.by),
        ),
        finding=why,
    )


def _of_lines_without_keys(case: Concerned, coverage: Sequence[Covered]) -> list[Reason]:
    """Nothing checked is never a pass: a line of which nothing is asked holds."""
    asked = {c.line for c in coverage if c.required}
    reasons = [
        Reason(
            code="policy.line-without-evidence",
            state=CoverageState.NOT_CHECKED,
            line=line.line_id,
            category=line.category,
            aspect=Aspect.PRESENCE,
            values=values(text=line.text),
        )
        for line in case.order.lines
        if line.line_id not in asked
    ]
    if not any(c.required and c.category is Category.UNIT for c in coverage):
        reasons.append(
            Reason(
                code="policy.unit-without-evidence",
                state=CoverageState.NOT_CHECKED,
                category=Category.UNIT,
                aspect=Aspect.ENDING,
            )
        )
    return reasons
