"""Write a pattern into an unnamed file of our own, read it back past the caches, compare."""

from __future__ import annotations

import ctypes
import errno
import fcntl
import mmap
import os
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shipworthy.machine.places import drive_holding
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Ground, Job, Note, Target, Wrong

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Words = NDArray[np.uint64]

UNKNOWN_DRIVE = "unknown drive"
WRITTEN, COMPARED = "bytes written", "bytes read and compared"
PIECE_BYTES = 4 * 2**20
FILE_MOST_BYTES = 2**30  # written again with another pattern while the budget lasts
BARE_PIECES = 8
BLOCK_S = 0.4
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def file_bytes(budget_bytes: int, free_bytes: int, reserve_bytes: int) -> int:
    """Return the size of the file: within the write budget, leaving the reserve free, in whole pieces.

    A budget of some size keeps a little for bare writing, which the limit is measured by.
    """
    bare_bytes = BARE_PIECES * PIECE_BYTES
    within_bytes = budget_bytes - bare_bytes if budget_bytes >= 4 * bare_bytes else budget_bytes
    return max(0, min(within_bytes, free_bytes - reserve_bytes, FILE_MOST_BYTES)) // PIECE_BYTES * PIECE_BYTES


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
    return UnnamedFile(descriptor, _go_direct(descriptor), how)


class StorageWork:
    """Passes over the file: write all with a pattern, then read and compare all; later only read."""

    def __init__(self, job: Job) -> None:
        import numpy as np

        from shipworthy.stress.loads import pattern_kernels

        self._np, self._kernels, self._job = np, pattern_kernels, job
        folder = Path(job.work_folder)
        free_bytes = resources.free_disk_bytes(folder)
        size_bytes = file_bytes(job.request.write_budget_bytes, free_bytes, job.disk_reserve_bytes)
        if not size_bytes:
            mend = "Make room, or lower the plan's disk reserve."
            raise Trouble(f"only {free_bytes >> 20} MiB of disk space are free", folder, mend)
        self._seed = seed_of(job.purpose)
        self._file = open_unnamed(folder, size_bytes)
        self._pieces, self._budget_bytes = size_bytes // PIECE_BYTES, job.request.write_budget_bytes
        self._maps = [mmap.mmap(-1, PIECE_BYTES) for _ in range(2)]
        self.buffers: list[Words] = [np.frombuffer(m, dtype=np.uint64) for m in self._maps]
        self._pool = ThreadPoolExecutor(1)
        self._writing, self._next, self._pass = True, 0, 0
        for buffer in self.buffers:
            pattern_kernels.fill(buffer, np.uint64(self._seed))

    @property
    def descriptor(self) -> int:
        """The file under test."""
        return self._file.descriptor

    @property
    def size_bytes(self) -> int:
        return self._pieces * PIECE_BYTES

    @property
    def writing(self) -> bool:
        """Whether the pass at hand writes; else it reads and compares."""
        return self._writing

    def block(self) -> Block:
        began_s = time.perf_counter()
        done, wrong = (self._write_some if self._writing else self._read_some)(began_s + BLOCK_S)
        writing = self._writing
        if self._next == self._pieces:
            wrong += self._end_pass()
        size_bytes = done * PIECE_BYTES
        return Block(
            work=float(size_bytes),
            seconds=time.perf_counter() - began_s,
            checks=0 if writing else done,
            wrong=len(wrong),
            shown=tuple(wrong),
            written_bytes=size_bytes if writing else 0,
            unit_of_work=WRITTEN if writing else COMPARED,
        )

    def bare_block(self) -> Block | None:
        """Write or read a few pieces with nothing made and nothing compared."""
        count = min(BARE_PIECES, self._pieces)
        if not self._writing:
            return self._bare(count, COMPARED, self._read)
        if self._next or self._budget_bytes < self.size_bytes + count * PIECE_BYTES:
            return None  # only before a pass, which writes over it, and only if the budget has room for it
        self._budget_bytes -= count * PIECE_BYTES
        return self._bare(count, WRITTEN, self._write)

    def again(self, number: int) -> Answer | None:
        return None

    def detail(self) -> tuple[Value, ...]:
        return values(
            file_bytes=self.size_bytes,
            piece_bytes=PIECE_BYTES,
            file=self._file.how,
            caches="passed by (O_DIRECT)" if self._file.direct else "dropped by advice only",
            budget_left_bytes=self._budget_bytes,
        )

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        self._pool.shutdown()
        os.close(self._file.descriptor)
        self.buffers = []
        for buffer in self._maps:
            buffer.close()

    def key(self, piece: int) -> Any:
        """Return the key of a piece's pattern in this pass."""
        return self._np.uint64(self._kernels.block_key(self._seed, self._pass, piece * PIECE_BYTES))

    def _write_some(self, until_s: float) -> tuple[int, list[Wrong]]:
        """Write pieces; the next one is made by a second thread while one is under way."""
        done, wrong = 0, []
        made = self._make(self._next)
        while True:
            made.result()
            piece, self._next = self._next, self._next + 1
            more = self._next < self._pieces and time.perf_counter() < until_s
            if more:
                made = self._make(self._next)
            wrong += self._try(self._write, piece, "writing failed")
            done += 1
            if not more:
                break
        self._budget_bytes -= done * PIECE_BYTES
        return done, wrong

    def _make(self, piece: int) -> Future[None]:
        return self._pool.submit(self._kernels.fill, self.buffers[piece % 2], self.key(piece))

    def _read_some(self, until_s: float) -> tuple[int, list[Wrong]]:
        """Read pieces; one is compared by a second thread while the next one is under way."""
        done, wrong, compared = 0, [], None
        while self._next < self._pieces and (not done or time.perf_counter() < until_s):
            piece, self._next = self._next, self._next + 1
            failed = self._try(self._read, piece, "reading failed")
            if compared is not None:
                wrong += compared.result()
            compared = None if failed else self._pool.submit(self._compare, piece)
            wrong += failed
            done += 1
        if compared is not None:
            wrong += compared.result()
        return done, wrong

    def _compare(self, piece: int) -> list[Wrong]:
        block, key = self.buffers[piece % 2], self.key(piece)
        count = int(self._kernels.count_wrong(block, key))
        if not count:
            return []
        index = int(self._kernels.first_wrong(block, key))
        return [
            Wrong(
                what="data read back from the drive",
                where=f"offset 0x{piece * PIECE_BYTES + index * 8:x}, {count} wrong words in this piece",
                expected=f"0x{self._kernels.word_at(int(key), index):016x}",
                found=f"0x{int(block[index]):016x}",
            )
        ]

    def _try(self, transfer: Callable[[int], None], piece: int, what: str) -> list[Wrong]:
        """Move a piece. What the drive refuses is a wrong result; no room and no right are Trouble."""
        try:
            transfer(piece)
        except OSError as error:
            if error.errno in NO_ROOM:
                raise Trouble("the drive is full", self._job.work_folder, "Make room on it.") from error
            where = f"offset 0x{piece * PIECE_BYTES:x}"
            return [Wrong(what=what, where=where, found=error.strerror or str(error))]
        return []

    def _write(self, piece: int) -> None:
        view, done = memoryview(self._maps[piece % 2]), 0
        while done < PIECE_BYTES:
            done += os.pwrite(self.descriptor, view[done:], piece * PIECE_BYTES + done)

    def _read(self, piece: int) -> None:
        if not self._file.direct:
            os.posix_fadvise(self.descriptor, piece * PIECE_BYTES, PIECE_BYTES, os.POSIX_FADV_DONTNEED)
        view, done = memoryview(self._maps[piece % 2]), 0
        while done < PIECE_BYTES:
            got = os.preadv(self.descriptor, [view[done:]], piece * PIECE_BYTES + done)
            if not got:
                raise OSError(errno.EIO, "the file ends too early")
            done += got

    def _bare(self, count: int, unit: str, transfer: Callable[[int], None]) -> Block:
        """Move pieces, for reading from elsewhere than what is read next."""
        first = self._next if self._writing else self._next + self._pieces // 2
        began_s = time.perf_counter()
        for number in range(count):
            self._try(transfer, (first + number) % self._pieces, "")
        seconds = time.perf_counter() - began_s
        size_bytes = count * PIECE_BYTES
        written_bytes = size_bytes if self._writing else 0
        return Block(work=float(size_bytes), seconds=seconds, written_bytes=written_bytes, unit_of_work=unit)

    def _end_pass(self) -> list[Wrong]:
        """After writing, read; after reading, write a new pattern while the budget has room for all of it."""
        self._next = 0
        if self._writing:
            self._writing = False
            return self._try(lambda _: os.fdatasync(self.descriptor), 0, "flushing failed")
        if self._budget_bytes >= self.size_bytes:
            self._writing, self._pass = True, self._pass + 1
        return []


class StorageLoad:
    protocol = PROTOCOL
    name = "storage"
    about = About(
        stresses="the drive that holds the work folder, its link and its file system",
        verifies="every word read back, against a pattern made of seed, pass and offset",
        slips_through=(
            "a wrong word is always seen; but a drive may answer from a cache of its own, so the medium "
            "itself is looked at only when more was written than that cache holds"
        ),
        unit_of_work=WRITTEN,
        limit="the same transfers of a few pieces between the others, nothing made and nothing compared",
        power="the drive at full transfer",
        cleans_up="the file has no name from the start, so nothing is left whatever ends the load",
    )

    def check(self, request: LoadRequest) -> None:
        if request.write_budget_bytes < PIECE_BYTES:
            what = f"the load storage may write {request.write_budget_bytes} bytes only"
            mend = f"Give it a write_budget_bytes of at least {PIECE_BYTES}."
            raise Trouble(what, "burn-in plan", mend)

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        """Return one process for each drive; of two folders on one drive the first counts."""
        drives: dict[str, Path] = {}
        for folder in map(Path, ground.work_folders):
            drives.setdefault(drive_holding(root, folder) or UNKNOWN_DRIVE, folder)
        return tuple(
            Target(name=place, work_folder=str(folder), drive=ground.drive_at(place))
            for place, folder in drives.items()
        )

    def open(self, job: Job) -> StorageWork:
        return StorageWork(job)


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


def _set_aside(descriptor: int, size_bytes: int, folder: Path) -> None:
    """Reserve the room (fallocate(2)), so that a full drive is known before the first byte is written.

    Called directly: the C library's posix_fallocate would write the whole file where this is not offered.
    """
    libc = ctypes.CDLL(None, use_errno=True)
    libc.fallocate.argtypes = [ctypes.c_int, ctypes.c_int, ctypes.c_int64, ctypes.c_int64]
    if libc.fallocate(descriptor, 0, 0, size_bytes) and ctypes.get_errno() in NO_ROOM:
        what = f"{size_bytes >> 20} MiB of disk space are refused"
        raise Trouble(what, folder, "Make room, or lower the plan's write budget.")


def _go_direct(descriptor: int) -> bool:
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


LOAD = StorageLoad()
