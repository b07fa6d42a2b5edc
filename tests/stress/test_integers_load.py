"""Integers: the known answers, identities and plain arithmetic."""

from __future__ import annotations

import random

import numpy as np
import pytest

from shipworthy.stress.loads.integers import (
    CRC_OF_ROUND,
    CRC_OF_TEXT,
    EXPONENTS,
    LINKS_KEPT_ONE_IN,
    LOAD,
    PUBLISHED,
    IntegersWork,
)
from shipworthy.stress.loads.rounds import THE_CHECK_ITSELF
from tests.stress.planted import job
from tests.stress.published import published_answers

MASK = 2**64 - 1


@pytest.fixture
def work() -> IntegersWork:
    return LOAD.open(job("integers", "cpu:0", 2, size=64))


def test_known_answers_are_the_published_ones() -> None:
    rows = published_answers()
    assert PUBLISHED[CRC_OF_TEXT] == int(rows["CRC-32C (Castagnoli)", "123456789"], 16)
    assert rows["Lucas-Lehmer", "p=11"] == "residue 1736 (not prime)"
    assert rows["Lucas-Lehmer", "p=23"] == "residue 6107895 (not prime)"
    primes = next(
        about for (name, about), told in rows.items() if name == "Lucas-Lehmer" and "0 (prime)" in told
    )
    known = {int(p) for p in primes.removeprefix("p=").split(",")}
    assert {p for p in EXPONENTS if PUBLISHED[f"Lucas-Lehmer residue, p = {p}"] == 0} <= known


def test_residues_are_those_of_plain_arithmetic(work: IntegersWork) -> None:
    for p in (3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61):
        s = 4 % (2**p - 1)
        for _ in range(p - 2):
            s = (s * s - 2) % (2**p - 1)
        assert work._kernels.lucas_lehmer(p) == s


@pytest.mark.parametrize(
    ("data", "crc"),  # RFC 3720, B.4 (printed byte-swapped there)
    [(bytes(32), 0x8A9136AA), (b"\xff" * 32, 0x62A8AB43), (bytes(range(32)), 0x46DD794E)],
)
def test_crcs_are_the_published_ones_by_table_and_bit_by_bit(
    work: IntegersWork, data: bytes, crc: int
) -> None:
    array = np.frombuffer(data, dtype=np.uint8).copy()
    assert work._kernels.crc32c(array, work.table) == work._kernels.crc32c_bitwise(array) == crc


def turned(word: int, count: int) -> int:
    count &= 63
    return (word << count | word >> (64 - count & 63)) & MASK


def test_chains_and_divisions_are_those_of_plain_arithmetic(work: IntegersWork) -> None:
    work.compute(9)
    gamma, mix = 0x9E3779B97F4A7C15, 0x2545F4914F6CDD1D
    seed = work.seed(9)
    a, b, low, high, carries = seed, seed ^ gamma, 0, 0, 0
    for i in range(LINKS_KEPT_ONE_IN * work.size):
        a = (a + gamma) * mix & MASK
        first = a ^ a * b >> 64
        b ^= first
        carry, low = divmod(low + a, 2**64)
        more = (b + carry) & MASK
        high = (high + more) & MASK
        carries += carry + (high < more)
        second = low ^ turned(high, carries)
        signed = b - 2**64 if b >> 63 else b
        third = turned(a, b) ^ b >> (a & 31) ^ signed >> 9 & MASK
        zeros, rest = 64 - (a | 1).bit_length(), 64 - (b >> (a & 15)).bit_length()
        fourth = (turned(a, b.bit_count()) + ((a ^ b).bit_count() << zeros) + rest) & MASK
        if i % LINKS_KEPT_ONE_IN == LINKS_KEPT_ONE_IN - 1:
            assert [first, second, third, fourth] == work.chains[:, i // LINKS_KEPT_ONE_IN].tolist()
        a ^= (third + fourth & MASK) ^ second
    for i in range(work.divisions.shape[1]):
        n, d = work._kernels.division_operands(np.uint64(seed), np.uint64(i))
        assert work.divisions[:, i].tolist() == list(divmod(int(n), int(d)))


def test_every_flip_in_a_division_is_found_by_the_core_itself(work: IntegersWork) -> None:
    draw = random.Random("3/integers/divisions")
    for number in range(1000):
        work.compute(number)
        row, i = draw.randrange(2), draw.randrange(work.divisions.shape[1])
        work.divisions[row, i] ^= np.uint64(1 << draw.randrange(64))
        checked = work.check(number)
        assert checked.wrong == 1
        assert checked.shown[0].what.startswith("division of integers")
        work.compute(number)
        assert work.check(number).wrong == 0


def test_every_flip_in_a_known_answer_is_found_and_one_in_the_expectation_is_told_apart(
    work: IntegersWork,
) -> None:
    draw = random.Random("3/integers/answers")
    for number in range(1000):
        work.compute(number)
        place, bit = draw.randrange(len(PUBLISHED)), 1 << draw.randrange(64)
        name = list(PUBLISHED)[place]
        work.answers[place] ^= np.uint64(bit)
        (wrong,) = work.check(number).shown
        assert (wrong.what, wrong.where) == ("known answer", name)
        work.answers[place] ^= np.uint64(bit)
        work.known.expected[name] ^= bit
        (wrong,) = work.check(number).shown
        assert (wrong.what, wrong.where) == (THE_CHECK_ITSELF, name)
        work.known.expected[name] ^= bit


def test_a_wrong_entry_of_the_table_is_found(work: IntegersWork) -> None:
    work.table[:] ^= np.uint64(4)
    work.compute(0)
    assert {wrong.what for wrong in work.check(0).shown} == {CRC_OF_ROUND, "known answer"}
