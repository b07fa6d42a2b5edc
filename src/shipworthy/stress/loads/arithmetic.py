"""Division, roots, powers, conversions and vectors of every width that the processor has, on each core."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.rounds import (
    SHOWN_MOST,
    Checked,
    RoundWork,
    a_process_for_each_cpu,
    check_request,
    compiler,
)
from shipworthy.stress.protocol import PROTOCOL, About, Ground, Job, Target, Wrong

SIZE_LEAST, SIZE_MOST = 16, 65536
LANES_TOGETHER = 8  # sizes are made a multiple of the widest vector's float64 lanes
STEPS = 16
OPERATIONS_OF_A_STEP = 14  # results that each step of a lane takes in
SCALAR_BITS = 64
WIDEST = "widest"
VARIANTS = (WIDEST,)
FLAGS = {128: ("sse2", "asimd"), 256: ("avx2",), 512: ("avx512f", "avx512dq")}
"""What /proc/cpuinfo calls the widths: 128 by either name (asimd: Arm), others by all."""


def vector_widths(cpuinfo: str) -> tuple[int, ...]:
    """Return the widths in bits of the vectors that this processor has, by the `flags` (x86) or `Features`
    (Arm) of /proc/cpuinfo that all of its processors share."""
    lines = [line.partition(":") for line in cpuinfo.splitlines()]
    flags = [set(text.split()) for name, _, text in lines if name.strip() in ("flags", "Features")]
    shared = set.intersection(*flags) if flags else set()
    widths = [128] if shared & set(FLAGS[128]) else []
    return tuple(widths + [width for width in (256, 512) if set(FLAGS[width]) <= shared])


class ArithmeticWork(RoundWork):
    """A round: the same lanes in each width, functions of libm, and what IEEE 754 makes exact."""

    USUAL_SIZE = 1024
    ROUNDS = 1024

    def __init__(self, job: Job) -> None:
        import numpy as np

        from shipworthy.stress.loads import arithmetic_kernels as kernels

        super().__init__(job)
        self._np, self._kernels = np, kernels
        vectors = vector_widths((resources.PROC / Path("cpuinfo")).read_text("utf-8", errors="replace"))
        self.widths = (SCALAR_BITS, *vectors)
        if job.request.variant == WIDEST:
            self.widths = self.widths[-1:]
        self.size += -self.size % LANES_TOGETHER
        self._operands = self.size // 2
        self._kernel = compiler()
        lanes, rows = 2 * self.size * len(self.widths), len(kernels.FUNCTIONS) + len(kernels.EXACT)
        self.results = np.zeros(lanes + rows * self._operands, dtype=np.uint64)
        self.lanes: Any = self.results[:lanes].reshape(len(self.widths), 2, self.size)
        floats = self.results[lanes:].view(np.float64).reshape(rows, self._operands)
        self.functions: Any = floats[: len(kernels.FUNCTIONS)]
        self.exact: Any = floats[len(kernels.FUNCTIONS) :]
        self._notes = np.zeros((SHOWN_MOST, 2), dtype=np.int64)
        self.compute(0)  # compiles what is not yet compiled; not counted

    @property
    def work_of_a_round(self) -> float:
        lanes = self.size * len(self.widths) * STEPS * OPERATIONS_OF_A_STEP
        return float(lanes + (self.functions.size + self.exact.size))

    @property
    def kernel(self) -> str:
        return self._kernel

    def compute(self, number: int) -> None:
        seed = self._u64(self.seed(number))
        for width, (state, accumulators) in zip(self.widths, self.lanes, strict=True):
            self._kernels.start_lanes(seed, state)
            accumulators.fill(0)
            self._kernels.LANES[width](state, accumulators, STEPS)
        self._kernels.functions(seed, self.functions)
        self._kernels.exact_made(seed, self.exact)

    def check(self, number: int) -> Checked:
        """Compare the widths with one another, and undo what was exact."""
        checked = Checked(self.exact.size)
        if wrong := self._kernels.exact_undone(self._u64(self.seed(number)), self.exact, self._notes):
            checked = Checked(self.exact.size, int(wrong), tuple(self._inexact(number, int(wrong))))
        for place in range(1, len(self.widths)):
            same = self._np.array_equal(self.lanes[place], self.lanes[0])
            checked += Checked(self.size) if same else self._unlike(number, place)
        return checked

    def detail(self) -> tuple[Value, ...]:
        return values(lanes=self.size, widths_bits=", ".join(map(str, self.widths)), compiled_by=self._kernel)

    def _inexact(self, number: int, wrong: int) -> list[Wrong]:
        names = self._kernels.EXACT
        return [
            Wrong(
                what=f"exact arithmetic: {names[which]}",
                where=f"round {number}, operand {i}, drawn from 0x{self.seed(number):016x}",
                found=float(self.exact[which, i]).hex(),
            )
            for which, i in self._notes[: min(wrong, SHOWN_MOST)].tolist()
        ]

    def _unlike(self, number: int, place: int) -> Checked:
        """Tell the lanes in which a width differs from the first; a third doing tells which one erred."""
        np = self._np
        again = np.zeros((2, self.size), dtype=np.uint64)
        self._kernels.start_lanes(self._u64(self.seed(number)), again[0])
        self._kernels.LANES[self.widths[0]](again[0], again[1], STEPS)
        lanes = np.flatnonzero((self.lanes[place] != self.lanes[0]).any(axis=0))
        shown = []
        for lane in lanes[:SHOWN_MOST].tolist():
            first_is_right = (again[:, lane] == self.lanes[0, :, lane]).all()
            row = place if first_is_right else 0
            which = int(self.lanes[row, 1, lane] != again[1, lane])  # the accumulator, or the state alone
            shown.append(
                Wrong(
                    what=f"arithmetic, {self.widths[row]} bits wide",
                    where=f"round {number}, lane {lane} of 0x{self.seed(number):016x}",
                    expected=f"0x{int(again[which, lane]):016x}",
                    found=f"0x{int(self.lanes[row, which, lane]):016x}",
                )
            )
        return Checked(self.size, len(lanes), tuple(shown))


class ArithmeticLoad:
    protocol = PROTOCOL
    name = "arithmetic"
    about = About(
        stresses=(
            "every core's division, roots, powers, fused multiply-add and conversions, in single lanes and "
            "in vectors of each width that it has"
        ),
        verifies=(
            "every bit of every result against the other cores; that all widths give the same; and that what "
            "IEEE 754 makes exact comes back exactly"
        ),
        slips_through=(
            "a wrong bit changes its round's digest with certainty, and the answer that some hundreds of "
            "rounds are folded into but for about once in 2^54; a core alone sees it unless it errs twice "
            "alike; a fault that every core has alike is seen only where the widths differ, or an exact "
            "result does not come back: logarithms, exponentials, powers and sines are held against other "
            "cores alone, and the variant widest compares no widths"
        ),
        unit_of_work="operations",
        limit="the same rounds without comparison and digest, in the same process, between the others",
        power="less than matrix products: divisions and roots leave multipliers waiting",
        cleans_up="leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        check_request(request, (SIZE_LEAST, SIZE_MOST), VARIANTS)

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        return a_process_for_each_cpu()

    def open(self, job: Job) -> ArithmeticWork:
        return ArithmeticWork(job)


LOAD = ArithmeticLoad()
