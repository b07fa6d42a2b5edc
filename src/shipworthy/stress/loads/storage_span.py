"""A stretch of bytes under test, of a file or of a whole drive: written, read, compared, piece by piece."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from shipworthy.model.base import Trouble
from shipworthy.stress.loads import pattern_kernels as kernels
from shipworthy.stress.loads.storage import PIECE_BYTES
from shipworthy.stress.loads.storage_faults import BLOCK_BYTES, Pattern, examine, first_unreadable
from shipworthy.stress.loads.storage_file import NO_ROOM
from shipworthy.stress.loads.storage_random import DEPTH as RANDOM_DEPTH
from shipworthy.stress.loads.storage_random import RandomReads
from shipworthy.stress.loads.storage_transfers import DEPTH, EIO, Buffers, transfers_for
from shipworthy.stress.protocol import Wrong

EXAMINED_MOST = 16  # of random reads in one stretch; all are counted
BLOCKS = PIECE_BYTES // BLOCK_BYTES


@dataclass
class Done:
    """What a stretch of work came to. wrong: blocks of 4 KiB; units: pieces, or random reads."""

    units: int = 0
    wrong: int = 0
    shown: list[Wrong] = field(default_factory=list)

    def add(self, wrong: int, shown: list[Wrong]) -> None:
        self.wrong += wrong
        self.shown += shown


@dataclass(frozen=True)
class Place:
    """What is under test. drive: whether offsets are the drive's own. named: for Trouble."""

    descriptor: int
    size_bytes: int
    direct: bool
    named: str
    drive: bool = False
    sector_bytes: int = 512


class Span:
    """Whole pieces of a file, several under way at once."""

    def __init__(self, place: Place, purpose: str) -> None:
        self.place, self.purpose = place, purpose
        self.pieces = place.size_bytes // PIECE_BYTES
        self.pattern = Pattern.of(purpose, 0, PIECE_BYTES)
        self.buffers = Buffers(DEPTH + 1, PIECE_BYTES)
        self._moves = transfers_for(place.descriptor, self.buffers, DEPTH)
        self.random = RandomReads(place.descriptor, self.size_bytes, self.pattern.seed)

    @property
    def size_bytes(self) -> int:
        return self.pieces * PIECE_BYTES

    @property
    def how(self) -> str:
        return f"{DEPTH} pieces under way, {self._moves.how}"

    @property
    def random_how(self) -> str:
        return f"{RANDOM_DEPTH} reads under way, {self.random.how}"

    def shorten(self, pieces: int) -> None:
        """From now on only the first so many pieces are worked on."""
        self.pieces = pieces
        self.random.shorten(self.size_bytes)

    def next_pattern(self) -> None:
        self.pattern = Pattern.of(self.purpose, self.pattern.number + 1, PIECE_BYTES)

    def write(self, first: int, until_s: float, most: int = 2**63, make: bool = True) -> Done:
        """Write pieces from `first` on; the next one is made while others are under way."""

        def ready(slot: int, piece: int) -> None:
            if make:
                key = self.pattern.key(piece * PIECE_BYTES)
                kernels.fill(self.buffers.words[slot], np.uint64(key))

        done = self._move(True, first, until_s, most, ready, lambda slot, piece, done: None)
        if not self.place.direct:  # else a slow drive has to be waited for long after it was written to
            flushed = self.flush()
            done.add(len(flushed), flushed)
        return done

    def read(self, first: int, until_s: float, most: int = 2**63, compare: bool = True) -> Done:
        """Read pieces from `first` on; one is compared while others are under way."""
        if not self.place.direct:
            os.posix_fadvise(self.place.descriptor, 0, 0, os.POSIX_FADV_DONTNEED)

        def check(slot: int, piece: int, done: Done) -> None:
            offset = piece * PIECE_BYTES
            words = self.buffers.words[slot]
            if kernels.count_wrong(words, np.uint64(self.pattern.key(offset)), np.uint64(0)):
                done.add(*self._examine(offset, words))

        nothing = (lambda slot, piece, done: None) if not compare else check
        return self._move(False, first, until_s, most, lambda slot, piece: None, nothing)

    def read_at_random(self, until_s: float, compare: bool = True) -> Done:
        """Read blocks of 4 KiB, many under way, until a moment of the monotonic clock."""
        if not self.place.direct:
            os.posix_fadvise(self.place.descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        found = self.random.read(until_s, self.pattern, compare)
        done = Done(units=found.reads, wrong=found.wrong + found.refused)
        for offset, result, words in found.odd[:EXAMINED_MOST]:
            done.shown += self._odd(offset, result, words)
        return done

    def flush(self) -> list[Wrong]:
        """Let the drive empty what it holds back. What it refuses is a wrong result."""
        try:
            os.fdatasync(self.place.descriptor)
        except OSError as error:
            if error.errno in NO_ROOM:
                raise self._full() from error
            return [Wrong(what="flushing failed", where="", found=error.strerror or str(error))]
        return []

    def close(self) -> None:
        self._moves.close()
        self.random.close()
        self.buffers.close()

    def _move(
        self,
        writing: bool,
        first: int,
        until_s: float,
        most: int,
        ready: Callable[[int, int], None],
        then: Callable[[int, int, Done], None],
    ) -> Done:
        """Keep pieces under way until a moment, the end or `most`; one at least. None is left under way."""
        done = Done()
        under_way: dict[int, int] = {}
        free = list(range(DEPTH + 1))
        piece, end = first, min(self.pieces, first + most)
        while True:
            while piece < end and len(under_way) < DEPTH and (piece == first or time.monotonic() < until_s):
                slot = free.pop()
                ready(slot, piece)
                self._moves.begin(slot, writing, piece * PIECE_BYTES)
                under_way[slot] = piece
                piece += 1
            if not under_way:
                return done
            for slot, result in self._moves.wait():
                moved = under_way.pop(slot)
                if piece < end and free and time.monotonic() < until_s:  # before it is compared
                    other = free.pop()
                    ready(other, piece)
                    self._moves.begin(other, writing, piece * PIECE_BYTES)
                    under_way[other] = piece
                    piece += 1
                if result == PIECE_BYTES:
                    then(slot, moved, done)
                else:
                    done.add(1, [self._refused(writing, slot, moved * PIECE_BYTES, result)])
                done.units += 1
                free.append(slot)

    def _refused(self, writing: bool, slot: int, offset_bytes: int, result: int) -> Wrong:
        """What the drive refuses is a wrong result; no room is Trouble."""
        if writing and result >= 0:
            result = self._rest(slot, offset_bytes, result)
        if -result in NO_ROOM:
            raise self._full()
        why = os.strerror(-result) if result < 0 else f"only {result} bytes were moved"
        if writing:
            return Wrong(what="writing failed", where=self.at(offset_bytes), found=why)
        at, word = first_unreadable(self.place.descriptor, offset_bytes, PIECE_BYTES)
        return Wrong(what="reading failed", where=f"{self.at(at)}, {word}", found=why)

    def _rest(self, slot: int, offset_bytes: int, written: int) -> int:
        """Write what a short write has left; the system then says why it was short."""
        view = self.buffers.views[slot][written:]
        try:
            return written + os.pwrite(self.place.descriptor, view, offset_bytes + written)
        except OSError as error:
            return -(error.errno or EIO)

    def _odd(self, offset_bytes: int, result: int, words: np.typing.NDArray[np.uint64]) -> list[Wrong]:
        if result == BLOCK_BYTES:
            return self._examine(offset_bytes, words)[1]
        why = os.strerror(-result) if result < 0 else f"only {result} bytes were read"
        return [Wrong(what="reading failed", where=self.at(offset_bytes), found=why)]

    def _examine(self, offset_bytes: int, words: np.typing.NDArray[np.uint64]) -> tuple[int, list[Wrong]]:
        place = self.place
        return examine(
            place.descriptor, self.pattern, offset_bytes, words, direct=place.direct, on_drive=place.drive
        )

    def at(self, offset_bytes: int) -> str:
        lba = f" (LBA {offset_bytes // self.place.sector_bytes})" if self.place.drive else ""
        return f"offset 0x{offset_bytes:x}{lba}"

    def _full(self) -> Trouble:
        return Trouble("the drive is full, or a quota is used up", self.place.named, "Make room on it.")
