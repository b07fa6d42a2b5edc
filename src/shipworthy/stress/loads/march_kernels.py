"""The march's loops over memory, compiled.

One cache line (64 bytes, eight words: what a memory module transfers in one burst) is read, compared and
written before the next line is touched, in the element's direction; elements are never fused. The vector
operations are given to the compiler as such, because a loop that also keeps what was wrong does not
vectorise by itself. Lines are aligned, and slices are whole lines.

`notes` takes (word index, value found) of the first wrong words; every kernel returns how many were wrong.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

from typing import Any

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from llvmlite import ir
from numba import njit, types, uint64
from numba.core import cgutils
from numba.extending import intrinsic

WORDS = 8
_U64 = ir.IntType(64)
_LINE = ir.VectorType(_U64, WORDS)
_ALIGN_BYTES = 64


def _pointer(context: Any, builder: Any, kind: Any, array: Any, index: Any) -> Any:
    data = context.make_array(kind)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [index]), _LINE.as_pointer())


def _spread(builder: Any, value: Any) -> Any:
    """Return the value in all eight words of a line."""
    none = ir.Constant(_LINE, ir.Undefined)
    first = builder.insert_element(none, value, ir.Constant(ir.IntType(32), 0))
    places = ir.Constant(ir.VectorType(ir.IntType(32), WORDS), [0] * WORDS)
    return builder.shuffle_vector(first, none, places)


@intrinsic
def _differs(typing_context, memory, index, want):
    """Read a line; return the bits in which any of its words differs from `want`."""

    def generate(context, builder, signature, args):
        line = builder.load(
            _pointer(context, builder, signature.args[0], args[0], args[1]), align=_ALIGN_BYTES
        )
        kind = ir.FunctionType(_U64, [_LINE])
        any_bit = cgutils.get_or_insert_function(builder.module, kind, f"llvm.vector.reduce.or.v{WORDS}i64")
        return builder.call(any_bit, [builder.xor(line, _spread(builder, args[2]))])

    return types.uint64(memory, types.uint64, types.uint64), generate


@intrinsic
def _put(typing_context, memory, index, value):
    """Write a line."""

    def generate(context, builder, signature, args):
        pointer = _pointer(context, builder, signature.args[0], args[0], args[1])
        builder.store(_spread(builder, args[2]), pointer, align=_ALIGN_BYTES)
        return context.get_dummy_value()

    return types.void(memory, types.uint64, types.uint64), generate


@intrinsic
def _put_past_caches(typing_context, memory, index, value):
    """Write a line without reading it into the caches first (LLVM's `nontemporal`)."""

    def generate(context, builder, signature, args):
        pointer = _pointer(context, builder, signature.args[0], args[0], args[1])
        store = builder.store(_spread(builder, args[2]), pointer, align=_ALIGN_BYTES)
        store.set_metadata("nontemporal", builder.module.add_metadata([ir.Constant(ir.IntType(32), 1)]))
        return context.get_dummy_value()

    return types.void(memory, types.uint64, types.uint64), generate


_STEP = np.uint64(WORDS)
_NONE = np.uint64(0)


@njit("int64(uint64[::1], uint64, uint64, uint64[:,::1], int64)", nogil=True, cache=CACHED)
def _note(memory, line, want, notes, wrong):
    """Keep what was found in the wrong words of a line, before anything is written over them."""
    for place in range(WORDS):
        index = line + uint64(place)
        if memory[index] != want:
            if wrong < notes.shape[0]:
                notes[wrong, 0] = index
                notes[wrong, 1] = memory[index]
            wrong += 1
    return wrong


@njit("int64(uint64[::1], uint64)", nogil=True, cache=CACHED)
def write(memory, value):
    """(w): upwards. The order matters to no march that begins so."""
    line, end = _NONE, uint64(memory.size)
    while line < end:
        _put_past_caches(memory, line, value)
        line += _STEP
    return 0


@njit("int64(uint64[::1], uint64, uint64[:,::1])", nogil=True, cache=CACHED)
def read(memory, want, notes):
    """(r): upwards."""
    wrong = 0
    line, end = _NONE, uint64(memory.size)
    while line < end:
        if _differs(memory, line, want) != _NONE:
            wrong = _note(memory, line, want, notes, wrong)
        line += _STEP
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint64[:,::1])", nogil=True, cache=CACHED)
def read_write_up(memory, want, value, notes):
    """^(r,w)"""
    wrong = 0
    line, end = _NONE, uint64(memory.size)
    while line < end:
        if _differs(memory, line, want) != _NONE:
            wrong = _note(memory, line, want, notes, wrong)
        _put(memory, line, value)
        line += _STEP
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint64[:,::1])", nogil=True, cache=CACHED)
def read_write_down(memory, want, value, notes):
    """v(r,w)"""
    wrong = 0
    line = uint64(memory.size)
    while line > _NONE:
        line -= _STEP
        if _differs(memory, line, want) != _NONE:
            wrong = _note(memory, line, want, notes, wrong)
        _put(memory, line, value)
    return wrong
