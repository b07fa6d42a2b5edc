"""Caches: sizes as the kernel tells them, and flips planted in what was written."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest

from shipworthy.stress.loads.caches import (
    LARGE_ONE_IN,
    LOAD,
    ORDERS,
    CachesWork,
    parse_count,
    parse_size_bytes,
    shares_bytes,
)
from tests.stress.planted import job


@pytest.fixture
def work() -> CachesWork:
    return LOAD.open(job("caches", "cpu:0", 2, size=4))


def cache(cpus: Path, index: int, **files: str) -> None:
    folder = cpus / "cpu0/cache" / f"index{index}"
    folder.mkdir(parents=True)
    for name, text in files.items():
        (folder / name).write_text(text + "\n")


def test_a_cpus_share_of_each_data_cache_is_as_the_kernel_tells(tmp_path: Path) -> None:
    cache(tmp_path, 0, level="1", type="Data", size="48K", shared_cpu_list="0-1")
    cache(tmp_path, 1, level="1", type="Instruction", size="32K", shared_cpu_list="0-1")
    cache(tmp_path, 2, level="2", type="Unified", size="2048K", shared_cpu_list="0,8")
    cache(tmp_path, 3, level="3", type="Unified", size="36M", shared_cpu_list="0-11")
    assert shares_bytes("cpu0", tmp_path) == {1: 24 << 10, 2: 1024 << 10, 3: 3 << 20}
    assert shares_bytes("cpu1", tmp_path) == {}


def test_a_cache_that_does_not_tell_all_is_left_out(tmp_path: Path) -> None:
    cache(tmp_path, 0, level="1", type="Data", size="", shared_cpu_list="0")
    cache(tmp_path, 1, level="2", type="Unified", size="1M", shared_cpu_list="0")
    assert shares_bytes("cpu0", tmp_path) == {2: 1 << 20}


@pytest.mark.parametrize(("text", "size"), [("32K\n", 32768), ("8M", 8 << 20), ("512", 512)])
def test_sizes_are_read(text: str, size: int) -> None:
    assert parse_size_bytes(text) == size


@pytest.mark.parametrize(("text", "count"), [("0", 1), ("0-3", 4), ("0-3,8-11\n", 8), ("2,9", 2)])
def test_lists_of_cpus_are_counted(text: str, count: int) -> None:
    assert parse_count(text) == count


def test_usual_sizes_are_used_and_told_where_the_kernel_is_silent() -> None:
    silent = LOAD.open(job("caches", "cpu:99999", 2))
    assert {v.name: v.value for v in silent.detail()} == {
        "working_sets": "L1 cache 32768, L2 cache 524288",  # the third level outlasts so short a block
        "cache_sizes": "not told: usual ones",
    }


def test_the_third_level_is_swept_once_in_sixteen_rounds() -> None:
    long = job("caches", "cpu:99999", 2)
    work = LOAD.open(type(long)(**{f: getattr(long, f) for f in long.__struct_fields__} | {"block_s": 0.4}))
    for number in (0, 1, 16):
        work.compute(number)
        large, others = work.results[-len(ORDERS) :].any(), work.results[: -len(ORDERS)].any()
        assert (large, others) == (number % 16 == 0, number % 16 != 0)
        assert work.check(number).wrong == 0


def test_every_flip_in_a_written_word_is_found_in_every_order_and_at_its_place(
    work: CachesWork, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw, planted = random.Random("3/caches/flips"), []

    def flip(words: Any) -> None:
        place, bit = draw.randrange(words.size), draw.randrange(64)
        words[place] ^= np.uint64(1 << bit)
        planted.append((place, bit, int(words[place])))

    sound = []
    for number in range(1000):
        work.compute(number)
        assert work.check(number).wrong == 0
        sound.append(work.results.copy())
    monkeypatch.setattr(work, "written", flip)
    for number in range(1000):
        work.compute(number)
        checked = work.check(number)
        place, bit, found = planted[-1]
        assert checked.wrong == len(ORDERS)  # so the other cores' answers differ as well:
        assert (work.results != sound[number]).all()
        assert [w.what for w in checked.shown] == [f"word in the working set, read {o}" for o in ORDERS]
        assert {w.where for w in checked.shown} == {f"offset 0x{8 * place:x} of 4096 bytes, bits {bit}"}
        assert {w.found for w in checked.shown} == {f"0x{found:016x}"}


def test_the_limit_is_measured_over_rounds_of_every_kind(work: CachesWork) -> None:
    done: list[int] = []
    work.bare = done.append  # type: ignore[method-assign]
    work._job = msgspec.structs.replace(work._job, block_s=0.0)
    work.bare_block()
    assert sum(number % LARGE_ONE_IN == 0 for number in done) == 1
    assert len(done) == LARGE_ONE_IN


def test_the_bare_sweeps_read_the_same_words(work: CachesWork) -> None:
    work.compute(7)
    checked = work.results.copy()
    work.bare(7)
    assert (work.results == checked).all()
