"""Power cycles: each that was announced happened, and the machine came back as it was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.analysis.findings import Basis
from shipworthy.analysis.runs import DAY_S, Happened, Segment
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
    """Return what became of each announced power cycle, the last try of each step counting."""
    for announced, answer in _cycles(events):
        named: dict[str, Scalar] = {"step": announced.text("step"), "power": announced.text("power")}
        if answer is None:
            yield basis.finding("power.not-returned", Outcome.DIFFERS, Aspect.ENDING, named)
        elif answer.code == MISSING:
            yield basis.finding("power.not-done", Outcome.DIFFERS, Aspect.ENDING, named)
        else:
            yield from _clock_lost(segments, announced, answer, named, basis)
            yield _returned(segments, announced, answer, named, basis)


def changed_over_power(segments: Sequence[Segment], events: Sequence[Happened]) -> dict[int, set[str]]:
    """Return by the segment's number (from 0) which keys of the configuration were changed over an announced
    power cycle that it saw the end of."""
    found: dict[int, set[str]] = {}
    for announced, answer in _cycles(events):
        if answer is not None and answer.code == RETURNED:
            found.setdefault(answer.number, set()).update(_changed(segments, announced, answer))
    return found


def _cycles(events: Sequence[Happened]) -> Iterator[tuple[Happened, Happened | None]]:
    """Return each step's last announcement, with what followed from it."""
    last = {event.text("step"): index for index, event in enumerate(events) if event.code == ANNOUNCED}
    for step, index in last.items():
        answers = (e for e in events[index + 1 :] if e.code in (RETURNED, MISSING) and e.text("step") == step)
        yield events[index], next(answers, None)


def _clock_lost(
    segments: Sequence[Segment],
    announced: Happened,
    answer: Happened,
    named: dict[str, Scalar],
    basis: Basis,
) -> Iterator[Finding]:
    """A clock that goes back by more than a day over a restart was not kept; less may be a zone of time that
    another system has set it to, and one that was disciplined since has been put right."""
    before, after = segments[announced.number].start, segments[answer.number].start
    if before is None or after is None or after.at.clock_synchronised or announced.number == answer.number:
        return
    left = segments[announced.number].stop
    back_s = ((left.at if left else before.at).utc - after.at.utc).total_seconds()
    if back_s > DAY_S:
        yield basis.finding(
            "power.clock-lost", Outcome.DIFFERS, Aspect.CONFIGURATION, named, back_h=round(back_s / 3600)
        )


def _returned(
    segments: Sequence[Segment],
    announced: Happened,
    answer: Happened,
    named: dict[str, Scalar],
    basis: Basis,
) -> Finding:
    if changed := _changed(segments, announced, answer):
        return basis.finding(
            "power.changed", Outcome.DIFFERS, Aspect.CONFIGURATION, named, keys=", ".join(changed)
        )
    cycled = answer.text("drives_power_cycled") or "unknown"
    named = named | {"away_s": answer.said.get("away_s", 0.0), "drives_power_cycled": cycled}
    if announced.text("power") != PowerCycle.COLD_START.value:
        return basis.finding("power.kept", Outcome.CONFORMS, Aspect.ENDING, named)
    if cycled == "no":
        return basis.finding("power.stayed-on", Outcome.CANNOT_TELL, Aspect.ENDING, named)
    code = "power.kept-untold" if cycled == "unknown" else "power.kept"
    return basis.finding(code, Outcome.CONFORMS, Aspect.ENDING, named)


def _changed(segments: Sequence[Segment], announced: Happened, answer: Happened) -> list[str]:
    """Return the configuration's keys that differ after the power cycle from before it."""
    before, after = segments[announced.number], segments[answer.number]
    keys: dict[str, None] = {}
    if before.start and after.start:
        keys |= {key: None for key, _, _ in before.start.configuration.changes_to(after.start.configuration)}
    looks = list(after.of(ConfigurationSeen))
    of_step = [at for at, look in enumerate(looks) if look.step == announced.text("step")]
    if of_step:
        last = of_step[-1]
        known = set(looks[last - 1].changed) if last and before is after else set()
        keys |= dict.fromkeys(key for key in looks[last].changed if key not in known)
    return list(keys)
