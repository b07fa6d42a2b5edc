"""What burn-ins have written to each drive, counted from the run logs of all attempts.

The folders are the truth: nothing else is kept, so nothing can be lost or disagree. A killed run may have
written after its last report; that is counted at its most.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from os import SEEK_END
from pathlib import Path
from typing import Any

import msgspec

from shipworthy.model.base import Trouble, decode, read_bytes
from shipworthy.model.reading import Reading
from shipworthy.model.runlog import Event, LogLine, Report, Start, Stop
from shipworthy.record.layout import PAYLOAD, number_of, open_folder
from shipworthy.stress.loads.storage import AND

STORAGE = "storage"
READING_FILE = "reading/reading.json"
LOGS = "burn-in/log-*.jsonl"
UNREPORTED_BYTES = 2**30
"""What a process that was killed before its first report is held to have written: a report comes each second,
and no file is larger (stress.loads.storage.FILE_MOST_BYTES)."""
TAIL_BYTES = 2**16
"""More than any line that ends a log has (its stop, or an event)."""
_TELLING = (b'"written_bytes"', b'"load.ready"', b'"load.died"', b'"step.cut-short"', b'"start"', b'"stop"')
_LINE: Any = LogLine

Key = tuple[str, int]
"""Run and segment: the same lines in two folders have the same one."""


@dataclass
class _Target:
    """One target in one segment. silent: no report has come since its process was ready. step: of its last
    report. unreported_bytes: what processes wrote at most that were ended before their last report."""

    written_bytes: int = 0
    largest_bytes: int = 0
    silent: bool = False
    step: str = ""
    unreported_bytes: int = 0

    def ended_unheard(self) -> None:
        """Its process was killed: it may have written as much again as its largest report."""
        self.unreported_bytes += UNREPORTED_BYTES if self.silent else self.largest_bytes
        self.silent, self.step = False, ""


@dataclass
class _Segment:
    """What one log tells. serials: by place, of the drives that were built in when it began."""

    key: Key | None = None
    serials: dict[str, str] = field(default_factory=dict)
    targets: dict[str, _Target] = field(default_factory=lambda: defaultdict(_Target))

    def by_place(self, *, sure: bool = False) -> dict[str, int]:
        """Return what was written to each drive at most; a file over several is held to lie on each of them
        whole. sure: what was written at least; such a file is held to be shared out among them."""
        total: dict[str, int] = defaultdict(int)
        for name, target in self.targets.items():
            places = name.split(AND)
            least = target.written_bytes // len(places)
            for place in places:
                total[place] += least if sure else target.written_bytes + target.unreported_bytes
        return total


def attempt_folders(records: Path) -> Iterator[Path]:
    """Yield what every attempt holds, sealed or in progress. A folder that may not be listed is left out."""
    for root in _folders_in(records):
        inside = root == open_folder(records)
        if inside or not root.name.startswith("."):
            for attempt in _folders_in(root):
                if (inside or number_of(attempt.name)) and (attempt / PAYLOAD).is_dir():
                    yield attempt / PAYLOAD


def folders_beside(own: Path) -> Iterator[Path]:
    """Yield the other folders of unit halves that lie beside one."""
    for folder in _folders_in(own.resolve().parent):
        if (folder / READING_FILE).is_file():
            yield folder


def _folders_in(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.is_dir())
    except OSError:
        return []  # not there, or somebody else's, as `lost+found` is


def written_by_serial(
    folders: Iterable[Path], serials: Iterable[str], *, sure: bool = False
) -> dict[str, int]:
    """Return how many bytes the burn-ins in these folders wrote to the drives with these serials.

    At most, for what may still be written; sure: at the least, for what is taken off a drive's own counter.

    A log names the serials of the drives that were built in as it began; of others the folder's reading
    does. A log that lies in two folders (taken in by the bench half, and still on the unit's) counts once, by
    the longer of them.
    """
    wanted = {serial for serial in serials if serial}
    most: dict[tuple[object, str], int] = defaultdict(int)
    for folder in folders:
        reading = reading_with(folder / READING_FILE, wanted)
        for path in sorted(folder.glob(LOGS)):
            if reading is None and not _speaks_of(head_of(path), wanted):
                continue
            segment = _segment(path)
            wrote: dict[str, int] = defaultdict(int)
            for place, written_bytes in segment.by_place(sure=sure).items():
                wrote[segment.serials.get(place) or _serial_in(reading, place)] += written_bytes
            for serial, written_bytes in wrote.items():
                key = (segment.key or path, serial)
                most[key] = max(most[key], written_bytes)
    return {serial: sum(n for (_, of), n in most.items() if of == serial) for serial in wanted}


def written_by_place(folder: Path) -> dict[str, int]:
    """Return what the burn-in in a folder wrote, by the place of the drive."""
    total: dict[str, int] = defaultdict(int)
    for path in sorted(folder.glob(LOGS)):
        for place, written_bytes in _segment(path).by_place().items():
            total[place] += written_bytes
    return dict(total)


def seeds_in(folder: Path) -> set[int]:
    """Return the seeds of the burn-in in a folder: of all its segments, which have the same one."""
    starts = (parsed(head_of(path)) for path in folder.glob(LOGS))
    return {start.seed for start in starts if isinstance(start, Start)}


def reading_with(path: Path, words: Collection[str]) -> Reading | None:
    """Return the reading, if it speaks of one of these words at all: most attempts are of other drives. None
    too for one that cannot be read."""
    try:
        data = read_bytes(path)
        return decode(data, Reading, path) if _speaks_of(data, words) else None
    except Trouble:
        return None


def _speaks_of(data: bytes, words: Iterable[str]) -> bool:
    """Return whether one of these words stands in JSON, be it with blanks around it."""
    return any(msgspec.json.encode(word)[1:-1] in data for word in words)


def head_of(path: Path) -> bytes:
    """Return a log's first line, which has the configuration; nothing where it cannot be read."""
    try:
        with open(path, "rb") as log:
            return log.readline()
    except OSError:
        return b""


def tail_of(path: Path) -> bytes:
    """Return a log's last line, if it is within TAIL_BYTES; nothing where it cannot be read."""
    try:
        with open(path, "rb") as log:
            log.seek(max(0, log.seek(0, SEEK_END) - TAIL_BYTES))
            return log.read().rstrip(b"\n").rpartition(b"\n")[2]
    except OSError:
        return b""


def _serial_in(reading: Reading | None, place: str) -> str:
    part = reading.at(place) if reading is not None else None
    return part.text("serial").strip() if part is not None else ""


def _segment(path: Path) -> _Segment:
    segment, ended, spoiled = _Segment(), False, 0
    targets = segment.targets
    for line in _lines(path):
        match line:
            case None:
                spoiled += 1
            case Start():
                segment.key, segment.serials = (line.run_id, line.segment), drives_of(line)
            case Report(load="storage"):
                target = targets[line.target]
                target.written_bytes += line.written_bytes
                target.largest_bytes = max(target.largest_bytes, line.written_bytes)
                target.silent, target.step = False, line.step
            case Event():
                _hear(targets, line)
            case Stop():
                ended = True
    for target in targets.values():
        target.unreported_bytes += spoiled * target.largest_bytes
        if not ended:
            target.ended_unheard()
    return segment


def _hear(targets: dict[str, _Target], event: Event) -> None:
    named = {value.name: str(value.value) for value in event.values}
    of_storage = named.get("load") == STORAGE
    if event.code == "load.ready" and of_storage:
        target = targets[named.get("target", "")]
        target.silent, target.step = True, named.get("step", "")
    elif event.code == "load.died" and of_storage:
        targets[named.get("target", "")].ended_unheard()
    elif event.code == "step.cut-short" and named.get("why") != "person":  # there was no time to report
        for target in targets.values():
            if target.step == named.get("step"):
                target.ended_unheard()


def drives_of(start: Start) -> dict[str, str]:
    """Return the serials that a configuration holds (`storage/<place>/serial`), by place."""
    head, tail = f"{STORAGE}/", "/serial"
    return {
        item.key.removeprefix(head).removesuffix(tail): str(item.value).strip()
        for item in start.configuration.items
        if item.key.startswith(head) and item.key.endswith(tail)
    }


def _lines(path: Path) -> Iterator[LogLine | None]:
    """Yield the lines that matter; None for a spoiled one, which may have told of writing. The last line may
    be torn, as that of any run that was killed."""
    for raw in read_bytes(path).split(b"\n")[:-1]:
        if any(word in raw for word in _TELLING):
            yield parsed(raw)


def parsed(raw: bytes) -> LogLine | None:
    """Return a line of a log; None for one that is torn or spoiled."""
    try:
        line: LogLine = msgspec.json.decode(raw, type=_LINE)
    except msgspec.DecodeError:
        return None
    return line
