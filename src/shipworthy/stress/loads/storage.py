"""Write a pattern into an unnamed file of our own, read it back past the caches, compare; or whole drives."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from shipworthy.machine.mounts import drives_holding
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.model.words import WholeDrive
from shipworthy.stress import resources
from shipworthy.stress.protocol import (
    BLOCK_S,
    PROTOCOL,
    About,
    Answer,
    Block,
    Drive,
    Ground,
    Job,
    Note,
    Target,
)

if TYPE_CHECKING:
    from shipworthy.stress.loads.storage_span import Done, Span
    from shipworthy.stress.protocol import Work

UNKNOWN_DRIVE = "unknown drive"
AND = " and "  # between the places of a target that lies on several drives
WRITTEN, COMPARED, RANDOM = "bytes written", "bytes read and compared", "random blocks read and compared"
USUAL, READS, WHOLE_DRIVE, BLANK_DRIVE = "", "reads", "whole-drive", "blank-drive"
VARIANTS = (USUAL, READS, WHOLE_DRIVE, BLANK_DRIVE)
PIECE_BYTES = 2**20
FILE_MOST_BYTES = 2**30  # written again with another pattern while the budget lasts
SPARE_PIECES = 64
RANDOM_S = 2.0  # of random reads after each pass of reading
BARE_RANDOM_S = 0.05


@dataclass
class Pass:
    """Where the work stands: what is being done, the next piece, and how long random reads have lasted."""

    doing: str = WRITTEN
    next: int = 0
    random_s: float = 0.0


class StorageWork:
    """Write all with a pattern, read and compare all, read at random; and again while the budget lasts."""

    def __init__(self, job: Job, budget_bytes: int) -> None:
        from shipworthy.stress.loads import storage_budget, storage_file, storage_span

        self._job, self._folder = job, Path(job.work_folder)
        free_bytes = _free_bytes(self._folder)
        size_bytes = storage_budget.file_bytes(budget_bytes, free_bytes, job.disk_reserve_bytes)
        if not size_bytes:
            mend = "Make room, or lower the plan's disk reserve."
            raise Trouble(f"only {free_bytes >> 20} MiB of disk space are free", self._folder, mend)
        self._file = storage_file.open_unnamed(self._folder, size_bytes)
        self._give_back, self._blocks = storage_file.give_back, storage_span.BLOCKS
        self._shortage_bytes, self._given_back_bytes = storage_file.shortage_bytes, 0
        self._bare_pieces = storage_budget.BARE_PIECES
        place = storage_span.Place(self._file.descriptor, size_bytes, self._file.direct, job.work_folder)
        self.span: Span = storage_span.Span(place, job.purpose)
        self._budget_bytes, self._pass = budget_bytes, Pass()

    @property
    def descriptor(self) -> int:
        """The file under test."""
        return self._file.descriptor

    @property
    def size_bytes(self) -> int:
        return self.span.size_bytes

    @property
    def doing(self) -> str:
        """The unit of the work at hand: written, read and compared, or read at random."""
        return self._pass.doing

    @property
    def writing(self) -> bool:
        """Whether the pass at hand writes."""
        return self.doing == WRITTEN

    def block(self) -> Block:
        self._leave_room()
        began_s = time.perf_counter()
        doing, until_s = self.doing, time.monotonic() + min(BLOCK_S, self._job.block_s)
        if doing == RANDOM:
            done = self.span.read_at_random(until_s)
            self._pass.random_s += time.perf_counter() - began_s
        else:
            move = self.span.write if doing == WRITTEN else self.span.read
            done = move(self._pass.next, until_s)
            self._pass.next += done.units
        if doing == WRITTEN:
            self._budget_bytes -= done.units * PIECE_BYTES
        self._go_on(done)
        return self._told(doing, done, time.perf_counter() - began_s)

    def bare_block(self) -> Block | None:
        """Do the same transfers for a moment, with nothing made and nothing compared."""
        began_s, doing = time.perf_counter(), self.doing
        until_s = time.monotonic() + min(BLOCK_S, self._job.block_s)
        count = min(self._bare_pieces, self.span.pieces)
        if doing == RANDOM:
            done = self.span.read_at_random(min(until_s, time.monotonic() + BARE_RANDOM_S), compare=False)
        elif doing == COMPARED:  # from elsewhere than what is read next
            first = (self._pass.next + self.span.pieces // 2) % (self.span.pieces - count + 1)
            done = self.span.read(first, until_s, count, compare=False)
        elif self._pass.next or self._budget_bytes < self.size_bytes + count * PIECE_BYTES:
            return None  # only before a pass, which writes over it, and only if the budget has room for it
        else:
            done = self.span.write(0, until_s, count, make=False)
            self._budget_bytes -= done.units * PIECE_BYTES
        size_bytes = done.units * PIECE_BYTES
        return Block(
            work=float(done.units if doing == RANDOM else size_bytes),
            seconds=time.perf_counter() - began_s,
            written_bytes=size_bytes if doing == WRITTEN else 0,
            unit_of_work=doing,
        )

    def again(self, number: int) -> Answer | None:
        return None

    def detail(self) -> tuple[Value, ...]:
        told = values(
            file_bytes=self.size_bytes,
            given_back_bytes=self._given_back_bytes,
            piece_bytes=PIECE_BYTES,
            file=self._file.how,
            caches="passed by (O_DIRECT)" if self._file.direct else "dropped by advice only",
            transfers=self.span.how,
            random_reads=self.span.random_how,
            budget_left_bytes=self._budget_bytes,
            budget_counted=_counted(self._job),
        )
        return told + self.span.random.latencies.told()

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        self.span.close()
        self._give_back(self.descriptor, self._folder, self.size_bytes)
        os.close(self.descriptor)

    def _leave_room(self) -> None:
        """Give the file's end back where others have filled the drive: the reserve is not ours to use."""
        size_bytes, reserve_bytes = self.size_bytes, self._job.disk_reserve_bytes
        short_bytes = self._shortage_bytes(self.descriptor, size_bytes, reserve_bytes)
        if not short_bytes:
            return
        spare = min(SPARE_PIECES, self.span.pieces // 4)  # so that the next line of a log asks for no more
        pieces = self.span.pieces - max(spare, -(-short_bytes // PIECE_BYTES))
        if pieces < 1:
            mend = "Make room, or lower the plan's disk reserve."
            raise Trouble("others have filled the drive up to the plan's reserve", self._folder, mend)
        self.span.shorten(pieces)
        self._pass.next = min(self._pass.next, pieces)
        self._give_back(self.descriptor, self._folder, size_bytes, self.size_bytes)
        self._given_back_bytes += size_bytes - self.size_bytes

    def _go_on(self, done: Done) -> None:
        """After writing, read; after reading, read at random; then write a new pattern, or read again."""
        now = self._pass
        if now.doing == RANDOM and now.random_s >= RANDOM_S:
            again = self._job.request.variant != READS and self._budget_bytes >= self.size_bytes
            self._pass = Pass(doing=WRITTEN if again else COMPARED)
            if again:
                self.span.next_pattern()
        elif now.next == self.span.pieces and now.doing == WRITTEN:
            flushed = self.span.flush()
            done.add(len(flushed), flushed)
            self._pass = Pass(doing=COMPARED)
        elif now.next == self.span.pieces and now.doing == COMPARED:
            self._pass = Pass(doing=RANDOM)

    def _told(self, doing: str, done: Done, seconds: float) -> Block:
        size_bytes = done.units * PIECE_BYTES
        checks = {WRITTEN: 0, COMPARED: done.units * self._blocks, RANDOM: done.units}[doing]
        return Block(
            work=float(done.units if doing == RANDOM else size_bytes),
            seconds=seconds,
            checks=checks,
            wrong=done.wrong,
            shown=tuple(done.shown),
            written_bytes=size_bytes if doing == WRITTEN else 0,
            unit_of_work=doing,
        )


class StorageLoad:
    protocol = PROTOCOL
    name = "storage"
    about = About(
        stresses="the drive that holds the work folder, its link and its file system",
        verifies="every word read back, in order and at random, against a pattern of seed, pass and offset",
        slips_through=(
            "a wrong word is always seen, but where a whole drive is only read nothing is compared: it has "
            "to give every block without an error; a drive may answer from a cache of its own, so the medium "
            "itself is looked at only when more was written than that cache holds, and a bit that memory "
            "lost before it was written looks like the drive's"
        ),
        unit_of_work=WRITTEN,
        limit="the same transfers of a few pieces between the others, nothing made and nothing compared",
        power="the drive at full transfer",
        cleans_up=(
            "the file has no name from the start, so nothing is left whatever ends the load; its place is "
            "given back, and trimmed where the account may do that. A blank drive that was written whole "
            "keeps the pattern after a kill"
        ),
    )

    def check(self, request: LoadRequest) -> None:
        if request.variant not in VARIANTS:
            mend = f"There are: {', '.join(VARIANTS[1:])}, and none for the usual one."
            raise Trouble(f"the load storage has no variant {request.variant}", "burn-in plan", mend)
        if request.variant != WHOLE_DRIVE and request.write_budget_bytes < PIECE_BYTES:
            what = f"the load storage may write {request.write_budget_bytes} bytes only"
            mend = f"Give it a write_budget_bytes of at least {PIECE_BYTES}."
            raise Trouble(what, "burn-in plan", mend)

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        """Return one process for each drive; of two folders that share a drive the first counts.

        A folder of which no drive can be told (a network share, memory) is used only if there is no other.
        For whole drives: those that a person has allowed; Trouble if that is none.
        """
        if request.variant in (WHOLE_DRIVE, BLANK_DRIVE):
            return _whole_targets(request.variant, ground)
        found: list[Target] = []
        taken: set[str] = set()
        for folder in ground.work_folders:
            places = drives_holding(root, Path(folder))
            if places and taken.isdisjoint(places):
                found.append(
                    Target(name=AND.join(places), work_folder=folder, drive=_scarcest(ground, places))
                )
                taken |= set(places)
        return tuple(found) or tuple(
            Target(name=UNKNOWN_DRIVE, work_folder=folder) for folder in ground.work_folders[:1]
        )

    def open(self, job: Job) -> Work:
        from shipworthy.stress.loads.storage_budget import budget_bytes
        from shipworthy.stress.loads.storage_whole import open_whole

        if job.request.variant in (WHOLE_DRIVE, BLANK_DRIVE):
            return open_whole(job, blank=job.request.variant == BLANK_DRIVE)
        budget = budget_bytes(job.request, job.drive)
        if budget >= PIECE_BYTES:
            return StorageWork(job, budget)
        if job.drive is not None and job.drive.whole is not WholeDrive.NOTHING:
            return open_whole(job, blank=False)  # nothing may be written any more: it is read
        what = f"the write budget of the drive {job.drive.serial if job.drive else ''} is used up".replace(
            "  ", " "
        )
        mend = "Allow it to be read whole by typing its serial, or raise its budget."
        raise Trouble(what, job.target, mend)


def _scarcest(ground: Ground, places: Sequence[str]) -> Drive | None:
    """Return the drive that has least left to write, of those that one file lies on."""
    drives = [drive for place in places if (drive := ground.drive_at(place)) is not None]
    bounded = [drive for drive in drives if drive.write_left_bytes is not None]
    return min(bounded, key=lambda drive: drive.write_left_bytes or 0, default=drives[0] if drives else None)


def _whole_targets(variant: str, ground: Ground) -> tuple[Target, ...]:
    allowed = (WholeDrive.WRITE,) if variant == BLANK_DRIVE else (WholeDrive.READ, WholeDrive.WRITE)
    drives = [drive for drive in ground.drives if drive.whole in allowed]
    if not drives:
        mend = "Type the serial of the drive that is meant, or leave the step out."
        raise Trouble(f"no drive was named for the variant {variant}", "burn-in plan", mend)
    return tuple(Target(name=drive.place, drive=drive) for drive in drives)


def _free_bytes(folder: Path) -> int:
    try:
        return resources.free_disk_bytes(folder)
    except OSError as error:
        mend = "Give a work folder that is there, on the drive that is to be tested."
        raise Trouble(f"the work folder cannot be used: {error.strerror}", folder, mend) from error


def _counted(job: Job) -> str:
    if job.drive is None or job.drive.write_left_bytes is None:
        return "the plan's, in this step alone"
    return "by serial, over all attempts" if job.drive.serial else "in this attempt alone: it shows no serial"


LOAD = StorageLoad()
