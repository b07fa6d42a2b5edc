"""March tests and patterns over much of the free memory, with the data backgrounds that words need."""

from __future__ import annotations

import ctypes
import time
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.marching import backgrounds
from shipworthy.stress.loads.memory_passes import SEQUENCES, Pass, passes_of
from shipworthy.stress.loads.memory_share import LEAST_BYTES, Strain, reserve_bytes, taken
from shipworthy.stress.loads.memory_words import Found, Words
from shipworthy.stress.loads.pages import HUGE_BYTES, round_down
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Ground, Job, Note, Target, Wrong

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.uint64]

WORD_BYTES = 8
LINE_BYTES = 64
SLICE_BYTES = 32 * 2**20  # at most, between two looks at the clock
SLICE_LEAST_BYTES = 2**19
SLICES_A_BLOCK = 4
SLOWEST_BYTES_PER_S = 2e9  # of one thread, for sizing slices: our guess of an old machine's
LOOK_S = 0.02  # between two looks at how much memory others have left, within a block
COPY_LEAST_BYTES, COPY_MOST_BYTES = 64 * 2**20, 2 * 2**30  # of one thread, in one bare block
KEEP_SHARE = 0.75  # of the memory, each time it backs away
NOTES_MOST = 8


@dataclass
class Part:
    """A thread's part of the memory. done_bytes: of the pass at hand, from the end it begins at."""

    begin: int
    end: int
    done_bytes: int = 0

    @property
    def left(self) -> bool:
        return self.done_bytes < self.end - self.begin

    def next_slice(self, down: bool, size_bytes: int = SLICE_BYTES) -> tuple[int, int]:
        """Return the next slice as offsets in bytes, and count it as done."""
        size = min(size_bytes, self.end - self.begin - self.done_bytes)
        begin = self.end - self.done_bytes - size if down else self.begin + self.done_bytes
        self.done_bytes += size
        return begin, begin + size


@dataclass(frozen=True)
class Piece:
    """A slice that was gone over: how many of its words were wrong, and the first of them."""

    size_bytes: int
    wrong: int
    first: tuple[Found, ...]


class Rates:
    """How fast each kind of pass went, in nominal bytes: shown anew after each round."""

    def __init__(self) -> None:
        self._sums: dict[str, tuple[float, float]] = {}
        self.shown = "not yet"

    def add(self, element: str, work_bytes: float, seconds: float) -> None:
        work, took = self._sums.get(element, (0.0, 0.0))
        self._sums[element] = work + work_bytes, took + seconds

    def by_element(self) -> dict[str, float]:
        """Return bytes a second by element, for each that took time."""
        return {element: work / took for element, (work, took) in self._sums.items() if took > 0}

    def show(self) -> None:
        self.shown = "; ".join(f"{name} {rate / 1e9:.1f}" for name, rate in self.by_element().items())


class MarchWork:
    """All of the memory, by a thread a CPU. A block is a piece of a pass; a round, all of a variant's."""

    def __init__(self, job: Job) -> None:
        import numpy as np

        self._np, self._job = np, job
        self._strain = Strain(reserve_bytes(job.memory_reserve_bytes))
        self._notes: list[Note] = []
        self.rates = Rates()
        self._pages, self._refused = taken(job.request, job.memory_reserve_bytes)
        self.words: Array = np.frombuffer(self._pages.buffer, dtype=np.uint64)
        self._reports = Words(self._pages.physical_address)
        self._threads = len(resources.usable_cpus())
        self._pool = ThreadPoolExecutor(self._threads)
        per_slice = int(job.block_s / SLICES_A_BLOCK * SLOWEST_BYTES_PER_S)
        self._slice_bytes = min(SLICE_BYTES, max(SLICE_LEAST_BYTES, round_down(per_slice, SLICE_LEAST_BYTES)))
        self.round = self._at = self._copied_bytes = 0
        self._rested = self._hurry = False
        self._rest_until_s: float | None = None
        self._passes = self._next_passes()
        self._share_out()
        self._huge_bytes = self._pages.huge_bytes()

    @property
    def size_bytes(self) -> int:
        return self._pages.size_bytes

    @property
    def at(self) -> Pass:
        """The pass at hand."""
        return self._passes[self._at]

    def block(self) -> Block:
        self._back_away()
        if not self._done_resting():
            return Block(work=0.0, seconds=0.0)  # a pause is no work, and no time that work took
        began_s, at = time.perf_counter(), self.at
        pieces = self._advance_all(began_s + self._job.block_s)
        seconds = time.perf_counter() - began_s
        size_bytes = sum(piece.size_bytes for piece in pieces)
        work = float(size_bytes * at.operations)
        self.rates.add(at.rated_as or at.element, work, seconds)
        block = Block(
            work=work,
            seconds=seconds,
            checks=at.reads * size_bytes // WORD_BYTES,
            wrong=sum(piece.wrong for piece in pieces),
            shown=tuple(self._wrong(found) for piece in pieces for found in piece.first),
        )
        if not any(part.left for part in self._parts):
            self._next_pass()
        return block

    def bare_block(self) -> Block | None:
        """Copy a piece of one half of the memory over the other with the C library's memmove, between two
        rounds: each thread its piece, a further one each time, so that no piece lies in a cache."""
        if self._at or any(part.done_bytes for part in self._parts):
            return None
        half_bytes = round_down(self.size_bytes // 2, self._threads * LINE_BYTES)
        most_bytes = int(max(COPY_LEAST_BYTES, min(COPY_MOST_BYTES, self._job.block_s * 1e10)))
        share_bytes = half_bytes // self._threads
        each_bytes, begin = min(share_bytes, most_bytes), self._pages.address()
        at = min(self._copied_bytes, share_bytes - each_bytes)
        self._copied_bytes = 0 if at + each_bytes >= share_bytes else at + each_bytes
        memmove = ctypes.CDLL(None).memmove
        memmove.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t]

        def copy(number: int) -> None:
            source = begin + number * share_bytes + at
            memmove(source + half_bytes, source, each_bytes)

        began_s = time.perf_counter()
        list(self._pool.map(copy, range(self._threads)))
        seconds = time.perf_counter() - began_s
        return Block(work=float(2 * each_bytes * self._threads), seconds=seconds)

    def again(self, number: int) -> Answer | None:
        return None

    def detail(self) -> tuple[Value, ...]:
        return values(
            tested_bytes=self.size_bytes,
            huge_pages_bytes=-1 if self._huge_bytes is None else self._huge_bytes,
            locked="no: " + self._refused if self._refused else "yes",
            threads=self._threads,
            rounds=self.round,
            backgrounds=min(self.round, len(backgrounds())),
            element_rates_gb_per_s=self.rates.shown,
        )

    def notes(self) -> tuple[Note, ...]:
        notes, self._notes = tuple(self._notes), []
        return notes

    def close(self) -> None:
        self._pool.shutdown()
        self.words = self._np.zeros(0, dtype=self._np.uint64)
        self._pages.close()

    def _advance_all(self, until_s: float) -> list[Piece]:
        """Go on with every part until the time is over; earlier if others run short of memory meanwhile."""
        self._hurry = False
        running: set[Future[list[Piece]]] = {
            self._pool.submit(self._advance, p, until_s) for p in self._parts
        }
        done, left = wait(running, timeout=LOOK_S)
        while left:
            self._hurry = self._hurry or self._strain.short()
            done, left = wait(running, timeout=LOOK_S)
        return [piece for future in done for piece in future.result()]

    def _advance(self, part: Part, until_s: float) -> list[Piece]:
        """Take a part's slices, in the pass's direction, until the time is over or none is left."""
        at = self.at
        pieces: list[Piece] = []
        while part.left and not self._hurry and (not pieces or time.perf_counter() < until_s):
            begin, end = part.next_slice(at.down, self._slice_bytes)
            room = self._np.zeros((NOTES_MOST, 5), dtype=self._np.uint64)
            wrong = at.run(self.words[begin // WORD_BYTES : end // WORD_BYTES], begin // WORD_BYTES, room)
            rows = [[int(cell) for cell in row] for row in room[: min(wrong, NOTES_MOST)]]
            first = tuple(Found(begin + i * WORD_BYTES, want, got, (a, b)) for i, want, got, a, b in rows)
            pieces.append(Piece(end - begin, wrong, first))
        return pieces

    def _wrong(self, found: Found) -> Wrong:
        return self._reports.report(found, self.at.expected(found.offset_bytes // WORD_BYTES), str(self.at))

    def _done_resting(self) -> bool:
        """Rest for a block, if the pass at hand begins with a pause; whether it is over."""
        if self._rested or not self.at.pause_s:
            return True
        now_s = time.monotonic()
        if self._rest_until_s is None:
            self._rest_until_s = now_s + self.at.pause_s
        time.sleep(max(0.0, min(self._job.block_s, self._rest_until_s - now_s)))
        self._rested = time.monotonic() >= self._rest_until_s
        return self._rested

    def _next_pass(self) -> None:
        self._begin_pass((self._at + 1) % len(self._passes))
        if self._at == 0:
            self.round += 1
            self._passes = self._next_passes()
            self.rates.show()

    def _begin_pass(self, at: int) -> None:
        self._at, self._rested, self._rest_until_s = at, False, None
        for part in self._parts:
            part.done_bytes = 0

    def _next_passes(self) -> tuple[Pass, ...]:
        return passes_of(self._job.request.variant, self.round, self._job.purpose)

    def _share_out(self) -> None:
        """Give each thread its part, on whole huge pages, and begin the round anew."""
        step_bytes = max(HUGE_BYTES, round_down(self.size_bytes // self._threads))
        begins = list(range(0, self.size_bytes, step_bytes))[: self._threads]
        ends = [*begins[1:], self.size_bytes]
        self._parts = [Part(begin, end) for begin, end in zip(begins, ends, strict=True)]
        self._begin_pass(0)

    def _back_away(self) -> None:
        """Give a quarter back, and begin the round anew on the rest, when others need memory."""
        if not self._strain.short() and not self._strain.pressed():
            return
        keep_bytes = round_down(int(self.size_bytes * KEEP_SHARE))
        if keep_bytes < LEAST_BYTES:
            raise Trouble("memory became too tight to test", "the load march", "Close what uses memory.")
        self._pages.give_back(keep_bytes)
        self._huge_bytes = self._pages.huge_bytes()
        self._notes.append(Note(code="march.backed-away", values=values(left_bytes=keep_bytes)))
        self._share_out()


class MarchLoad:
    protocol = PROTOCOL
    name = "march"
    about = About(
        stresses="memory modules, their wiring and the memory controller",
        verifies=(
            "every word after every read of a march (C−, or SS), with 10 data backgrounds in turn; as the "
            "variant patterns also five patterns and their complements, written, left alone and verified"
        ),
        slips_through=(
            "March C− finds every stuck-at, transition and address fault, and inversion, idempotent and "
            "state coupling faults between cells as the program sees them, once all backgrounds have had "
            "their round; SS also those that only a second read or a repeated write shows, as far as caches "
            "let them reach the cells. Not surely found: faults that need the cells' physical order, which "
            "no program can choose, couplings between the parts of two threads, which are walked side by "
            "side, what needs longer pauses, and memory that others hold"
        ),
        unit_of_work="bytes passed over",
        limit="the C library's memmove of one half of the same memory over the other, between two rounds",
        power="memory and its controller at full traffic",
        cleans_up="gives its memory back; leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        if 0 < request.memory_cap_bytes < LEAST_BYTES:
            what = f"the load march has a cap of {request.memory_cap_bytes} bytes"
            raise Trouble(what, "burn-in plan", f"Give it at least {LEAST_BYTES} bytes, or 0 for no cap.")
        if request.variant and request.variant not in SEQUENCES:
            what = f"the load march has no variant {request.variant}"
            raise Trouble(what, "burn-in plan", f"Variants are: {', '.join(SEQUENCES)}.")

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        return (Target(name="memory"),)

    def open(self, job: Job) -> MarchWork:
        return MarchWork(job)


LOAD = MarchLoad()
