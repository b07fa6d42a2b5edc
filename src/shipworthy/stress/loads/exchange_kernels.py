"""What threads on several cores do with the same cache lines, compiled: count, hand over, write side by side.

Atomic operations and their order are LLVM's (LangRef, "Atomic Memory Ordering Constraints"): a lock is taken
with acquire and given back with release, so that what its holder wrote before must be seen, whole, by the
next one. A thread that waits lets others run after some tries, as cores may be shared with other loads.
"""
# ruff: noqa: I001
# mypy: ignore-errors

from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

import numpy as np
from llvmlite import ir
from numba import njit, types, uint64
from numba.core import cgutils
from numba.extending import intrinsic

_U64 = ir.IntType(64)
_WORD_BYTES = 8
LINE_WORDS = 8
COUNTER, LOCK, SEQUENCE, HOLDER, MET, PAYLOAD = 0, 8, 16, 24, 32, 40  # words; each begins a cache line
PAYLOAD_WORDS = 7  # each in a line of its own
BESIDE = PAYLOAD + PAYLOAD_WORDS * LINE_WORDS  # from here on one word a thread, side by side
TRIES = 200  # before others may run
PATIENCE = 2000  # looks at whether another thread has taken the lock, before one's own next turn
_GAMMA, _MIX, _32 = np.uint64(0x9E3779B97F4A7C15), np.uint64(0x2545F4914F6CDD1D), np.uint64(32)


def _word(context, builder, signature, args):
    data = context.make_array(signature.args[0])(context, builder, args[0]).data
    return builder.gep(data, [args[1]])


@intrinsic
def fetch_add(typing_context, words, index, value):
    """Add to a word at once; return what it was."""

    def generate(context, builder, signature, args):
        return builder.atomic_rmw("add", _word(context, builder, signature, args), args[2], "seq_cst")

    return types.uint64(words, types.uint64, types.uint64), generate


@intrinsic
def taken(typing_context, words, index, value):
    """Exchange 0 for the value at once; return 1 if it was 0."""

    def generate(context, builder, signature, args):
        word = _word(context, builder, signature, args)
        pair = builder.cmpxchg(word, ir.Constant(_U64, 0), args[2], "acq_rel", "monotonic")
        return builder.zext(builder.extract_value(pair, 1), _U64)

    return types.uint64(words, types.uint64, types.uint64), generate


@intrinsic
def look(typing_context, words, index):
    """Read a word from memory, each time."""

    def generate(context, builder, signature, args):
        word = _word(context, builder, signature, args)
        return builder.load_atomic(word, "monotonic", _WORD_BYTES)

    return types.uint64(words, types.uint64), generate


@intrinsic
def put(typing_context, words, index, value):
    """Write a word, after all that was written before (release)."""

    def generate(context, builder, signature, args):
        builder.store_atomic(args[2], _word(context, builder, signature, args), "release", _WORD_BYTES)
        return context.get_dummy_value()

    return types.void(words, types.uint64, types.uint64), generate


@intrinsic
def let_others_run(typing_context):
    """sched_yield(2)."""

    def generate(context, builder, signature, args):
        kind = ir.FunctionType(ir.IntType(32), [])
        builder.call(cgutils.get_or_insert_function(builder.module, kind, "sched_yield"), [])
        return context.get_dummy_value()

    return types.void(), generate


@njit("uint64(uint64, uint64)", nogil=True, cache=CACHED)
def payload_word(seed, number):
    word = (seed + number * _GAMMA) * _MIX
    return word ^ (word >> _32)


@njit("void(uint64[::1], uint64)", nogil=True, cache=CACHED)
def meet(words, all_of_them):
    """Wait until so many have come here since the word was 0: what follows is done side by side."""
    fetch_add(words, uint64(MET), uint64(1))
    tries = 0
    while look(words, uint64(MET)) < all_of_them:
        tries += 1
        if tries % TRIES == 0:
            let_others_run()


@njit("void(uint64[::1], uint64[::1], int64, boolean)", nogil=True, cache=CACHED)
def draw_tickets(words, own, count, verify):
    """Draw tickets from the one counter; add up in `own` their sum and the sum of their squares."""
    total = squares = uint64(0)
    for _ in range(count):
        ticket = fetch_add(words, uint64(COUNTER), uint64(1))
        if verify:
            total += ticket
            squares += ticket * ticket
    own[0], own[1] = total, squares


@njit(
    "int64(uint64[::1], uint64, uint64, uint64, boolean, uint64[:,::1], uint64[::1])",
    nogil=True,
    cache=CACHED,
)
def hand_over(words, seed, last, me, verify, notes, own):
    """Take the lock, read the message that belongs to its number, write the next one, give the lock back; and
    let another have it, if one comes. All threads do so until the message `last` is written.

    notes takes (number, word, found, holder before) of the first wrong words; own[2] counts how often another
    thread had it before. Returns how many words were wrong.
    """
    wrong, changes = 0, uint64(0)
    while True:
        tries = 0
        while look(words, uint64(LOCK)) != uint64(0) or taken(words, uint64(LOCK), me) == uint64(0):
            tries += 1
            if tries % TRIES == 0:
                let_others_run()
        if words[SEQUENCE] >= last:
            put(words, uint64(LOCK), uint64(0))
            own[2] = changes
            return wrong
        number = words[SEQUENCE]
        before = words[HOLDER]
        changes += uint64(before != me)
        for place in range(PAYLOAD_WORDS):
            at = PAYLOAD + place * LINE_WORDS
            if verify:
                found = words[at]
                if found != payload_word(seed, number * uint64(PAYLOAD_WORDS) + uint64(place)):
                    if wrong < notes.shape[0]:
                        notes[wrong, 0], notes[wrong, 1] = number, uint64(place)
                        notes[wrong, 2], notes[wrong, 3] = found, before
                    wrong += 1
            words[at] = payload_word(seed, (number + uint64(1)) * uint64(PAYLOAD_WORDS) + uint64(place))
        words[HOLDER] = me
        words[SEQUENCE] = number + uint64(1)
        put(words, uint64(LOCK), uint64(0))
        tries = 0
        while look(words, uint64(HOLDER)) == me and tries < PATIENCE:
            tries += 1


@njit("void(uint64[::1], uint64, int64)", nogil=True, cache=CACHED)
def write_beside(words, place, count):
    """Count up in a word of one's own, while others write the other words of its line."""
    for _ in range(count):
        put(words, place, look(words, place) + uint64(1))
