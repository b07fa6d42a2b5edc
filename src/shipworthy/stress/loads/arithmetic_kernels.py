"""Floating-point and vector work, compiled: one chain of operations in every width that a processor has.

A lane's state is a word that moves on by xorshift64 (Marsaglia, "Xorshift RNGs", 2003) and an accumulator.
Each step makes two float64 operands of the word, divides, takes a root, multiplies and adds with one and with
two roundings, converts to float32 and back, divides in float32, converts between integers and floats, counts
bits, and turns all of that into the accumulator bit by bit. Such a step is one and the same for one lane and
for vectors of 128, 256 and 512 bits, and IEEE 754 leaves none of these results open: so the widths must agree
in every bit. The operations are given to the compiler as vectors of that width; on a processor without it
they would be split, so only the widths that it has are used.

No operand is infinite or no number; the few operations that could give no number give the same everywhere.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

import math
from typing import Any

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from llvmlite import ir
from numba import float64, int64, njit, types, uint64
from numba.core import cgutils
from numba.extending import intrinsic

_U64, _F64, _F32 = ir.IntType(64), ir.DoubleType(), ir.FloatType()
_WORD_BYTES = 8
_SIGN = 1 << 63
_MULTIPLIER = 0x2545F4914F6CDD1D  # of xorshift64* (Vigna, "An experimental exploration …", 2016)


class _Lanes:
    """Builds operations on one lane or on a vector of them, alike."""

    def __init__(self, builder: Any, lanes: int) -> None:
        self._builder, self._lanes = builder, lanes
        self.u64, self.f64, self.f32 = (self._wide(kind) for kind in (_U64, _F64, _F32))

    def _wide(self, kind: Any) -> Any:
        return kind if self._lanes == 1 else ir.VectorType(kind, self._lanes)

    def constant(self, value: int) -> Any:
        if self._lanes == 1:
            return ir.Constant(_U64, value)
        return ir.Constant(self.u64, [value] * self._lanes)

    def spread(self, value: Any) -> Any:
        """Return a value in all lanes."""
        if self._lanes == 1:
            return value
        none, index = ir.Constant(self.u64, ir.Undefined), ir.IntType(32)
        first = self._builder.insert_element(none, value, ir.Constant(index, 0))
        places = ir.Constant(ir.VectorType(index, self._lanes), [0] * self._lanes)
        return self._builder.shuffle_vector(first, none, places)

    def load(self, pointer: Any) -> Any:
        """Read the lanes; a single one in a way that keeps the compiler from making vectors of a loop."""
        if self._lanes == 1:
            return self._builder.load_atomic(pointer, "monotonic", _WORD_BYTES)
        return self._builder.load(self._builder.bitcast(pointer, self.u64.as_pointer()), align=_WORD_BYTES)

    def store(self, value: Any, pointer: Any) -> None:
        if self._lanes > 1:
            pointer = self._builder.bitcast(pointer, self.u64.as_pointer())
        self._builder.store(value, pointer, align=_WORD_BYTES)

    def call(self, name: str, kind: Any, *args: Any) -> Any:
        base = {self.u64: "i64", self.f64: "f64", self.f32: "f32"}[kind]
        suffix = base if self._lanes == 1 else f"v{self._lanes}{base}"
        function = ir.FunctionType(kind, [kind] * len(args))
        known = cgutils.get_or_insert_function(self._builder.module, function, f"llvm.{name}.{suffix}")
        return self._builder.call(known, args)

    def shifted(self, word: Any, left: int, right: int, left_again: int) -> Any:
        b = self._builder
        word = b.xor(word, b.shl(word, self.constant(left)))
        word = b.xor(word, b.lshr(word, self.constant(right)))
        return b.xor(word, b.shl(word, self.constant(left_again)))

    def turned(self, word: Any, count: int) -> Any:
        return self.call("fshl", self.u64, word, word, self.constant(count))

    def as_words(self, value: Any) -> Any:
        return self._builder.bitcast(value, self.u64)


def _results(b: Any, v: _Lanes, word: Any, masks: tuple[Any, ...]) -> list[Any]:
    """Return what a step computes, as words. masks: and, or for the first operand, and, or for the second."""
    keep_a, set_a, keep_b, set_b = (v.spread(mask) for mask in masks)
    drawn = b.mul(word, v.constant(_MULTIPLIER))
    a = b.bitcast(b.or_(b.and_(drawn, keep_a), set_a), v.f64)
    c = b.bitcast(b.or_(b.and_(v.turned(word, 29), keep_b), set_b), v.f64)
    root = v.call("sqrt", v.f64, b.bitcast(b.and_(b.bitcast(a, v.u64), v.constant(_SIGN - 1)), v.f64))
    a32, c32 = b.fptrunc(a, v.f32), b.fptrunc(c, v.f32)
    whole = b.ashr(drawn, v.constant(1))  # well within what converts back
    floated = b.sitofp(whole, v.f64)
    results = [
        b.fdiv(a, c),
        root,
        v.call("fma", v.f64, a, c, root),
        b.fadd(a, c),
        b.fsub(c, root),
        b.fmul(a, c),
    ]
    results += [
        b.fpext(a32, v.f64),
        b.fpext(b.fadd(a32, c32), v.f64),
        b.fpext(b.fdiv(c32, a32), v.f64),
        floated,
    ]
    words = [v.as_words(result) for result in results]
    words += [b.fptosi(floated, v.u64), v.call("ctpop", v.u64, drawn), drawn]
    larger = b.icmp_unsigned(">", drawn, word)
    return [*words, b.select(larger, b.sub(drawn, word), b.sub(word, drawn))]


def _step_of(lanes: int) -> Any:
    @intrinsic
    def step(typing_context, state, accumulators, index, keep_a, set_a, keep_b, set_b):
        """Move the lanes from `index` on by one step."""

        def generate(context, builder, signature, args):
            v = _Lanes(builder, lanes)
            pointers = [
                builder.gep(context.make_array(kind)(context, builder, array).data, [args[2]])
                for kind, array in zip(signature.args[:2], args[:2], strict=True)
            ]
            word = v.shifted(v.load(pointers[0]), 13, 7, 17)
            accumulator = v.load(pointers[1])
            for result in _results(builder, v, word, tuple(args[3:])):
                accumulator = builder.add(v.turned(accumulator, 5), result)
            v.store(word, pointers[0])
            v.store(accumulator, pointers[1])
            return context.get_dummy_value()

        own = types.void(state, accumulators, *[types.uint64] * 5)
        return own, generate

    return step


_step_1, _step_2, _step_4, _step_8 = (_step_of(lanes) for lanes in (1, 2, 4, 8))

# Operands: usually with exponents where no result leaves the range; every fourth step with all exponents,
# subnormal ones among them, and results that overflow and underflow. Fields are those of IEEE 754 binary64.
_FRACTION_AND_SIGN = 0x800F_FFFF_FFFF_FFFF
_KEEP = np.uint64(_FRACTION_AND_SIGN | 0x07F0_0000_0000_0000)  # seven low bits of the exponent
_LOW, _HIGH = np.uint64(0x3800_0000_0000_0000), np.uint64(0x4000_0000_0000_0000)
_KEEP_ALL = np.uint64(0xFFEF_FFFF_FFFF_FFFF)  # any even exponent: 0 (subnormal) to 2046
_NONE = np.uint64(0)


@njit(nogil=True, cache=CACHED)
def lanes_1(state, accumulators, steps):
    for number in range(steps):
        if number % 4 == 3:
            for i in range(state.size):
                _step_1(state, accumulators, uint64(i), _KEEP_ALL, _NONE, _KEEP_ALL, _NONE)
        else:
            for i in range(state.size):
                _step_1(state, accumulators, uint64(i), _KEEP, _LOW, _KEEP, _HIGH)


@njit(nogil=True, cache=CACHED)
def lanes_2(state, accumulators, steps):
    for number in range(steps):
        if number % 4 == 3:
            for i in range(0, state.size, 2):
                _step_2(state, accumulators, uint64(i), _KEEP_ALL, _NONE, _KEEP_ALL, _NONE)
        else:
            for i in range(0, state.size, 2):
                _step_2(state, accumulators, uint64(i), _KEEP, _LOW, _KEEP, _HIGH)


@njit(nogil=True, cache=CACHED)
def lanes_4(state, accumulators, steps):
    for number in range(steps):
        if number % 4 == 3:
            for i in range(0, state.size, 4):
                _step_4(state, accumulators, uint64(i), _KEEP_ALL, _NONE, _KEEP_ALL, _NONE)
        else:
            for i in range(0, state.size, 4):
                _step_4(state, accumulators, uint64(i), _KEEP, _LOW, _KEEP, _HIGH)


@njit(nogil=True, cache=CACHED)
def lanes_8(state, accumulators, steps):
    for number in range(steps):
        if number % 4 == 3:
            for i in range(0, state.size, 8):
                _step_8(state, accumulators, uint64(i), _KEEP_ALL, _NONE, _KEEP_ALL, _NONE)
        else:
            for i in range(0, state.size, 8):
                _step_8(state, accumulators, uint64(i), _KEEP, _LOW, _KEEP, _HIGH)


LANES = {64: lanes_1, 128: lanes_2, 256: lanes_4, 512: lanes_8}
"""By width in bits; 64 is one lane at a time."""

_GAMMA = np.uint64(0x9E3779B97F4A7C15)
_MIX = np.uint64(_MULTIPLIER)


@njit("uint64(uint64, uint64)", nogil=True, cache=CACHED)
def _word(seed, index):
    word = (seed + index * _GAMMA) * _MIX
    word ^= word >> uint64(32)
    return word * _MIX


@njit("void(uint64, uint64[::1])", nogil=True, cache=CACHED)
def start_lanes(seed, state):
    """Give each lane its first word; never 0, from which xorshift does not move."""
    for i in range(state.size):
        state[i] = _word(seed, uint64(i)) | uint64(1)


@njit("float64(uint64)", nogil=True, cache=CACHED)
def _fraction(word):
    """Return a number in [1, 2) of the word's low bits, all 52 of them in use."""
    return 1.0 + float64(word & uint64(0xF_FFFF_FFFF_FFFF)) * 2.0**-52


@njit("void(uint64, float64[:,::1])", nogil=True, cache=CACHED)
def functions(seed, results):
    """Fill rows of exponentials, logarithms, powers, sines and cosines; libm's, one number at a time."""
    for i in range(results.shape[1]):
        word, other = _word(seed, uint64(i)), _word(seed, ~uint64(i))
        x = math.ldexp(_fraction(word), int64(word >> uint64(55)) - 256)  # 2^-256 to 2^256
        y = (_fraction(other) - 1.5) * 2.0 ** int64(other >> uint64(60))  # within ±2^14
        results[0, i] = math.exp(y * 2.0**-5)
        results[1, i] = math.log(x)
        results[2, i] = math.pow(x, y * 2.0**-12)
        results[3, i] = math.sin(y)
        results[4, i] = math.cos(y * _fraction(word))


FUNCTIONS = ("exp", "log", "pow", "sin", "cos")


@njit("void(uint64, float64[:,::1])", nogil=True, cache=CACHED)
def exact_made(seed, results):
    """Fill rows with results that IEEE 754 makes exact: products, squares, and integers as floats."""
    for i in range(results.shape[1]):
        word = _word(seed, uint64(i))
        a = float64((word & uint64(0x3FF_FFFF)) + uint64(1))
        b = float64(((word >> uint64(26)) & uint64(0x3FF_FFFF)) + uint64(1))
        results[0, i] = a * b  # at most 2^52
        results[1, i] = a * a
        results[2, i] = float64(int64(word) >> 11)  # within ±2^52
        results[3, i] = float64(np.float32(word >> uint64(40)))  # 24 bits


EXACT = ("(a·b)/b = a", "√(a·a) = a", "integer to float64 and back", "integer to float32 and back")


@njit("int64(uint64, float64[:,::1], int64)", nogil=True, cache=CACHED)
def _breached(word, results, i):
    """Return which of them do not come back: a bit for each."""
    a = float64((word & uint64(0x3FF_FFFF)) + uint64(1))
    b = float64(((word >> uint64(26)) & uint64(0x3FF_FFFF)) + uint64(1))
    breached = int64(results[0, i] / b != a)
    breached |= int64(math.sqrt(results[1, i]) != a) << 1
    whole, short = int64(results[2, i]), np.float32(results[3, i])
    breached |= int64((whole != int64(word) >> 11) | (float64(whole) != results[2, i])) << 2
    return (
        breached
        | int64((uint64(short) != word >> uint64(40)) | (float64(uint64(short)) != results[3, i])) << 3
    )


@njit("int64(uint64, float64[:,::1], int64[:,::1])", nogil=True, cache=CACHED)
def exact_undone(seed, results, notes):
    """Undo them and compare. notes takes (which, index) of the first wrong ones; return how many are."""
    wrong = 0
    for i in range(results.shape[1]):
        breached = _breached(_word(seed, uint64(i)), results, i)
        if breached:
            for which in range(results.shape[0]):
                if breached >> which & 1:
                    if wrong < notes.shape[0]:
                        notes[wrong, 0], notes[wrong, 1] = which, i
                    wrong += 1
    return wrong
