"""Targets of the load matrix in this process, with faults planted where a test wants them."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from shipworthy.stress.agreement import Agreement, Asked, Blamed, Outcome
from shipworthy.stress.loads.matrix import MatrixWork
from shipworthy.stress.protocol import Answer, Block, Job
from tests.stress.small_burn_ins import job_for

Plant = Callable[["Planted"], object]


class Planted(MatrixWork):
    """A target into which one fault can be planted: after the next product, or between digest and proof."""

    after_product: Plant | None = None
    after_digest: Plant | None = None
    off: float = 0.0  # by how much the last flip changed its element

    def multiply(self) -> None:
        super().multiply()
        if self.after_product:
            plant, self.after_product = self.after_product, None
            plant(self)

    def prove(self) -> Any:
        self._plant_after_digest()
        return super().prove()

    def _confirm(self, start: int) -> Any:
        self._plant_after_digest()
        return super()._confirm(start)

    def _plant_after_digest(self) -> None:
        if self.after_digest:
            plant, self.after_digest = self.after_digest, None
            plant(self)


def job(number: int = 0, peers: int = 1, **request: Any) -> Job:
    one = job_for("matrix", Path(), **request)
    return msgspec.structs.replace(one, target=f"cpu:{number}", number=number, peers=peers)


def opened(number: int = 0, peers: int = 1, products: int = 1, **request: Any) -> Planted:
    return Planted(job(number, peers, **request), products)


def pair(products: int = 1, **request: Any) -> dict[str, Planted]:
    return {f"cpu:{number}": opened(number, 2, products, **request) for number in range(2)}


def drawn_flip(draw: random.Random, size: int, bits: int) -> Callable[[Planted], float]:
    """Draw a place and a bit; what is returned flips it in the product and tells by how much that is off."""
    return flip_at(draw.randrange(size), draw.randrange(size), draw.randrange(bits))


def flip_at(row: int, column: int, bit: int) -> Callable[[Planted], float]:
    def flip(work: Planted) -> float:
        before = float(work.c[row, column])
        flip_bit(work.c[row], column, bit)
        off = abs(float(work.c[row, column]) - before)
        work.off = off if math.isfinite(off) else math.inf
        return work.off

    return flip


def flip_bit(numbers: Any, index: int, bit: int) -> None:
    words = numbers.view(f"u{numbers.dtype.itemsize}")
    words[index] ^= words.dtype.type(1 << bit)


def go_round(works: dict[str, Planted], blocks: int = 1) -> dict[str, list[Block]]:
    return {target: [work.block() for _ in range(blocks)] for target, work in works.items()}


def answers(blocks: list[Block]) -> list[Answer]:
    return [answer for block in blocks for answer in block.answers]


def compared(works: dict[str, Planted], done: dict[str, list[Block]]) -> list[Blamed]:
    """Compare what the targets got, let them do again what is disputed, and return who is blamed."""
    agreement = Agreement(len(works))
    heard: list[Outcome] = [
        outcome
        for target in works
        for answer in answers(done[target])
        for outcome in agreement.hear(target, answer)
    ]
    for asked in [outcome for outcome in heard if isinstance(outcome, Asked)]:
        for target in asked.targets:
            again = works[target].again(asked.round)
            assert again is not None
            heard += agreement.hear_again(target, again)
    heard += agreement.close()
    return [outcome for outcome in heard if isinstance(outcome, Blamed)]


def element_bits(variant: str) -> int:
    return int(np.dtype(variant).itemsize) * 8
