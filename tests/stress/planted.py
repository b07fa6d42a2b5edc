"""Loads in rounds with flips planted in their results, between computing and checking."""

from __future__ import annotations

import random
from typing import Any

from shipworthy.model.plan import LoadRequest
from shipworthy.stress.agreement import Agreement, Blamed, Compared, Outcome
from shipworthy.stress.loads.rounds import RoundWork
from shipworthy.stress.protocol import Answer, Block, Job

BLOCK_S = 1e-6  # a round a block


def job(load: str, target: str, peers: int, **request: Any) -> Job:
    return Job(
        step="test",
        load=load,
        target=target,
        request=LoadRequest(load=load, **request),
        seed=11,
        work_folder="",
        memory_reserve_bytes=2**26,
        disk_reserve_bytes=2**26,
        peers=peers,
        block_s=BLOCK_S,
    )


class Flips:
    """Flips one bit of the results in each of the given calls of `compute`, counted from now on."""

    def __init__(self, work: RoundWork, seed: str) -> None:
        self.draw, self.armed = random.Random(seed), False
        self._compute, self._work = work.compute, work
        work.compute = self  # type: ignore[method-assign]

    def __call__(self, number: int) -> None:
        self._compute(number)
        if self.armed:
            self.armed = False
            results = self._work.results
            results[self.draw.randrange(results.size)] ^= results.dtype.type(1 << self.draw.randrange(64))


def a_fold(work: RoundWork) -> tuple[Answer, Block]:
    """Do rounds until an answer comes; return it, and the block that it came with."""
    while True:
        block = work.block()
        if block.answers:
            (answer,) = block.answers
            return answer, block


def heard(agreement: Agreement, answers: dict[str, Answer]) -> list[Outcome]:
    return [outcome for target, answer in answers.items() for outcome in agreement.hear(target, answer)]


def blamed_of_two(works: dict[str, RoundWork]) -> list[Blamed]:
    """Let each do a fold, and the disputed ones again; return whom the agreement blames."""
    agreement = Agreement(len(works))
    answers = {target: a_fold(work)[0] for target, work in works.items()}
    outcomes = heard(agreement, answers)
    if all(isinstance(outcome, Compared) for outcome in outcomes):
        return []
    for target, work in works.items():
        again = work.again(answers[target].round)
        assert again is not None
        outcomes = agreement.hear_again(target, again)
    return [outcome for outcome in outcomes if isinstance(outcome, Blamed)]
