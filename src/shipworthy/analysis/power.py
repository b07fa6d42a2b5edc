"""Power cycles: each that was announced happened, and the machine came back as it was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import Happened, Segment
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.runlog import ConfigurationSeen
from shipworthy.model.time import Moment
from shipworthy.model.words import Aspect, Outcome, PowerCycle

ANNOUNCED, RETURNED, MISSING = "power.announced", "power.returned", "power.missing"


def restarted(before: Moment, after: Moment) -> bool:
    """Return whether the machine started anew between two moments: by the kernel's id of its start, or, where
    it gives none, by a monotonic clock that went back."""
    if before.boot_id is not None and after.boot_id is not None:
        return before.boot_id != after.boot_id
    return after.monotonic_s < before.monotonic_s


def is_open(events: Sequence[Happened], number: int) -> bool:
    """Return whether a segment ended with a restart announced that it had not seen."""
    waiting: set[str] = set()
    for event in events:
        if event.number == number:
            if event.code == ANNOUNCED and event.text("power") != PowerCycle.SLEEP.value:
                waiting.add(event.text("step"))
            elif event.code in (RETURNED, MISSING, "step.ended"):
                waiting.discard(event.text("step"))
    return bool(waiting)


def power_findings(
    segments: Sequence[Segment], events: Sequence[Happened], basis: Basis
) -> Iterator[Finding]:
    """Return one finding for each announced power cycle, the last try of each step counting."""
    last = {event.text("step"): index for index, event in enumerate(events) if event.code == ANNOUNCED}
    for step, index in last.items():
        announced = events[index]
        answer = next(
            (
                event
                for event in events[index + 1 :]
                if event.code in (RETURNED, MISSING) and event.text("step") == step
            ),
            None,
        )
        named: dict[str, Scalar] = {"step": step, "power": announced.text("power")}
        if answer is None:
            yield basis.finding("power.not-returned", Outcome.DIFFERS, Aspect.ENDING, named)
        elif answer.code == MISSING:
            yield basis.finding("power.not-done", Outcome.DIFFERS, Aspect.ENDING, named)
        else:
            yield _returned(segments, announced, answer, basis)


def _returned(segments: Sequence[Segment], announced: Happened, answer: Happened, basis: Basis) -> Finding:
    step, power = announced.text("step"), announced.text("power")
    away = answer.said.get("away_s", 0.0)
    if changed := _changed(segments, announced, answer):
        return basis.finding(
            "power.changed",
            Outcome.DIFFERS,
            Aspect.CONFIGURATION,
            step=step,
            power=power,
            keys=", ".join(changed),
        )
    if power == PowerCycle.COLD_START.value and answer.text("power_cycled") == "no":
        return basis.finding("power.stayed-on", Outcome.CANNOT_TELL, Aspect.ENDING, step=step, power=power)
    return basis.finding("power.kept", Outcome.CONFORMS, Aspect.ENDING, step=step, power=power, away_s=away)


def _changed(segments: Sequence[Segment], announced: Happened, answer: Happened) -> list[str]:
    """Return the configuration's keys that differ after the power cycle from before it."""
    before, after = segments[announced.number], segments[answer.number]
    keys: dict[str, None] = {}
    if before.start and after.start:
        keys |= {key: None for key, _, _ in before.start.configuration.changes_to(after.start.configuration)}
    seen = [line for line in after.of(ConfigurationSeen) if line.step == announced.text("step")]
    if seen:
        earlier = [line for line in before.of(ConfigurationSeen) if line is not seen[-1]]
        known = set(earlier[-1].changed) if earlier and before is after else set()
        keys |= dict.fromkeys(key for key in seen[-1].changed if key not in known)
    return list(keys)
