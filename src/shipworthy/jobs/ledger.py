"""What burn-ins have written to each drive, counted from the run logs of all attempts.

The folders are the truth: nothing else is kept, so nothing can be lost or disagree. A killed run may have
written after its last report; that is counted at its most.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from shipworthy.model.base import Trouble, read_bytes, read_record
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Event, LogLine, Report, Start, Stop
from shipworthy.record.layout import PAYLOAD, number_of, open_folder

STORAGE = "storage"
READING_FILE = "reading/reading.json"
LOGS = "burn-in/log-*.jsonl"
UNREPORTED_BYTES = 2**30
"""What a process that was killed before its first report is held to have written: a report comes each second,
and no file is larger (stress.loads.storage.FILE_MOST_BYTES)."""
_TELLING = (b'"written_bytes"', b'"load.ready"', b'"start"', b'"stop"')
_LINE: Any = LogLine


@dataclass
class _Target:
    """One place in one segment. silent: no report has come since its process was ready."""

    written_bytes: int = 0
    largest_bytes: int = 0
    silent: bool = False


def attempt_folders(records: Path) -> Iterator[Path]:
    """Yield what every attempt holds, sealed or in progress."""
    if not records.is_dir():
        return
    for root in sorted(records.iterdir()):
        inside = root == open_folder(records)
        if root.is_dir() and (inside or not root.name.startswith(".")):
            for attempt in sorted(root.iterdir()):
                if (inside or number_of(attempt.name)) and (attempt / PAYLOAD).is_dir():
                    yield attempt / PAYLOAD


def written_by_serial(folders: Iterable[Path], serials: Iterable[str]) -> dict[str, int]:
    """Return how many bytes the burn-ins in these folders wrote to the drives with these serials.

    A run that lies in two folders (taken in by the bench half, and still on the unit's) counts once. A
    folder whose reading cannot be read any more counts nothing.
    """
    wanted, seen = {serial for serial in serials if serial}, set[tuple[str, int]]()
    total: dict[str, int] = dict.fromkeys(wanted, 0)
    for folder in folders:
        reading = _reading_with(folder / READING_FILE, wanted)
        if reading is None:
            continue
        for place, written_bytes in written_by_place(folder, seen).items():
            part = reading.at(place)
            serial = part.text("serial").strip() if part is not None else ""
            if serial in wanted:
                total[serial] += written_bytes
    return total


def written_by_place(folder: Path, seen: set[tuple[str, int]] | None = None) -> dict[str, int]:
    """Return what the burn-in in a folder wrote, by the place of the drive. seen: segments counted."""
    total: dict[str, int] = defaultdict(int)
    for path in sorted(folder.glob(LOGS)):
        for place, written_bytes in _segment(path, set() if seen is None else seen).items():
            total[place] += written_bytes
    return dict(total)


def _reading_with(path: Path, serials: set[str]) -> Reading | None:
    """Return the reading, if it speaks of one of these drives at all: most attempts are of other ones."""
    try:
        data = read_bytes(path)
        if not any(serial.encode() in data for serial in serials):
            return None
        return read_record(path, Reading)
    except Trouble:
        return None


def _segment(path: Path, seen: set[tuple[str, int]]) -> dict[str, int]:
    targets: dict[str, _Target] = defaultdict(_Target)
    ended = False
    for line in _lines(path):
        match line:
            case Start(run_id=run_id, segment=segment):
                if (run_id, segment) in seen:
                    return {}
                seen.add((run_id, segment))
            case Report(load="storage"):
                target = targets[line.target]
                target.written_bytes += line.written_bytes
                target.largest_bytes = max(target.largest_bytes, line.written_bytes)
                target.silent = False
            case Event(code="load.ready"):
                named = {value.name: str(value.value) for value in line.values}
                if named.get("load") == STORAGE:
                    targets[named.get("target", "")].silent = True
            case Stop():
                ended = True
    return {place: target.written_bytes + _unreported(target, ended) for place, target in targets.items()}


def _unreported(target: _Target, ended: bool) -> int:
    """Return the most that was written after the last report: one more of the largest."""
    if ended:
        return 0
    return UNREPORTED_BYTES if target.silent else target.largest_bytes


def _lines(path: Path) -> Iterator[LogLine]:
    """Yield the lines that matter; a torn or a spoiled one is passed over, as the log's readers say so."""
    for raw in read_bytes(path).splitlines():
        if any(word in raw for word in _TELLING):
            try:
                yield msgspec.json.decode(raw, type=_LINE)
            except msgspec.DecodeError:
                continue
