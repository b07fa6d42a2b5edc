"""A thousand flipped bits in products, and some in what checks them: what finds each."""

from __future__ import annotations

import random

import numpy as np
import pytest

from shipworthy.stress.loads.matrix import CHECK, PRODUCT
from shipworthy.stress.loads.matrix_operands import BAND_SHARE
from shipworthy.stress.protocol import Block
from tests.stress.matrix_works import (
    Plant,
    Planted,
    answers,
    compared,
    drawn_flip,
    element_bits,
    flip_at,
    flip_bit,
    go_round,
    opened,
    pair,
)

SIZE = 64
SPLIT = {"float64": 600, "float32": 400}  # a thousand flips
VARIANTS = pytest.mark.parametrize("variant", SPLIT)


def whats(blocks: list[Block]) -> set[str]:
    return {wrong.what for block in blocks for wrong in block.shown}


@VARIANTS
def test_every_bit_flipped_on_one_core_is_found_and_that_core_is_blamed(variant: str) -> None:
    works, draw = pair(size=SIZE, variant=variant), random.Random(f"3/matrix/{variant}/one core")
    for _ in range(SPLIT[variant]):
        target = draw.choice(tuple(works))
        works[target].after_product = drawn_flip(draw, SIZE, element_bits(variant))
        blamed = compared(works, go_round(works))
        assert [one.target for one in blamed] == [target]
        assert blamed[0].expected != blamed[0].found


@VARIANTS
def test_a_single_core_finds_every_flipped_bit_by_doing_each_product_twice(variant: str) -> None:
    work, draw = opened(size=SIZE, variant=variant), random.Random(f"3/matrix/{variant}/alone")
    works = {"cpu:0": work}
    for _ in range(SPLIT[variant]):
        flip, turn = drawn_flip(draw, SIZE, element_bits(variant)), draw.randrange(2)
        done = []
        for now in range(2):
            work.after_product = flip if now == turn else None
            done.append(work.block())
        first, second = answers(done)
        blamed = compared(works, {"cpu:0": done})
        assert [one.found for one in blamed] == [(first, second)[turn].digest]


@VARIANTS
def test_the_same_flip_on_all_cores_is_found_by_the_proof_if_it_is_above_the_bound(variant: str) -> None:
    works, draw = pair(size=SIZE, variant=variant), random.Random(f"3/matrix/{variant}/all cores")
    below = 0
    for number in range(SPLIT[variant]):
        flip = drawn_flip(draw, SIZE, element_bits(variant))
        for work in works.values():
            work.after_product = flip
        done = go_round(works)
        off = works["cpu:0"].off
        assert compared(works, done) == []  # all cores agree on what is wrong
        found = sum(block.wrong for block in done[f"cpu:{number % 2}"])
        assert not any(block.wrong for block in done[f"cpu:{1 - number % 2}"])
        if off > 1.1 * works["cpu:0"].proof.bound:
            assert found == 1, off
        assert found in (0, 1)
        below += not found
        assert whats(done[f"cpu:{number % 2}"]) == ({PRODUCT} if found else set())
    assert 0 < below / SPLIT[variant] < {"float64": 0.25, "float32": 0.4}[variant]


@pytest.mark.parametrize(("variant", "least", "most"), [("float64", 0.16, 0.28), ("float32", 0.33, 0.47)])
def test_the_share_of_flips_below_the_bound_is_the_one_that_the_account_tells(
    variant: str, least: float, most: float
) -> None:
    work, draw, missed = opened(size=1024, variant=variant), random.Random("3/matrix/low bits"), 0
    for _ in range(300):
        row, column, bit = draw.randrange(1024), draw.randrange(1024), draw.randrange(element_bits(variant))
        off = flip_at(row, column, bit)(work)
        rows = work.proof.wrong_rows(work.a, work.b, work.c)
        assert rows == (row,) or (rows == () and off < 1.1 * work.proof.bound)
        missed += not rows
        flip_at(row, column, bit)(work)
    assert least < missed / 300 < most  # "one flipped bit in four; in float32 two in five"


@VARIANTS
def test_a_wrong_operand_on_one_core_of_several_is_found_at_once(variant: str) -> None:
    works, draw = pair(size=SIZE, variant=variant), random.Random(f"3/matrix/{variant}/operands")
    for _ in range(100):
        go_round(works)
        target = draw.choice(tuple(works))
        renewed = range(SIZE)[works[target].round % BAND_SHARE * SIZE // BAND_SHARE :][: SIZE // BAND_SHARE]
        place = draw.choice([index for index in range(SIZE) if index not in renewed])
        operand = draw.choice((works[target].a.T, works[target].b))
        operand[place, 5] *= 1.25
        assert [one.target for one in compared(works, go_round(works))] == [target]
        assert compared(works, go_round(works)) == []  # done again, the operands are made anew


def test_a_single_core_finds_a_flipped_operand_when_its_band_is_made_again() -> None:
    work, draw = opened(size=SIZE), random.Random("3/matrix/operands alone")
    for _ in range(30):  # each time the first band is the next to be renewed, so no product uses that flip
        row = draw.randrange(SIZE)
        flip_bit(work.b[row], draw.randrange(SIZE), 61)
        both = answers([work.block() for _ in range(2 * BAND_SHARE)])
        unlike = [one for one, other in zip(both[::2], both[1::2], strict=True) if one.digest != other.digest]
        assert len(unlike) == (row >= SIZE // BAND_SHARE)


def flip_in_the_proof(call: int, of_vectors: bool, at: tuple[int, int], bit: int) -> Plant:
    """Flip a bit of a vector, or of a product with vectors, around one of a proof's three passes."""

    def plant(work: Planted) -> None:
        times, calls = work.proof.times, []

        def flipping(matrix: np.ndarray, vectors: np.ndarray, products: np.ndarray) -> None:
            calls.append(1)
            if len(calls) == call and of_vectors:
                flip_bit(vectors[at[0]], at[1], bit)
            times(matrix, vectors, products)
            if len(calls) == call and not of_vectors:
                flip_bit(products[at[0]], at[1], bit)

        work.proof.times = flipping  # type: ignore[method-assign]

    return plant


def test_a_flip_in_the_vectors_or_their_products_is_never_called_a_wrong_product() -> None:
    works, draw, told = pair(size=SIZE), random.Random("3/matrix/proof"), 0
    for number in range(400):
        target = f"cpu:{number % 2}"
        call, of_vectors = draw.choice([(1, False), (2, True), (2, False), (3, True), (3, False)])
        at, bit = (draw.randrange(4), draw.randrange(SIZE)), draw.randrange(64)
        works[target].after_digest = flip_in_the_proof(call, of_vectors, at, bit)
        done = go_round(works)
        assert whats(done[target]) <= {CHECK}
        assert compared(works, done) == [] and answers(done[target])[0].proven
        told += sum(block.wrong for block in done[target])
        del works[target].proof.times
    assert 0.6 < told / 400 < 1  # the others are below the bound, and change nothing


def flip_kept(bit: int) -> Plant:
    def plant(work: Planted) -> None:
        work.kept ^= 1 << bit

    return plant


def test_a_flip_in_the_kept_digest_is_told_apart_and_no_core_is_blamed() -> None:
    works, draw = pair(size=SIZE), random.Random("3/matrix/kept")
    for number in range(300):
        target = draw.choice(tuple(works))
        works[target].after_digest = flip_kept(number % 64)
        done = go_round(works)
        assert whats(done[target]) == {CHECK} and sum(block.wrong for block in done[target]) == 1
        assert compared(works, done) == []


@pytest.mark.parametrize("inverted", [False, True])
def test_a_flip_in_what_is_kept_between_the_products_of_a_round_is_told_apart(inverted: bool) -> None:
    works = pair(products=4, size=SIZE)
    for bit in range(64):
        done = go_round(works, 2)
        chain = works["cpu:1"].chains[0]
        if inverted:
            chain.inverted ^= 1 << bit
        else:
            chain.value ^= 1 << bit
        after = go_round(works, 2)
        assert whats(after["cpu:1"]) == {CHECK}
        assert answers(after["cpu:1"]) == [] and len(answers(after["cpu:0"])) == 1
        assert compared(works, after) == [] and whats(done["cpu:1"] + after["cpu:0"]) == set()


@VARIANTS
def test_a_product_that_changes_after_it_was_digested_is_called_a_wrong_product(variant: str) -> None:
    works, draw = pair(size=SIZE, variant=variant), random.Random(f"3/matrix/{variant}/late")
    for number in range(100):
        target = f"cpu:{number % 2}" if number % 3 else f"cpu:{1 - number % 2}"
        works[target].after_digest = drawn_flip(draw, SIZE, element_bits(variant))
        done = go_round(works)
        assert whats(done[target]) == {PRODUCT}
        assert compared(works, done) == []  # it was made again


def test_a_wrong_product_in_a_round_done_again_is_reported_with_the_next_block() -> None:
    work = opened(1, 2, size=SIZE)
    work.block()
    work.after_product = flip_at(3, 4, 62)
    work.again(0)
    assert [(wrong.what, wrong.where) for wrong in work.block().shown] == [(PRODUCT, "row 3, column 4")]
    assert work.block().shown == ()
