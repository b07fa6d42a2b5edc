"""The march over real memory: the compiled loops, planted flips, and memory that gets tight."""

from __future__ import annotations

import ctypes
import mmap
import os
import random
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.march import LOAD, MarchWork, Part
from shipworthy.stress.loads.marching import (
    MARCH_C_MINUS,
    MARCH_SS,
    Background,
    backgrounds,
    parse_march,
    run_march,
)
from shipworthy.stress.loads.memory_passes import SEQUENCES, kernel_of
from shipworthy.stress.loads.memory_share import wanted_bytes
from shipworthy.stress.loads.pages import HUGE_BYTES, PAGE_BYTES, Pages, parse_huge_bytes
from tests.stress.memory_work import whole_pass
from tests.stress.small_burn_ins import MIB, job_for


@pytest.fixture
def work(tmp_path: Path) -> Iterator[MarchWork]:
    opened = LOAD.open(job_for("march", tmp_path, memory_cap_bytes=32 * MIB))
    yield opened
    opened.close()


@pytest.mark.parametrize("sequence", [MARCH_C_MINUS, MARCH_SS])
def test_the_compiled_loops_do_what_the_plain_interpreter_does(sequence: str) -> None:
    elements, random_words = parse_march(sequence), random.Random("march")
    start = [random_words.getrandbits(64) for _ in range(64)]
    words, plain = np.array(start, dtype=np.uint64), list(start)
    for background in backgrounds():
        for element in elements:
            notes = np.zeros((4, 5), dtype=np.uint64)
            aligned = _aligned_copy(words)
            wrong = kernel_of(element)(aligned, background, notes)
            words = aligned.copy()
            assert wrong == run_march((element,), plain, background)
            assert words.tolist() == plain


def test_no_loop_is_passed_off_for_an_element_that_none_was_made_for() -> None:
    for text in ("^(r0,w1,r1)", "^(r0,r0,w1,r1,w0)"):
        (element,) = parse_march(text)
        with pytest.raises(ValueError, match="no loop was made"):
            kernel_of(element)


def test_two_addresses_that_reach_one_cell_are_found_from_both_directions() -> None:
    """An address decoder fault made of hardware's own means: one physical page mapped at two addresses."""
    words, close = _page_mapped_twice()
    elements, half = parse_march(MARCH_C_MINUS), PAGE_BYTES // 8
    seen = {}
    for element in elements:
        notes = np.zeros((1024, 5), dtype=np.uint64)
        wrong = kernel_of(element)(words, Background(), notes)
        seen[str(element)] = {int(index) // half for index in notes[:wrong, 0]} if wrong else set()
    assert seen["^(r0,w1)"] == {1}  # going up, the upper address reads what the lower one wrote
    assert seen["v(r0,w1)"] == {0}  # going down, the lower one does
    close()


def test_sound_memory_has_no_wrong_word(work: MarchWork) -> None:
    blocks = [work.block() for _ in range(3 * 6)]
    assert sum(block.wrong for block in blocks) == 0
    assert sum(block.checks for block in blocks) > 0


@pytest.mark.parametrize(("variant", "operations"), [("", 10), ("march-c-minus", 10), ("march-ss", 22)])
def test_every_word_gets_as_many_operations_as_the_table_says(variant: str, operations: int) -> None:
    work, done = LOAD.open(job_for("march", Path(), memory_cap_bytes=32 * MIB, variant=variant)), 0.0
    while work.round == 0:
        done += work.block().work
    assert done == operations * work.size_bytes
    assert "(r0" in work.rates.shown
    work.close()


def test_each_round_takes_the_next_background(work: MarchWork) -> None:
    seen = []
    while work.round < len(backgrounds()) + 1:
        if str(work.at) not in seen:
            seen.append(str(work.at))
        whole_pass(work)
    told = [text for text in seen if text.startswith("*(w0)")]
    assert told == [f"*(w0) with background {background}" for background in backgrounds()]


def test_a_variant_that_is_none_is_refused() -> None:
    for variant in ("", *SEQUENCES):
        LOAD.check(LoadRequest(load="march", variant=variant))
    with pytest.raises(Trouble, match="no variant thorough"):
        LOAD.check(LoadRequest(load="march", variant="thorough"))


def test_many_wrong_words_are_all_counted_and_the_first_are_shown(work: MarchWork) -> None:
    whole_pass(work)
    work.words[100:300] = 7
    wrong, shown = whole_pass(work)
    assert wrong == 200
    assert 0 < len(shown) < 200


def test_the_limit_is_measured_between_two_marches_only(work: MarchWork) -> None:
    bare = work.bare_block()
    assert bare is not None and bare.work > 0 and bare.checks == 0
    whole_pass(work)
    assert work.bare_block() is None


def test_it_backs_away_when_others_need_memory(work: MarchWork, monkeypatch: pytest.MonkeyPatch) -> None:
    bigger = LOAD.open(job_for("march", Path(), memory_cap_bytes=128 * MIB))
    before = bigger.size_bytes
    monkeypatch.setattr(resources, "available_memory_bytes", lambda: 63 * MIB)
    bigger.block()
    monkeypatch.undo()
    assert bigger.size_bytes < before
    assert [note.code for note in bigger.notes()] == ["march.backed-away"]
    assert sum(bigger.block().wrong for _ in range(12)) == 0
    bigger.close()


def test_too_little_memory_is_said_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resources, "available_memory_bytes", lambda: 70 * MIB)
    with pytest.raises(Trouble, match="only 70 MiB of memory are free"):
        LOAD.open(job_for("march", Path()))


def test_a_refused_lock_is_said_and_the_test_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Pages, "lock", lambda *_: "Cannot allocate memory")
    work = LOAD.open(job_for("march", Path(), memory_cap_bytes=32 * MIB))
    assert {v.name: v.value for v in work.detail()}["locked"] == "no: Cannot allocate memory"
    assert work.block().wrong == 0
    work.close()


def test_the_share_the_cap_and_the_reserve_bound_the_memory_that_is_taken() -> None:
    request = LoadRequest(load="march", memory_share=0.5)
    capped = LoadRequest(load="march", memory_share=0.5, memory_cap_bytes=64 * MIB)
    assert wanted_bytes(request, 1024 * MIB, 128 * MIB) == 512 * MIB
    assert wanted_bytes(capped, 1024 * MIB, 128 * MIB) == 64 * MIB
    assert wanted_bytes(request, 512 * MIB, 384 * MIB) == 128 * MIB
    assert wanted_bytes(request, 100 * MIB, 128 * MIB) == 0


@pytest.mark.parametrize("down", [False, True])
def test_a_parts_slices_cover_it_once_in_the_elements_direction(down: bool) -> None:
    part = Part(begin=2 * MIB, end=2 * MIB + 70 * MIB)
    slices = []
    while part.left:
        slices.append(part.next_slice(down))
    ordered = slices[::-1] if down else slices
    assert ordered[0][0] == part.begin and ordered[-1][1] == part.end
    assert all(before[1] == after[0] for before, after in pairwise(ordered))


def test_huge_pages_are_counted_as_smaps_tells_them() -> None:
    smaps = """\
7f0000000000-7f0000400000 rw-p 00000000 00:00 0
Size:               4096 kB
AnonHugePages:      2048 kB
VmFlags: rd wr mr mw me ac sd hg
7f0000400000-7f0000600000 rw-p 00000000 00:00 0                          [stack]
AnonHugePages:      2048 kB
"""
    assert parse_huge_bytes(smaps, 0x7F0000000000, 0x7F0000400000) == HUGE_BYTES
    assert parse_huge_bytes(smaps, 0x7F0000700000, 0x7F0000800000) == 0


def _aligned_copy(words: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
    room = np.zeros(words.size + 8, dtype=np.uint64)
    first = -room.ctypes.data % 64 // 8
    room[first : first + words.size] = words
    return room[first : first + words.size]


def _page_mapped_twice():  # type: ignore[no-untyped-def]
    libc = ctypes.CDLL(None, use_errno=True)
    libc.mmap.restype = ctypes.c_void_p
    libc.mmap.argtypes = [ctypes.c_void_p, ctypes.c_size_t] + [ctypes.c_int] * 3 + [ctypes.c_long]
    libc.munmap.argtypes = [ctypes.c_void_p, ctypes.c_size_t]
    memory = os.memfd_create("page")
    os.ftruncate(memory, PAGE_BYTES)
    both = mmap.PROT_READ | mmap.PROT_WRITE
    fixed = 0x10  # MAP_FIXED
    begin = libc.mmap(None, 2 * PAGE_BYTES, both, mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS, -1, 0)
    for place in (begin, begin + PAGE_BYTES):
        assert libc.mmap(place, PAGE_BYTES, both, mmap.MAP_SHARED | fixed, memory, 0) == place
    buffer = (ctypes.c_uint64 * (2 * PAGE_BYTES // 8)).from_address(begin)

    def close() -> None:
        libc.munmap(begin, 2 * PAGE_BYTES)
        os.close(memory)

    return np.frombuffer(buffer, dtype=np.uint64), close
