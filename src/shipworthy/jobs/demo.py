"""The main job three times: on this machine, and on the simulated unit without and with faults.

Only this job enters `sim`. It prepares what a bench would have (a key, an order, a unit) and then calls
the same `run` as everybody: the simulated unit is a folder and a feed on the live path.
"""

from __future__ import annotations

import os
import shutil
import threading
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from shipworthy.jobs.errands import Bench, RunRequest, passing_folder, zone_of_this_machine
from shipworthy.jobs.plant import Planted, plant_differences
from shipworthy.jobs.run import RunResult, run
from shipworthy.jobs.unit import UnitFolder, read_unit
from shipworthy.machine.root import LIVE, Root
from shipworthy.messages import quantity_text
from shipworthy.model.base import Record, Trouble
from shipworthy.model.plan import Plan
from shipworthy.model.policy import CoverageState, Decision
from shipworthy.model.progress import Sink, progress
from shipworthy.model.time import SystemClock
from shipworthy.model.words import Category, VerdictWord
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import order_toml
from shipworthy.record.files import write_whole
from shipworthy.record.keys import TrustList, make_key
from shipworthy.sim.feed import Feed
from shipworthy.sim.parts import Fault
from shipworthy.sim.unit import build
from shipworthy.stress.plans import shipped_plan
from shipworthy.verdict.policies import shipped_policy

LEAST_S = 20
FAULTS = frozenset({Fault.WRONG_PART, Fault.PROFILE_OFF, Fault.DRIVE_NOT_NEW})


class Shown(Record):
    """One of the three runs. as_expected: `yes`, or what was not."""

    what: str
    verdict: str
    as_expected: str
    record: str
    report: str
    trust: str


@dataclass(frozen=True)
class Stage:
    """Where the demo keeps what a bench has: below the records, apart from them.

    policy: the shipped one, but for the least time under load, which would make a demo of half an hour.
    """

    folder: Path
    bench: Bench
    stop: threading.Event
    policy: bytes = shipped_policy(burn_in_least_s=LEAST_S)


def demo(into: Path, show: Sink, stop: threading.Event) -> tuple[Shown, ...]:
    """Run the job three times into `into`, and say of each whether it came out as it should."""
    stage = _stage(into, show, stop)
    parts = (
        ("this machine, order changed in three places", _this_machine),
        ("a simulated unit as ordered", _as_ordered),
        ("the same simulated unit with three faults", _with_faults),
    )
    shown = []
    for number, (what, play) in enumerate(parts, 1):
        show(progress("demo.part", number=number, what=what))
        result, as_expected = play(stage)
        shown.append(_shown(what, result, as_expected, stage))
    return tuple(shown)


def _stage(into: Path, show: Sink, stop: threading.Event) -> Stage:
    folder = into / ".demo"
    folder.mkdir(parents=True, exist_ok=True)
    bench = Bench(
        records=into,
        packs=into.parent / "packs",
        key=folder / "key.json",
        trust=folder / "trust.json",
        zone=zone_of_this_machine(),
        show=show,
    )
    if not bench.key.exists():
        TrustList().add(make_key(bench.key, name="Kestrel Desk (demo key)")).save(bench.trust)
    return Stage(folder, bench, stop)


def _this_machine(stage: Stage) -> tuple[RunResult, str]:
    """Draft an order from what is fitted here, change it in three places, and run the job on it."""
    with passing_folder() as folder:
        reading = read_unit(UnitFolder(folder), LIVE, nonce=None, clock=SystemClock())
    drafted = draft_order(reading, order_id="DEMO-THIS-MACHINE", shop="Kestrel Desk", unit_id="THIS-MACHINE")
    changed, planted = plant_differences(with_expectations(drafted))
    for one in planted:
        stage.bench.show(
            progress("demo.planted-in-order", line=one.line, what=one.aspect.value, **_in_words(one))
        )
    order = stage.folder / "order-this-machine.toml"
    write_whole(order, order_toml(changed).encode("utf-8"))
    result = _run(stage, order, LIVE, plan=shipped_plan("demo-sixty-seconds"), answers=None)
    return result, _held_for(result.decision, {(one.line, one.aspect.value) for one in planted})


def _in_words(one: Planted) -> dict[str, str]:
    binary = one.category is Category.MEMORY
    was, became = (quantity_text(value, one.unit, binary=binary) for value in (one.was, one.became))
    return {"was": was, "became": became}


def _as_ordered(stage: Stage) -> tuple[RunResult, str]:
    result = run_simulated(stage, "KD-0412-1", frozenset(), shipped_plan("demo-half-minute"))
    reasons = result.decision.reasons if result.decision else ()
    if result.decision and result.decision.verdict is VerdictWord.RELEASE:
        return result, "yes"
    return result, f"no: held for {', '.join(reason.code for reason in reasons)}"


def _with_faults(stage: Stage) -> tuple[RunResult, str]:
    for fault in sorted(FAULTS):
        stage.bench.show(progress("demo.planted-in-unit", what=fault.value))
    result = run_simulated(stage, "KD-0412-2", FAULTS, shipped_plan("demo-half-minute"))
    wanted = {("1", "model"), ("3", "speed"), ("4", "newness"), ("13", "speed")}
    return result, _held_for(result.decision, wanted, nothing_else=True)


def run_simulated(stage: Stage, unit_id: str, faults: frozenset[Fault], plan: Plan) -> RunResult:
    """Build the simulated unit anew and run the job on it, with the scenario's order and answers."""
    folder = stage.folder / unit_id
    shutil.rmtree(folder, ignore_errors=True)
    device = stage.bench.records.stat().st_dev
    cpus = tuple(sorted(os.sched_getaffinity(0)))[:2]
    root = build(folder, faults, cpus=cpus, device_number=(os.major(device), os.minor(device)))
    scenario = resources.files("shipworthy.sim") / "scenario"
    for name in ("order-kd-0412.toml", "answers-kd-0412.toml"):
        write_whole(stage.folder / name, (scenario / name).read_bytes())
    return _run(
        stage,
        stage.folder / "order-kd-0412.toml",
        root,
        plan=plan,
        answers=stage.folder / "answers-kd-0412.toml",
        unit_id=unit_id,
    )


def _run(
    stage: Stage, order: Path, root: Root, *, plan: Plan, answers: Path | None, unit_id: str | None = None
) -> RunResult:
    request = RunRequest(
        order=order,
        policy=(stage.policy, "the demo's policy"),
        plan=plan,
        unit_id=unit_id,
        answers=answers,
        burn_in_anyway=True,
        seal_unanswered=True,
        root=root,
        stop=stage.stop,
    )
    feed: AbstractContextManager[object] = Feed(root) if root.simulated else nullcontext()
    with feed:
        return run(request, stage.bench)


def _held_for(decision: Decision | None, wanted: set[tuple[str, str]], *, nothing_else: bool = False) -> str:
    """Return `yes` if the verdict holds for these (line, aspect) differences, and only these if asked."""
    if decision is None or decision.verdict is not VerdictWord.HOLD:
        return "no: not held"
    differing = {(r.line, r.aspect.value) for r in decision.reasons if r.state is CoverageState.DIFFERS}
    missed = wanted - differing
    others = (
        {(r.line, r.aspect.value) for r in decision.reasons} - wanted if nothing_else else differing - wanted
    )
    if missed or others:
        return f"no: missed {sorted(missed)}, besides {sorted(others)}"
    return "yes"


def _shown(what: str, result: RunResult, as_expected: str, stage: Stage) -> Shown:
    if result.decision is None or result.record is None or result.pack is None:
        raise Trouble("the demo did not come to its end", stage.folder, "Run it again.")
    return Shown(
        what=what,
        verdict=result.decision.verdict.value,
        as_expected=as_expected,
        record=str(result.record),
        report=str(result.pack.html),
        trust=str(stage.bench.trust),
    )


__all__ = ["Planted", "Shown", "demo"]
