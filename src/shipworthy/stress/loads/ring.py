"""A ring of transfers handed to the kernel (io_uring(7)): made by its two system calls, without a library."""

from __future__ import annotations

import ctypes
import errno
import mmap
import os
import struct
from typing import Any

import numpy as np

from shipworthy.stress.loads import ring_kernels as kernels

SETUP = 425  # io_uring_setup
OFF_SQ_RING, OFF_CQ_RING, OFF_SQES = 0, 0x8000000, 0x10000000
PARAMS_BYTES, FEATURES_AT, SQ_AT, CQ_AT = 120, 20, 40, 80
"""struct io_uring_params of <linux/io_uring.h>: ten words, then the offsets of both rings, ten each."""
SINGLE_MMAP = 1
READ, WRITE = 22, 23  # IORING_OP_READ and _WRITE, since Linux 5.6


class Ring:
    """A ring for at most `depth` transfers of one file. Raises OSError where the kernel refuses one.

    It refuses with ENOSYS (too old), EPERM (a container's filter, or `kernel.io_uring_disabled`), ENOMEM.
    """

    def __init__(self, file: int, depth: int) -> None:
        self._libc = ctypes.CDLL(None, use_errno=True)
        self._libc.syscall.restype = ctypes.c_long
        params = ctypes.create_string_buffer(PARAMS_BYTES)
        self._descriptor = self._libc.syscall(SETUP, ctypes.c_uint(depth), params)
        if self._descriptor < 0:
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number))
        self._maps: list[mmap.mmap] = []
        try:
            self.words = self._mapped(params.raw, file)
        except BaseException:
            self.close()
            raise
        self._marks, self._results = (np.zeros(depth, dtype=np.int64) for _ in range(2))
        self._queued = self._under_way = 0

    def begin(self, code: int, offset: int, address: int, size: int, mark: int) -> None:
        """Queue a transfer; `wait` hands it over."""
        kernels.queue(self.words, *(np.uint64(value) for value in (code, offset, address, size, mark)))
        self._queued += 1

    def hand_over(self) -> None:
        """Let the kernel begin what is queued."""
        while self._queued:
            self._enter(0)

    def wait(self) -> list[tuple[int, int]]:
        """Wait for at least one transfer; return mark and result (bytes, or minus the error) of all done."""
        while True:
            count = int(kernels.take(self.words, self._marks, self._results))
            if count:
                self._under_way -= count
                return list(zip(self._marks[:count].tolist(), self._results[:count].tolist(), strict=True))
            if not self._queued and not self._under_way:
                return []
            self._enter(1)

    def why_refused(self) -> OSError | None:
        """Return what the kernel says to a call after one that failed; None if that was a signal's doing."""
        self._libc.syscall(kernels.ENTER, self._descriptor, 0, 0, kernels.GETEVENTS, None, 0)
        number = ctypes.get_errno()
        return OSError(number, os.strerror(number)) if number not in (0, errno.EINTR, errno.EAGAIN) else None

    def close(self) -> None:
        for one in self._maps:
            one.close()
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def _enter(self, wait_for: int) -> None:
        ctypes.set_errno(0)
        taken = int(kernels.enter(self.words, self._queued, wait_for))
        if taken >= 0:
            self._queued -= taken
            self._under_way += taken
        elif (why := self.why_refused()) is not None:
            raise why

    def _mapped(self, params: bytes, file: int) -> Any:
        """Map both rings and the entries; return addresses and masks in the order of `ring_kernels`."""
        sq_entries, cq_entries = struct.unpack_from("<2I", params, 0)
        (features,) = struct.unpack_from("<I", params, FEATURES_AT)
        sq, cq = (struct.unpack_from("<7I", params, at) for at in (SQ_AT, CQ_AT))
        sq_bytes, cq_bytes = sq[6] + sq_entries * 4, cq[5] + cq_entries * 16
        single = bool(features & SINGLE_MMAP)
        rings = self._map(max(sq_bytes, cq_bytes) if single else sq_bytes, OFF_SQ_RING)
        completions = rings if single else self._map(cq_bytes, OFF_CQ_RING)
        entries = self._map(sq_entries * 64, OFF_SQES)
        words = np.zeros(kernels.RING_WORDS, dtype=np.uint64)
        words[kernels.FD], words[kernels.RING_FD] = file, self._descriptor
        words[kernels.SQ_TAIL], words[kernels.SQ_ARRAY] = rings + sq[1], rings + sq[6]
        words[kernels.SQES] = entries
        words[kernels.CQ_HEAD], words[kernels.CQ_TAIL] = completions + cq[0], completions + cq[1]
        words[kernels.CQES] = completions + cq[5]
        for name, at in ((kernels.SQ_MASK, rings + sq[2]), (kernels.CQ_MASK, completions + cq[2])):
            words[name] = ctypes.c_uint32.from_address(at).value
        return words

    def _map(self, size: int, offset: int) -> int:
        flags = mmap.MAP_SHARED | mmap.MAP_POPULATE
        one = mmap.mmap(self._descriptor, size, flags=flags, offset=offset)
        self._maps.append(one)
        return address_of(one)


def address_of(memory: mmap.mmap) -> int:
    """Return where a map begins."""
    pointer = ctypes.c_char.from_buffer(memory)
    address = ctypes.addressof(pointer)
    del pointer
    return address
