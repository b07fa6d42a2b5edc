"""Faults planted in memory while it is tested: each is found, named by offset and bit, and told apart."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from shipworthy.stress.loads import memory_words, patterns
from shipworthy.stress.loads.march import LOAD, MarchWork
from shipworthy.stress.loads.memory_modules import Modules
from shipworthy.stress.loads.memory_passes import SEQUENCES, Pass, march_pass
from shipworthy.stress.loads.memory_words import CHANGES, CHECK, ONCE, STAYS, Found, Words, kind_of, lanes_of
from tests.stress.memory_work import whole_pass
from tests.stress.small_burn_ins import MIB, job_for

FLIPS = 1000
AT_ONCE = 20

Open = Callable[[str], MarchWork]


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Open]:
    works = []
    monkeypatch.setattr(patterns, "FIRST_PAUSE_S", 0.01)
    monkeypatch.setattr(patterns, "LONGEST_PAUSE_S", 0.01)

    def go(variant: str) -> MarchWork:
        job = job_for("march", tmp_path, memory_cap_bytes=32 * MIB, variant=variant)
        works.append(LOAD.open(msgspec.structs.replace(job, block_s=0.002)))  # slices of half a MiB
        return works[-1]

    yield go
    for work in works:
        work.close()


@pytest.mark.parametrize("variant", SEQUENCES)
def test_every_one_of_1000_flipped_bits_is_found_with_offset_and_bit(opened: Open, variant: str) -> None:
    work, draw, flipped = opened(variant), random.Random(f"3/{variant}/flips"), 0
    passes_seen = set()
    while flipped < FLIPS:
        for _ in range(draw.randrange(5)):
            assert whole_pass(work) == (0, [])
        while not work.at.reads:
            whole_pass(work)  # the first write of a round hides what was there before it
        passes_seen.add(str(work.at))
        reads = 2 if work.at.reads == 3 else 1  # of (r,r,w,r,w), both reads before the first write are wrong
        planted = _plant(work, draw)
        wrong, shown = whole_pass(work)
        assert wrong == reads * AT_ONCE
        told = {tuple(w.where.split(", ")[:2]) for w in shown}
        assert told == {(f"offset 0x{at * 8:x}", f"bit {bit}") for at, bit in planted.items()}
        assert all(w.what.startswith(STAYS) for w in shown)
        assert {int(str(w.expected), 16) ^ int(str(w.found), 16) for w in shown} == {
            1 << bit for bit in planted.values()
        }
        flipped += AT_ONCE
    assert len(passes_seen) >= 5


def _plant(work: MarchWork, draw: random.Random) -> dict[int, int]:
    """Flip one bit of some words, evenly spread: of each slice, which are more, all wrong words are shown."""
    step = work.words.size // AT_ONCE
    planted = {number * step + draw.randrange(step): draw.randrange(64) for number in range(AT_ONCE)}
    for index, bit in planted.items():
        work.words[index] ^= np.uint64(1 << bit)
    return planted


@pytest.mark.parametrize("variant", SEQUENCES)
@pytest.mark.parametrize("stuck_at_one", [False, True])
def test_a_stuck_bit_is_found_in_every_round(opened: Open, variant: str, stuck_at_one: bool) -> None:
    """The bit is forced after each slice that holds its word, as a cell that does not take the value; another
    thread, which writes elsewhere, must not write the rest of that word."""
    work = opened(variant)
    index, bit = work.words.size // 3, np.uint64(1 << 37)

    def stuck(one: Pass) -> Pass:
        def run(words: np.ndarray, first: int, notes: np.ndarray) -> int:  # type: ignore[type-arg]
            wrong = one.run(words, first, notes)
            if first <= index < first + words.size:
                work.words[index] = work.words[index] | bit if stuck_at_one else work.words[index] & ~bit
            return wrong

        return replace(one, run=run)

    work._passes = tuple(stuck(one) for one in work._passes)
    shown = []
    while work.round == 0:
        shown += whole_pass(work)[1]
    assert len(shown) >= 2
    assert {tuple(w.where.split(", ")[:3]) for w in shown} == {
        (f"offset 0x{index * 8:x}", "bit 37", "byte lane 4")
    }
    assert all(w.what.startswith(STAYS) for w in shown)


def test_a_wrong_expectation_of_the_loop_is_told_from_wrong_memory(opened: Open) -> None:
    work = opened("")
    whole_pass(work)
    damaged, right = march_pass(SEQUENCES["march-c-minus"], 1, 1), work._passes[1]
    work._passes = (work._passes[0], replace(right, run=damaged.run), *work._passes[2:])
    wrong, shown = whole_pass(work)
    assert wrong == work.words.size
    assert shown and all(w.what.startswith(CHECK) and w.part == "" for w in shown)
    assert {(w.expected, w.found) for w in shown} == {("0x" + "0" * 16, "0xffffffff00000000")}


def test_two_more_reads_tell_a_wrong_read_from_a_wrong_cell() -> None:
    assert kind_of(Found(0, 5, 4, (5, 5)), 5) == ONCE
    assert kind_of(Found(0, 5, 4, (4, 4)), 5) == STAYS
    assert kind_of(Found(0, 5, 4, (4, 5)), 5) == CHANGES
    assert kind_of(Found(0, 5, 4, (6, 6)), 5) == CHANGES
    assert kind_of(Found(0, 7, 5, (5, 5)), 5) == CHECK  # the loop expected what the sequence does not say
    assert kind_of(Found(0, 5, 5, (5, 5)), 5) == CHECK  # two equal words were called different


def test_a_wrong_word_read_once_says_so_with_its_value() -> None:
    words = Words(lambda _: None, lambda: Modules())
    wrong = words.report(Found(0x40, 0, 1 << 9, (0, 0)), 0, "*(r0) with background 0x0")
    assert wrong.what == f"{ONCE}, in *(r0) with background 0x0"
    assert wrong.where == "offset 0x40, bit 9, byte lane 1, physical address not told"
    assert wrong.found == "0x0000000000000200"


@pytest.mark.parametrize(
    ("differing", "told"),
    [
        (1, "bit 0, byte lane 0"),
        (1 << 63 | 1, "bits 0, 63, byte lanes 0, 7"),
        (0xFF << 24, "bits 24–31, byte lane 3"),
        (3 << 7, "bits 7, 8, byte lanes 0, 1"),
        (2**64 - 1, "bits 0–63, byte lanes 0–7"),
        (0, "no bit"),
    ],
)
def test_bits_and_byte_lanes_are_named(differing: int, told: str) -> None:
    assert lanes_of(differing) == told


def test_the_table_of_modules_is_read_when_a_word_is_wrong_and_once(opened: Open) -> None:
    asked = []

    def read() -> Modules:
        asked.append(1)
        return Modules(fitted=("smbios:A", "smbios:B"))

    words = Words(lambda offset: 0x1000 + offset, read)
    assert asked == []
    for _ in range(2):
        wrong = words.report(Found(8, 0, 1, (1, 1)), 0, "*(r0)")
        assert wrong.where.endswith("physical address 0x1008, one of the modules smbios:A, smbios:B")
        assert wrong.part == ""
    assert asked == [1]


def test_many_candidates_are_cut_and_counted() -> None:
    words = Words(lambda _: 0, lambda: Modules(fitted=tuple(f"smbios:D{n}" for n in range(8))))
    where = words.report(Found(8, 0, 1, (1, 1)), 0, "*(r0)").where
    assert where.endswith("smbios:D3 and 4 more")
    assert memory_words.CANDIDATES_MOST == 4
