"""Files that appear whole, logs whose written lines are never lost, and names that are never replaced."""

from __future__ import annotations

import ctypes
import errno
import os
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shipworthy.model.base import Trouble
from shipworthy.record.closing import Closing
from shipworthy.record.names import PART

SYNC_EVERY_S = 1.0
_CHUNK_BYTES = 65536
_RENAME_NOREPLACE = 1  # linux/fs.h
_AT_FDCWD = -100  # linux/fcntl.h


@contextmanager
def disk_trouble(where: object) -> Iterator[None]:
    """Turn what the system refuses into Trouble: one sentence, and how to mend it."""
    try:
        yield
    except OSError as error:
        raise trouble_of(error, where) from error


def trouble_of(error: OSError, where: object) -> Trouble:
    """Return the Trouble that an error of the system stands for."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return Trouble(
            "the disk is full", where, "Make room and do it again; nothing written before is lost."
        )
    if error.errno == errno.EROFS:
        return Trouble(
            "the disk is read-only", where, "Mount it for writing, or name a folder on another disk."
        )
    if error.errno in (errno.EACCES, errno.EPERM):
        return Trouble("this account may not write there", where, "Change the folder's owner or use another.")
    return Trouble(f"cannot write: {error.strerror}", where, "Check the disk and the folder.")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, also after a power cut.

    Temporary name in the same folder, fsync, rename over what was there, fsync of the folder. Raises
    Trouble for a read-only or full disk; then the old file is as it was and no temporary file stays.
    """
    with disk_trouble(path):
        part = write_part(path.parent, data)
        with removed_on_failure(part):
            part.replace(path)
        sync_folder(path.parent)


def write_part(folder: Path, data: bytes, *, mode: int = 0o666, durable: bool = True) -> Path:
    """Write a file under a temporary name and return that; the caller renames it. Raises OSError."""
    part = folder / f"{PART}{secrets.token_hex(8)}"
    with removed_on_failure(part):
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        try:
            _write_all(descriptor, data)
            if durable:
                os.fsync(descriptor)
        finally:
            os.close(descriptor)
    return part


@contextmanager
def removed_on_failure(part: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise


def _write_all(descriptor: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable. Raises OSError.

    Some network and FUSE file systems cannot sync a folder, and say EINVAL: there is no more to do then.
    """
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(descriptor)


def make_folders(folder: Path) -> None:
    """Make a folder and those above it, each durable in the one above. Raises OSError."""
    if folder.is_dir():
        return
    make_folders(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def rename_no_replace(old: Path, new: Path) -> None:
    """Rename a file or folder; raises FileExistsError if the new name is taken, OSError otherwise.

    renameat2(2) does this in one step. Where the file system cannot, the name is looked up first: the
    caller holds a lock against our own kind.
    """
    renameat2 = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if renameat2 is not None:
        answer = renameat2(_AT_FDCWD, os.fsencode(old), _AT_FDCWD, os.fsencode(new), _RENAME_NOREPLACE)
        code = ctypes.get_errno()
        if answer == 0:
            return
        if code not in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
            raise OSError(code, os.strerror(code), str(old), None, str(new))
    _rename_after_looking(old, new)


def _rename_after_looking(old: Path, new: Path) -> None:
    if os.path.lexists(new):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(new))
    old.rename(new)


class AppendLog(Closing):
    """A file of lines that only grows.

    When `append` has returned, the line is with the kernel: a kill of this process cannot lose it. A
    thread of its own calls fdatasync each second, so a power cut costs at most the last second and a slow
    disk stalls that thread, not the caller. Opening a log cuts off a torn last line.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._unsynced = False
        self._sync_error: OSError | None = None
        with disk_trouble(path):
            self._descriptor = _open_log(path)
        self._syncer = threading.Thread(target=self._sync_each_second, name=f"sync {path.name}", daemon=True)
        self._syncer.start()

    @property
    def closed(self) -> bool:
        return self._descriptor < 0

    def append(self, data: bytes) -> None:
        """Add one line; its newline is added where it has none.

        Raises Trouble when the disk refuses; the log then ends at the last whole line, as before.
        Raises ValueError for an empty line, for more than one line, and on a closed log: our own bugs.
        """
        line = data if data.endswith(b"\n") else data + b"\n"
        if len(line) == 1 or b"\n" in line[:-1]:
            raise ValueError("a log takes one line at a time")
        with self._lock, disk_trouble(self.path):
            self._refuse_if_broken()
            self._write_line(line)
            self._unsynced = True

    def sync(self) -> None:
        """Return when all lines are on the disk; Trouble if the disk refuses."""
        with self._lock, disk_trouble(self.path):
            self._refuse_if_broken()
            os.fdatasync(self._descriptor)
            self._unsynced = False

    def close(self) -> None:
        """Bring all lines to the disk and close; a second close does nothing."""
        self._stop.set()
        self._syncer.join()
        with self._lock, disk_trouble(self.path):
            if self.closed:
                return
            descriptor, self._descriptor = self._descriptor, -1
            try:
                os.fdatasync(descriptor)
            finally:
                os.close(descriptor)
            if self._sync_error is not None:
                raise self._sync_error

    def _write_line(self, line: bytes) -> None:
        before = os.fstat(self._descriptor).st_size
        try:
            _write_all(self._descriptor, line)  # one write(2), unless the disk gets full within the line
        except OSError:
            os.ftruncate(self._descriptor, before)
            raise

    def _refuse_if_broken(self) -> None:
        if self.closed:
            raise ValueError(f"the log {self.path.name} is closed")
        if self._sync_error is not None:
            raise self._sync_error

    def _sync_each_second(self) -> None:
        while not self._stop.wait(SYNC_EVERY_S):
            if self._unsynced:
                # Before the call: a line that comes during it is synced by the next one.
                self._unsynced = False
                try:
                    os.fdatasync(self._descriptor)
                except OSError as error:
                    # The kernel tells an error once and then forgets it: keep it for whoever appends next.
                    self._sync_error = error
                    return


def _open_log(path: Path) -> int:
    is_new = not path.exists()
    descriptor = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_NOFOLLOW, 0o666)
    try:
        if is_new:
            sync_folder(path.parent)
        else:
            _cut_torn_line(descriptor)
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


def _cut_torn_line(descriptor: int) -> None:
    size = end = os.fstat(descriptor).st_size
    while end > 0:
        start = max(0, end - _CHUNK_BYTES)
        newline = os.pread(descriptor, end - start, start).rfind(b"\n")
        if newline >= 0:
            end = start + newline + 1
            break
        end = start
    if end < size:
        os.ftruncate(descriptor, end)
        os.fsync(descriptor)
