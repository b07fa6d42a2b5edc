"""The findings of an open attempt, gathered from its files."""

from __future__ import annotations

from shipworthy.compare import findings_since
from shipworthy.jobs.unit import (
    READING,
    READING_AFTER,
    plan_digest_of,
    read_segments,
)
from shipworthy.jobs.work import Work
from shipworthy.model.analysis import Analysis
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.reading import Configuration, Reading
from shipworthy.verdict import binding_findings

AT_DECISION = "configuration-at-decision.json"


def findings_so_far(work: Work) -> tuple[Finding, ...]:
    """Return the findings of reading, comparing and burning in: all but those of the inspection."""
    before = work.load(f"{READING}/reading.json", Reading)
    after = work.load(f"{READING_AFTER}/reading.json", Reading)
    comparison = work.load("comparison.json", Comparison)
    segments = read_segments(work.attempt.folder)
    plan = plan_digest_of(work.attempt.folder)
    stops = [s.stop.at for s in segments if s.stop]
    seen = AT_DECISION if work.has(AT_DECISION) else None
    return (
        *binding_findings(
            work.attempt.attempt.nonce,
            before,
            after,
            (s.start.nonce if s.start else None for s in segments),
            stops[-1] if stops else None,
            work.load(seen, Configuration) if seen else None,
            other_plan=any(s.start.plan_digest != plan for s in segments if s.start and plan),
            simulated=(
                work.attempt.attempt.simulated,
                before.simulated,
                after.simulated,
                *(s.start.simulated for s in segments if s.start),
            ),
        ),
        *comparison.findings,
        *findings_since(
            work.order(), comparison, before, after, work.policy().limits, (f"{READING_AFTER}/reading.json",)
        ),
        *work.load("analysis.json", Analysis).findings,
    )
