"""What the bench's own burn-ins did to a reading's drives before it was taken: from the logs of attempts.

Later attempts read drives that earlier ones have burnt in. Their counters have grown by our own work, and are
those of new drives without it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import msgspec

from shipworthy.jobs.ledger import LOGS, attempt_folders, drives_of, written_by_serial
from shipworthy.model.base import read_bytes
from shipworthy.model.known import OwnWork
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import LogLine, Start, Stop
from shipworthy.model.words import PartKind

_HOUR_S = 3600.0


def own_work(records: Path, reading: Reading) -> tuple[OwnWork, ...]:
    """Return our work on the drives of a reading, those alone that have a serial and were worked on.

    A burn-in that began after the reading is not in its counters. One that has no end in its log was killed:
    of it no hours are counted, so that a drive looks rather older than it is.
    """
    serials = {part.text("serial").strip() for part in reading.of_kind(PartKind.STORAGE)} - {""}
    folders = (
        [folder for folder in attempt_folders(records) if _is_before(folder, reading)] if serials else []
    )
    written = written_by_serial(folders, serials) if folders else {}
    runs = {run.key: run for folder in folders for run in _runs(folder)}
    found = []
    for serial in sorted(serials):
        ours = [run for run in runs.values() if serial in run.drives.values()]
        hours = sum(run.seconds for run in ours) / _HOUR_S
        if ours or written.get(serial):
            found.append(
                OwnWork(
                    serial=serial,
                    written_bytes=written.get(serial, 0),
                    hours=hours,
                    starts=len({run.boot_id for run in ours} - {None}),
                )
            )
    return tuple(found)


class _Run(msgspec.Struct, frozen=True):
    """One segment. drives: serials by place, as the log's start names them. boot_id: of the start of the
    machine in which it ran."""

    key: tuple[str, int]
    drives: Mapping[str, str]
    boot_id: str | None
    seconds: float


def _is_before(folder: Path, reading: Reading) -> bool:
    starts = [start for path in folder.glob(LOGS) if (start := _line(_first(path))) is not None]
    return bool(starts) and all(
        isinstance(start, Start) and start.at.utc < reading.taken.utc for start in starts
    )


def _runs(folder: Path) -> Iterator[_Run]:
    for path in sorted(folder.glob(LOGS)):
        start, stop = _line(_first(path)), _line(_last(path))
        if isinstance(start, Start):
            seconds = stop.t_s if isinstance(stop, Stop) else 0.0
            yield _Run((start.run_id, start.segment), drives_of(start), start.at.boot_id, seconds)


def _first(path: Path) -> bytes:
    return read_bytes(path).split(b"\n", 1)[0]


def _last(path: Path) -> bytes:
    return read_bytes(path).rstrip(b"\n").rsplit(b"\n", 1)[-1]


def _line(raw: bytes) -> LogLine | None:
    try:
        line: LogLine = msgspec.json.decode(raw, type=LogLine)
    except msgspec.DecodeError:
        return None
    return line
