"""Integer and bit work on each core: chains that every core does alike, identities, and known answers."""

from __future__ import annotations

from typing import Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.rounds import (
    SHOWN_MOST,
    Checked,
    KnownAnswers,
    RoundWork,
    a_process_for_each_cpu,
    check_request,
    compiler,
)
from shipworthy.stress.protocol import PROTOCOL, About, Ground, Job, Target, Wrong

SIZE_LEAST, SIZE_MOST = 16, 65536
CHAINS = 4
LINKS_KEPT_ONE_IN = 32  # of a chain; a wrong link makes all later ones wrong
DIVISIONS_OF_A_LINK = 2
OPERATIONS_OF_A_LINK = 30.0
CHECK_TEXT = b"123456789"
CRC_OF_TEXT = "CRC-32C of 123456789"
CRC_OF_ROUND = "CRC-32C by table and bit by bit"
CRC_BYTES = 64
EXPONENTS = (11, 13, 17, 19, 23, 31, 61)
PUBLISHED = {CRC_OF_TEXT: 0xE3069283} | {f"Lucas-Lehmer residue, p = {p}": 0 for p in EXPONENTS}
PUBLISHED |= {"Lucas-Lehmer residue, p = 11": 1736, "Lucas-Lehmer residue, p = 23": 6107895}
"""CRC-32C's check value as the catalogues of CRCs give it. 2^p − 1 is prime for p = 13, 17, 19, 31 and 61
(known Mersenne exponents), so that the residue is 0; the other two residues were computed."""


class IntegersWork(RoundWork):
    """A round: chains, divisions, CRC-32C in two ways, Lucas–Lehmer tests."""

    USUAL_SIZE = 1024
    ROUNDS = 1024

    def __init__(self, job: Job) -> None:
        import numpy as np

        from shipworthy.stress.loads import integers_kernels as kernels

        super().__init__(job)
        self._np, self._kernels, self._kernel = np, kernels, compiler()
        self._divisions = self.size * DIVISIONS_OF_A_LINK
        self.known = KnownAnswers(PUBLISHED)
        self.table = kernels.crc_table()
        self._text = np.frombuffer(CHECK_TEXT, dtype=np.uint8).copy()
        self._notes = np.zeros(SHOWN_MOST, dtype=np.int64)
        chains, divisions = CHAINS * self.size, 2 * self._divisions
        self.results = np.zeros(chains + divisions + 2 + len(PUBLISHED), dtype=np.uint64)
        self.chains: Any = self.results[:chains].reshape(CHAINS, self.size)
        self.divisions: Any = self.results[chains : chains + divisions].reshape(2, self._divisions)
        self.sums: Any = self.results[chains + divisions : chains + divisions + 2]
        self.answers: Any = self.results[-len(PUBLISHED) :]
        self._summed: Any = self.chains.reshape(-1)[: CRC_BYTES // 8].view(np.uint8)
        self.compute(0)

    @property
    def work_of_a_round(self) -> float:
        return OPERATIONS_OF_A_LINK * LINKS_KEPT_ONE_IN * self.size + 2.0 * self._divisions

    @property
    def kernel(self) -> str:
        return self._kernel

    def compute(self, number: int) -> None:
        kernels, seed = self._kernels, self._u64(self.seed(number))
        kernels.chains(seed, LINKS_KEPT_ONE_IN, self.chains)
        kernels.divided(seed, self.divisions)
        self.sums[0] = kernels.crc32c(self._summed, self.table)
        self.sums[1] = kernels.crc32c_bitwise(self._summed)
        self.answers[0] = kernels.crc32c(self._text, self.table)
        for place, exponent in enumerate(EXPONENTS, start=1):
            self.answers[place] = kernels.lucas_lehmer(exponent)

    def check(self, number: int) -> Checked:
        checked = self.known.check(self.answers.tolist()) + self._same_sums(number)
        wrong = int(self._kernels.division_wrong(self._u64(self.seed(number)), self.divisions, self._notes))
        shown = tuple(self._undivided(number, i) for i in self._notes[: min(wrong, SHOWN_MOST)].tolist())
        return checked + Checked(self._divisions, wrong, shown)

    def detail(self) -> tuple[Value, ...]:
        return values(
            links=LINKS_KEPT_ONE_IN * self.size, divisions=self._divisions, compiled_by=self._kernel
        )

    def _same_sums(self, number: int) -> Checked:
        by_table, bitwise = self.sums.tolist()
        if by_table == bitwise:
            return Checked(1)
        where = f"round {number}, from 0x{self.seed(number):016x}"
        wrong = Wrong(what=CRC_OF_ROUND, where=where, expected=f"0x{bitwise:x}", found=f"0x{by_table:x}")
        return Checked(1, 1, (wrong,))

    def _undivided(self, number: int, i: int) -> Wrong:
        n, d = self._kernels.division_operands(self._u64(self.seed(number)), self._u64(i))
        quotient, remainder = (f"0x{int(value):x}" for value in self.divisions[:, i])
        return Wrong(
            what="division of integers: q·d + r = n",
            where=f"round {number}, 0x{int(n):x} by 0x{int(d):x}",
            expected="quotient 0x{:x}, remainder 0x{:x}".format(*divmod(int(n), int(d))),
            found=f"quotient {quotient}, remainder {remainder}",
        )


class IntegersLoad:
    protocol = PROTOCOL
    name = "integers"
    about = About(
        stresses="every core's integer multipliers, dividers, shifters and adders, and its counting of bits",
        verifies=(
            "the results of all chains, one link in 32 as it is, against the other cores; every division by "
            "q·d + r = n; CRC-32C and "
            "residues of Lucas-Lehmer tests against known answers in every round"
        ),
        slips_through=(
            "a wrong bit changes its round's digest with certainty, and the answer that some hundreds of "
            "rounds are folded into but for about once in 2^54; a core alone sees it unless it errs twice "
            "alike; a wrong bit of a link that is not kept is seen as far as what follows depends on it; "
            "a fault that every core has alike is seen only in divisions and known answers"
        ),
        unit_of_work="operations",
        limit="the same rounds without comparison and digest, in the same process, between the others",
        power="little: one chain of integers keeps few units busy at a time",
        cleans_up="leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        check_request(request, (SIZE_LEAST, SIZE_MOST))

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        return a_process_for_each_cpu()

    def open(self, job: Job) -> IntegersWork:
        return IntegersWork(job)


LOAD = IntegersLoad()
