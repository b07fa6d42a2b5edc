"""The whole job: from an order to a sealed record and a pack, resuming where it was cut off."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from pathlib import Path

from shipworthy.handover.pack import Pack
from shipworthy.jobs.deciding import last_decision, settle
from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.jobs.inspecting import ask_before_burn_in
from shipworthy.jobs.pack import pack_record
from shipworthy.jobs.steps import STEPS, Step
from shipworthy.jobs.unit import TOOL
from shipworthy.jobs.work import Skipped, Stopped, Work
from shipworthy.model.attempt import Attempt, StepEvent, StepName
from shipworthy.model.base import Trouble, digest_of, read_bytes
from shipworthy.model.orders import Order
from shipworthy.model.policy import Decision
from shipworthy.model.progress import progress
from shipworthy.orders.files import read_order
from shipworthy.record.attempt import OpenAttempt, find_open, open_new, take_up
from shipworthy.record.bag import seal
from shipworthy.record.keys import load_key
from shipworthy.stress.plans import check_plan
from shipworthy.verdict.policies import parse_policy


@dataclass(frozen=True)
class RunResult:
    """What a run came to. decision, record and pack are None where it was told to stop before them."""

    attempt: Attempt
    decision: Decision | None
    record: Path | None
    pack: Pack | None


def run(request: RunRequest, bench: Bench) -> RunResult:
    """Do the whole job for one unit of an order, or take it up at the step that it had reached.

    Raises Trouble when it cannot be done; what was done so far stays in the open attempt.
    """
    load_key(bench.key)  # a missing key is found before the work, not after it
    order = read_order(request.order)
    policy = parse_policy(*request.policy)
    if request.plan:
        check_plan(request.plan, policy.outside_loads)
    with open_attempt(request, bench, unit_of(order, request.unit_id), order) as attempt:
        return carry_on(Work(attempt, request, bench))


def unit_of(order: Order, wanted: str | None) -> str:
    """Return which unit of the order is meant; Trouble if that is not clear."""
    if wanted is None and len(order.units) == 1:
        return order.units[0]
    if wanted in order.units and wanted is not None:
        return wanted
    raise Trouble(
        f"order {order.order_id} has the units {', '.join(order.units)}",
        wanted or "no unit given",
        "Say which one with --unit.",
    )


def open_attempt(request: RunRequest, bench: Bench, unit_id: str, order: Order) -> OpenAttempt:
    """Return the unit's open attempt, or a new one. The attempt is ours until it is closed."""
    found = find_open(bench.records, unit_id)
    if not found:
        attempt = open_new(
            bench.records,
            unit_id=unit_id,
            order_id=order.order_id,
            nonce=secrets.token_hex(16),
            zone=bench.zone,
            simulated=request.root.simulated,
            tool=TOOL,
            clock=bench.clock,
        )
        bench.show(progress("run.attempt-opened", unit=unit_id, number=attempt.attempt.number))
        return attempt
    attempt = take_up(bench.records, found[0].attempt_id, bench.clock)
    try:
        _refuse_another_order(attempt, request.order, order)
    except Trouble:
        attempt.close()
        raise
    bench.show(progress("run.attempt-taken-up", unit=unit_id, number=attempt.attempt.number))
    kept = attempt.folder / "policy.toml"
    if kept.exists() and read_bytes(kept) != request.policy[0]:
        bench.show(progress("run.policy-kept"))
    return attempt


def _refuse_another_order(attempt: OpenAttempt, path: Path, order: Order) -> None:
    if attempt.attempt.order_id != order.order_id:
        raise Trouble(
            f"attempt {attempt.attempt.number} of {attempt.attempt.unit_id} is open for order "
            f"{attempt.attempt.order_id}",
            path,
            "Run it with that order.",
        )
    kept = attempt.folder / f"order/source{path.suffix.lower()}"
    done = attempt.last_event(StepName.ORDER) is StepEvent.ENDED
    if done and not (kept.exists() and digest_of(read_bytes(kept)) == digest_of(read_bytes(path))):
        raise Trouble(
            f"attempt {attempt.attempt.number} of {attempt.attempt.unit_id} is open for another order text",
            path,
            f"Run it with the order it was begun with, which lies in {attempt.folder / 'order'}.",
        )


def carry_on(work: Work) -> RunResult:
    """Do the steps that are not done yet, then seal and pack."""
    for name, do in STEPS:
        _stop_if_asked(work)
        if work.attempt.last_event(name) not in (StepEvent.ENDED, StepEvent.SKIPPED):
            _do(work, name, do)
        if name is StepName.ORDER:
            ask_before_burn_in(work)
        if work.request.until == name.value:
            done = name is StepName.DECISION
            decision = last_decision(work.attempt.folder) if done else None
            return RunResult(work.attempt.attempt, decision, None, None)
    return seal_and_pack(work)


def _stop_if_asked(work: Work) -> None:
    if work.request.stop.is_set():
        raise Stopped


def _do(work: Work, name: StepName, do: Step) -> None:
    work.bench.show(progress("run.step", step=name.value))
    work.attempt.step(name, StepEvent.BEGAN)
    result = do(work)
    if isinstance(result, Skipped):
        work.attempt.step(name, StepEvent.SKIPPED, why=result.why)
    else:
        work.attempt.step(name, StepEvent.ENDED, wrote=result)


def seal_and_pack(work: Work) -> RunResult:
    """Close an attempt that has a decision, and render its pack."""
    attempt, bench = work.attempt, work.bench
    _stop_if_asked(work)
    decision = settle(work)
    bench.show(progress("run.step", step=StepName.SEAL.value))
    attempt.step(StepName.SEAL, StepEvent.BEGAN)
    key = load_key(bench.key)
    record = seal(attempt, key)
    pack = pack_record(record, bench)
    return RunResult(attempt.attempt, decision, record, pack)
