"""What binds the two halves: the attempt's nonce, and the configuration at both ends (ADR 0012)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from shipworthy.model.base import Scalar, Value, values
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Configuration, Reading
from shipworthy.model.time import Moment, no_later, same_start
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome


def binding_findings(
    nonce: str,
    before: Reading,
    after: Reading,
    run_nonces: Iterable[str | None],
    run_ended: Moment | None = None,
    at_decision: Configuration | None = None,
    other_plan: bool = False,
    simulated: tuple[bool, ...] = (),
) -> tuple[Finding, ...]:
    """Return the findings on identity and configuration.

    nonce: the attempt's. before, after: the readings at both ends. run_nonces: those of the burn-in's
    segments. A reading from files has no nonce and never releases. run_ended: when the burn-in stopped; the
    reading after has to be later. at_decision: the configuration read when deciding, where that was possible.
    other_plan: whether a segment ran another plan than the one beside it. simulated: what the attempt, the
    readings and the segments say of it; they have to agree.
    """
    mixed = len(set(simulated)) > 1
    return (
        _nonces(nonce, before, after, tuple(run_nonces)),
        *_order(before, after, run_ended),
        *([_finding("binding.other-plan", Outcome.DIFFERS, Aspect.IDENTITY, after)] if other_plan else []),
        *([_finding("binding.simulated", Outcome.DIFFERS, Aspect.IDENTITY, after)] if mixed else []),
        *_configuration(before, after.configuration, after, ""),
        *(_configuration(after, at_decision, after, "-since") if at_decision else ()),
    )


def _order(before: Reading, after: Reading, ended: Moment | None) -> Iterable[Finding]:
    """The last reading has to be later than the end of the burn-in.

    The clock that never jumps tells within one start of the machine. Over a restart only wall time can:
    by the second where both were disciplined, else by the day, as a clock that was set is no other order.
    """
    if ended is None:
        return
    boot_ids = (before.taken.boot_id, ended.boot_id, after.taken.boot_id)
    if same_start(ended, after.taken):
        early = not no_later(ended, after.taken)
    elif None not in boot_ids and after.taken.boot_id == before.taken.boot_id:
        early = True  # of the start of the first reading: the burn-in ended in a later one
    else:
        sure = ended.clock_synchronised and after.taken.clock_synchronised
        early = after.taken.utc < ended.utc - (timedelta(0) if sure else timedelta(days=1))
    if early:
        yield _finding("binding.read-before-the-end", Outcome.DIFFERS, Aspect.IDENTITY, after)


def _nonces(nonce: str, before: Reading, after: Reading, run: tuple[str | None, ...]) -> Finding:
    given = (before.nonce, after.nonce, *run)
    if any(n is None for n in given):
        return _finding("binding.from-files", Outcome.DIFFERS, Aspect.IDENTITY, after)
    if any(n != nonce for n in given):
        return _finding("binding.other-nonce", Outcome.DIFFERS, Aspect.IDENTITY, after)
    return _finding("binding.nonce-agrees", Outcome.CONFORMS, Aspect.IDENTITY, after)


def _configuration(before: Reading, now: Configuration, after: Reading, ending: str) -> Iterable[Finding]:
    changes = before.configuration.changes_to(now)
    if not changes and not ending:
        yield _finding("configuration.same", Outcome.CONFORMS, Aspect.CONFIGURATION, after)
    for key, was, is_now in changes:
        yield _finding(
            f"configuration.changed{ending}",
            Outcome.DIFFERS,
            Aspect.CONFIGURATION,
            after,
            values(key=key, was=_said(was), now=_said(is_now)),
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
