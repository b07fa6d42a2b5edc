"""Concessions: an authorised person's signed permission to release with one named difference."""

from __future__ import annotations

from pathlib import Path

from shipworthy.jobs.bench import the_open_attempt
from shipworthy.jobs.deciding import last_decision
from shipworthy.jobs.errands import Bench
from shipworthy.model.base import Trouble, digest_of, encode, read_bytes
from shipworthy.model.findings import Finding
from shipworthy.model.policy import Conceder, Concession, CoverageState, Policy
from shipworthy.record.attempt import OpenAttempt
from shipworthy.record.keys import SigningKey, load_key, sign_attached
from shipworthy.verdict import may_be_conceded
from shipworthy.verdict.policies import parse_policy


def concede(
    bench: Bench,
    unit_id: str | None,
    *,
    code: str,
    line: str,
    part: str,
    reason: str,
    key: Path,
    aspect: str = "",
) -> Concession:
    """Sign a concession for one difference of the last decision, with the conceder's own key.

    Raises Trouble if that difference is not there, can never be conceded, or the policy does not list the
    key. The decision itself is made anew by `decide`.
    """
    signing = load_key(key)
    with the_open_attempt(bench, unit_id) as attempt:
        policy = parse_policy(read_bytes(attempt.folder / "policy.toml"), attempt.folder / "policy.toml")
        conceder = _conceder(policy, signing, key)
        finding = _the_difference(attempt, policy, code, line, part, aspect)
        concession = Concession(
            attempt_id=attempt.attempt.attempt_id,
            code=code,
            line=line,
            part=part,
            aspect=finding.aspect,
            finding=digest_of(encode(finding)),
            by=conceder.name,
            reason=reason,
            at=bench.clock.now(),
        )
        number = len(list((attempt.folder / "concessions").glob("*.jws"))) + 1
        signed = sign_attached(encode(concession), signing)
        attempt.write(f"concessions/{number:03d}.jws", signed.encode("ascii"))
        return concession


def _conceder(policy: Policy, signing: SigningKey, key: Path) -> Conceder:
    found = next((c for c in policy.conceders if c.thumbprint == signing.public.kid), None)
    if found is None:
        raise Trouble(
            f"the policy lists nobody with this key ({signing.public.kid})",
            key,
            "Only a person listed under [[conceders]] in the attempt's policy may concede.",
        )
    return found


def _the_difference(
    attempt: OpenAttempt, policy: Policy, code: str, line: str, part: str, aspect: str
) -> Finding:
    """Return the one finding of the last decision that is meant; Trouble unless there is just one."""
    reasons = [r for r in last_decision(attempt.folder).reasons if r.state is CoverageState.DIFFERS]
    found = [
        r.finding
        for r in reasons
        if r.finding
        and (r.code, r.line, r.finding.part) == (code, line, part)
        and aspect in ("", r.aspect.value)
    ]
    if len(found) != 1:
        named = [f"{r.code} (line {r.line or '-'}, {r.aspect.value})" for r in reasons]
        several = f"the last decision has {len(found)} differences"
        raise Trouble(
            f"{several if found else 'the last decision has no difference'} {code} on line {line or '-'}",
            attempt.attempt.unit_id,
            f"It has: {', '.join(named) or 'none'}.",
        )
    if not may_be_conceded(code, policy):
        raise Trouble(
            f"{code} can never be conceded", attempt.attempt.unit_id, "Mend it, and start the next attempt."
        )
    return found[0]
