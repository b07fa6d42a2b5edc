"""A file of our own that no name leads to: made, set aside, past the caches, given back."""

from __future__ import annotations

import ctypes
import errno
import fcntl
import mmap
import os
import struct
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from shipworthy.model.base import Trouble

NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
FIEMAP, FIEMAP_BYTES, EXTENT_BYTES = 0xC020660B, 32, 56  # FS_IOC_FIEMAP, <linux/fiemap.h>
FITRIM = 0xC0185879  # <linux/fs.h>
EXTENTS_MOST = 64  # asked for at once


@dataclass(frozen=True)
class UnnamedFile:
    """A file that no name leads to: whatever ends us, nothing is left. direct: past the page cache."""

    descriptor: int
    direct: bool
    how: str


def open_unnamed(folder: Path, size_bytes: int) -> UnnamedFile:
    """Return an unnamed file with that much room set aside. Trouble if the folder does not allow it."""
    try:
        descriptor, how = _unnamed(folder)
    except OSError as error:
        mend = "Give a work folder that can be written, on the drive that is to be tested."
        raise Trouble(f"no file can be made: {error.strerror}", folder, mend) from error
    try:
        _set_aside(descriptor, size_bytes, folder)
    except Trouble:
        os.close(descriptor)
        raise
    return UnnamedFile(descriptor, go_direct(descriptor), how)


def give_back(descriptor: int, folder: Path, size_bytes: int, begin_bytes: int = 0) -> None:
    """Free the file's blocks from `begin_bytes` on, and tell the drive so where the account may (FITRIM needs
    CAP_SYS_ADMIN).

    The file is cut, so that its blocks are free at once, not when the last descriptor goes. A file system
    passes that on to the drive by itself only if it is mounted with `discard`; so the places where the file
    lay are trimmed, and of them only what is free. Whatever is refused here is left to the system's own
    trimming.
    """
    extents = list(extents_of(descriptor, begin_bytes, size_bytes - begin_bytes))
    try:
        os.ftruncate(descriptor, begin_bytes)
        os.fsync(descriptor)  # a freed block can be trimmed only when the journal has it
        folder_descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except OSError:
        return
    try:
        for extent in extents:
            _trim(folder_descriptor, extent, begin_bytes)
    except OSError:
        pass
    finally:
        os.close(folder_descriptor)


def _trim(folder_descriptor: int, extent: Extent, begin_bytes: int) -> None:
    """Trim what of an extent lay behind `begin_bytes` of the file."""
    kept_bytes = max(0, begin_bytes - extent.logical)
    begin, length = extent.physical + kept_bytes, extent.length - kept_bytes
    fcntl.ioctl(folder_descriptor, FITRIM, struct.pack("<3Q", begin, length, 0))


class Extent(NamedTuple):
    """A stretch of a file that lies in one piece: offset in the file, offset on its device, length; bytes."""

    logical: int
    physical: int
    length: int


def extents_of(descriptor: int, offset_bytes: int, size_bytes: int) -> Iterator[Extent]:
    """Yield the extents that hold these bytes of a file.

    None where the file system does not tell, or not exactly (encoded or not yet placed: flags 0x2 to 0x8).
    """
    end = offset_bytes + size_bytes
    while offset_bytes < end:
        request = bytearray(FIEMAP_BYTES + EXTENTS_MOST * EXTENT_BYTES)
        struct.pack_into("<QQIIII", request, 0, offset_bytes, end - offset_bytes, 0, 0, EXTENTS_MOST, 0)
        try:
            fcntl.ioctl(descriptor, FIEMAP, request)
        except OSError:
            return
        (mapped,) = struct.unpack_from("<I", request, 20)
        for number in range(mapped):
            at = FIEMAP_BYTES + number * EXTENT_BYTES
            extent = Extent(*struct.unpack_from("<3Q", request, at))
            (flags,) = struct.unpack_from("<I", request, at + 40)
            if not flags & 0xE:
                yield extent
            offset_bytes = max(offset_bytes, extent.logical + extent.length)
        if mapped < EXTENTS_MOST:
            return


def device_offset(descriptor: int, offset_bytes: int) -> int | None:
    """Return where a byte of the file lies on its file system's device; None where that is not told."""
    for extent in extents_of(descriptor, offset_bytes, 1):
        if extent.logical <= offset_bytes < extent.logical + extent.length:
            return extent.physical + offset_bytes - extent.logical
    return None


def shortage_bytes(descriptor: int, size_bytes: int, reserve_bytes: int) -> int:
    """Return how much less than the reserve would be free with all of the file written; 0 if it is not.

    What is not set aside yet (where fallocate is not offered) counts as taken.
    """
    answer = os.fstatvfs(descriptor)
    to_come = max(0, size_bytes - os.fstat(descriptor).st_blocks * 512)
    return max(0, reserve_bytes + to_come - answer.f_bavail * answer.f_frsize)


def go_direct(descriptor: int) -> bool:
    """Ask for transfers past the page cache (O_DIRECT, open(2)); return whether they really work here."""
    flags = fcntl.fcntl(descriptor, fcntl.F_GETFL)
    try:
        fcntl.fcntl(descriptor, fcntl.F_SETFL, flags | os.O_DIRECT)
        with mmap.mmap(-1, mmap.PAGESIZE) as page:
            os.preadv(descriptor, [page], 0)
    except OSError:
        fcntl.fcntl(descriptor, fcntl.F_SETFL, flags)
        return False
    return True


def _unnamed(folder: Path) -> tuple[int, str]:
    """Open a file without a name (O_TMPFILE), or take its name away at once where that is not offered."""
    try:
        return os.open(folder, os.O_TMPFILE | os.O_RDWR, 0o600), "unnamed (O_TMPFILE)"
    except OSError as error:
        if error.errno not in (errno.EOPNOTSUPP, errno.EISDIR, errno.EINVAL):
            raise
    descriptor, name = tempfile.mkstemp(prefix="burn-in-", dir=folder)
    Path(name).unlink()
    return descriptor, "unlinked at once"


def _libc() -> ctypes.CDLL:
    libc = ctypes.CDLL(None, use_errno=True)
    libc.fallocate.argtypes = [ctypes.c_int, ctypes.c_int, ctypes.c_int64, ctypes.c_int64]
    return libc


def _set_aside(descriptor: int, size_bytes: int, folder: Path) -> None:
    """Reserve the room (fallocate(2)), so that a full drive is known before the first byte is written.

    Called directly: the C library's posix_fallocate would write the whole file where this is not offered.
    """
    if _libc().fallocate(descriptor, 0, 0, size_bytes) and ctypes.get_errno() in NO_ROOM:
        what = f"{size_bytes >> 20} MiB of disk space are refused"
        raise Trouble(what, folder, "Make room, or lower the plan's write budget.")
