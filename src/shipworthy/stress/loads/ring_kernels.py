"""The ring's compiled loops: queue transfers, hand them to the kernel, take what is done.

Memory order: the kernel publishes the completion ring's tail with release and reads the submission ring's
tail with acquire (io_uring(7)), so the tail is read here with acquire, before the completions; the head of
the completion ring and the tail of the submission ring are stored with release, after what they stand for.
These
are LLVM atomics, right on processors with a weaker order than x86 too. Every other word has one writer only.

`ring` holds addresses and masks, in the order of the names below. All functions return −1 where a system call
failed; the caller then asks again through the C library, which tells why.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from llvmlite import ir
from numba import int32, int64, njit, types, uint64
from numba.extending import intrinsic

from shipworthy.stress.loads.pattern_kernels import count_wrong, key_of

FD, SQ_TAIL, SQ_MASK, SQ_ARRAY, SQES, CQ_HEAD, CQ_TAIL, CQ_MASK, CQES, RING_FD = range(10)
RING_WORDS = 10
ENTER = 426  # io_uring_enter: the same number on every architecture, as for all calls since Linux 5.1
GETEVENTS = 1
BLOCK_BYTES = 4096
CLOCK_MONOTONIC = 1
SPLIT = 8  # a latency's bucket: its power of two, split in eight; within one eighth of the true value
BUCKETS = 40 * SPLIT
EVIDENCE = 16  # wrong blocks kept as they came

_syscall = types.ExternalFunction("syscall", int64(int64, int64, int64, int64, int64, int64, int64))
_clock = types.ExternalFunction("clock_gettime", int32(int32, types.uintp))


@intrinsic
def _acquire(typing_context, address):
    def generate(context, builder, signature, args):
        pointer = builder.inttoptr(args[0], ir.IntType(32).as_pointer())
        return builder.load_atomic(pointer, ordering="acquire", align=4)

    return types.uint32(types.uint64), generate


@intrinsic
def _release(typing_context, address, value):
    def generate(context, builder, signature, args):
        pointer = builder.inttoptr(args[0], ir.IntType(32).as_pointer())
        builder.store_atomic(args[1], pointer, ordering="release", align=4)
        return context.get_dummy_value()

    return types.void(types.uint64, types.uint32), generate


@intrinsic
def _word32(typing_context, address):
    def generate(context, builder, signature, args):
        return builder.load(builder.inttoptr(args[0], ir.IntType(32).as_pointer()), align=4)

    return types.uint32(types.uint64), generate


@intrinsic
def _word64(typing_context, address):
    def generate(context, builder, signature, args):
        return builder.load(builder.inttoptr(args[0], ir.IntType(64).as_pointer()), align=8)

    return types.uint64(types.uint64), generate


@intrinsic
def _put32(typing_context, address, value):
    def generate(context, builder, signature, args):
        builder.store(args[1], builder.inttoptr(args[0], ir.IntType(32).as_pointer()), align=4)
        return context.get_dummy_value()

    return types.void(types.uint64, types.uint32), generate


@intrinsic
def _put64(typing_context, address, value):
    def generate(context, builder, signature, args):
        builder.store(args[1], builder.inttoptr(args[0], ir.IntType(64).as_pointer()), align=8)
        return context.get_dummy_value()

    return types.void(types.uint64, types.uint64), generate


@njit("void(uint64[::1], uint64, uint64, uint64, uint64, uint64)", nogil=True, cache=CACHED)
def queue(ring, code, offset, address, size, mark):
    """Put one transfer into the submission ring. Layout: struct io_uring_sqe of <linux/io_uring.h>."""
    tail = _word32(ring[SQ_TAIL])
    slot = uint64(tail) & ring[SQ_MASK]
    entry = ring[SQES] + slot * uint64(64)
    _put64(entry, code | ring[FD] << uint64(32))
    _put64(entry + uint64(8), offset)
    _put64(entry + uint64(16), address)
    _put64(entry + uint64(24), size)
    _put64(entry + uint64(32), mark)
    for rest in range(5, 8):
        _put64(entry + uint64(rest * 8), uint64(0))
    _put32(ring[SQ_ARRAY] + slot * uint64(4), np.uint32(slot))
    _release(ring[SQ_TAIL], np.uint32(uint64(tail) + uint64(1)))


@njit("int64(uint64[::1], int64[::1], int64[::1])", nogil=True, cache=CACHED)
def take(ring, marks, results):
    """Take all completions that are there, at most as many as fit; return how many."""
    head, tail = _word32(ring[CQ_HEAD]), _acquire(ring[CQ_TAIL])
    count = 0
    while head != tail and count < marks.size:
        entry = ring[CQES] + (uint64(head) & ring[CQ_MASK]) * uint64(16)
        marks[count] = int64(_word64(entry))
        results[count] = int64(np.int32(_word32(entry + uint64(8))))
        head = np.uint32(uint64(head) + uint64(1))
        count += 1
    _release(ring[CQ_HEAD], head)
    return count


@njit("int64(uint64[::1], int64, int64)", nogil=True, cache=CACHED)
def enter(ring, submit, wait_for):
    """Hand over what was queued and wait until that many are done; return how many were taken over."""
    return _syscall(ENTER, int64(ring[RING_FD]), submit, wait_for, GETEVENTS, 0, 0)


@njit("int64(uint64[::1])", nogil=True, cache=CACHED)
def _now_ns(stamp):
    _clock(CLOCK_MONOTONIC, stamp.ctypes.data)
    return int64(stamp[0]) * 1_000_000_000 + int64(stamp[1])


@njit("int64(int64)", nogil=True, cache=CACHED)
def bucket_of(latency_ns):
    """Return the bucket of a latency: its highest bit, and the next three."""
    value, power = max(latency_ns, int64(SPLIT)), 0
    while value >= 2 * SPLIT:
        value >>= 1
        power += 1
    return min(int64(BUCKETS - 1), int64(power * SPLIT + value - SPLIT))


@njit("uint64(uint64[::1])", nogil=True, cache=CACHED)
def draw(state):
    """Return the next 64 bits of splitmix64 (source: see pattern_kernels)."""
    state[0] += uint64(0x9E3779B97F4A7C15)
    word = state[0]
    word = (word ^ word >> uint64(30)) * uint64(0xBF58476D1CE4E5B9)
    word = (word ^ word >> uint64(27)) * uint64(0x94D049BB133111EB)
    return word ^ word >> uint64(31)


READS, WRONG, REFUSED, LONGEST_NS, UNDER_WAY, QUEUED = range(6)
"""What `random_reads` counts, in its `tally`."""


@njit(
    "int64(uint64[::1], uint64[:, ::1], int64[:, ::1], int64, uint64[::1], int64, uint64[::1], boolean,"
    " int64, int64[::1], int64[::1], uint64[:, ::1], int64[:, ::1])",
    nogil=True,
    cache=CACHED,
)
def random_reads(
    ring, buffers, busy, depth, state, blocks, pattern, compare, until_ns, buckets, tally, evidence, told
):
    """Read blocks of 4 KiB at random places, `depth` of them under way at any moment, until a moment.

    One system call hands over new reads and waits for the next that is done. Comparing a block before its
    buffer is used again takes less than a second call would. busy: block and begin of each buffer's read,
    −1 for a free one. pattern: seed, pass, bytes of a piece, code of the operation. evidence and told (block,
    result) keep the first that were wrong. Returns 0 when nothing is under way any more; called again after
    −1, it goes on.
    """
    stamp = np.zeros(2, dtype=np.uint64)
    marks, results = np.zeros(depth, dtype=np.int64), np.zeros(depth, dtype=np.int64)
    base, piece_bytes = uint64(buffers.ctypes.data), int64(pattern[2])
    done, first = int64(0), True
    while True:
        now = _now_ns(stamp)
        for index in range(done):
            slot = marks[index]
            block, latency = busy[slot, 0], now - busy[slot, 1]
            busy[slot, 0] = -1
            buckets[bucket_of(latency)] += 1
            tally[LONGEST_NS] = max(tally[LONGEST_NS], latency)
            tally[READS] += 1
            refused = results[index] != BLOCK_BYTES
            wrong = int64(0)
            if compare and not refused:
                offset = block * BLOCK_BYTES
                begin = offset // piece_bytes * piece_bytes
                key = key_of(pattern[0], pattern[1], uint64(begin))
                wrong = count_wrong(buffers[slot], key, uint64((offset - begin) // 8))
            if refused or wrong:
                kept = tally[WRONG] + tally[REFUSED]
                if kept < evidence.shape[0]:
                    evidence[kept, :] = buffers[slot]
                    told[kept, 0], told[kept, 1] = block, results[index]
                tally[REFUSED if refused else WRONG] += 1
        if now < until_ns:
            for index in range(depth if first else done):
                slot = int64(index) if first else marks[index]
                if busy[slot, 0] < 0:
                    block = int64(draw(state) % uint64(blocks))  # its bias is below 2^-32 up to 16 TiB
                    busy[slot, 0], busy[slot, 1] = block, now
                    offset, address = uint64(block * BLOCK_BYTES), base + uint64(slot * BLOCK_BYTES)
                    queue(ring, pattern[3], offset, address, uint64(BLOCK_BYTES), uint64(slot))
                    tally[QUEUED] += 1
        first = False
        if not tally[UNDER_WAY] and not tally[QUEUED]:
            return 0
        taken = enter(ring, tally[QUEUED], 1)
        if taken < 0:
            return -1
        tally[QUEUED] -= taken
        tally[UNDER_WAY] += taken
        done = take(ring, marks, results)
        tally[UNDER_WAY] -= done
