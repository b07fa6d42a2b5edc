"""The loads in rounds: the same everywhere, and every flip found."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import pytest

from shipworthy.machine.root import LIVE
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.runlog import Report
from shipworthy.model.words import Ending
from shipworthy.stress.agreement import Agreement, Blamed
from shipworthy.stress.loads.rounds import THE_CHECK_ITSELF, KnownAnswers, RoundWork, mixed
from shipworthy.stress.protocol import Ground
from shipworthy.stress.registry import find_load
from tests.stress.planted import Flips, a_fold, blamed_of_two, heard, job
from tests.stress.small_burn_ins import Run

SIZES = {"arithmetic": 32, "integers": 32, "ciphers": 1, "caches": 1}
FLIPS = dict.fromkeys(SIZES, 1000)
Open = Callable[..., RoundWork]
loads = pytest.mark.parametrize("name", SIZES)


@pytest.fixture
def opened() -> Iterator[Open]:
    """Open small works, a round an answer; all are closed at the end."""
    works: list[RoundWork] = []

    def go(name: str, target: str = "cpu:0", peers: int = 2) -> RoundWork:
        work = find_load(name).load.open(job(name, target, peers, size=SIZES[name]))
        assert isinstance(work, RoundWork)
        work.rounds = 1
        works.append(work)
        return work

    yield go
    for work in works:
        work.close()


@loads
def test_sound_cores_agree_in_every_round_and_results_change_all_the_time(name: str, opened: Open) -> None:
    works = {target: opened(name, target) for target in ("cpu:0", "cpu:1")}
    digests = set()
    for number in range(50):
        answers = {target: a_fold(work)[0] for target, work in works.items()}
        assert {a.round for a in answers.values()} == {number}
        assert len({a.digest for a in answers.values()}) == 1
        digests |= {a.digest for a in answers.values()}
    assert len(digests) == 50


@loads
def test_every_flip_on_one_core_of_two_is_found_and_told_to_be_its(name: str, opened: Open) -> None:
    works = {target: opened(name, target) for target in ("cpu:0", "cpu:1")}
    flips = Flips(works["cpu:1"], f"7/{name}/flips")
    for _ in range(FLIPS[name]):
        flips.armed = True
        blamed = blamed_of_two(works)
        assert [b.target for b in blamed] == ["cpu:1"]
        assert blamed[0].expected != blamed[0].found
        assert blamed_of_two(works) == []


@loads
def test_every_flip_on_a_single_core_is_found_by_doing_the_round_twice(name: str, opened: Open) -> None:
    work = opened(name, peers=1)
    flips = Flips(work, f"7/{name}/alone")
    for number in range(FLIPS[name]):
        agreement = Agreement(1)
        flips.armed = True
        first, second = a_fold(work)[0], a_fold(work)[0]
        assert (first.round, first.turn, second.round, second.turn) == (number, 0, number, 1)
        asked = [*heard(agreement, {"cpu:0": first}), *heard(agreement, {"cpu:0": second})]
        assert asked and first.digest != second.digest
        again = work.again(number)
        assert again is not None
        assert any(isinstance(o, Blamed) for o in agreement.hear_again("cpu:0", again))


@loads
def test_a_round_done_again_gives_the_same_and_leaves_the_next_ones_as_they_are(
    name: str, opened: Open
) -> None:
    one, other = opened(name), opened(name)
    for work in (one, other):
        work.rounds = 3
    answers = [a_fold(one)[0] for _ in range(4)]
    for answer in answers:
        assert a_fold(other)[0] == answer
        assert (again := other.again(answer.round)) is not None and again == answer
        other.bare_block()


@loads
def test_the_bare_rounds_are_the_same_work_with_nothing_checked(name: str, opened: Open) -> None:
    work = opened(name)
    bare, checked = work.bare_block(), work.block()
    assert bare is not None
    assert bare.work % work.work_of_a_round == checked.work % work.work_of_a_round == 0
    assert bare.work >= work.CYCLE * work.work_of_a_round
    assert (bare.checks, bare.answers) == (0, ())
    assert checked.wrong == 0


@loads
def test_a_size_or_a_variant_that_there_is_not_is_refused(name: str) -> None:
    load = find_load(name).load
    with pytest.raises(Trouble, match="cannot have the size"):
        load.check(LoadRequest(load=name, size=2**40))
    with pytest.raises(Trouble, match="has no variant sideways"):
        load.check(LoadRequest(load=name, variant="sideways"))
    load.check(LoadRequest(load=name))


@loads
def test_it_runs_on_every_core_in_a_real_burn_in(name: str, burn_in: Callable[..., Run]) -> None:
    request = LoadRequest(load=name)
    targets = find_load(name).load.targets(request, Ground(work_folders=("",)), LIVE)
    step = PlanStep(step="all", seconds=3.0, loads=(request,))
    run = burn_in(Plan(plan_id="small", memory_reserve_bytes=2**26, disk_reserve_bytes=2**26, steps=(step,)))
    assert run.ending is Ending.COMPLETED
    assert run.events("load.wrong") == []
    reports = run.of(Report)
    assert (
        {r.target for r in reports}
        == {t.name for t in targets}
        == {f"cpu:{c}" for c in os.sched_getaffinity(0)}
    )
    for target in targets:
        of_target = [report for report in reports if report.target == target.name]
        assert sum(r.checks for r in of_target) > 0 and sum(r.wrong for r in of_target) == 0
        assert any(r.limit for r in of_target) and any(r.detail for r in of_target)


def test_seeds_of_rounds_differ_in_about_half_of_their_bits() -> None:
    distances = [(mixed(5, n) ^ mixed(5, n + 1)).bit_count() for n in range(200)]
    assert 28 < sum(distances) / len(distances) < 36 and min(distances) > 8


def test_a_fault_in_an_expected_answer_is_told_apart_from_one_in_a_result() -> None:
    known = KnownAnswers({"CRC": 0xE3069283})
    assert known.check([0xE3069283]).wrong == 0
    wrong = known.check([0xE3069282])
    assert (wrong.checks, wrong.wrong, wrong.shown[0].what) == (1, 1, "known answer")
    known.expected["CRC"] ^= 1 << 9
    assert known.check([0xE3069283]).shown[0].what == THE_CHECK_ITSELF
