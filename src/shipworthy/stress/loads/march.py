"""March C− over much of the free memory, with the data backgrounds that words need."""

from __future__ import annotations

import ctypes
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.marching import (
    ALL_ONES,
    MARCH_C_MINUS,
    Direction,
    Element,
    Operation,
    backgrounds,
    parse_march,
)
from shipworthy.stress.loads.pages import HUGE_BYTES, Pages, round_down
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Ground, Job, Note, Target, Wrong

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Words = NDArray[np.uint64]

WORD_BYTES = 8
LEAST_BYTES = 32 * 2**20  # less lies in the caches of many processors, and tests those
SLICE_BYTES = 32 * 2**20  # between two looks at the clock
POPULATE_BYTES = 512 * 2**20  # between two looks at how much memory is left
COPY_MOST_BYTES = 4 * 2**30
BLOCK_S = 0.4
KEEP_SHARE = 0.75  # of the memory, each time it backs away
NOTES_MOST = 8

Kernel = Callable[["Words", int, "Words"], int]


def wanted_bytes(request: LoadRequest, available_bytes: int, reserve_bytes: int) -> int:
    """Return how much memory to test: the plan's share of what is free, its cap, and never the reserve."""
    share_bytes = int(request.memory_share * available_bytes)
    cap_bytes = request.memory_cap_bytes or share_bytes
    return round_down(max(0, min(share_bytes, cap_bytes, available_bytes - reserve_bytes)))


def kernel_of(element: Element) -> Kernel:
    """Return the compiled loop of an element. Raises ValueError for an element that none was made for."""
    from shipworthy.stress.loads import march_kernels as kernels

    def value(operation: Operation, background: int) -> Any:
        import numpy as np

        return np.uint64(background ^ ALL_ONES if operation.inverted else background)

    shape = tuple(operation.writes for operation in element.operations)
    first, last = element.operations[0], element.operations[-1]
    if shape == (True,):
        return lambda words, background, notes: int(kernels.write(words, value(first, background)))
    if shape == (False,):
        return lambda words, background, notes: int(kernels.read(words, value(first, background), notes))
    if shape == (False, True):
        down = element.direction is Direction.DOWN
        loop = kernels.read_write_down if down else kernels.read_write_up
        return lambda words, background, notes: int(
            loop(words, value(first, background), value(last, background), notes)
        )
    raise ValueError(f"no loop was made for the element {element}")


@dataclass
class Part:
    """A thread's part of the memory. done_bytes: of the element at hand, from the end it begins at."""

    begin: int
    end: int
    done_bytes: int = 0

    @property
    def left(self) -> bool:
        return self.done_bytes < self.end - self.begin

    def next_slice(self, down: bool) -> tuple[int, int]:
        """Return the next slice as offsets in bytes, and count it as done."""
        size = min(SLICE_BYTES, self.end - self.begin - self.done_bytes)
        begin = self.end - self.done_bytes - size if down else self.begin + self.done_bytes
        self.done_bytes += size
        return begin, begin + size


@dataclass(frozen=True)
class Found:
    """A slice's wrong words: how many, and (offset, value) of the first."""

    size_bytes: int
    wrong: int
    first: tuple[tuple[int, int], ...]


class MarchWork:
    """All of the memory, by a thread a CPU. One element is one pass; a block is a piece of an element."""

    def __init__(self, job: Job, sequence: str = MARCH_C_MINUS) -> None:
        import numpy as np

        self._np, self._job = np, job
        self._elements = parse_march(sequence)
        self._kernels = tuple(kernel_of(element) for element in self._elements)
        self._backgrounds = backgrounds()
        self._element = self._passes_done = 0
        self._notes: list[Note] = []
        self._threads = len(resources.usable_cpus())
        self._pool = ThreadPoolExecutor(self._threads)
        available_bytes = resources.available_memory_bytes()
        size_bytes = wanted_bytes(job.request, available_bytes, job.memory_reserve_bytes)
        if size_bytes < LEAST_BYTES:
            mend = "Close what uses memory, or lower the plan's reserve."
            raise Trouble(f"only {available_bytes >> 20} MiB of memory are free", "the load march", mend)
        self._pages = _mapped(size_bytes)
        self._refused = self._populate()
        self.words: Words = np.frombuffer(self._pages.buffer, dtype=np.uint64)
        self._share_out()
        if self._refused:
            for part in self._parts:
                self._kernels[0](
                    self.words[part.begin // WORD_BYTES : part.end // WORD_BYTES], 0, self._room()
                )
        self._huge_bytes = self._pages.huge_bytes()

    @property
    def size_bytes(self) -> int:
        return self._pages.size_bytes

    @property
    def element(self) -> Element:
        return self._elements[self._element]

    @property
    def background(self) -> int:
        """The background of this pass; each complete march takes the next one."""
        return self._backgrounds[self._passes_done % len(self._backgrounds)]

    def block(self) -> Block:
        self._back_away()
        began_s = time.perf_counter()
        element, until_s = self.element, began_s + BLOCK_S
        found = [f for part in self._pool.map(lambda p: self._advance(p, until_s), self._parts) for f in part]
        seconds = time.perf_counter() - began_s
        size_bytes = sum(f.size_bytes for f in found)
        reads = sum(not operation.writes for operation in element.operations)
        block = Block(
            work=float(size_bytes * len(element.operations)),
            seconds=seconds,
            checks=reads * size_bytes // WORD_BYTES,
            wrong=sum(f.wrong for f in found),
            shown=tuple(self._wrong(*first) for f in found for first in f.first),
        )
        if not any(part.left for part in self._parts):
            self._next_element()
        return block

    def bare_block(self) -> Block | None:
        """Copy one half of the memory over the other with the C library's memmove: between two marches."""
        if self._element or any(part.done_bytes for part in self._parts):
            return None
        half_bytes = round_down(min(self.size_bytes // 2, COPY_MOST_BYTES), self._threads * 64)
        each_bytes, begin = half_bytes // self._threads, self._pages.address()
        memmove = ctypes.CDLL(None).memmove
        memmove.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t]

        def copy(number: int) -> None:
            source = begin + number * each_bytes
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
            backgrounds=min(self._passes_done, len(self._backgrounds)),
        )

    def notes(self) -> tuple[Note, ...]:
        notes, self._notes = tuple(self._notes), []
        return notes

    def close(self) -> None:
        self._pool.shutdown()
        self.words = self._np.zeros(0, dtype=self._np.uint64)
        self._pages.close()

    def _advance(self, part: Part, until_s: float) -> list[Found]:
        """Take a part's slices, in the element's direction, until the time is over or none is left."""
        down = self.element.direction is Direction.DOWN
        kernel, background, found = self._kernels[self._element], self.background, []
        while part.left and time.perf_counter() < until_s:
            begin, end = part.next_slice(down)
            room = self._room()
            wrong = kernel(self.words[begin // WORD_BYTES : end // WORD_BYTES], background, room)
            first = [
                (begin + int(room[i, 0]) * WORD_BYTES, int(room[i, 1])) for i in range(min(wrong, NOTES_MOST))
            ]
            found.append(Found(end - begin, wrong, tuple(first)))
        return found

    def _wrong(self, offset_bytes: int, found: int) -> Wrong:
        first = self.element.operations[0]
        expected = self.background ^ ALL_ONES if first.inverted else self.background
        bits = ", ".join(str(bit) for bit in range(64) if (expected ^ found) >> bit & 1)
        physical = self._pages.physical_address(offset_bytes)
        told = "not told" if physical is None else f"0x{physical:x}"
        return Wrong(
            what=f"memory word in {self.element} with background 0x{self.background:016x}",
            where=f"offset 0x{offset_bytes:x}, bits {bits}, physical address {told}",
            expected=f"0x{expected:016x}",
            found=f"0x{found:016x}",
        )

    def _next_element(self) -> None:
        for part in self._parts:
            part.done_bytes = 0
        self._element = (self._element + 1) % len(self._elements)
        self._passes_done += self._element == 0

    def _share_out(self) -> None:
        """Give each thread its part, on whole huge pages, and begin a march anew."""
        step_bytes = max(HUGE_BYTES, round_down(self.size_bytes // self._threads))
        begins = list(range(0, self.size_bytes, step_bytes))[: self._threads]
        ends = [*begins[1:], self.size_bytes]
        self._parts = [Part(begin, end) for begin, end in zip(begins, ends, strict=True)]
        self._element = 0

    def _back_away(self) -> None:
        """Give a quarter back, and begin the march anew on the rest, when others need memory."""
        if resources.available_memory_bytes() >= self._job.memory_reserve_bytes:
            return
        keep_bytes = round_down(int(self.size_bytes * KEEP_SHARE))
        if keep_bytes < LEAST_BYTES:
            raise Trouble("memory became too tight to test", "the load march", "Close what uses memory.")
        self._pages.give_back(keep_bytes)
        self._notes.append(Note(code="march.backed-away", values=values(left_bytes=keep_bytes)))
        self._share_out()

    def _populate(self) -> str:
        """Lock the pages piece by piece, so that others can still get memory; return why not, if refused."""
        for begin, size in _pieces(self._pages.size_bytes, POPULATE_BYTES):
            if (
                resources.available_memory_bytes() < size + self._job.memory_reserve_bytes
                and begin >= LEAST_BYTES
            ):
                self._pages.give_back(begin)
                break
            if refused := self._pages.lock(begin, size):
                return refused
        return ""

    def _room(self) -> Words:
        return self._np.zeros((NOTES_MOST, 2), dtype=self._np.uint64)


class MarchLoad:
    protocol = PROTOCOL
    name = "march"
    about = About(
        stresses="memory modules, their wiring and the memory controller",
        verifies="every word after every read of March C−, with 7 data backgrounds in turn",
        slips_through=(
            "every stuck-at, transition and address fault is found, and inversion, idempotent and state "
            "coupling fault between cells as the program sees them; not faults that need the cells' physical "
            "order, which no program can choose, nor those that only other sequences or a pause show"
        ),
        unit_of_work="bytes passed over",
        limit="the C library's memmove of one half of the same memory over the other, between two marches",
        power="memory and its controller at full traffic",
        cleans_up="gives its memory back; leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        if 0 < request.memory_cap_bytes < LEAST_BYTES:
            what = f"the load march has a cap of {request.memory_cap_bytes} bytes"
            raise Trouble(what, "burn-in plan", f"Give it at least {LEAST_BYTES} bytes, or 0 for no cap.")

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        return (Target(name="memory"),)

    def open(self, job: Job) -> MarchWork:
        return MarchWork(job)


def _mapped(size_bytes: int) -> Pages:
    try:
        return Pages(size_bytes)
    except (OSError, MemoryError) as error:
        mend = "Lower the plan's memory share or its cap."
        raise Trouble(f"{size_bytes >> 20} MiB of memory are refused", "the load march", mend) from error


def _pieces(size_bytes: int, piece_bytes: int) -> Iterator[tuple[int, int]]:
    for begin in range(0, size_bytes, piece_bytes):
        yield begin, min(piece_bytes, size_bytes - begin)


LOAD = MarchLoad()
