"""The loops that write and verify patterns, compiled: by cache line, as the march's (see march_kernels)."""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from numba import njit, uint64

from shipworthy.stress.loads.march_kernels import (
    AHEAD_WORDS,
    WORDS,
    differs_from,
    fetch_to_write,
    note_words,
    put_line,
)
from shipworthy.stress.loads.patterns import EVEN_BITS

_STEP, _NONE, _ONE, _RIGHT = np.uint64(WORDS), np.uint64(0), np.uint64(1), np.uint8(0)
_AHEAD = np.uint64(AHEAD_WORDS)
_EVEN, _ODD = np.uint64(EVEN_BITS), np.uint64(EVEN_BITS << 1)
_LAST_BIT, _BYTES = np.uint64(63), np.uint64(8)
_GAMMA = np.uint64(0x9E37_79B9_7F4A_7C15)
_MIX_1, _MIX_2 = np.uint64(0xBF58_476D_1CE4_E5B9), np.uint64(0x94D0_49BB_1331_11EB)
_S27, _S30, _S31 = np.uint64(27), np.uint64(30), np.uint64(31)


CHUNK_WORDS = 512  # a page's words are made at once, and stay in the nearest cache


@njit("void(int64, uint64, uint64, uint64, uint64[::1])", nogil=True, cache=CACHED)
def fill(kind, number, first, turn, out):
    """Fill `out` with words of a pattern from the index `first` on, XORed with `turn` (patterns.Kind).

    A loop for each kind, so that each is compiled to vectors.
    """
    if kind == 0:
        out[:] = turn
    elif kind == 1:
        for at in range(out.size):
            out[at] = (_ODD if first + uint64(at) & _ONE else _EVEN) ^ turn
    elif kind == 2:
        for at in range(out.size):
            out[at] = (_ONE << (first + uint64(at) + number & _LAST_BIT)) ^ turn
    elif kind == 3:
        for at in range(out.size):
            out[at] = (first + uint64(at)) * _BYTES ^ turn
    else:
        for at in range(out.size):
            word = number + (first + uint64(at)) * _GAMMA + _GAMMA
            word = (word ^ word >> _S30) * _MIX_1
            word = (word ^ word >> _S27) * _MIX_2
            out[at] = word ^ word >> _S31 ^ turn


@njit("int64(uint64[::1], uint64, int64, uint64, uint64, uint64, boolean, boolean, boolean, uint64[:,::1])",
      nogil=True, cache=CACHED)  # fmt: skip
def visit(memory, first, kind, number, want, value, reads, writes, down, notes):
    """Read and compare, then write, line by line. first: index of memory[0] among all words; want and value:
    what the pattern's words are XORed with."""
    wrong, seen = 0, np.empty(WORDS, np.uint64)
    wanted, written = np.empty(CHUNK_WORDS, np.uint64), np.empty(CHUNK_WORDS, np.uint64)
    chunks = (memory.size + CHUNK_WORDS - 1) // CHUNK_WORDS
    for chunk in range(chunks):
        begin = uint64((chunks - 1 - chunk if down else chunk) * CHUNK_WORDS)
        lines = uint64(min(CHUNK_WORDS, memory.size - begin)) // _STEP
        if reads:
            fill(kind, number, first + begin, want, wanted)
        if writes:
            fill(kind, number, first + begin, value, written)
        for count in range(lines):
            at = (lines - _ONE - uint64(count) if down else uint64(count)) * _STEP
            line = begin + at
            fetch_to_write(memory, line - _AHEAD if down else line + _AHEAD)
            if reads:
                differing = differs_from(memory, line, wanted, seen, at)
                if differing != _RIGHT:
                    wrong = note_words(memory, line, differing, wanted[at : at + _STEP], seen, notes, wrong)
            if writes:
                put_line(memory, line, written, at)
    return wrong
