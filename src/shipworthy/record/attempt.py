"""An attempt in progress: open it, take it up again, add files and lines to it. One writer at a time.

`records/.open/<attempt id>/data/…` holds it, an flock on `records/.open/<attempt id>.lock` its writer.
Numbers are given under a lock of all records, so that two processes never give the same one.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shipworthy.model.attempt import Attempt, StepEvent, StepLine, StepName
from shipworthy.model.base import (
    RecordPath,
    Trouble,
    decode_lines,
    encode,
    encode_pretty,
    read_bytes,
    read_record,
)
from shipworthy.model.reading import Tool
from shipworthy.model.time import Clock, uuid7
from shipworthy.record.closing import Closing
from shipworthy.record.files import (
    AppendLog,
    disk_trouble,
    make_folders,
    removed_on_failure,
    sync_folder,
    write_part,
    write_whole,
)
from shipworthy.record.layout import (
    ATTEMPT_FILE,
    PAYLOAD,
    STEPS_FILE,
    TAG_FILES,
    check_unit_id,
    is_attempt_id,
    number_of,
    open_folder,
)
from shipworthy.record.locks import Held, Lock
from shipworthy.record.names import PART, check_name, folded

_NEW = ".new-"


class OpenAttempt(Closing):
    """An attempt that this process is writing. Close it, or use it in a `with`."""

    def __init__(self, records: Path, attempt: Attempt, lock: Lock, clock: Clock) -> None:
        self.records, self.attempt, self.clock = records, attempt, clock
        self.root = open_folder(records) / attempt.attempt_id
        self.folder = self.root / PAYLOAD
        self._lock = lock
        self._logs: dict[str, AppendLog] = {}
        self._unsynced: set[Path] = set()
        self._names = {folded(name): name for name in _names_below(self.folder)}

    def write(self, name: str, data: bytes) -> None:
        """Write a file of the record, whole and durable. Raises Trouble for a bad name or a bad disk."""
        path = self._place(name)
        write_whole(path, data)

    def keep(self, name: str, data: bytes) -> None:
        """Write a file whole, but let the disk take its time: `sync`, `step` and the seal make it durable.

        For the many small files of a step that is taken again if a power cut comes before its end.
        """
        path = self._place(name)
        with disk_trouble(path):
            part = write_part(path.parent, data, durable=False)
            with removed_on_failure(part):
                part.replace(path)
        self._unsynced.add(path)

    def append(self, name: str, data: bytes) -> None:
        """Add one line to a file of lines; when this returns, a kill cannot lose it."""
        self.log(name).append(data)

    def log(self, name: str) -> AppendLog:
        """Return the open log of that name, made if need be. It is closed with the attempt."""
        log = self._logs.get(name)
        if log is None or log.closed:
            log = self._logs[name] = AppendLog(self._place(name))
        return log

    def step(
        self, step: StepName, event: StepEvent, wrote: tuple[RecordPath, ...] = (), why: str = ""
    ) -> None:
        """Note what became of a step; everything written before it is durable first, then the note is."""
        self.sync()
        line = StepLine(step=step, event=event, at=self.clock.now(), wrote=wrote, why=why)
        log = self.log(STEPS_FILE)
        log.append(encode(line))
        log.sync()

    def steps(self) -> list[StepLine]:
        """Return all step lines, in order."""
        path = self.folder / STEPS_FILE
        return decode_lines(read_bytes(path), StepLine, path)[0] if path.exists() else []

    def last_event(self, step: StepName) -> StepEvent | None:
        """Return what was last noted of a step; None if it never began."""
        return next((line.event for line in reversed(self.steps()) if line.step is step), None)

    def sync(self) -> None:
        """Make everything written so far durable; Trouble if the disk refuses."""
        with disk_trouble(self.folder):
            for path in sorted(self._unsynced):
                sync_file(path)
            for folder in {path.parent for path in self._unsynced}:
                sync_folder(folder)
        self._unsynced.clear()
        for log in self._logs.values():
            if not log.closed:
                log.sync()

    def close_logs(self) -> None:
        """Bring all logs to the disk and close them; a later `append` opens them again."""
        logs, self._logs = self._logs, {}
        for log in logs.values():
            log.close()

    def close(self) -> None:
        """Leave the attempt open for another process to take up; a second close does nothing."""
        try:
            self.close_logs()
        finally:
            self._lock.release()

    def forget_lock(self) -> None:
        """Remove the lock's file and let go: the attempt is sealed, there is nothing left to lock."""
        self._lock.remove()

    def _place(self, name: str) -> Path:
        """Return where a file goes, its folder made; refuses bad names and names that would collide."""
        if name == ATTEMPT_FILE:
            raise ValueError("attempt.json is written once, when the attempt is opened")
        check_name(name)
        parts = name.split("/")
        for end in range(1, len(parts) + 1):
            prefix = "/".join(parts[:end])
            if self._names.setdefault(folded(prefix), prefix) != prefix:
                raise Trouble(
                    f"{prefix!r} and {self._names[folded(prefix)]!r} differ only by case",
                    self.folder,
                    "Give one of them another name.",
                )
        path = self.folder / name
        with disk_trouble(path):
            make_folders(path.parent)
        return path


def open_new(
    records: Path,
    *,
    unit_id: str,
    order_id: str,
    nonce: str,
    zone: str,
    simulated: bool,
    tool: Tool,
    clock: Clock,
) -> OpenAttempt:
    """Open the next attempt of a unit. A kill at any moment leaves no attempt, or this one, open.

    zone: the shop's, by its IANA name. Raises Trouble for a unit id that cannot name a folder, and for a
    disk that refuses.
    """
    with all_records(records):
        check_unit_id(records, unit_id)
        attempt = Attempt(
            attempt_id=uuid7(clock),
            number=_next_number(records, unit_id),
            unit_id=unit_id,
            order_id=order_id,
            nonce=nonce,
            zone=zone,
            simulated=simulated,
            tool=tool,
            opened=clock.now(),
        )
        return OpenAttempt(records, attempt, _create(records, attempt), clock)


def _create(records: Path, attempt: Attempt) -> Lock:
    """Let the attempt's folder appear in one rename, and return its lock."""
    folder = open_folder(records)
    draft = folder / f"{_NEW}{attempt.attempt_id}"
    with disk_trouble(folder):
        lock = Lock.take(_lock_file(records, attempt.attempt_id))
        try:
            make_folders(draft / PAYLOAD)
            write_whole(draft / PAYLOAD / ATTEMPT_FILE, encode_pretty(attempt))
            draft.rename(folder / attempt.attempt_id)
            sync_folder(folder)
        except BaseException:
            shutil.rmtree(draft, ignore_errors=True)
            lock.remove()
            raise
    return lock


def take_up(records: Path, attempt_id: str, clock: Clock) -> OpenAttempt:
    """Go on with an open attempt, also after a kill or a power cut.

    What an interrupted write or seal left behind is removed, and a torn last line of the steps is cut off.
    Raises Trouble if another process holds it (and says which), or if there is no such open attempt.
    """
    root = open_folder(records) / attempt_id
    if not is_attempt_id(attempt_id) or not root.is_dir():
        raise _not_open(records, attempt_id)
    try:
        with disk_trouble(root):
            lock = Lock.take(_lock_file(records, attempt_id))
    except Held as held:
        raise Trouble(
            f"the attempt is being written by {held.holder}",
            root,
            "Wait until it ends, or end it; then do this again.",
        ) from held
    try:
        return _taken_up(records, attempt_id, lock, clock)
    except BaseException:
        lock.release()
        raise


def _taken_up(records: Path, attempt_id: str, lock: Lock, clock: Clock) -> OpenAttempt:
    root = open_folder(records) / attempt_id
    if not root.is_dir():  # it was sealed while we looked
        raise _not_open(records, attempt_id)
    attempt = read_record(root / PAYLOAD / ATTEMPT_FILE, Attempt)
    if attempt.attempt_id != attempt_id:
        raise Trouble(
            "the folder holds another attempt than its name says", root, "Restore it from a good copy."
        )
    with disk_trouble(root):
        remove_leftovers(root)
    taken = OpenAttempt(records, attempt, lock, clock)
    if (taken.folder / STEPS_FILE).exists():
        taken.log(STEPS_FILE)  # opening it cuts off a torn last line
    return taken


def _not_open(records: Path, attempt_id: str) -> Trouble:
    return Trouble(
        f"there is no open attempt {attempt_id!r}",
        records,
        "It may be sealed already, or lie in another folder of records.",
    )


def find_open(records: Path, unit_id: str | None = None) -> list[Attempt]:
    """Return the attempts in progress, of one unit or of all, oldest first."""
    folders = [folder for folder in _folders(open_folder(records)) if is_attempt_id(folder.name)]
    attempts = [attempt for folder in folders if (attempt := _attempt_in(folder)) is not None]
    wanted = [attempt for attempt in attempts if unit_id in (None, attempt.unit_id)]
    return sorted(wanted, key=lambda attempt: (attempt.opened.utc, attempt.unit_id, attempt.number))


def _attempt_in(folder: Path) -> Attempt | None:
    try:
        return read_record(folder / PAYLOAD / ATTEMPT_FILE, Attempt)
    except Trouble:
        if folder.exists():
            raise
        return None  # it was sealed while we looked


@contextmanager
def all_records(records: Path) -> Iterator[None]:
    """Hold the lock under which attempts are numbered and sealed; leftovers of killed processes go first."""
    folder = open_folder(records)
    with disk_trouble(folder):
        make_folders(folder)
        try:
            lock = Lock.wait_for(folder / ".lock")
        except Held as held:
            raise Trouble(
                f"the records are held by {held.holder}",
                folder,
                "It should take a moment only: look whether it hangs.",
            ) from held
        with lock:
            _remove_unfinished(folder)
            yield


def _remove_unfinished(folder: Path) -> None:
    """Remove drafts of new attempts (only a holder of the lock makes one) and locks of attempts gone."""
    for entry in list(folder.iterdir()):
        if entry.name.startswith(_NEW):
            shutil.rmtree(entry)
        elif entry.suffix == ".lock" and is_attempt_id(entry.stem) and not (folder / entry.stem).exists():
            with suppress(Held):
                Lock.take(entry).remove()


def remove_leftovers(root: Path) -> None:
    """Remove temporary files, and tag files of a seal that did not come to its end. Raises OSError."""
    for folder, _, files in os.walk(root):
        for name in files:
            if name.startswith(PART) or (folder == str(root) and name in TAG_FILES):
                (Path(folder) / name).unlink()


def _next_number(records: Path, unit_id: str) -> int:
    # Open ones first: one that is sealed in between is then seen twice, never missed.
    numbers = [attempt.number for attempt in find_open(records, unit_id)]
    numbers += [number_of(folder.name) or 0 for folder in _folders(records / unit_id)]
    return max(numbers, default=0) + 1


def _folders(folder: Path) -> list[Path]:
    try:
        return sorted(entry for entry in folder.iterdir() if entry.is_dir())
    except FileNotFoundError:
        return []


def _lock_file(records: Path, attempt_id: str) -> Path:
    return open_folder(records) / f"{attempt_id}.lock"


def _names_below(folder: Path) -> Iterator[str]:
    for place in folder.rglob("*"):
        yield place.relative_to(folder).as_posix()


def sync_file(path: Path) -> None:
    """Make a file's bytes durable. Raises OSError."""
    descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
