"""What the bench's own burn-ins did to a reading's drives before it was taken: from the logs of attempts.

Later attempts read drives that earlier ones have burnt in. Their counters have grown by our own work, and are
those of new drives without it. What is taken off must have been done for sure: too much would hide use.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TypeGuard

import msgspec

from shipworthy.compare.elsewhere import telling_parts
from shipworthy.jobs.ledger import (
    LOGS,
    READING_FILE,
    attempt_folders,
    drives_of,
    head_of,
    parsed,
    reading_with,
    tail_of,
    written_by_serial,
)
from shipworthy.model.known import OwnWork
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import LogLine, Start, Stop
from shipworthy.model.time import no_later
from shipworthy.model.words import PartKind

_HOUR_S = 3600.0


def own_work(records: Path, reading: Reading) -> tuple[OwnWork, ...]:
    """Return our work on the drives of a reading: of those that were worked on and that a serial tells from
    all others.

    A burn-in that began after the reading is not in its counters, and a simulated one is in no real drive's.
    One that has no end in its log was killed: of it no hours are counted, so that a drive looks rather older
    than it is.
    """
    serials = {s for s, part in telling_parts(reading).items() if part.kind is PartKind.STORAGE}
    folders: list[Path] = []
    runs: dict[tuple[str, int], _Run] = {}
    for folder in attempt_folders(records) if serials else ():
        heads = {path: parsed(head_of(path)) for path in sorted(folder.glob(LOGS))}
        starts = {path: head for path, head in heads.items() if _is_work_before(head, reading)}
        if heads and len(starts) == len(heads) and not _is_of(folder, reading):
            folders.append(folder)
            for path, start in starts.items():
                _keep(runs, start, path)
    written = written_by_serial(folders, serials, sure=True) if folders else {}
    found = []
    for serial in sorted(serials):
        ours = [run for run in runs.values() if serial in run.drives.values()]
        if ours or written.get(serial):
            found.append(
                OwnWork(
                    serial=serial,
                    written_bytes=written.get(serial, 0),
                    hours=sum(run.seconds for run in ours) / _HOUR_S,
                    starts=len({run.boot_id for run in ours} - {None}),
                )
            )
    return tuple(found)


class _Run(msgspec.Struct, frozen=True):
    """One segment. drives: serials by place, as the log's start names them. boot_id: of the start of the
    machine in which it ran."""

    drives: Mapping[str, str]
    boot_id: str | None
    seconds: float


def _is_work_before(head: LogLine | None, reading: Reading) -> TypeGuard[Start]:
    if not isinstance(head, Start) or head.simulated is not reading.simulated:
        return False
    return not no_later(reading.taken, head.at)


def _is_of(folder: Path, reading: Reading) -> bool:
    """Whether a folder is the attempt of this very reading: what it burns in comes after it."""
    first = reading_with(folder / READING_FILE, (reading.reading_id,))
    return first is not None and first.reading_id == reading.reading_id


def _keep(runs: dict[tuple[str, int], _Run], start: Start, path: Path) -> None:
    """Add the segment of a log. One that lies in two folders counts once, by the longer of them."""
    stop, key = parsed(tail_of(path)), (start.run_id, start.segment)
    run = _Run(drives_of(start), start.at.boot_id, stop.t_s if isinstance(stop, Stop) else 0.0)
    if key not in runs or runs[key].seconds < run.seconds:
        runs[key] = run
