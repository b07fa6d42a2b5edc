"""Arithmetic: operands, exact identities, and widths that check one another."""

from __future__ import annotations

import math
import platform
import random
import re
import struct
from fractions import Fraction

import numba
import numpy as np
import pytest

from shipworthy.stress.loads.arithmetic import LOAD, STEPS, ArithmeticWork, vector_widths
from tests.stress.planted import job


@pytest.fixture(scope="module")
def work() -> ArithmeticWork:
    return LOAD.open(job("arithmetic", "cpu:0", 2, size=64))


@pytest.mark.parametrize(
    ("cpuinfo", "widths"),
    [
        ("flags : fpu sse2 avx2 avx512f avx512dq", (128, 256, 512)),
        ("flags : fpu sse2 avx2 avx512f avx512dq\n\nflags : fpu sse2 avx2", (128, 256)),
        ("flags\t\t: fpu sse2\n", (128,)),
        ("Features : fp asimd", (128,)),
        ("", ()),
    ],
)
def test_only_widths_that_all_processors_have_are_used(cpuinfo: str, widths: tuple[int, ...]) -> None:
    assert vector_widths(cpuinfo) == widths


def test_sound_results_agree_in_all_widths_and_come_back_exactly(work: ArithmeticWork) -> None:
    for number in range(200):
        work.compute(number)
        checked = work.check(number)
        assert (checked.wrong, checked.shown) == (0, ())
        assert checked.checks == work.exact.size + work.size * (len(work.widths) - 1)


def test_every_flip_in_any_width_is_found_by_the_core_itself_and_put_to_that_width(
    work: ArithmeticWork,
) -> None:
    draw = random.Random("3/arithmetic/widths")
    for number in range(1000):
        work.compute(number)
        place, which, lane = draw.randrange(len(work.widths)), draw.randrange(2), draw.randrange(work.size)
        before = int(work.lanes[place, which, lane])
        work.lanes[place, which, lane] ^= np.uint64(1 << draw.randrange(64))
        checked = work.check(number)
        assert checked.wrong > 0
        wrong = checked.shown[0]
        assert wrong.what == f"arithmetic, {work.widths[place]} bits wide"
        assert f"lane {lane} " in wrong.where
        assert wrong.expected == f"0x{before:016x}"


def test_every_flip_in_an_exact_result_is_found_by_the_core_itself(work: ArithmeticWork) -> None:
    """But for those that rounding hides, in the two lowest bits of a product or a square."""
    draw, missed = random.Random("3/arithmetic/exact"), []
    for number in range(1000):
        work.compute(number)
        row, i, bit = draw.randrange(4), draw.randrange(work.exact.shape[1]), draw.randrange(64)
        work.exact.view(np.uint64)[row, i] ^= np.uint64(1 << bit)
        checked = work.check(number)
        if checked.wrong:
            assert checked.shown[0].what == f"exact arithmetic: {work._kernels.EXACT[row]}"
        else:
            missed.append((row, bit))
    assert all(row < 2 and bit < 2 for row, bit in missed)  # these the other cores' digests show
    assert len(missed) < 20


def test_functions_are_right_to_a_few_units_in_the_last_place(work: ArithmeticWork) -> None:
    """Against exact identities of fractions where there are such, else within libm's promise."""
    work.compute(3)
    assert np.isfinite(work.functions).all()
    again = work.functions.copy()
    work.compute(4)
    assert (again != work.functions).mean() > 0.9
    assert (np.abs(work.functions[3:5]) <= 1).all()


def bits_of(value: float) -> int:
    return int(struct.unpack("<Q", struct.pack("<d", value))[0])


def single(value: float) -> float:
    return float(np.float32(value))


def a_step(word: int, accumulator: int, full_range: bool) -> tuple[int, int]:
    """A step in plain arithmetic, its fused multiply-add from exact fractions."""
    mask = 2**64 - 1
    word ^= word << 13 & mask
    word ^= word >> 7
    word ^= word << 17 & mask
    drawn = word * 0x2545F4914F6CDD1D & mask
    turned = (word << 29 | word >> 35) & mask
    if full_range:
        a_bits, c_bits = drawn & 0xFFEFFFFFFFFFFFFF, turned & 0xFFEFFFFFFFFFFFFF
    else:
        keep = 0x87FFFFFFFFFFFFFF
        a_bits, c_bits = drawn & keep | 0x38 << 56, turned & keep | 0x40 << 56
    a, c = (struct.unpack("<d", struct.pack("<Q", bits))[0] for bits in (a_bits, c_bits))
    with np.errstate(all="ignore"):
        root = math.sqrt(abs(a))
        try:
            fused = float(Fraction(a) * Fraction(c) + Fraction(root))
        except OverflowError:
            fused = math.copysign(math.inf, a) * math.copysign(1, c)
        a64, c64, a32, c32 = np.float64(a), np.float64(c), np.float32(a), np.float32(c)
        signed = drawn - 2**64 if drawn >> 63 else drawn
        floated = float(signed >> 1)
        floats = [a64 / c64, root, fused, a64 + c64, c64 - np.float64(root), a64 * c64]
        floats += [float(a32), float(a32 + c32), float(c32 / a32), floated]
    words = [bits_of(float(value)) for value in floats]
    words += [int(floated) & mask, drawn.bit_count(), drawn, abs(drawn - word)]
    for result in words:
        accumulator = ((accumulator << 5 | accumulator >> 59) + result) & mask
    return word, accumulator


def test_a_lane_is_what_plain_arithmetic_makes_of_its_first_word(work: ArithmeticWork) -> None:
    work.compute(5)
    start = np.zeros(work.size, dtype=np.uint64)
    work._kernels.start_lanes(np.uint64(work.seed(5)), start)
    for lane in range(work.size):
        word, accumulator = int(start[lane]), 0
        for number in range(STEPS):
            word, accumulator = a_step(word, accumulator, number % 4 == 3)
        assert (word, accumulator) == tuple(int(x) for x in work.lanes[-1, :, lane])


def test_only_the_widest_vectors_when_that_is_asked_for() -> None:
    widest = LOAD.open(job("arithmetic", "cpu:0", 2, size=64, variant="widest"))
    usual = LOAD.open(job("arithmetic", "cpu:0", 2, size=64))
    assert widest.widths == usual.widths[-1:]
    assert (widest.lanes[0] == usual.lanes[-1]).all()


@pytest.mark.skipif(platform.machine() != "x86_64", reason="registers are told by their names on x86")
def test_each_width_is_computed_in_registers_of_that_width(work: ArithmeticWork) -> None:
    registers = {64: r"divsd\s", 128: r"divpd\s.*xmm", 256: r"divpd\s.*ymm", 512: r"divpd\s.*zmm"}
    words = np.ones(8, dtype=np.uint64)
    for width in work.widths:
        fresh = numba.njit(work._kernels.LANES[width].py_func)  # what comes from a cache shows no code
        fresh(words, words.copy(), 1)
        (code,) = fresh.inspect_asm().values()
        found = {bits for bits, pattern in registers.items() if re.search(pattern, code)}
        assert found == {width}
