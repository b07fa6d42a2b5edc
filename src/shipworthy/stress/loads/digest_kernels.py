"""A digest of results, compiled: at about the speed at which memory is read.

Word i goes into lane i mod 8: x ← (state ⊕ word) · multiplier, state ← x ⊕ (x >> 32). For a given state this
is a bijection of the word, and for a given word one of the state, and so are the steps that fold the lanes;
so one changed word changes the digest with certainty, whichever of its bits. Several changed words give the
same digest by chance only, once in about 2^64. It is no defence against anybody who wants it to collide.
(A rotation in place of the shift would pass the highest bit on alone, and the next word's could undo it.)

The multiplier and the final mixing are those of splitmix64 (Steele, Lea and Flood, "Fast splittable
pseudorandom number generators", OOPSLA 2014).
"""

# ruff: noqa: I001
# mypy: disable-error-code="no-untyped-call,untyped-decorator,no-untyped-def,unused-ignore"
from __future__ import annotations

from collections.abc import Sequence

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from numba import njit, uint64

LANES = 8  # a cache line of words at a time, and enough independent chains to hide a multiplication's delay
GAMMA = 0x9E3779B97F4A7C15
MULTIPLIER = 0xBF58476D1CE4E5B9
FOLD_MULTIPLIER = 0x94D049BB133111EB
_MASK = 2**64 - 1
_GAMMA, _MULTIPLIER, _FOLD = np.uint64(GAMMA), np.uint64(MULTIPLIER), np.uint64(FOLD_MULTIPLIER)
_30, _31, _32 = np.uint64(30), np.uint64(31), np.uint64(32)


@njit("uint64(uint64, uint64)", nogil=True, cache=CACHED)
def _taken(state, word):
    mixed = (state ^ word) * _MULTIPLIER
    return mixed ^ (mixed >> _32)


@njit("uint64(uint64, uint64)", nogil=True, cache=CACHED)
def _folded(state, lane):
    mixed = (state ^ lane) * _FOLD
    mixed = (mixed ^ (mixed >> _30)) * _MULTIPLIER
    return mixed ^ (mixed >> _31)


@njit("uint64(uint64[::1], uint64)", nogil=True, cache=CACHED)
def digest(words, start):
    """Return 64 bits that depend on every bit of the words, on their order and number, and on `start`."""
    s0, s1 = start + uint64(1) * _GAMMA, start + uint64(2) * _GAMMA
    s2, s3 = start + uint64(3) * _GAMMA, start + uint64(4) * _GAMMA
    s4, s5 = start + uint64(5) * _GAMMA, start + uint64(6) * _GAMMA
    s6, s7 = start + uint64(7) * _GAMMA, start + uint64(8) * _GAMMA
    whole = words.size - words.size % LANES
    for i in range(0, whole, LANES):
        s0, s1 = _taken(s0, words[i]), _taken(s1, words[i + 1])
        s2, s3 = _taken(s2, words[i + 2]), _taken(s3, words[i + 3])
        s4, s5 = _taken(s4, words[i + 4]), _taken(s5, words[i + 5])
        s6, s7 = _taken(s6, words[i + 6]), _taken(s7, words[i + 7])
    result = _folded(start, uint64(words.size))
    for lane in (s0, s1, s2, s3, s4, s5, s6, s7):
        result = _folded(result, lane)
    for i in range(whole, words.size):  # fewer than a line
        result = _folded(result, words[i])
    return result


def reference_digest(words: Sequence[int], start: int) -> int:
    """Return the same digest in plain arithmetic: what the loop is tested against."""
    lanes = [(start + (lane + 1) * GAMMA) & _MASK for lane in range(LANES)]
    whole = len(words) - len(words) % LANES
    for i in range(whole):
        mixed = (lanes[i % LANES] ^ words[i]) * MULTIPLIER & _MASK
        lanes[i % LANES] = mixed ^ mixed >> 32
    result = start & _MASK
    for value in (len(words), *lanes, *words[whole:]):
        result = (result ^ value) * FOLD_MULTIPLIER & _MASK
        result = (result ^ result >> 30) * MULTIPLIER & _MASK
        result ^= result >> 31
    return result
