"""The march's loops over memory, compiled.

One cache line (64 bytes, eight words: what a memory module transfers in one burst) gets all operations of an
element before the next line is touched, in the element's direction; elements are never fused. Loads and
stores are volatile to the compiler: two reads in a row are two loads. Vectors are given to it as such,
because a loop that also keeps what was wrong does not vectorise by itself. Lines are aligned, and slices are
whole lines. The line 4 KiB ahead is fetched, for writing where the element writes: that moves data into the
caches sooner and is no operation of the march.

`notes` takes rows of the first wrong words: index, expected, found, and what two more reads gave that went
past the caches (where the processor is known to have an instruction for it). Every kernel returns how many
words were wrong.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

import platform
from typing import Any

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from llvmlite import ir
from llvmlite.ir import instructions
from numba import njit, types, uint64
from numba.core import cgutils
from numba.extending import intrinsic

WORDS = 8
AHEAD_WORDS = 4096 // 8
PAST_CACHES = platform.machine() in ("x86_64", "AMD64")
"""Whether the two more reads of a wrong word empty the caches first (clflush)."""
_U64, _I32, _I8 = ir.IntType(64), ir.IntType(32), ir.IntType(8)
_LINE = ir.VectorType(_U64, WORDS)
_ALIGN_BYTES = 64


class _VolatileLoad(instructions.LoadInstr):
    """llvmlite's load has no word for `volatile`; the text that it hands to LLVM has."""

    def descr(self, buf):
        _as_volatile(super().descr, "load ", buf)


class _VolatileStore(instructions.StoreInstr):
    def descr(self, buf):
        _as_volatile(super().descr, "store ", buf)


def _as_volatile(descr, word, buf):
    plain = []
    descr(plain)
    buf.append("".join(plain).replace(word, f"{word}volatile ", 1))


def _load(builder, pointer, align_bytes):
    load = _VolatileLoad(builder.block, pointer, name="", typ=None)
    load.align = align_bytes
    builder._insert(load)
    return load


def _pointer(context: Any, builder: Any, kind: Any, array: Any, index: Any, to: Any = _LINE) -> Any:
    data = context.make_array(kind)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [index]), to.as_pointer())


def _spread(builder: Any, value: Any, turned: Any) -> Any:
    """Return a line with the value in all its words, and its complement where a bit of `turned` is set."""
    none = ir.Constant(_LINE, ir.Undefined)
    first = builder.insert_element(none, value, ir.Constant(_I32, 0))
    places = ir.Constant(ir.VectorType(_I32, WORDS), [0] * WORDS)
    mask = builder.sext(builder.bitcast(turned, ir.VectorType(ir.IntType(1), WORDS)), _LINE)
    return builder.xor(builder.shuffle_vector(first, none, places), mask)


def _compare(context, builder, signature, args, want, seen_at):
    """Load the line; keep it in `seen` if it is not as wanted; return a bit for each word that differs."""
    line = _load(builder, _pointer(context, builder, signature.args[0], args[0], args[1]), _ALIGN_BYTES)
    differing = builder.bitcast(builder.icmp_unsigned("!=", line, want), _I8)
    wrong = builder.icmp_unsigned("!=", differing, ir.Constant(_I8, 0))
    with builder.if_then(wrong, likely=False):
        seen, kind = args[seen_at], signature.args[seen_at]
        kept = _pointer(context, builder, kind, seen, ir.Constant(_U64, 0))
        builder.store(line, kept, align=WORDS)
    return differing


@intrinsic
def differs(typing_context, memory, index, want, turned, seen):
    """Read a line whose words should be `want`, or its complement where a bit of `turned` is set."""

    def generate(context, builder, signature, args):
        return _compare(context, builder, signature, args, _spread(builder, args[2], args[3]), 4)

    return types.uint8(memory, types.uint64, types.uint64, types.uint8, seen), generate


@intrinsic
def differs_from(typing_context, memory, index, wanted, seen, at):
    """Read a line whose words should be the eight of `wanted` from `at` on."""

    def generate(context, builder, signature, args):
        pointer = _pointer(context, builder, signature.args[2], args[2], args[4])
        return _compare(context, builder, signature, args, builder.load(pointer, align=WORDS), 3)

    return types.uint8(memory, types.uint64, wanted, seen, types.uint64), generate


def _store(context, builder, signature, args, line, past_caches=False):
    pointer = _pointer(context, builder, signature.args[0], args[0], args[1])
    store = _VolatileStore(builder.block, line, pointer)
    store.align = _ALIGN_BYTES
    builder._insert(store)
    if past_caches:
        store.set_metadata("nontemporal", builder.module.add_metadata([ir.Constant(_I32, 1)]))
    return context.get_dummy_value()


@intrinsic
def put(typing_context, memory, index, value, turned):
    """Write a line."""

    def generate(context, builder, signature, args):
        return _store(context, builder, signature, args, _spread(builder, args[2], args[3]))

    return types.void(memory, types.uint64, types.uint64, types.uint8), generate


@intrinsic
def put_line(typing_context, memory, index, values, at):
    """Write a line: the eight words of `values` from `at` on."""

    def generate(context, builder, signature, args):
        pointer = _pointer(context, builder, signature.args[2], args[2], args[3])
        return _store(context, builder, signature, args, builder.load(pointer, align=WORDS))

    return types.void(memory, types.uint64, values, types.uint64), generate


@intrinsic
def _put_past_caches(typing_context, memory, index, value, turned):
    """Write a line without reading it into the caches first (LLVM's `nontemporal`)."""

    def generate(context, builder, signature, args):
        line = _spread(builder, args[2], args[3])
        return _store(context, builder, signature, args, line, past_caches=True)

    return types.void(memory, types.uint64, types.uint64, types.uint8), generate


def _instruction(builder, name, takes):
    """Return one of LLVM's own functions that stand for an instruction and give nothing back."""
    return cgutils.get_or_insert_function(builder.module, ir.FunctionType(ir.VoidType(), takes), name)


def _fetching(writes):
    @intrinsic
    def fetch(typing_context, memory, index):
        """Begin to bring a line nearer. An address outside of the memory does no harm (LLVM: a hint)."""

        def generate(context, builder, signature, args):
            pointer = _pointer(context, builder, signature.args[0], args[0], args[1], _I8)
            function = _instruction(builder, "llvm.prefetch.p0", [pointer.type, _I32, _I32, _I32])
            builder.call(function, [pointer, *(ir.Constant(_I32, word) for word in (int(writes), 3, 1))])
            return context.get_dummy_value()

        return types.void(memory, types.uint64), generate

    return fetch


fetch_to_read, fetch_to_write = _fetching(False), _fetching(True)


@intrinsic
def _again(typing_context, memory, index):
    """Read one word from the module and not from a cache, as well as a program can."""

    def generate(context, builder, signature, args):
        pointer = _pointer(context, builder, signature.args[0], args[0], args[1], _U64)
        if PAST_CACHES:
            fence = _instruction(builder, "llvm.x86.sse2.mfence", [])
            builder.call(fence, [])
            builder.call(_instruction(builder, "llvm.x86.sse2.clflush", [pointer.type]), [pointer])
            builder.call(fence, [])
        return _load(builder, pointer, WORDS)

    return types.uint64(memory, types.uint64), generate


_STEP = np.uint64(WORDS)
_NONE = np.uint64(0)
_RIGHT = np.uint8(0)
_AHEAD = np.uint64(AHEAD_WORDS)


@njit("int64(uint64[::1], uint64, uint8, uint64[::1], uint64[::1], uint64[:,::1], int64)",
      nogil=True, cache=CACHED)  # fmt: skip
def note_words(memory, line, differing, wanted, seen, notes, wrong):
    """Keep what was found in the wrong words of a line, before anything is written over them."""
    for place in range(WORDS):
        if differing >> place & 1:
            if wrong < notes.shape[0]:
                index = line + uint64(place)
                notes[wrong, 0] = index
                notes[wrong, 1] = wanted[place]
                notes[wrong, 2] = seen[place]
                notes[wrong, 3] = _again(memory, index)
                notes[wrong, 4] = _again(memory, index)
            wrong += 1
    return wrong


@njit("int64(uint64[::1], uint64, uint8, uint64, uint8, uint64[::1], uint64[:,::1], int64)",
      nogil=True, cache=CACHED)  # fmt: skip
def _note(memory, line, differing, want, turned, seen, notes, wrong):
    wanted = np.full(WORDS, want, np.uint64)
    for place in range(WORDS):
        if turned >> place & 1:
            wanted[place] = ~want
    return note_words(memory, line, differing, wanted, seen, notes, wrong)


@njit("int64(uint64[::1], uint64, uint8)", nogil=True, cache=CACHED)
def write(memory, value, turned):
    """(w): upwards. The order matters to no march that begins so."""
    line, end = _NONE, uint64(memory.size)
    while line < end:
        _put_past_caches(memory, line, value, turned)
        line += _STEP
    return 0


@njit("int64(uint64[::1], uint64, uint8, uint64[:,::1])", nogil=True, cache=CACHED)
def read(memory, want, turned, notes):
    """(r): upwards."""
    wrong, seen = 0, np.empty(WORDS, np.uint64)
    line, end = _NONE, uint64(memory.size)
    while line < end:
        fetch_to_read(memory, line + _AHEAD)
        differing = differs(memory, line, want, turned, seen)
        if differing != _RIGHT:
            wrong = _note(memory, line, differing, want, turned, seen, notes, wrong)
        line += _STEP
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint8, uint64[:,::1])", nogil=True, cache=CACHED)
def read_write_up(memory, want, value, turned, notes):
    """^(r,w)"""
    wrong, seen = 0, np.empty(WORDS, np.uint64)
    line, end = _NONE, uint64(memory.size)
    while line < end:
        fetch_to_write(memory, line + _AHEAD)
        differing = differs(memory, line, want, turned, seen)
        if differing != _RIGHT:
            wrong = _note(memory, line, differing, want, turned, seen, notes, wrong)
        put(memory, line, value, turned)
        line += _STEP
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint8, uint64[:,::1])", nogil=True, cache=CACHED)
def read_write_down(memory, want, value, turned, notes):
    """v(r,w)"""
    wrong, seen = 0, np.empty(WORDS, np.uint64)
    line = uint64(memory.size)
    while line > _NONE:
        line -= _STEP
        fetch_to_write(memory, line - _AHEAD)
        differing = differs(memory, line, want, turned, seen)
        if differing != _RIGHT:
            wrong = _note(memory, line, differing, want, turned, seen, notes, wrong)
        put(memory, line, value, turned)
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint64, uint8, uint64[::1], uint64[:,::1], int64)",
      nogil=True, cache=CACHED)  # fmt: skip
def _two_reads_write_read_write(memory, line, want, value, turned, seen, notes, wrong):
    """(r,r,w,r,w) on one line: the first write repeats what is there, the second turns it round."""
    for turn in range(3):
        if turn == 2:
            put(memory, line, want, turned)
        differing = differs(memory, line, want, turned, seen)
        if differing != _RIGHT:
            wrong = _note(memory, line, differing, want, turned, seen, notes, wrong)
    put(memory, line, value, turned)
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint8, uint64[:,::1])", nogil=True, cache=CACHED)
def read_read_write_read_write_up(memory, want, value, turned, notes):
    """^(r,r,w,r,w)"""
    wrong, seen = 0, np.empty(WORDS, np.uint64)
    line, end = _NONE, uint64(memory.size)
    while line < end:
        fetch_to_write(memory, line + _AHEAD)
        wrong = _two_reads_write_read_write(memory, line, want, value, turned, seen, notes, wrong)
        line += _STEP
    return wrong


@njit("int64(uint64[::1], uint64, uint64, uint8, uint64[:,::1])", nogil=True, cache=CACHED)
def read_read_write_read_write_down(memory, want, value, turned, notes):
    """v(r,r,w,r,w)"""
    wrong, seen = 0, np.empty(WORDS, np.uint64)
    line = uint64(memory.size)
    while line > _NONE:
        line -= _STEP
        fetch_to_write(memory, line - _AHEAD)
        wrong = _two_reads_write_read_write(memory, line, want, value, turned, seen, notes, wrong)
    return wrong
