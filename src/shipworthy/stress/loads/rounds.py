"""Work in seeded rounds: what the loads of the processor have in common.

Every core does the same rounds, each made of the step's shared seed and the round's number, so operands
change all the time and are the same everywhere. All results of a round lie in one array; it is digested bit
by bit, and the digests of a fixed number of rounds are folded into one answer. A load alone does every fold
twice.
"""

from __future__ import annotations

import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from shipworthy.model.base import Trouble, Value
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import Answer, Block, Job, Note, Target, Wrong

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Words = NDArray[np.uint64]

MASK = 2**64 - 1
SHOWN_MOST = 8
THE_CHECK_ITSELF = "the check itself, not the result: an expected value changed in memory"


def mixed(seed: int, number: int) -> int:
    """Return 64 bits that depend on all bits of both (splitmix64: Steele, Lea and Flood, OOPSLA 2014)."""
    word = (seed + (number + 1) * 0x9E3779B97F4A7C15) & MASK
    word = (word ^ word >> 30) * 0xBF58476D1CE4E5B9 & MASK
    word = (word ^ word >> 27) * 0x94D049BB133111EB & MASK
    return word ^ word >> 31


@dataclass(frozen=True)
class Checked:
    """What a target checked by itself in a round, how much of it was wrong, and the first of that."""

    checks: int = 0
    wrong: int = 0
    shown: tuple[Wrong, ...] = ()

    def __add__(self, other: Checked) -> Checked:
        if not (self.wrong or other.wrong):
            return Checked(self.checks + other.checks)
        shown = (self.shown + other.shown)[:SHOWN_MOST]
        return Checked(self.checks + other.checks, self.wrong + other.wrong, shown)


NOTHING = Checked()


class KnownAnswers:
    """Published answers, kept twice (the second time as complements), so that a fault that sits in the
    expectation is told apart from one in the result."""

    def __init__(self, answers: Mapping[str, int]) -> None:
        self.expected = dict(answers)
        self._complements = {name: ~answer for name, answer in answers.items()}

    def check(self, found: Sequence[int]) -> Checked:
        """Compare with what was found, in the order of the answers."""
        if list(found) == list(self.expected.values()):
            return Checked(len(found))
        pairs = zip(self.expected, found, strict=True)
        wrong = [self._wrong(name, value) for name, value in pairs if value != self.expected[name]]
        return Checked(len(found), len(wrong), tuple(wrong[:SHOWN_MOST]))

    def _wrong(self, name: str, found: int) -> Wrong:
        expected = self.expected[name]
        what = "known answer" if expected == ~self._complements[name] else THE_CHECK_ITSELF
        return Wrong(what=what, where=name, expected=f"0x{expected:x}", found=f"0x{found:x}")


@dataclass
class _Fold:
    """Where the work is: which fold, which turn of it, how many of its rounds are done."""

    number: int = 0
    turn: int = 0
    done: int = 0
    digest: int = 0


class RoundWork(ABC):
    """One process of a load in rounds. A load says what a round is, and what of it is checked at once.

    `results` must be filled by `compute` from the round's number alone.
    """

    USUAL_SIZE: ClassVar[int]
    ROUNDS: ClassVar[int]
    """Rounds in one answer at the usual size; as many more as they are smaller."""
    CYCLE: ClassVar[int] = 1
    """Rounds after which their kinds begin anew, where not all are of one kind."""

    results: Words

    def __init__(self, job: Job) -> None:
        import numpy as np

        from shipworthy.stress.loads.digest_kernels import digest

        self._digest: Callable[[Any, Any], Any] = digest
        self._u64 = np.uint64
        self._job = job
        self._seed = seed_of(job.shared_purpose)
        self._turns = 2 if job.peers == 1 else 1
        self._at, self._bare_number = _Fold(), 0
        self.size = job.request.size or self.USUAL_SIZE
        self.rounds = max(1, self.ROUNDS * self.USUAL_SIZE // self.size)

    @property
    @abstractmethod
    def work_of_a_round(self) -> float:
        """In the load's unit of work."""

    @property
    @abstractmethod
    def kernel(self) -> str:
        """Return by what code results are made: answers are compared where it is the same."""

    @abstractmethod
    def compute(self, number: int) -> None:
        """Fill `results` from the round's number."""

    def bare(self, number: int) -> None:
        """Do the same work, where `compute` has a check woven into it."""
        self.compute(number)

    def check(self, number: int) -> Checked:
        """Return what can be told of the results without another core."""
        return NOTHING

    def begin_block(self) -> Checked:
        """Check what needs checking once a block only."""
        return NOTHING

    def seed(self, number: int) -> int:
        return mixed(self._seed, number)

    def block(self) -> Block:
        began_s = time.perf_counter()
        until_s = began_s + self._job.block_s
        checked, done, answers = self.begin_block(), 0, []
        while not done or time.perf_counter() < until_s:
            checked += self._round()
            done += 1
            if self._at.done == self.rounds:
                answers.append(self._answer())
        return Block(
            work=done * self.work_of_a_round,
            seconds=time.perf_counter() - began_s,
            checks=checked.checks,
            wrong=checked.wrong,
            shown=checked.shown,
            answers=tuple(answers),
        )

    def bare_block(self) -> Block | None:
        """Do rounds that no answer is made of, for a quarter of a block's time: the same work, unchecked.

        Whole cycles of them: a few rounds of one kind would be no limit for the work of all kinds.
        """
        began_s = time.perf_counter()
        until_s, done = began_s + self._job.block_s / 4, 0
        while done % self.CYCLE or not done or time.perf_counter() < until_s:
            self.bare(self._bare_number)
            self._bare_number += 1
            done += 1
        return Block(work=done * self.work_of_a_round, seconds=time.perf_counter() - began_s)

    def again(self, number: int) -> Answer | None:
        digest = 0
        for inner in range(number * self.rounds, (number + 1) * self.rounds):
            self.compute(inner)
            digest = self._folded(digest)
        return Answer(round=number, digest=f"{digest:016x}", kernel=self.kernel)

    def detail(self) -> tuple[Value, ...]:
        return ()

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        self.results = self.results[:0]

    def _round(self) -> Checked:
        at = self._at
        number = at.number * self.rounds + at.done
        self.compute(number)
        checked = self.check(number)
        at.digest = self._folded(at.digest)
        at.done += 1
        return checked

    def _folded(self, digest: int) -> int:
        return int(self._digest(self.results, self._u64(digest)))

    def _answer(self) -> Answer:
        at = self._at
        answer = Answer(round=at.number, digest=f"{at.digest:016x}", kernel=self.kernel, turn=at.turn)
        over = at.turn + 1 == self._turns
        self._at = _Fold(at.number + 1, 0) if over else _Fold(at.number, at.turn + 1)
        return answer


def a_process_for_each_cpu() -> tuple[Target, ...]:
    """Return a process for each CPU that we may run on, pinned."""
    return tuple(Target(name=f"cpu:{cpu}", cpus=(cpu,)) for cpu in resources.usable_cpus())


def check_request(request: LoadRequest, sizes: tuple[int, int], variants: tuple[str, ...] = ()) -> None:
    """Raise Trouble if the size is outside of `sizes` or the variant none of these; 0 and "" are usual."""
    least, most = sizes
    if request.size and not least <= request.size <= most:
        what = f"the load {request.load} cannot have the size {request.size}"
        raise Trouble(what, "burn-in plan", f"Sizes are {least} to {most}.")
    if request.variant and request.variant not in variants:
        what = f"the load {request.load} has no variant {request.variant}"
        mend = f"Variants are: {', '.join(variants)}." if variants else "Leave the variant out."
        raise Trouble(what, "burn-in plan", mend)


def compiler() -> str:
    """Return who compiles the loops, and for which processor."""
    import numba
    from numba.core.registry import cpu_target

    processor = cpu_target.target_context.codegen().magic_tuple()[1]  # what compiled loops are kept under
    return f"numba {numba.__version__}, {processor}"
