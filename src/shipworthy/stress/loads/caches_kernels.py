"""Loops over a working set, compiled: written, read in other orders, every word compared.

Word i is w ^ (w >> 29) with w = key + i·γ, as in the storage load. A cache line (64 bytes, eight words) is
taken at a time. Orders are odd strides, and the lines a power of two, so that each visits every line once: a
stride of 1 walks up, one of the number less 1 walks down, and a long one makes fetching ahead of no use.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from numba import njit, uint64

_GAMMA = np.uint64(0x9E3779B97F4A7C15)
_29 = np.uint64(29)
WORDS = 8  # of a cache line of 64 bytes
_WORDS = np.uint64(WORDS)


@njit("uint64(uint64, uint64)", nogil=True, cache=CACHED)
def word_at(key, index):
    word = key + index * _GAMMA
    return word ^ (word >> _29)


@njit("void(uint64[::1], uint64, uint64)", nogil=True, cache=CACHED)
def write(words, key, stride):
    """Write every line, beginning at 0 and going on by `stride` lines."""
    lines = words.size // WORDS
    mask, line = uint64(lines - 1), uint64(0)
    for _ in range(lines):
        begin = line * _WORDS
        for place in range(WORDS):
            words[begin + uint64(place)] = word_at(key, begin + uint64(place))
        line = (line + stride) & mask


@njit("uint64(uint64[::1], uint64)", nogil=True, cache=CACHED)
def read(words, stride):
    """Read every line in that order; return the sum of all words. Nothing is compared."""
    lines = words.size // WORDS
    mask, line, total = uint64(lines - 1), uint64(0), uint64(0)
    for _ in range(lines):
        begin = line * _WORDS
        for place in range(WORDS):
            total += words[begin + uint64(place)]
        line = (line + stride) & mask
    return total


@njit("int64(uint64[::1], uint64, uint64, uint64[:,::1], int64)", nogil=True, cache=CACHED)
def _note(words, key, begin, notes, wrong):
    for place in range(WORDS):
        index = begin + uint64(place)
        if words[index] != word_at(key, index):
            if wrong < notes.shape[0]:
                notes[wrong, 0], notes[wrong, 1] = index, words[index]
            wrong += 1
    return wrong


@njit("Tuple((uint64, int64))(uint64[::1], uint64, uint64, uint64[:,::1])", nogil=True, cache=CACHED)
def verify(words, key, stride, notes):
    """The same, and compare. notes takes (index, found) of the first wrong words; return sum and wrong ones.

    A word that is wrong at one reading and right at the next, when it would be noted, counts as one all the
    same; its note is (the line's first word, what is there now).
    """
    lines = words.size // WORDS
    mask, line, total, wrong = uint64(lines - 1), uint64(0), uint64(0), 0
    for _ in range(lines):
        begin, differs = line * _WORDS, uint64(0)
        for place in range(WORDS):
            found = words[begin + uint64(place)]
            total += found
            differs |= found ^ word_at(key, begin + uint64(place))
        if differs != uint64(0):
            before = wrong
            wrong = _note(words, key, begin, notes, wrong)
            if wrong == before:
                if wrong < notes.shape[0]:
                    notes[wrong, 0], notes[wrong, 1] = begin, words[begin]
                wrong += 1
        line = (line + stride) & mask
    return total, wrong
