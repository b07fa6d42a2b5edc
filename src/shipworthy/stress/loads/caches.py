"""Caches swept on each core: written with a pattern, read back in other orders, every word compared."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.rounds import (
    SHOWN_MOST,
    Checked,
    RoundWork,
    a_process_for_each_cpu,
    check_request,
    mixed,
)
from shipworthy.stress.protocol import PROTOCOL, About, Ground, Job, Target, Wrong

CPUS = Path("/sys/devices/system/cpu")
KIB, WORD_BYTES, LINE_WORDS = 1024, 8, 8
SIZE_LEAST, SIZE_MOST = 1, 256 * KIB  # KiB, a power of two
USUAL_BYTES = {1: 32 * KIB, 2: 512 * KIB, 3: 2048 * KIB}
"""A core's share where the kernel does not tell the caches' sizes: common practice, on the small side."""
SWEEPS = {1: 16, 2: 4, 3: 1}  # of each level in a round that sweeps it
LARGE_ONE_IN = 16  # rounds; a sweep of the largest takes about as long as all the others together
SHORT_BLOCK_S = 0.1  # in pulses a sweep of the third level would outlast its pulse
ORDERS = ("up", "down", "scattered")


@dataclass(frozen=True)
class WorkingSet:
    """What is swept: a level of the caches (0: a size that was asked for) and its bytes, a power of two."""

    level: int
    size_bytes: int

    @property
    def name(self) -> str:
        return f"L{self.level} cache" if self.level else "working set"


def parse_size_bytes(text: str) -> int:
    """Return a cache's size as the kernel writes it: "32K" or "8M" (sysfs ABI, cpu/cache/index/size)."""
    units = {"K": KIB, "M": KIB**2, "G": KIB**3}
    text = text.strip()
    return int(text[:-1]) * units[text[-1]] if text[-1:] in units else int(text)


def parse_count(cpu_list: str) -> int:
    """Return how many CPUs a list such as "0-3,8" names."""
    ranges = (part.partition("-") for part in cpu_list.strip().split(","))
    return sum(int(last or first) - int(first) + 1 for first, _, last in ranges)


def shares_bytes(cpu: str, cpus: Path = CPUS) -> dict[int, int]:
    """Return a CPU's share of each data cache by level, in bytes; empty where the kernel does not tell.

    Source: /sys/devices/system/cpu/cpu*/cache/index*/{level,type,size,shared_cpu_list} (sysfs ABI).
    """
    shares = {}
    for index in sorted((cpus / cpu / "cache").glob("index*")):
        try:
            level, kind, size, shared = (
                (index / name).read_text().strip() for name in ("level", "type", "size", "shared_cpu_list")
            )
            if kind != "Instruction":
                shares[int(level)] = parse_size_bytes(size) // parse_count(shared)
        except (OSError, ValueError):
            continue
    return {level: size for level, size in shares.items() if level in SWEEPS and size >= KIB}


def power_of_two_within(size: int) -> int:
    return 1 << size.bit_length() - 1


class CachesWork(RoundWork):
    """A round: sweeps of the first two levels, or one of the third; each with a pattern of its own."""

    USUAL_SIZE = 1024  # KiB, for rounds in an answer only: usually each level has its own
    ROUNDS = 64
    CYCLE = LARGE_ONE_IN

    def __init__(self, job: Job) -> None:
        import numpy as np

        from shipworthy.stress.loads import caches_kernels

        super().__init__(job)
        self._np, self._kernels = np, caches_kernels
        told = shares_bytes(job.target.replace(":", ""))
        self._told = bool(told)
        self._sets = self._working_sets(told or USUAL_BYTES)
        most = max(one.size_bytes for one in self._sets) // WORD_BYTES
        room = np.zeros(most + LINE_WORDS, dtype=np.uint64)
        begin = -room.ctypes.data % (LINE_WORDS * WORD_BYTES) // WORD_BYTES  # at the begin of a line
        self.memory = room[begin : begin + most]
        self._notes = np.zeros((SHOWN_MOST, 2), dtype=np.uint64)
        sweeps = sum(SWEEPS.get(one.level, 1) for one in self._sets)
        self.results = np.zeros(sweeps * len(ORDERS), dtype=np.uint64)
        self._found = Checked()
        for number in range(2):
            self.compute(number)

    @property
    def work_of_a_round(self) -> float:
        """Bytes passed over, as a mean of the rounds."""
        share = {3: 1 / LARGE_ONE_IN}
        others = 1 - 1 / LARGE_ONE_IN if self._large else 1.0
        return sum(
            one.size_bytes * SWEEPS.get(one.level, 1) * (1 + len(ORDERS)) * share.get(one.level, others)
            for one in self._sets
        )

    @property
    def kernel(self) -> str:
        """Cores with other caches sweep other sizes."""
        return ", ".join(f"{one.name} {one.size_bytes}" for one in self._sets)

    def compute(self, number: int) -> None:
        self._found = self._sweep_all(number, verify=True)

    def bare(self, number: int) -> None:
        self._sweep_all(number, verify=False)

    def check(self, number: int) -> Checked:
        return self._found

    def detail(self) -> tuple[Value, ...]:
        sizes = "told by the kernel" if self._told else "not told: usual ones"
        return values(working_sets=self.kernel, cache_sizes=sizes)

    def close(self) -> None:
        super().close()
        self.memory = self.memory[:0]

    def written(self, words: Any) -> None:
        """Called when a working set has been written: between that and reading, nothing may change."""

    @property
    def _large(self) -> bool:
        return any(one.level == 3 for one in self._sets)

    def _working_sets(self, told: dict[int, int]) -> tuple[WorkingSet, ...]:
        if self._job.request.size:
            return (WorkingSet(0, power_of_two_within(self._job.request.size) * KIB),)
        levels = [level for level in sorted(told) if level < 3 or self._job.block_s >= SHORT_BLOCK_S]
        return tuple(WorkingSet(level, power_of_two_within(told[level])) for level in levels)

    def _sweep_all(self, number: int, verify: bool) -> Checked:
        """Do a round's sweeps; results of levels that are not its turn are 0."""
        self.results.fill(0)
        checked, at, key = Checked(), 0, self.seed(number)
        large = self._large and number % LARGE_ONE_IN == 0
        for one in self._sets:
            for sweep in range(SWEEPS.get(one.level, 1)):
                if (one.level == 3) == large:
                    sums = self.results[at : at + len(ORDERS)]
                    checked += self._sweep(one, self._u64(mixed(key, at)), sweep % len(ORDERS), sums, verify)
                at += len(ORDERS)
        return checked

    def _sweep(self, one: WorkingSet, key: Any, order: int, sums: Any, verify: bool) -> Checked:
        words = self.memory[: one.size_bytes // WORD_BYTES]
        lines = words.size // LINE_WORDS
        strides = [self._u64(stride) for stride in (1, lines - 1, int(lines * 0.618) | 1)]
        self._kernels.write(words, key, strides[order])
        self.written(words)
        wrong, shown = 0, []
        for place, stride in enumerate(strides):
            if not verify:
                sums[place] = self._kernels.read(words, stride)
                continue
            sums[place], found = self._kernels.verify(words, key, stride, self._notes)
            if found:
                wrong += int(found)
                shown += [
                    self._wrong(one, key, ORDERS[place], note) for note in self._notes[: int(found)].tolist()
                ]
        return Checked(words.size * len(strides), wrong, tuple(shown[:SHOWN_MOST]))

    def _wrong(self, one: WorkingSet, key: Any, order: str, note: list[int]) -> Wrong:
        index, found = note
        expected = int(self._kernels.word_at(key, self._u64(index)))
        bits = ", ".join(str(bit) for bit in range(64) if (expected ^ found) >> bit & 1)
        return Wrong(
            what=f"word in the {one.name}, read {order}",
            where=f"offset 0x{index * WORD_BYTES:x} of {one.size_bytes} bytes, bits {bits}",
            expected=f"0x{expected:016x}",
            found=f"0x{found:016x}",
        )


class CachesLoad:
    protocol = PROTOCOL
    name = "caches"
    about = About(
        stresses="every core's own caches, and its share of the third level, with the paths between them",
        verifies="every word after every reading: upwards, downwards and scattered",
        slips_through=(
            "a wrong word is always found as it is read; a working set is the power of two within a core's "
            "share of a level, so up to half of that is left out, and pulses shorter than 0.4 s leave out "
            "the third level; which lines lie in which cache is the processor's "
            "choice, so not every line of a cache is sure to be swept; codes that correct errors in a cache "
            "hide what they correct, and only the kernel's counters tell of it"
        ),
        unit_of_work="bytes passed over",
        limit="the same sweeps with nothing compared, in the same process, between the others",
        power="medium: loads and stores at the rate of the caches",
        cleans_up="gives its memory back; leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        check_request(request, (SIZE_LEAST, SIZE_MOST))

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        return a_process_for_each_cpu()

    def open(self, job: Job) -> CachesWork:
        return CachesWork(job)


LOAD = CachesLoad()
