"""A file that is read again and again: a sensor's value, a counter.

On a live machine the descriptor stays open: sysfs and proc make their text anew for each read at offset 0
(Documentation/filesystems/sysfs.rst). A recorded or pretend machine's files are replaced by rename: the file
that is open then has lost its name, which its inode tells (links, time of change); the name is opened anew.
"""

from __future__ import annotations

import errno
import os
import stat

from shipworthy.machine.capture.files import resolve
from shipworthy.machine.root import Root

MOST_VALUE_BYTES = 4096
_GONE = {errno.ENODEV, errno.ESTALE, errno.ENXIO, errno.EBADF}


class ValueFile:
    """One such file. Not for use by two threads at once.

    keep: whether the descriptor may stay open between two reads; a process has a bounded number of them.
    """

    def __init__(
        self, root: Root, locator: str, *, most_bytes: int = MOST_VALUE_BYTES, keep: bool = True
    ) -> None:
        self._root, self._locator, self._most_bytes, self._keep = root, locator, most_bytes, keep
        self._path = os.fspath(root.path(locator))
        self._descriptor = -1
        self._named = (0, 0)

    def data(self) -> bytes:
        """Return what the file holds now; nothing if it is not there, refuses, or is no regular file."""
        try:
            return self._read()
        except OSError as error:
            if self._descriptor < 0 or error.errno not in _GONE:
                return b""
        self.close()
        try:
            return self._read()  # a driver that was loaded anew has a new file under the old name
        except OSError:
            return b""

    def text(self) -> str:
        """Return the same as text without surrounding space."""
        return self.data().decode("ascii", "replace").strip()

    def close(self) -> None:
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __del__(self) -> None:
        self.close()

    def _read(self) -> bytes:
        if self._descriptor >= 0 and not self._root.live:
            found = os.fstat(self._descriptor)
            if (found.st_nlink, found.st_ctime_ns) != self._named:
                self.close()
        if self._descriptor < 0:
            self._open()
        try:
            return os.pread(self._descriptor, self._most_bytes, 0)
        finally:
            if not self._keep:
                self.close()

    def _open(self) -> None:
        """Pipes and devices, which could wait for ever, and what leads out of a recorded machine are not
        opened: they are looked at (O_PATH) before."""
        if resolve(self._root, self._locator) is None:
            raise OSError(errno.ENOENT, "not in this machine's folder")
        handle = os.open(self._path, os.O_PATH | os.O_CLOEXEC)
        try:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                raise OSError(errno.EINVAL, "not a regular file")
            self._named = (found.st_nlink, found.st_ctime_ns)
            flags = os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC
            self._descriptor = os.open(f"/proc/self/fd/{handle}", flags)
        finally:
            os.close(handle)
