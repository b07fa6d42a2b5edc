"""Taking up a burn-in: what the log of the last attempt shows, and what cannot be taken up."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shipworthy.analysis import Segment
from shipworthy.machine.asking import ask_all
from shipworthy.machine.reading import understand
from shipworthy.machine.root import Root
from shipworthy.machine.sources import SOURCES
from shipworthy.model.base import Trouble
from shipworthy.model.progress import Progress, progress
from shipworthy.model.runlog import Event
from shipworthy.model.time import Moment
from shipworthy.model.words import Ending, PartKind
from shipworthy.stress.power_cycles import DriveCount, awaited_in, last_moment, restarted

TAKEN_UP = (Ending.INTERRUPTED, Ending.STOPPED_BY_PERSON, Ending.AWAITING_POWER)
COUNT_DRIVES = ("block", "nvme", "ata", "scsi", "smartctl")
"""Sources that know how often a drive was given power, and where it is."""


def may_go_on(ending: Ending) -> bool:
    """Whether a run that ended so can be taken up again."""
    return ending in TAKEN_UP


def refuse_to_resume(folder: Path, segments: Sequence[Segment]) -> None:
    """Raise Trouble for a folder whose burn-in was never begun, or has come to its end."""
    if not segments:
        raise Trouble(
            "no burn-in was begun here", folder, "Begin one with `shipworthy burn-in --into FOLDER`."
        )
    if not may_go_on(segments[-1].ending):
        raise Trouble(
            f"the burn-in here has come to its end: {segments[-1].ending.value}",
            folder,
            "Take a reading into a new folder to burn in again: evidence is never replaced.",
        )


def what_happened(segments: Sequence[Segment], now: Moment) -> Progress | None:
    """Say how the last segment was cut off, in which step and when; None if a restart was announced.

    A machine that has restarted has another boot id, or a monotonic clock that has gone back; else it was
    the process that ended.
    """
    last = segments[-1]
    if last.start is None or awaited_in(segment.lines for segment in segments) is not None:
        return None
    at = last_moment(last.lines)
    if last.ending is Ending.STOPPED_BY_PERSON:
        code = "run.burn-in-was-stopped"
    elif restarted(at, now):
        code = "run.burn-in-machine-restarted"
    else:
        code = "run.burn-in-was-killed"
    when = at.utc.strftime("%Y-%m-%d %H:%M:%S UTC")
    return progress(code, at=when, step=step_at_hand(last) or "none", segment=len(segments))


def step_at_hand(segment: Segment) -> str:
    """Return the step that had begun last and not ended; empty if none had."""
    at_hand = ""
    for event in segment.of(Event):
        if event.code == "step.began":
            at_hand = str(_said(event).get("step", ""))
        elif event.code == "step.ended":
            at_hand = ""
    return at_hand


def steps_ended(segments: Sequence[Segment]) -> int:
    """Return the index of the first step that has not ended: the ones before it need not run again."""
    ended = [s for segment in segments for s in segment.of(Event) if s.code == "step.ended"]
    return max((int(_said(event)["index"]) for event in ended), default=-1) + 1


def read_drive_counts(root: Root) -> tuple[DriveCount, ...]:
    """Return how often each drive says that it was given power; without root's rights they may not say."""
    sources = [source for source in SOURCES if source.name in COUNT_DRIVES]
    parts = understand(ask_all([(source, source.capture) for source in sources], root)).parts
    return tuple(
        DriveCount(
            place=part.place,
            serial=part.text("serial"),
            power_cycles=_count(part.number("power_cycles")),
            unsafe_shutdowns=_count(part.number("unsafe_shutdowns")),
        )
        for part in parts
        if part.kind is PartKind.STORAGE
    )


def _count(number: float | None) -> int | None:
    return None if number is None else int(number)


def _said(event: Event) -> dict[str, Any]:
    return {value.name: value.value for value in event.values}
