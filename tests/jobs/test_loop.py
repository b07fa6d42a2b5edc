"""No burn-in begins before a custom loop is on record as tested; the bench half finds one that did."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from shipworthy.inspection import LOOP_ITEM
from shipworthy.jobs.bench import begin, inspect, take
from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.jobs.run import RunResult, run
from shipworthy.jobs.unit import READING_AFTER, BurnIn, UnitFolder, burn_in_unit, read_unit
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.inspection import Items, Observation
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.time import SystemClock
from shipworthy.model.words import Danger, Ending, Outcome, VerdictWord
from shipworthy.record.keys import TrustList, make_key
from shipworthy.record.sealed import Sealed
from shipworthy.sim import ANSWERS_FILE, ORDER_FILE
from shipworthy.sim.feed import Feed
from shipworthy.sim.unit import build
from shipworthy.verdict.policies import shipped_policy

pytestmark = pytest.mark.slow
PLAN = Plan(
    plan_id="tiny",
    memory_reserve_bytes=2**20,
    disk_reserve_bytes=2**20,
    steps=(
        PlanStep(
            step="together",
            seconds=2,
            loads=(
                LoadRequest(load="matrix", size=128),
                LoadRequest(load="march", memory_share=0.1, memory_cap_bytes=32 * 2**20),
                LoadRequest(load="storage", write_budget_bytes=8 * 2**20),
            ),
        ),
    ),
)
SOLD = """
[[lines]]
line_id = "16"
category = "accessory"
text = "{text}"
"""
LATER = """
[[answers]]
item = "16.presence"
outcome = "conforms"
"""
TESTED = """
[[answers]]
item = "unit.loop-leak-tested"
outcome = "{outcome}"
note = "{note}"
"""


@dataclass(frozen=True)
class Shop:
    bench: Bench
    folder: Path
    root: Root
    request: RunRequest

    def order(self, text: str) -> None:
        """Sell one thing more than the scenario does."""
        self.request.order.write_text(ORDER_FILE.read_text("utf-8") + SOLD.format(text=text), "utf-8")

    def answers(self, outcome: str | None = None, note: str = "") -> Path:
        """Write the scenario's answers, and one on the loop if there is an outcome."""
        told = TESTED.format(outcome=outcome, note=note) if outcome else ""
        path = self.folder / "answers.toml"
        path.write_text(ANSWERS_FILE.read_text("utf-8") + LATER + told, "utf-8")
        return path

    def run(self, **changed: object) -> RunResult:
        with Feed(self.root):
            return run(replace(self.request, **changed), self.bench)  # type: ignore[arg-type]

    @property
    def attempt(self) -> Path:
        (folder,) = self.bench.records.glob(".open/*/data")
        return folder


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    bench = Bench(
        records=tmp_path / "records",
        packs=tmp_path / "packs",
        key=tmp_path / "key.json",
        trust=tmp_path / "trust.json",
    )
    bench.records.mkdir()
    TrustList().add(make_key(bench.key, name="Kestrel Desk")).save(bench.trust)
    device = bench.records.stat().st_dev
    cpus = tuple(sorted(os.sched_getaffinity(0)))[:2]
    root = build(
        tmp_path / "unit", frozenset(), cpus=cpus, device_number=(os.major(device), os.minor(device))
    )
    request = RunRequest(
        order=tmp_path / "order.toml",
        policy=(shipped_policy(burn_in_least_s=1), "the test's policy"),
        plan=PLAN,
        unit_id="KD-0412-1",
        root=root,
    )
    made = Shop(bench, tmp_path, root, request)
    made.order("Reservoir and coolant")
    yield made


def codes(result: RunResult) -> set[str]:
    assert result.decision is not None
    return {reason.finding.code if reason.finding else reason.code for reason in result.decision.reasons}


def test_unanswered_no_load_starts_and_the_run_goes_on_where_it_was(shop: Shop) -> None:
    with pytest.raises(Trouble, match="nobody has said that it was leak-tested") as told:
        shop.run(answers=shop.answers())
    assert LOOP_ITEM in told.value.mend and "unpowered" in told.value.mend
    assert (shop.attempt / "comparison.json").exists()  # all that needs no load was done
    assert not (shop.attempt / "burn-in").exists()
    released = shop.run(answers=shop.answers("conforms", "0.5 bar held for 30 min on 2 March."))
    assert released.decision is not None and released.decision.verdict is VerdictWord.RELEASE
    assert released.record is not None and released.pack is not None
    names = Sealed(released.record).names()
    assert "burn-in/log-001.jsonl" in names and "inspection/observations.jsonl" in names
    assert "held for" in released.pack.html.read_text("utf-8")


@pytest.mark.parametrize(
    ("outcome", "note", "why"),
    [
        ("differs", "It lost pressure.", "Odile Marsh answered differs"),
        ("cannot tell", "The gauge is broken.", "Odile Marsh answered cannot tell"),
        ("conforms", "", "does not say how it was leak-tested"),
    ],
)
def test_answered_otherwise_it_stops_at_once(shop: Shop, outcome: str, note: str, why: str) -> None:
    with pytest.raises(Trouble, match=why):
        shop.run(answers=shop.answers(outcome, note))
    assert not (shop.attempt / "reading").exists()


def test_a_shop_that_gives_up_seals_a_hold_without_a_burn_in(shop: Shop) -> None:
    held = shop.run(answers=shop.answers("differs", "It lost pressure."), seal_unanswered=True)
    assert held.record is not None
    assert {"inspection.loop-differs", "burn-in.none"} <= codes(held)
    assert not [name for name in Sealed(held.record).names() if name.startswith("burn-in/")]


def test_burn_in_anyway_is_no_way_around(shop: Shop) -> None:
    with pytest.raises(Trouble, match="no burn-in is started"):
        shop.run(burn_in_anyway=True)


def test_a_person_is_asked_before_anything_else(shop: Shop) -> None:
    asked: list[tuple[str, ...]] = []

    def ask(items: Items) -> Iterable[Observation]:
        asked.append(tuple(item.item_id for item in items.items))
        assert not (shop.attempt / "reading").exists()
        yield Observation(
            item_id=LOOP_ITEM,
            outcome=Outcome.CONFORMS,
            by="Odile Marsh",
            at=shop.bench.clock.now(),
            note="Filled and run for a day, only the pump powered.",
        )

    shop.run(ask=ask, until="comparison")
    shop.run(ask=ask, until="burn-in")
    assert asked == [(LOOP_ITEM,)]
    assert (shop.attempt / "burn-in/log-001.jsonl").exists()


def test_a_leak_stays_with_the_attempt_and_says_wall_switch_first(shop: Shop) -> None:
    def ask(items: Items) -> Iterable[Observation]:
        wet = Observation(
            item_id=LOOP_ITEM,
            outcome=Outcome.DIFFERS,
            by="Odile Marsh",
            at=shop.bench.clock.now(),
            danger=Danger.LEAK,
        )
        yield wet

    with pytest.raises(Trouble, match="saw a danger there") as told:
        shop.run(ask=ask)
    assert told.value.mend.startswith("Wall switch first")
    with pytest.raises(Trouble, match="saw a danger there"):
        shop.run(answers=shop.answers("conforms", "Now it holds."))


def test_the_bench_half_takes_the_answer_before_anything_was_read(shop: Shop) -> None:
    begin(shop.request, shop.bench)
    assert [item.item_id for item in inspect(shop.bench, None, None, None).items] == [LOOP_ITEM]
    told = shop.answers("conforms", "0.5 bar held for 30 min on 2 March.")
    assert not inspect(shop.bench, None, told, None).items
    assert (shop.attempt / "inspection/observations.jsonl").exists()


def test_without_a_loop_nothing_is_asked_before_the_analysis(shop: Shop) -> None:
    shop.order("Sealed 240 mm cooler, factory-filled")
    begin(shop.request, shop.bench)
    with pytest.raises(Trouble, match="the step analysis is not done yet"):
        inspect(shop.bench, None, None, None)


def test_a_sealed_cooler_is_asked_nothing_and_burned_in(shop: Shop) -> None:
    shop.order("Calder Tide AIO, sealed liquid cooler with radiator and pump")
    shop.run(until="burn-in")
    assert not (shop.attempt / "inspection").exists()
    assert (shop.attempt / "burn-in/log-001.jsonl").exists()


@pytest.mark.parametrize(("outcome", "also"), [("conforms", set()), ("differs", {"inspection.loop-differs"})])
def test_the_bench_half_finds_a_burn_in_that_began_before_the_answer(
    shop: Shop, outcome: str, also: set[str]
) -> None:
    _unit_half(shop, begin(shop.request, shop.bench).nonce)
    take(shop.folder / "stick", shop.bench)
    held = shop.run(answers=shop.answers(outcome, "0.5 bar."))
    assert held.decision is not None and held.decision.verdict is VerdictWord.HOLD
    assert codes(held) == {"burn-in.loop-test-not-before", *also}


def test_the_bench_half_finds_nothing_where_the_answer_was_there_first(shop: Shop) -> None:
    nonce = begin(shop.request, shop.bench).nonce
    stick = UnitFolder(shop.folder / "stick")
    with Feed(shop.root):
        read_unit(stick, shop.root, nonce=nonce, clock=SystemClock())
    take(stick.folder, shop.bench)
    answers = shop.answers("conforms", "0.5 bar held.")
    shop.run(answers=answers, until="comparison")
    _unit_half(shop, nonce)
    take(stick.folder, shop.bench)
    released = shop.run(answers=answers)
    assert released.decision is not None and released.decision.verdict is VerdictWord.RELEASE


def _unit_half(shop: Shop, nonce: str) -> None:
    """Read (unless that was done) and burn in on a stick, as the unit half does: it knows of no order."""
    stick = UnitFolder(shop.folder / "stick")
    job = BurnIn(
        root=shop.root,
        clock=SystemClock(),
        show=lambda told: None,
        stop=threading.Event(),
        work_folders=(shop.folder,),
    )
    with Feed(shop.root):
        if not (stick.folder / "reading").exists():
            read_unit(stick, shop.root, nonce=nonce, clock=SystemClock())
        assert burn_in_unit(stick, PLAN, job) is Ending.COMPLETED
        read_unit(stick, shop.root, nonce=nonce, clock=SystemClock(), under=READING_AFTER)
