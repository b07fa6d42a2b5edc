"""The whole job on the simulated unit: what the demo shows, and what a person may do about a hold."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path

import pytest
from msgspec.structs import replace

from shipworthy.jobs.bench import decide_now, inspect, seal_now
from shipworthy.jobs.concede import concede
from shipworthy.jobs.demo import FAULTS, Stage, run_simulated
from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.jobs.run import RunResult, run
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.policy import CoverageState, Decision
from shipworthy.model.words import VerdictWord
from shipworthy.record.keys import TrustList, make_key
from shipworthy.record.sealed import Sealed
from shipworthy.record.verify import verify
from shipworthy.sim import ANSWERS_FILE, ORDER_FILE
from shipworthy.sim.feed import Feed
from shipworthy.sim.parts import Fault
from shipworthy.sim.unit import build
from shipworthy.verdict.policies import shipped_policy

pytestmark = pytest.mark.slow
MIB = 2**20
PLAN = Plan(
    plan_id="tiny",
    memory_reserve_bytes=MIB,
    disk_reserve_bytes=MIB,
    steps=(
        PlanStep(
            step="together",
            seconds=2,
            loads=(
                LoadRequest(load="matrix", size=256),
                LoadRequest(load="march", memory_share=0.1, memory_cap_bytes=32 * MIB),
                LoadRequest(load="storage", write_budget_bytes=8 * MIB),
            ),
        ),
    ),
)


@dataclass(frozen=True)
class Shop:
    stage: Stage
    bench: Bench
    kid: str


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    bench = Bench(
        records=tmp_path / "records",
        packs=tmp_path / "packs",
        key=tmp_path / "key.json",
        trust=tmp_path / "trust.json",
    )
    bench.records.mkdir()
    ines = make_key(tmp_path / "ines.json", name="Ines Vaal")
    TrustList().add(make_key(bench.key, name="Kestrel Desk")).add(ines).save(bench.trust)
    return Shop(Stage(tmp_path, bench, threading.Event(), shipped_policy(burn_in_least_s=1)), bench, ines.kid)


def differing(decision: Decision | None) -> set[tuple[str, str]]:
    assert decision is not None
    return {(r.line, r.aspect.value) for r in decision.reasons if r.state is CoverageState.DIFFERS}


def test_a_unit_as_ordered_is_released_and_says_that_it_is_simulated(shop: Shop) -> None:
    result = run_simulated(shop.stage, "KD-0412-1", frozenset(), PLAN)
    assert result.decision is not None and result.decision.verdict is VerdictWord.RELEASE
    assert result.decision.simulated
    assert result.record is not None and result.pack is not None
    assert verify(result.record, TrustList.load(shop.bench.trust)).faults == ()
    assert "Simulated unit" in result.pack.html.read_text("utf-8")


def test_three_faults_hold_for_themselves_and_for_nothing_else(shop: Shop) -> None:
    result = run_simulated(shop.stage, "KD-0412-2", FAULTS, PLAN)
    assert result.decision is not None and result.decision.verdict is VerdictWord.HOLD
    assert differing(result.decision) == {("1", "model"), ("3", "speed"), ("4", "newness"), ("13", "speed")}
    assert {r.state for r in result.decision.reasons} == {CoverageState.DIFFERS}


def test_a_link_that_is_slow_under_load_holds_though_every_reading_was_right(shop: Shop) -> None:
    """At rest less speed means nothing, and no reading is held against it: only the burn-in can tell."""
    longer = replace(PLAN, steps=(replace(PLAN.steps[0], seconds=15),))
    result = run_simulated(shop.stage, "KD-0412-1", frozenset({Fault.LINK_SLOW}), longer)
    assert result.decision is not None and result.decision.verdict is VerdictWord.HOLD
    assert {r.code for r in result.decision.reasons} == {"link.narrow-under-load"}
    assert differing(result.decision) == {("4", "link")}


def test_a_wrong_part_stops_the_run_before_the_burn_in(shop: Shop) -> None:
    result = _until(shop, frozenset({Fault.WRONG_PART}), "seal", burn_in_anyway=False)
    assert result.record is not None
    names = Sealed(result.record).names()
    assert not [name for name in names if name.startswith("burn-in/")]
    assert ("1", "model") in differing(result.decision)


def _until(shop: Shop, faults: frozenset[Fault], until: str, *, burn_in_anyway: bool = True) -> RunResult:
    import os

    device = shop.bench.records.stat().st_dev
    cpus = tuple(sorted(os.sched_getaffinity(0)))[:2]
    folder = shop.stage.folder / "unit"
    numbers = (os.major(device), os.minor(device))
    root = Root(folder) if folder.exists() else build(folder, faults, cpus=cpus, device_number=numbers)
    listed = f'\n[[conceders]]\nname = "Ines Vaal"\nthumbprint = "{shop.kid}"\n'
    for file in (ORDER_FILE, ANSWERS_FILE):
        (shop.stage.folder / file.name).write_bytes(file.read_bytes())
    request = RunRequest(
        order=shop.stage.folder / ORDER_FILE.name,
        policy=(shipped_policy(burn_in_least_s=1) + listed.encode("utf-8"), "the test's policy"),
        plan=PLAN,
        unit_id="KD-0412-1",
        answers=shop.stage.folder / ANSWERS_FILE.name,
        burn_in_anyway=burn_in_anyway,
        until=until,
        root=root,
    )
    with Feed(root):
        return run(request, shop.bench)


def test_a_drive_that_fails_under_load_is_held_though_the_order_was_met_before(shop: Shop) -> None:
    """The order is held against the first reading; what the drive says of itself stands in the last."""
    before = _until(shop, frozenset(), "burn-in")
    assert before.decision is None
    log = shop.stage.folder / "unit/replies/nvme0/smart-log.bin"
    page = bytearray(log.read_bytes())
    page[0] = 0x04  # critical warning: reliability is degraded
    page[160] = 7  # media errors
    log.write_bytes(bytes(page))
    held = _until(shop, frozenset(), "decision")
    assert held.decision is not None and held.decision.verdict is VerdictWord.HOLD
    assert {r.code for r in held.decision.reasons} == {"health.drive-failing", "storage.newness.defects"}


def test_a_listed_person_can_concede_and_the_record_keeps_both(shop: Shop) -> None:
    held = _until(shop, frozenset({Fault.PROFILE_OFF}), "decision")
    assert differing(held.decision) == {("3", "speed"), ("13", "speed")}
    assert held.decision is not None
    for reason in held.decision.reasons:
        assert reason.finding is not None
        concede(
            shop.bench,
            None,
            code=reason.code,
            line=reason.line,
            part=reason.finding.part,
            reason="The customer wants the base speed.",
            key=shop.stage.folder / "ines.json",
        )
    assert decide_now(shop.bench, None).verdict is VerdictWord.RELEASE
    sealed = seal_now(shop.bench, None)
    assert sealed.record is not None
    assert {"decisions/001.json", "decisions/002.json"} <= set(Sealed(sealed.record).names())


def test_a_leak_seen_after_the_decision_is_not_sealed_away(shop: Shop) -> None:
    released = _until(shop, frozenset(), "decision")
    assert released.decision is not None and released.decision.verdict is VerdictWord.RELEASE
    late = shop.stage.folder / "late.toml"
    late.write_text(
        'schema = 1\nby = "Tomas Brandt"\n[[answers]]\nitem = "unit.condition"\n'
        'outcome = "differs"\ndanger = "leak"\n',
        "utf-8",
    )
    inspect(shop.bench, None, late, None)
    sealed = seal_now(shop.bench, None)
    assert sealed.decision is not None and sealed.decision.verdict is VerdictWord.HOLD
    assert [r.code for r in sealed.decision.reasons] == ["inspection.leak"]


def test_a_finding_edited_in_the_open_attempt_does_not_survive_the_seal(shop: Shop) -> None:
    held = _until(shop, frozenset({Fault.PROFILE_OFF}), "decision")
    assert held.decision is not None and held.decision.verdict is VerdictWord.HOLD
    (comparison,) = shop.bench.records.glob(".open/*/data/comparison.json")
    comparison.write_bytes(comparison.read_bytes().replace(b'"differs"', b'"conforms"'))
    sealed = seal_now(shop.bench, None)
    assert sealed.decision is not None and sealed.decision.verdict is VerdictWord.HOLD


def test_sealing_what_has_not_changed_makes_no_second_decision(shop: Shop) -> None:
    held = _until(shop, frozenset({Fault.WRONG_PART}), "decision", burn_in_anyway=False)
    sealed = seal_now(shop.bench, None)
    assert sealed.record is not None and sealed.decision == held.decision
    names = [name for name in Sealed(sealed.record).names() if name.startswith("decisions/")]
    assert names == ["decisions/001.json"]


def test_nobody_else_can_concede_and_nothing_that_is_not_there(shop: Shop) -> None:
    _until(shop, frozenset({Fault.PROFILE_OFF}), "decision")
    named = {"code": "memory.speed.below-sold", "line": "3", "part": "", "reason": "why not"}
    with pytest.raises(Trouble, match="lists nobody with this key"):
        concede(shop.bench, None, **named, key=shop.bench.key)
    with pytest.raises(Trouble, match="has no difference"):
        concede(shop.bench, None, **{**named, "code": "load.wrong"}, key=shop.stage.folder / "ines.json")
