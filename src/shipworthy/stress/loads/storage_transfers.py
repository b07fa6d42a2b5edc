"""Several transfers of a piece under way: by a ring of the kernel's, or by threads where it refuses."""

from __future__ import annotations

import mmap
import os
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import suppress
from typing import TYPE_CHECKING, Protocol

import numpy as np

from shipworthy.stress.loads.pages import HUGE_BYTES
from shipworthy.stress.loads.ring import READ, WRITE, Ring, address_of

if TYPE_CHECKING:
    from numpy.typing import NDArray


DEPTH = 4
EIO, EINVAL = 5, 22


class Buffers:
    """Page-aligned buffers, as words, in huge pages where there are any: a piece is then one segment of a
    request, and not one for each of its 256 small pages."""

    def __init__(self, count: int, size_bytes: int) -> None:
        whole_bytes = -(-count * size_bytes // HUGE_BYTES) * HUGE_BYTES
        self._map = mmap.mmap(-1, whole_bytes, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
        with suppress(OSError):
            self._map.madvise(mmap.MADV_HUGEPAGE)
        self.size_bytes = size_bytes
        self.words: NDArray[np.uint64] = np.frombuffer(
            self._map, dtype=np.uint64, count=count * size_bytes // 8
        ).reshape(count, -1)
        self.words[:] = 0  # brought in before the first transfer
        self.views = [memoryview(self._map)[n * size_bytes : (n + 1) * size_bytes] for n in range(count)]
        self.address = address_of(self._map)

    def close(self) -> None:
        for view in self.views:
            view.release()
        self.words = np.zeros((0, 0), dtype=np.uint64)
        self._map.close()


class Transfers(Protocol):
    """Begin moves between a buffer and a place of the file; wait for some to be done."""

    @property
    def how(self) -> str: ...

    def begin(self, slot: int, writing: bool, offset_bytes: int) -> None: ...

    def wait(self) -> list[tuple[int, int]]:
        """Return buffer and result of what is done: bytes moved, or minus the error's number."""

    def close(self) -> None: ...


class RingTransfers:
    how = "io_uring"

    def __init__(self, descriptor: int, buffers: Buffers, depth: int) -> None:
        self._ring, self._buffers = Ring(descriptor, depth), buffers

    def begin(self, slot: int, writing: bool, offset_bytes: int) -> None:
        size = self._buffers.size_bytes
        code = WRITE if writing else READ
        self._ring.begin(code, offset_bytes, self._buffers.address + slot * size, size, slot)
        self._ring.hand_over()

    def wait(self) -> list[tuple[int, int]]:
        return self._ring.wait()

    def close(self) -> None:
        self._ring.close()


class ThreadTransfers:
    def __init__(self, descriptor: int, buffers: Buffers, depth: int, why: str) -> None:
        self.how = f"threads (io_uring: {why})"
        self._descriptor, self._buffers = descriptor, buffers
        self._pool = ThreadPoolExecutor(depth)
        self._under_way: dict[Future[int], int] = {}

    def begin(self, slot: int, writing: bool, offset_bytes: int) -> None:
        self._under_way[self._pool.submit(self._move, slot, writing, offset_bytes)] = slot

    def wait(self) -> list[tuple[int, int]]:
        done, _ = wait(self._under_way, return_when=FIRST_COMPLETED)
        return [(self._under_way.pop(one), one.result()) for one in done]

    def close(self) -> None:
        self._pool.shutdown()

    def _move(self, slot: int, writing: bool, offset_bytes: int) -> int:
        view = self._buffers.views[slot]
        try:
            if writing:
                return os.pwrite(self._descriptor, view, offset_bytes)
            return os.preadv(self._descriptor, [view], offset_bytes)
        except OSError as error:
            return -(error.errno or EIO)


def transfers_for(descriptor: int, buffers: Buffers, depth: int) -> Transfers:
    """Return a ring that has read the file once; threads where the kernel refuses one or is too old."""
    try:
        ring = RingTransfers(descriptor, buffers, depth)
    except OSError as error:
        return ThreadTransfers(descriptor, buffers, depth, error.strerror or str(error))
    ring.begin(0, False, 0)
    if ring.wait()[0][1] == -EINVAL:  # before Linux 5.6 it has no plain reads
        ring.close()
        return ThreadTransfers(descriptor, buffers, depth, "too old")
    return ring
