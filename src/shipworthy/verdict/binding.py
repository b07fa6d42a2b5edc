"""What binds the two halves: the attempt's nonce, and the configuration at both ends (ADR 0012)."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.model.base import Scalar, Value, values
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome


def binding_findings(
    nonce: str, before: Reading, after: Reading, run_nonces: Iterable[str | None]
) -> tuple[Finding, ...]:
    """Return the findings on identity and configuration.

    nonce: the attempt's. before, after: the readings at both ends. run_nonces: those of the burn-in's
    segments. A reading from files has no nonce and never releases.
    """
    return (_nonces(nonce, before, after, tuple(run_nonces)), *_configuration(before, after))


def _nonces(nonce: str, before: Reading, after: Reading, run: tuple[str | None, ...]) -> Finding:
    given = (before.nonce, after.nonce, *run)
    if any(n is None for n in given):
        return _finding("binding.from-files", Outcome.DIFFERS, Aspect.IDENTITY, after)
    if any(n != nonce for n in given):
        return _finding("binding.other-nonce", Outcome.DIFFERS, Aspect.IDENTITY, after)
    return _finding("binding.nonce-agrees", Outcome.CONFORMS, Aspect.IDENTITY, after)


def _configuration(before: Reading, after: Reading) -> Iterable[Finding]:
    changes = before.configuration.changes_to(after.configuration)
    if not changes:
        yield _finding("configuration.same", Outcome.CONFORMS, Aspect.CONFIGURATION, after)
    for key, was, now in changes:
        yield _finding(
            "configuration.changed",
            Outcome.DIFFERS,
            Aspect.CONFIGURATION,
            after,
            values(key=key, was=_said(was), now=_said(now)),
        )


def _said(value: Scalar | None) -> Scalar:
    return "nothing" if value is None else value


def _finding(
    code: str, outcome: Outcome, aspect: Aspect, after: Reading, named: tuple[Value, ...] = ()
) -> Finding:
    return Finding(
        code=code,
        outcome=outcome,
        category=Category.UNIT,
        aspect=aspect,
        by=EvidenceKind.READING,
        values=named,
        evidence=("reading/reading.json", "reading-after/reading.json"),
        configuration=after.configuration.digest,
    )
