"""The patterns: what they hold, their order, their pauses, and the loops against the plain interpreter."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from shipworthy.stress.loads import patterns
from shipworthy.stress.loads.march import LOAD
from shipworthy.stress.loads.marching import ALL_ONES
from shipworthy.stress.loads.memory_passes import C_MINUS, PATTERNS, passes_of, pattern_pass
from shipworthy.stress.loads.pages import Pages
from shipworthy.stress.loads.patterns import Kind, Pattern, Visit, pause_s, round_of, splitmix64, visits
from tests.stress.memory_work import whole_pass
from tests.stress.small_burn_ins import MIB, job_for

FIRST = 4096  # index of the slice's first word among all


@pytest.mark.parametrize("pattern", round_of(3, "11/test/march/test"), ids=lambda p: p.kind.name)
def test_the_loops_write_and_verify_what_the_plain_interpreter_says(pattern: Pattern) -> None:
    pages = Pages(2 * MIB)
    words = np.frombuffer(pages.buffer, dtype=np.uint64)[:512]
    notes = np.zeros((4, 5), dtype=np.uint64)
    inverted = False
    for visit in visits(0.0):
        words_wrong = pattern_pass(pattern, visit).run(words, FIRST, notes)
        assert words_wrong == 0
        inverted = inverted if visit.writes is None else visit.writes
        assert words.tolist() == [pattern.word(FIRST + at, inverted) for at in range(512)], str(visit)
    words[77] ^= np.uint64(1 << 60)
    assert pattern_pass(pattern, visits(0.0)[-1]).run(words, FIRST, notes) == 1
    assert notes[0].tolist() == [77, pattern.word(FIRST + 77), *[int(words[77])] * 3]
    del words
    pages.close()


def test_every_bit_is_read_as_one_and_as_zero_with_every_pattern() -> None:
    for pattern in round_of(0, "p"):
        told = [(visit.reads, visit.writes) for visit in visits(1.0)]
        assert told == [(None, False), (False, True), (True, False), (False, None)]
        assert all(pattern.word(at) ^ pattern.word(at, True) == ALL_ONES for at in range(100))


def test_the_kinds_are_what_they_are_called() -> None:
    assert {Pattern(Kind.SOLID).word(at) for at in range(9)} == {0}
    checker = [Pattern(Kind.CHECKER).word(at) for at in range(9)]
    assert all(one ^ other == ALL_ONES for one, other in pairwise(checker))
    assert all((word >> 1 ^ word) & ALL_ONES >> 1 == ALL_ONES >> 1 for word in checker)
    walk = [Pattern(Kind.WALKING, 5).word(at) for at in range(64)]
    assert walk[0] == 1 << 5 and set(walk) == {1 << bit for bit in range(64)}
    assert len({Pattern(Kind.ADDRESS).word(at) for at in range(1000)}) == 1000
    words = [Pattern(Kind.RANDOM, 7).word(at) for at in range(1000)]
    assert len(set(words)) == 1000 and all(word <= ALL_ONES for word in words)
    ones = sum(word.bit_count() for word in words)
    assert abs(ones - 32_000) < 5 * 126  # 64,000 fair bits: one standard deviation is 126


def test_splitmix64_gives_its_published_first_numbers() -> None:
    """Seed 1234567: the numbers that accompany the algorithm in many implementations (from memory)."""
    gamma, seed = 0x9E37_79B9_7F4A_7C15, 1234567
    assert [splitmix64(seed + at * gamma & ALL_ONES) for at in range(3)] == [
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
    ]


def test_rounds_differ_by_seed_and_number_and_pauses_grow_to_a_bound() -> None:
    assert round_of(0, "a") == round_of(0, "a")
    assert round_of(0, "a") != round_of(0, "b") != round_of(1, "b")
    assert [pause_s(number) for number in (0, 1, 2, 3, 4, 5, 500)] == [2, 4, 8, 16, 32, 32, 32]


def test_a_round_of_patterns_begins_with_a_march() -> None:
    march, both = passes_of(C_MINUS, 2, "p"), passes_of(PATTERNS, 2, "p")
    assert [str(one) for one in both[: len(march)]] == [str(one) for one in march]
    assert len(both) == len(march) + 5 * 4
    assert sum(one.pause_s for one in both) == 5 * 2 * 8.0


def test_a_pause_is_neither_work_nor_time_and_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patterns, "FIRST_PAUSE_S", 0.05)
    work = LOAD.open(job_for("march", Path(), memory_cap_bytes=32 * MIB, variant=PATTERNS))
    while not work.at.pause_s:
        whole_pass(work)
    slept: list[float] = []
    monkeypatch.setattr("shipworthy.stress.loads.march.time.sleep", slept.append)
    block = work.block()
    assert (block.work, block.seconds, block.checks) == (0.0, 0.0, 0)
    assert slept and 0 < slept[0] < 0.06
    monkeypatch.undo()
    assert whole_pass(work)[0] == 0
    work.close()


def test_a_visit_is_told_in_the_notation_of_the_marches() -> None:
    assert [str(visit) for visit in visits(1.0)] == ["^(w0)", "^(r0,w1)", "v(r1,w0)", "^(r0)"]
    assert isinstance(visits(1.0)[0], Visit)
