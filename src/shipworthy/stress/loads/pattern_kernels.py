"""The storage load's pattern, compiled: made and compared at the speed of memory.

Word i of a block is w ^ (w >> 29) with w = key + i·γ, γ = 2^64/φ made odd (the Weyl sequence of Steele, Lea
and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014). The key is mixed from seed, pass
and the block's offset, so that a block that lands elsewhere, or an old one, does not compare equal.
"""

# ruff: noqa: I001
# mypy: disable-error-code="no-untyped-call,untyped-decorator,no-untyped-def,unused-ignore"
from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from numba import njit, uint64
from numpy.typing import NDArray

GAMMA = 0x9E3779B97F4A7C15
_GAMMA = np.uint64(GAMMA)
_SHIFT = np.uint64(29)
_MASK = 2**64 - 1


def block_key(seed: int, number: int, offset_bytes: int) -> int:
    """Return the key of a block: the mixing function of splitmix64 (same source) over all three."""
    key = seed & _MASK
    for part in (number, offset_bytes):
        key = (key + (part + 1) * GAMMA) & _MASK
        key = (key ^ key >> 30) * 0xBF58476D1CE4E5B9 & _MASK
        key = (key ^ key >> 27) * 0x94D049BB133111EB & _MASK
        key ^= key >> 31
    return key


def word_at(key: int, index: int) -> int:
    """Return word `index` of the block with that key, in plain arithmetic: the loops' reference."""
    word = (key + index * GAMMA) & _MASK
    return word ^ word >> 29


@njit("uint64(uint64, uint64, uint64)", nogil=True, cache=CACHED)
def key_of(seed, number, offset_bytes):
    """Return what `block_key` does, compiled."""
    key = seed
    for part in (number, offset_bytes):
        key = key + (part + uint64(1)) * _GAMMA
        key = (key ^ (key >> uint64(30))) * uint64(0xBF58476D1CE4E5B9)
        key = (key ^ (key >> uint64(27))) * uint64(0x94D049BB133111EB)
        key ^= key >> uint64(31)
    return key


@njit("void(uint64[::1], uint64)", nogil=True, cache=CACHED)
def fill(block, key):
    for index in range(block.size):
        word = key + uint64(index) * _GAMMA
        block[index] = word ^ (word >> _SHIFT)


@njit("int64(uint64[::1], uint64, uint64)", nogil=True, cache=CACHED)
def count_wrong(block, key, first):
    """Return how many words are not what they have to be, if the block begins at word `first`."""
    wrong = 0
    begin = key + first * _GAMMA
    for index in range(block.size):
        word = begin + uint64(index) * _GAMMA
        wrong += block[index] != word ^ (word >> _SHIFT)
    return wrong


def pattern(key: int, first: int, count: int) -> NDArray[np.uint64]:
    """Return `count` words from word `first` on, in numpy's arithmetic: what a disputed block is held
    against, so that a fault of the compiled loop, or of what it was given, is told apart."""
    words = np.arange(first, first + count, dtype=np.uint64) * _GAMMA + np.uint64(key)
    return words ^ words >> _SHIFT
