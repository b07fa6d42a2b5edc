"""Exchange between cores: exact totals, whole messages, and flips planted between writing and reading."""

from __future__ import annotations

import os
import random
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from shipworthy.machine.root import LIVE
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.runlog import Report
from shipworthy.model.words import Ending
from shipworthy.stress import resources
from shipworthy.stress.loads.exchange import LOAD, TARGET, ExchangeWork
from shipworthy.stress.protocol import Ground
from tests.stress.planted import job
from tests.stress.small_burn_ins import Run

pytestmark = pytest.mark.skipif(
    len(os.sched_getaffinity(0)) < 2, reason="one usable CPU has no other to meet"
)
REQUEST = LoadRequest(load="exchange")
GROUND = Ground(work_folders=("",))


@pytest.fixture
def work() -> Iterator[ExchangeWork]:
    opened = LOAD.open(job("exchange", TARGET, 1, size=16))
    yield opened
    opened.close()


def test_sound_cores_draw_every_ticket_once_and_read_every_message_whole(work: ExchangeWork) -> None:
    for _ in range(300):
        checked = work.check(work.compute(verify=True))
        assert (checked.wrong, checked.shown) == (0, ())
        threads = len(work.cpus)
        assert checked.checks == 16 * threads * work._kernels.PAYLOAD_WORDS + 3 + threads


def test_messages_really_come_from_other_cores(work: ExchangeWork) -> None:
    work.count = 5000
    for _ in range(4):
        work.check(work.compute(verify=True))
    assert 0 < work.changes <= work.handed_over == 4 * 5000 * len(work.cpus)


def test_every_flip_in_a_message_is_found_by_whoever_reads_it(work: ExchangeWork) -> None:
    draw, kernels = random.Random("3/exchange/messages"), work._kernels
    work.check(work.compute(verify=True))
    for _ in range(1000):
        place = draw.randrange(kernels.PAYLOAD_WORDS)
        at, number = kernels.PAYLOAD + place * 8, int(work.words[kernels.SEQUENCE])
        right = int(work.words[at])
        work.words[at] ^= np.uint64(1 << draw.randrange(64))
        found = int(work.words[at])
        checked = work.check(work.compute(verify=True))
        (wrong,) = checked.shown
        assert (checked.wrong, wrong.what) == (1, "message between cores")
        assert wrong.where.startswith(f"message {number}, word {place}, written by cpu:")
        assert (wrong.expected, wrong.found) == (f"0x{right:016x}", f"0x{found:016x}")


def test_every_flip_in_a_total_is_found(work: ExchangeWork) -> None:
    draw, kernels = random.Random("3/exchange/totals"), work._kernels
    for _ in range(1000):
        wrong = work.compute(verify=True)
        bit, which = np.uint64(1 << draw.randrange(64)), draw.randrange(3)
        if which == 0:
            work.words[kernels.COUNTER] ^= bit
        elif which == 1:
            work.own[draw.randrange(len(work.cpus)), draw.randrange(2)] ^= bit
        else:
            work.words[kernels.BESIDE + draw.randrange(len(work.cpus))] ^= bit
        checked = work.check(wrong)
        assert (checked.wrong, checked.shown[0].what) == (1, "exchange between cores")
        assert checked.shown[0].expected != checked.shown[0].found


def test_a_ticket_drawn_twice_is_found_even_if_the_sum_is_right(work: ExchangeWork) -> None:
    wrong = work.compute(verify=True)
    first = work.first_ticket
    tickets = [first + 3, first + 4]  # as if both had been drawn as the two beside them
    others = [first + 2, first + 5]
    assert sum(tickets) == sum(others)
    change = (sum(o * o for o in others) - sum(t * t for t in tickets)) % 2**64
    work.own[0, 1] += np.uint64(change)
    assert [w.where.split(",")[0] for w in work.check(wrong).shown] == ["sum of their squares"]


def test_a_thread_stays_on_its_cpu(work: ExchangeWork) -> None:
    pinned = [pool.submit(os.sched_getaffinity, 0).result() for pool in work._pools]
    assert pinned == [{cpu} for cpu in work.cpus]


def test_with_one_cpu_there_is_nobody_to_exchange_with(monkeypatch: pytest.MonkeyPatch) -> None:
    assert [t.cpus for t in LOAD.targets(REQUEST, GROUND, LIVE)] == [resources.usable_cpus()]
    monkeypatch.setattr(resources, "usable_cpus", lambda: (3,))
    assert LOAD.targets(REQUEST, GROUND, LIVE) == ()


def test_a_size_that_makes_no_sense_is_refused() -> None:
    with pytest.raises(Trouble, match="cannot have the size 3"):
        LOAD.check(LoadRequest(load="exchange", size=3))


def test_it_runs_in_a_real_burn_in(burn_in: Callable[..., Run]) -> None:
    step = PlanStep(step="all", seconds=3.0, loads=(REQUEST,))
    run = burn_in(Plan(plan_id="small", memory_reserve_bytes=2**26, disk_reserve_bytes=2**26, steps=(step,)))
    assert run.ending is Ending.COMPLETED
    assert run.events("load.wrong") == []
    reports = run.of(Report)
    assert {r.target for r in reports} == {TARGET}
    assert sum(r.checks for r in reports) > 0 and sum(r.wrong for r in reports) == 0
    assert any(r.limit for r in reports) and any(r.detail for r in reports)
