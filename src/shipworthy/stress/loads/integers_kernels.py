"""Integer and bit work, compiled: chains in which each result is the next one's operand.

Only what numba makes plain code of is used, and one operation more: the upper half of a product of two words.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from llvmlite import ir
from numba import int64, njit, types, uint64
from numba.core import cgutils
from numba.extending import intrinsic

CASTAGNOLI = 0x82F63B78  # CRC-32C's polynomial, lowest bit first (RFC 3720, 12.1)
_GAMMA, _MIX = np.uint64(0x9E3779B97F4A7C15), np.uint64(0x2545F4914F6CDD1D)
_32 = np.uint64(32)


@intrinsic
def upper_half(typing_context, a, b):
    """Return the upper 64 bits of the product of two words."""

    def generate(context, builder, signature, args):
        wide = ir.IntType(128)
        product = builder.mul(builder.zext(args[0], wide), builder.zext(args[1], wide))
        return builder.trunc(builder.lshr(product, ir.Constant(wide, 64)), ir.IntType(64))

    return types.uint64(types.uint64, types.uint64), generate


def _bits_of(name, *more):
    @intrinsic
    def counted(typing_context, word):
        def generate(context, builder, signature, args):
            kinds = [ir.IntType(64)] + [ir.IntType(1)] * len(more)
            kind = ir.FunctionType(ir.IntType(64), kinds)
            function = cgutils.get_or_insert_function(builder.module, kind, f"llvm.{name}.i64")
            return builder.call(function, [args[0], *[ir.Constant(ir.IntType(1), one) for one in more]])

        return types.uint64(types.uint64), generate

    return counted


ones, leading_zeros = _bits_of("ctpop"), _bits_of("ctlz", 0)


@njit("uint64(uint64, uint64)", nogil=True, cache=CACHED)
def turned(word, count):
    """Return a word rotated to the left, by a count that comes of other results."""
    count &= uint64(63)
    return word << count | word >> (uint64(64) - count & uint64(63))


@njit("void(uint64, int64, uint64[:,::1])", nogil=True, cache=CACHED)
def chains(seed, links, results):
    """Fill rows, one a kind of work: products, sums with carry, turns and shifts, counts of bits.

    One link in `links` is kept; every result goes into the next link's operands.
    """
    a = seed
    b = seed ^ _GAMMA
    low = high = carries = uint64(0)
    product = added = moved = counted = uint64(0)
    for i in range(results.shape[1]):
        for _ in range(links):
            a = (a + _GAMMA) * _MIX
            product = a ^ upper_half(a, b)
            b ^= product
            low += a
            carry = uint64(low < a)
            more = b + carry
            high += more
            carries += carry + uint64(high < more)
            added = low ^ turned(high, carries)
            moved = turned(a, b) ^ (b >> (a & uint64(31))) ^ uint64(int64(b) >> 9)
            counted = turned(a, ones(b)) + (ones(a ^ b) << leading_zeros(a | uint64(1)))
            counted += leading_zeros(b >> (a & uint64(15)))
            a ^= (moved + counted) ^ added
        results[0, i], results[1, i] = product, added
        results[2, i], results[3, i] = moved, counted


@njit("UniTuple(uint64, 2)(uint64, uint64)", nogil=True, cache=CACHED)
def division_operands(seed, index):
    n = (seed + index * _GAMMA) * _MIX
    n ^= n >> _32
    other = n * _MIX
    return n, (other >> (other & uint64(63))) | uint64(1)


@njit("void(uint64, uint64[:,::1])", nogil=True, cache=CACHED)
def divided(seed, results):
    """Fill rows with quotients and remainders, of divisors of every length."""
    for i in range(results.shape[1]):
        n, d = division_operands(seed, uint64(i))
        results[0, i] = n // d
        results[1, i] = n % d


@njit("int64(uint64, uint64[:,::1], int64[::1])", nogil=True, cache=CACHED)
def division_wrong(seed, results, notes):
    """Check q·d + r = n and r < d. notes takes the first wrong indices; return how many there are.

    q·d must stay within a word too: else a wrong upper bit of q could leave the sum as it is.
    """
    wrong = 0
    for i in range(results.shape[1]):
        n, d = division_operands(seed, uint64(i))
        q, r = results[0, i], results[1, i]
        if q * d + r != n or r >= d or upper_half(q, d) != uint64(0):
            if wrong < notes.size:
                notes[wrong] = i
            wrong += 1
    return wrong


@njit("uint64[::1]()", nogil=True, cache=CACHED)
def crc_table():
    table = np.zeros(256, dtype=np.uint64)
    for byte in range(256):
        crc = uint64(byte)
        for _ in range(8):
            crc = (crc >> uint64(1)) ^ (uint64(CASTAGNOLI) * (crc & uint64(1)))
        table[byte] = crc
    return table


@njit("uint64(uint8[::1], uint64[::1])", nogil=True, cache=CACHED)
def crc32c(data, table):
    """Return CRC-32C of the bytes, one at a time by the table."""
    crc = uint64(0xFFFFFFFF)
    for byte in data:
        crc = table[(crc ^ uint64(byte)) & uint64(0xFF)] ^ (crc >> uint64(8))
    return crc ^ uint64(0xFFFFFFFF)


@njit("uint64(uint8[::1])", nogil=True, cache=CACHED)
def crc32c_bitwise(data):
    """Return the same, bit by bit and without a table."""
    crc = uint64(0xFFFFFFFF)
    for byte in data:
        crc ^= uint64(byte)
        for _ in range(8):
            crc = (crc >> uint64(1)) ^ (uint64(CASTAGNOLI) * (crc & uint64(1)))
    return crc ^ uint64(0xFFFFFFFF)


@njit("uint64(uint64)", nogil=True, cache=CACHED)
def lucas_lehmer(p):
    """Return the residue of the Lucas–Lehmer test of 2^p − 1 for an odd prime p up to 61; 0 if it is prime.

    s begins with 4 and goes to s² − 2 modulo 2^p − 1, p − 2 times (D. H. Lehmer, 1930).
    """
    modulus = (uint64(1) << p) - uint64(1)
    s = uint64(4) % modulus
    for _ in range(p - uint64(2)):
        high, low = upper_half(s, s), s * s
        s = (low & modulus) + (low >> p | high << (uint64(64) - p))
        s = (s & modulus) + (s >> p)
        s = s - uint64(2) if s >= uint64(2) else s + modulus - uint64(2)
        if s >= modulus:
            s -= modulus
    return s
