"""Changes of the configuration while the burn-in ran: each told once, where it was seen first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.power import changed_over_power
from shipworthy.analysis.runs import Happened, Segment
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import ConfigurationSeen, StepSpan
from shipworthy.model.words import Aspect, Outcome


def change_findings(
    segments: Sequence[Segment], events: Sequence[Happened], was: Configuration, basis: Basis
) -> Iterator[Finding]:
    """Return what was another one when a segment began than before it, and what changed within a segment.

    was: the configuration as it was read before the burn-in. What changed over an announced power cycle is
    told there, and left out here.
    """
    over_power = changed_over_power(segments, events)
    before, told_within = was, set[str]()
    for number, segment in enumerate(segments):
        if segment.start is None:
            continue
        told = over_power.get(number, set()) | told_within
        now = segment.start.configuration
        if now.digest != before.digest:
            found = [key for key, _, _ in before.changes_to(now)] or ["the configuration's digest"]
            if keys := [key for key in found if key not in told]:
                yield _changed(
                    basis, "configuration.changed-between-segments", keys, {"segment": segment.file}
                )
            before = now
        told_within = set()
        for seen in segment.of(ConfigurationSeen):
            if keys := [
                key for key in seen.changed if key not in over_power.get(number, set()) | told_within
            ]:
                told_within |= set(keys)
                yield _changed(basis, "configuration.changed-during-burn-in", keys, {"step": seen.step})


def not_seen_findings(
    segments: Sequence[Segment], spans: Sequence[StepSpan], basis: Basis
) -> Iterator[Finding]:
    """Name the steps under load around which the configuration was never read: a drive that hung, a bus that
    did not answer. The readings before and after the burn-in are another matter."""
    seen = {look.step for segment in segments for look in segment.of(ConfigurationSeen)}
    loaded = dict.fromkeys(span.step for span in spans if span.under_load_s is not None)
    if unseen := [step for step in loaded if step not in seen]:
        yield basis.finding(
            "configuration.not-seen",
            Outcome.CANNOT_TELL,
            Aspect.CONFIGURATION,
            steps=", ".join(unseen),
        )


def _changed(basis: Basis, code: str, keys: Sequence[str], where: dict[str, Scalar]) -> Finding:
    return basis.finding(code, Outcome.DIFFERS, Aspect.CONFIGURATION, where, keys=", ".join(keys))
