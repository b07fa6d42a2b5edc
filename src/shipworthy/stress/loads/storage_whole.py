"""Work on a whole drive: read all of it, or, where it is blank, write all of it and verify."""

from __future__ import annotations

import math
import os
import time

from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.words import WholeDrive
from shipworthy.stress.loads.storage import PIECE_BYTES
from shipworthy.stress.loads.storage_drive import discard, open_the, why_claimed, why_not_blank
from shipworthy.stress.loads.storage_own import OwnPatterns
from shipworthy.stress.loads.storage_span import BLOCKS, Done, Place, Span
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import Answer, Block, Drive, Job, Note

READ_ONLY = "bytes of the whole drive read"
WRITTEN_WHOLE = "bytes of the whole drive written"
COMPARED_WHOLE = "bytes of the whole drive read and compared"
ZONES = 32  # of the curve of rates by position
BARE_PIECES = 32
OWN_PIECES = 16  # looked at before all is discarded


class Zones:
    """The rate of each stretch of the drive, from its begin to its end, of the last pass."""

    def __init__(self, pieces: int) -> None:
        self._pieces = pieces
        self._done = [0] * ZONES
        self._seconds = [0.0] * ZONES

    def begin(self) -> None:
        self._done, self._seconds = [0] * ZONES, [0.0] * ZONES

    def add(self, first: int, count: int, seconds: float) -> None:
        zone = min(ZONES - 1, first * ZONES // self._pieces)
        self._done[zone] += count
        self._seconds[zone] += seconds

    def told(self) -> str:
        """Return whole MB/s, zone by zone; `-` where nothing was read yet."""
        rates = zip(self._done, self._seconds, strict=True)
        return " ".join(f"{n * PIECE_BYTES / s / 1e6:.0f}" if s else "-" for n, s in rates)


class WholeWork:
    """Passes over a whole drive. Blank: written whole first, verified after; else only read."""

    def __init__(self, job: Job, place: Place, blank: bool, starts: int = 0) -> None:
        """starts: how often this write has been begun before; each has its own pattern."""
        self._job, self._place, self._blank = job, place, blank
        size_bytes = min(place.size_bytes, _may_write(job)) if blank else place.size_bytes
        self.span = Span(_cut(place, size_bytes), job.purpose)
        for _ in range(starts):
            self.span.next_pattern()
        self._zones = Zones(self.span.pieces)
        self._writing, self._next, self._passes = blank, 0, 0
        self._wrote = 0

    def block(self) -> Block:
        began_s = time.perf_counter()
        until_s = time.monotonic() + self._job.block_s
        first, writing = self._next, self._writing
        if writing:
            done = self.span.write(first, until_s)
        else:
            done = self.span.read(first, until_s, compare=self._blank)
        self._next += done.units
        seconds = time.perf_counter() - began_s
        self._zones.add(first, done.units, seconds)
        if self._next == self.span.pieces:
            self._end_pass(done)
        return self._told(done, writing, time.perf_counter() - began_s)

    def bare_block(self) -> Block | None:
        """Read a few pieces from elsewhere, nothing compared; before a write pass none: it would wear."""
        if self._writing:
            return None
        began_s = time.perf_counter()
        count = min(BARE_PIECES, self.span.pieces)
        first = (self._next + self.span.pieces // 2) % (self.span.pieces - count + 1)
        until_s = time.monotonic() + self._job.block_s
        done = self.span.read(first, until_s, count, compare=False)
        unit = COMPARED_WHOLE if self._blank else READ_ONLY
        seconds = time.perf_counter() - began_s
        return Block(work=float(done.units * PIECE_BYTES), seconds=seconds, unit_of_work=unit)

    def again(self, number: int) -> Answer | None:
        return None

    def detail(self) -> tuple[Value, ...]:
        return values(
            drive_bytes=self._place.size_bytes,
            under_test_bytes=self.span.size_bytes,
            piece_bytes=PIECE_BYTES,
            transfers=self.span.how,
            passes_ended=self._passes,
            rates_by_position_mb_s=self._zones.told(),
        )

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        try:
            if self._wrote and self._is_still_ours(self._wrote // PIECE_BYTES):
                discard(self._place, self._wrote)
        finally:
            self.span.close()
            os.close(self._place.descriptor)

    def _is_still_ours(self, pieces: int) -> bool:
        """Whether nobody else has begun to use the drive: who does not ask the kernel for it alone, as a
        program that partitions, is not kept from that."""
        if why_claimed(self._place.descriptor):
            return False
        looked_at = {pieces - 1, *range(0, pieces, max(1, pieces // OWN_PIECES))}
        return not any(self.span.read(piece, math.inf, 1).wrong for piece in sorted(looked_at))

    def _end_pass(self, done: Done) -> None:
        self._next, self._passes = 0, self._passes + 1
        if self._writing:
            flushed = self.span.flush()
            done.add(len(flushed), flushed)
            self._writing = False
            self._zones.begin()

    def _told(self, done: Done, writing: bool, seconds: float) -> Block:
        size_bytes = done.units * PIECE_BYTES
        self._wrote += size_bytes if writing else 0
        unit = WRITTEN_WHOLE if writing else COMPARED_WHOLE if self._blank else READ_ONLY
        return Block(
            work=float(size_bytes),
            seconds=seconds,
            checks=0 if writing else done.units * BLOCKS,
            wrong=done.wrong,
            shown=tuple(done.shown),
            written_bytes=size_bytes if writing else 0,
            unit_of_work=unit,
        )


def open_whole(job: Job, *, blank: bool) -> WholeWork:
    """Open the drive that a person has allowed by typing its serial. Trouble for any other."""
    drive = _allowed(job.drive, blank)
    place = open_the(drive, writing=blank)
    try:
        return WholeWork(job, place, blank, refuse_unless_blank(place, job) if blank else 0)
    except BaseException:
        os.close(place.descriptor)
        raise


def refuse_unless_blank(place: Place, job: Job) -> int:
    """Look again right before the first write, in the process that writes, while it holds the drive alone;
    return how often this very write has been begun before and was cut off."""
    own = OwnPatterns((job.purpose,))
    why = why_not_blank(place, seed_of(f"{job.purpose}/blank"), own)
    if why:
        raise Trouble(f"the drive is not blank: {why}", place.named, "Only a blank drive is written whole.")
    return own.starts


def _allowed(drive: Drive | None, blank: bool) -> Drive:
    if drive is None or drive.whole is WholeDrive.NOTHING or not drive.serial:
        mend = "Type its serial to allow it; a drive that shows no serial is never used whole."
        raise Trouble("nobody has allowed to use this drive whole", drive.place if drive else "", mend)
    if blank and (drive.whole is not WholeDrive.WRITE or not drive.blank):
        why = "it is not blank" if drive.whole is WholeDrive.WRITE else "only reading it was allowed"
        raise Trouble(f"the drive may not be written: {why}", drive.place, "Write a file on it instead.")
    return drive


def _may_write(job: Job) -> int:
    left = job.drive.write_left_bytes if job.drive is not None else None
    most = job.request.write_budget_bytes if left is None else min(left, job.request.write_budget_bytes)
    if most < PIECE_BYTES:
        what = "the drive's write budget is used up"
        raise Trouble(what, job.drive.place if job.drive else "", "Read it whole instead.")
    return most


def _cut(place: Place, size_bytes: int) -> Place:
    return Place(place.descriptor, size_bytes, place.direct, place.named, place.drive, place.sector_bytes)
