"""The digest of results: like its plain reference, and changed by whatever changes."""

from __future__ import annotations

import random

import numpy as np
import pytest

from shipworthy.stress.loads.digest_kernels import LANES, digest, reference_digest

LENGTHS = (0, 1, 7, 8, 9, 64, 333)


def drawn(length: int) -> np.ndarray:
    return np.random.default_rng(length + 1).integers(0, 2**64, length, dtype=np.uint64)


def of(words: np.ndarray, start: int = 5) -> int:
    return int(digest(words, np.uint64(start)))


@pytest.mark.parametrize("length", LENGTHS)
@pytest.mark.parametrize("start", [0, 5, 2**64 - 1])
def test_the_loop_and_the_plain_reference_agree(length: int, start: int) -> None:
    words = drawn(length)
    assert of(words, start) == reference_digest([int(w) for w in words], start)


@pytest.mark.parametrize("length", LENGTHS[1:-1])
@pytest.mark.parametrize("value", [0, 2**64 - 1, None], ids=["zeros", "ones", "drawn"])
def test_any_single_flipped_bit_changes_it(length: int, value: int | None) -> None:
    words = drawn(length) if value is None else np.full(length, value, dtype=np.uint64)
    seen = {of(words)}
    for index in range(length):
        for bit in range(64):
            words[index] ^= np.uint64(1 << bit)
            seen.add(of(words))
            words[index] ^= np.uint64(1 << bit)
    assert len(seen) == 1 + 64 * length  # and no two of these flips look alike


def test_swapped_words_change_it_in_one_lane_and_across_lanes() -> None:
    words, draw = drawn(20 * LANES + 5), random.Random("1/digest/swaps")
    before = of(words)
    apart = [(i, i + LANES) for i in range(19 * LANES)] + [(i, i + 1) for i in range(len(words) - 1)]
    apart += [tuple(draw.sample(range(len(words)), 2)) for _ in range(200)]
    for one, other in apart:
        words[[one, other]] = words[[other, one]]
        assert of(words) != before, (one, other)
        words[[one, other]] = words[[other, one]]
    assert of(words) == before


def test_the_same_flip_of_two_words_does_not_cancel() -> None:
    """Faults of one wire hit many words at the same bit."""
    words, before = drawn(8 * LANES), of(drawn(8 * LANES))
    for bit in range(64):
        for one in range(len(words)):
            for other in range(one):
                words[[one, other]] ^= np.uint64(1 << bit)
                assert of(words) != before, (bit, one, other)
                words[[one, other]] ^= np.uint64(1 << bit)


def test_length_and_start_count() -> None:
    assert len({of(np.zeros(length, dtype=np.uint64)) for length in range(200)}) == 200
    assert len({of(drawn(9), start) for start in range(200)}) == 200
