"""Memory of our own: a private anonymous map, huge pages proven, locked where allowed, addresses told."""

from __future__ import annotations

import contextlib
import ctypes
import mmap
import os
import struct
from pathlib import Path

HUGE_BYTES = 2 * 2**20
PAGE_BYTES = mmap.PAGESIZE


def round_down(size_bytes: int, step_bytes: int = HUGE_BYTES) -> int:
    return size_bytes // step_bytes * step_bytes


class Pages:
    """A map of `size_bytes`. Private and anonymous: a shared one takes the advice and gets no huge page."""

    def __init__(self, size_bytes: int) -> None:
        self.size_bytes = size_bytes
        self._map = mmap.mmap(-1, size_bytes, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
        self._libc = ctypes.CDLL(None, use_errno=True)
        self._libc.mlock.argtypes = self._libc.munlock.argtypes = [ctypes.c_void_p, ctypes.c_size_t]
        self._libc.madvise.argtypes = [ctypes.c_void_p, ctypes.c_size_t, ctypes.c_int]
        self._advise_huge()

    @property
    def buffer(self) -> mmap.mmap:
        return self._map

    def address(self) -> int:
        """Return where the map begins."""
        pointer = ctypes.c_char.from_buffer(self._map)
        address = ctypes.addressof(pointer)
        del pointer
        return address

    def lock(self, offset_bytes: int, size_bytes: int) -> str:
        """Keep pages in memory (mlock(2)). Returns the system's word for a refusal, else nothing."""
        if self._libc.mlock(self.address() + offset_bytes, size_bytes) == 0:
            return ""
        return os.strerror(ctypes.get_errno())

    def touch(self, offset_bytes: int, size_bytes: int) -> None:
        """Make the system give pages that could not be locked: by a write into each."""
        for at in range(offset_bytes, offset_bytes + size_bytes, PAGE_BYTES):
            self._map[at] = 0

    def give_back(self, keep_bytes: int) -> None:
        """Give the pages beyond `keep_bytes` back to the system; the map keeps its size but not its pages."""
        beyond = self.address() + keep_bytes, self.size_bytes - keep_bytes
        self._libc.munlock(*beyond)
        self._libc.madvise(*beyond, mmap.MADV_DONTNEED)
        self.size_bytes = keep_bytes

    def huge_bytes(self) -> int | None:
        """Return how much of the map lies in huge pages, as proc_pid_smaps(5) tells; None if it does not."""
        try:
            text = Path("/proc/self/smaps").read_text("ascii", "replace")
        except OSError:
            return None
        return parse_huge_bytes(text, self.address(), self.address() + self.size_bytes)

    def physical_address(self, offset_bytes: int) -> int | None:
        """Return the physical address of a byte of the map; None where the kernel does not tell.

        Source: proc_pid_pagemap(5), page frame number in bits 0 to 54; zero without CAP_SYS_ADMIN.
        """
        page, within = divmod(self.address() + offset_bytes, PAGE_BYTES)
        try:
            with open("/proc/self/pagemap", "rb") as pagemap:
                pagemap.seek(page * 8)
                (entry,) = struct.unpack("<Q", pagemap.read(8))
        except (OSError, struct.error):
            return None
        frame = entry & (1 << 55) - 1
        present = entry >> 63
        return frame * PAGE_BYTES + within if present and frame else None

    def close(self) -> None:
        self._map.close()

    def _advise_huge(self) -> None:
        with contextlib.suppress(OSError):  # a kernel without huge pages gives small ones
            self._map.madvise(mmap.MADV_HUGEPAGE)


def parse_huge_bytes(smaps: str, begin: int, end: int) -> int:
    """Return the sum of AnonHugePages, in bytes, of the maps that lie within [begin, end)."""
    total, inside = 0, False
    for line in smaps.splitlines():
        head, _, rest = line.partition(" ")
        low, dash, high = head.partition("-")
        if dash and not head.endswith(":"):
            inside = int(low, 16) < end and int(high, 16) > begin
        elif inside and head == "AnonHugePages:":
            total += int(rest.split()[0]) * 1024
    return min(total, end - begin)
