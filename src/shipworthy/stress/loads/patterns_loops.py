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


@njit("void(int64, uint64, uint64, uint64, uint64[::1])", nogil=True, cache=CACHED)
def line_of(kind, number, index, turn, line):
    """Fill `line` with eight words of a pattern from an index on, XORed with `turn` (patterns.Kind)."""
    for place in range(WORDS):
        at = index + uint64(place)
        if kind == 0:
            word = _NONE
        elif kind == 1:
            word = _ODD if at & _ONE else _EVEN
        elif kind == 2:
            word = _ONE << (at + number & _LAST_BIT)
        elif kind == 3:
            word = at * _BYTES
        else:
            word = number + at * _GAMMA + _GAMMA
            word = (word ^ word >> _S30) * _MIX_1
            word = (word ^ word >> _S27) * _MIX_2
            word = word ^ word >> _S31
        line[place] = word ^ turn


@njit("int64(uint64[::1], uint64, int64, uint64, uint64, uint64, boolean, boolean, boolean, uint64[:,::1])",
      nogil=True, cache=CACHED)  # fmt: skip
def visit(memory, first, kind, number, want, value, reads, writes, down, notes):
    """Read and compare, then write, line by line. first: index of memory[0] among all words; want and value:
    what the pattern's words are XORed with."""
    wrong, seen, line_words = 0, np.empty(WORDS, np.uint64), np.empty(WORDS, np.uint64)
    lines = uint64(memory.size) // _STEP
    for count in range(lines):
        line = (lines - _ONE - uint64(count) if down else uint64(count)) * _STEP
        fetch_to_write(memory, line - _AHEAD if down else line + _AHEAD)
        if reads:
            line_of(kind, number, first + line, want, line_words)
            differing = differs_from(memory, line, line_words, seen)
            if differing != _RIGHT:
                wrong = note_words(memory, line, differing, line_words, seen, notes, wrong)
        if writes:
            line_of(kind, number, first + line, value, line_words)
            put_line(memory, line, line_words)
    return wrong
