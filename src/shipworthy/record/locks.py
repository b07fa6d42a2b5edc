"""One writer: an flock(2) on a file that names the process holding it. The kernel frees it on any death."""

from __future__ import annotations

import errno
import fcntl
import os
import time
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

_TRIES, _BETWEEN_TRIES_S = 400, 0.025


class Held(Exception):
    """Somebody else holds the lock. holder_pid: who, if the lock file says."""

    def __init__(self, path: Path, holder_pid: int | None) -> None:
        super().__init__(path)
        self.holder_pid = holder_pid

    @property
    def holder(self) -> str:
        return "another process" if self.holder_pid is None else f"the process with pid {self.holder_pid}"


class Lock:
    """A held lock. Use `take` or `wait_for`; children started by exec do not inherit it."""

    def __init__(self, path: Path, descriptor: int) -> None:
        self.path, self._descriptor = path, descriptor

    @classmethod
    def take(cls, path: Path) -> Self:
        """Take the lock at once, or raise Held. Raises OSError if the file cannot be made."""
        while True:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o666)
            try:
                fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                os.close(descriptor)
                if error.errno not in (errno.EWOULDBLOCK, errno.EACCES):
                    raise
                raise Held(path, _pid_in(path)) from error
            if _is_still(path, descriptor):
                _write_pid(descriptor)
                return cls(path, descriptor)
            os.close(descriptor)  # its last holder removed the file between our open and our lock

    @classmethod
    def wait_for(cls, path: Path) -> Self:
        """Take the lock within about ten seconds, or raise Held."""
        for _ in range(_TRIES):
            with suppress(Held):
                return cls.take(path)
            time.sleep(_BETWEEN_TRIES_S)
        return cls.take(path)

    def remove(self) -> None:
        """Remove the lock's file while it is held, then let go."""
        with suppress(OSError):
            self.path.unlink()
        self.release()

    def release(self) -> None:
        """Let go; a second time does nothing."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def _is_still(path: Path, descriptor: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(descriptor))
    except FileNotFoundError:
        return False


def _write_pid(descriptor: int) -> None:
    with suppress(OSError):  # on a full disk the lock is held all the same, only without a name
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, b"%d\n" % os.getpid(), 0)


def _pid_in(path: Path) -> int | None:
    try:
        return int(path.read_text("ascii"))
    except (OSError, ValueError):
        return None
