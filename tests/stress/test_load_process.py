"""A load process at work: words from the guard, time that stood still."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import msgspec
import pytest

from shipworthy.model.base import Record, Value
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.load_process import Shift, Words
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Job, Note
from shipworthy.stress.wire import Again, Answered, Child, Paused, Word, Work, Worked


class Bench:
    """A clock, a load of 1 s a block on it, and the guard's end of the pipe."""

    protocol, name = PROTOCOL, "counting"
    about = About(
        stresses="-",
        verifies="-",
        slips_through="-",
        unit_of_work="blocks",
        limit="-",
        power="-",
        cleans_up="-",
    )

    def __init__(self, descriptor: int) -> None:
        self.now_s, self.blocks, self.spoken = 0.0, 0, list[Record]()
        self.in_block: Callable[[], None] = lambda: None
        self._descriptor = descriptor

    def say(self, word: Word) -> None:
        os.write(self._descriptor, msgspec.json.encode(word) + b"\n")

    def open(self, _: Job) -> Bench:
        return self

    def block(self) -> Block:
        began_s = self.now_s
        self.now_s += 1.0
        self.blocks += 1
        self.in_block()
        return Block(work=1.0, seconds=self.now_s - began_s, checks=1, wrong=0)

    def bare_block(self) -> Block | None:
        return None

    def again(self, number: int) -> Answer | None:
        return Answer(round=number, digest=f"again {number}")

    def detail(self) -> tuple[Value, ...]:
        return ()

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        return

    def worked(self) -> tuple[float, float]:
        reports = [one for one in self.spoken if isinstance(one, Worked)]
        return sum(one.work for one in reports), sum(one.seconds for one in reports)


@pytest.fixture
def pipe() -> Iterator[tuple[int, int]]:
    reading, writing = os.pipe()
    yield reading, writing
    os.close(reading)
    os.close(writing)


def shift(bench: Bench, descriptor: int) -> Shift:
    job = Job(
        step="s",
        load="counting",
        target="cpu:0",
        request=LoadRequest(load="counting"),
        seed=1,
        work_folder="",
        memory_reserve_bytes=0,
        disk_reserve_bytes=0,
    )
    child = Child(entry="", job=job)
    return Shift(bench, child, bench.spoken.append, Words(descriptor), lambda: bench.now_s)  # type: ignore[arg-type]


def test_time_that_stood_still_within_a_block_is_neither_the_blocks_nor_the_steps(
    pipe: tuple[int, int],
) -> None:
    bench = Bench(pipe[1])
    bench.say(Work(at_s=0.0))

    def stop_and_go_on() -> None:
        if bench.blocks == 3:
            bench.say(Paused(seconds=40.0))  # as the guard does, before it lets the process go on
            bench.now_s += 40.0

    bench.in_block = stop_and_go_on
    shift(bench, pipe[0]).work_for(10.0)
    assert (bench.blocks, bench.now_s) == (10, 50.0)
    assert bench.worked() == (10.0, 10.0)


def test_a_request_that_comes_beside_a_pause_is_answered(pipe: tuple[int, int]) -> None:
    bench = Bench(pipe[1])
    bench.say(Work(at_s=0.0))

    def say_both() -> None:
        if bench.blocks == 1:
            bench.say(Paused(seconds=0.25))
            bench.say(Again(round=7))

    bench.in_block = say_both
    shift(bench, pipe[0]).work_for(2.0)
    answers = [one.answer for one in bench.spoken if isinstance(one, Answered)]
    assert [answer.digest for answer in answers] == ["again 7"]


def test_a_pause_between_two_blocks_makes_no_block_shorter(pipe: tuple[int, int]) -> None:
    bench = Bench(pipe[1])
    bench.say(Work(at_s=0.0))
    bench.in_block = lambda: bench.say(Paused(seconds=30.0)) if bench.blocks == 2 else None
    shift(bench, pipe[0]).work_for(5.0)
    assert bench.worked() == (35.0, 35.0)


def test_a_load_whose_guard_is_gone_ends(pipe: tuple[int, int]) -> None:
    reading, writing = os.pipe()
    os.close(writing)
    with pytest.raises(SystemExit):
        Words(reading).heard(1.0)
    os.close(reading)


def test_a_pause_right_after_the_word_to_begin_is_not_the_loads_time(pipe: tuple[int, int]) -> None:
    bench = Bench(pipe[1])
    bench.say(Work(at_s=0.0))
    bench.say(Paused(seconds=40.0))
    bench.now_s = 40.0
    shift(bench, pipe[0]).work_for(5)
    assert bench.worked() == (5.0, 5.0)
