"""The steps of an attempt. Each reads what it needs from the attempt's folder and says what it wrote there.

The folder is the truth: a step that is run after a kill finds everything in files, and nothing in memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import msgspec

from shipworthy.analysis import analyse
from shipworthy.compare import compare
from shipworthy.inspection import findings_of, items_for, observations_from, read_answers
from shipworthy.jobs.concessions import concessions_in
from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.jobs.unit import (
    BURN_IN,
    READING,
    READING_AFTER,
    BurnIn,
    another_machine,
    burn_in_unit,
    may_go_on,
    read_plan_of,
    read_segments,
    read_unit,
)
from shipworthy.machine.reading import read_configuration
from shipworthy.model.analysis import Analysis
from shipworthy.model.attempt import StepName
from shipworthy.model.base import (
    RecordPath,
    Trouble,
    decode_lines,
    digest_of,
    encode,
    encode_pretty,
    read_bytes,
    read_record,
)
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.inspection import InspectionResult, Items, Media, Observation
from shipworthy.model.orders import Order
from shipworthy.model.policy import Concession, Decision, Input, Policy, Weight
from shipworthy.model.progress import progress
from shipworthy.model.reading import Configuration, Reading
from shipworthy.model.words import Ending, Outcome
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import order_json, read_order
from shipworthy.record.attempt import OpenAttempt
from shipworthy.record.keys import TrustList
from shipworthy.stress.plans import plan_digest
from shipworthy.verdict import Concerned, binding_findings, decide, weight_of
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy

Wrote = tuple[RecordPath, ...]
AT_DECISION = "configuration-at-decision.json"
S = TypeVar("S", bound=msgspec.Struct)


class Stopped(Exception):
    """The person stopped the run; the attempt stays open and can be taken up."""


@dataclass(frozen=True)
class Skipped:
    """A step was left out, and why (a code)."""

    why: str


@dataclass(frozen=True)
class Work:
    """One attempt being worked on."""

    attempt: OpenAttempt
    request: RunRequest
    bench: Bench

    def load(self, name: str, kind: type[S]) -> S:
        return read_record(self.attempt.folder / name, kind)

    def save(self, name: str, record: msgspec.Struct) -> str:
        self.attempt.write(name, encode_pretty(record))
        return name

    def has(self, name: str) -> bool:
        return (self.attempt.folder / name).exists()

    def policy(self) -> Policy:
        path = self.attempt.folder / "policy.toml"
        return parse_policy(read_bytes(path), path)

    def order(self) -> Order:
        return self.load("order/order.json", Order)


def take_order(work: Work) -> Wrote:
    """Keep the order as received, the order with its expectations, and the policy."""
    source = work.request.order
    order = with_expectations(read_order(source))
    policy, where = work.request.policy
    parse_policy(policy, where)
    kept = f"order/source{source.suffix.lower()}"
    work.attempt.write(kept, read_bytes(source))
    work.attempt.write("order/order.json", order_json(order))
    work.attempt.write("policy.toml", policy)
    return (kept, "order/order.json", "policy.toml")


def take_reading_step(work: Work) -> Wrote:
    """Read the machine, unless the unit half has brought its own reading."""
    return _read(work, READING)


def take_reading_after(work: Work) -> Wrote:
    """Read it again at the end: evidence holds only for the configuration that is still there."""
    return _read(work, READING_AFTER)


def _read(work: Work, under: str) -> Wrote:
    if not work.has(f"{under}/reading.json"):
        nonce = work.attempt.attempt.nonce
        reading = read_unit(
            work.attempt,
            work.request.root,
            nonce=nonce,
            clock=work.bench.clock,
            under=under,
            outside_sources=work.policy().outside_sources,
        )
        work.bench.show(
            progress(
                "run.read", parts=len(reading.parts), sources=len(reading.sources), took_s=reading.took_s
            )
        )
    return (f"{under}/reading.json", f"{under}/raw/index.jsonl")


def compare_step(work: Work) -> Wrote:
    """Hold the order against the reading."""
    comparison = compare_again(work)
    for finding in comparison.findings:
        if finding.outcome is Outcome.DIFFERS:
            work.bench.show(progress("run.differs", code=finding.code, line=finding.line))
    return ("comparison.json",)


def compare_again(work: Work) -> Comparison:
    """Return the comparison, and keep it."""
    policy = work.policy()
    reading = work.load(f"{READING}/reading.json", Reading)
    comparison = compare(work.order(), reading, policy.limits, (f"{READING}/reading.json",))
    work.save("comparison.json", comparison)
    return comparison


def burn_in_step(work: Work) -> Wrote | Skipped:
    """Run the plan, unless something differs already: cheap checks come first."""
    comparison = work.load("comparison.json", Comparison)
    policy = work.policy()
    differs = any(
        f.outcome is Outcome.DIFFERS and weight_of(f, policy) is Weight.HOLD for f in comparison.findings
    )
    begun = work.has(f"{BURN_IN}/plan.json")
    if differs and not begun and not work.request.burn_in_anyway:
        work.bench.show(progress("run.stopped-before-burn-in"))
        return Skipped("run.stopped-before-burn-in")
    if not _all_ran(work) and _configuration_changed(work):
        work.bench.show(progress("run.configuration-changed"))
        return Skipped("run.configuration-changed")
    job = BurnIn(
        root=work.request.root,
        clock=work.bench.clock,
        show=work.bench.show,
        stop=work.request.stop,
        work_folders=(work.bench.records, *work.request.work_folders),
        outside_loads=policy.outside_loads,
    )
    ending = burn_in_unit(work.attempt, work.request.plan, job)
    if ending is Ending.STOPPED_BY_PERSON:
        raise Stopped
    return (f"{BURN_IN}/plan.json", *(s.file for s in read_segments(work.attempt.folder)))


def _all_ran(work: Work) -> bool:
    segments = read_segments(work.attempt.folder)
    return bool(segments) and not may_go_on(segments[-1].ending)


def _configuration_changed(work: Work) -> bool:
    """Whether this machine is no longer as it was read: hours of burn-in would cover nothing."""
    was = work.load(f"{READING}/reading.json", Reading).configuration
    now = read_configuration(work.request.root, work.bench.clock)
    return now.digest != was.digest and not another_machine(was, now)


def analyse_step(work: Work) -> Wrote:
    """Say what the run log shows."""
    plan = read_plan_of(work.attempt.folder) or work.request.plan
    comparison = work.load("comparison.json", Comparison)
    limits = (*work.policy().limits, *plan.limits)
    analysis = analyse(
        plan,
        read_segments(work.attempt.folder),
        work.order(),
        comparison.matches,
        work.load(f"{READING}/reading.json", Reading),
        limits,
        work.policy().burn_in_least_s,
    )
    return (work.save("analysis.json", analysis),)


def inspect_step(work: Work) -> Wrote:
    """Ask what only a person can tell, and keep what they said."""
    items = open_items(work)
    work.save("inspection/items.json", items)
    if work.request.answers:
        take_answers(work, items, work.request.answers)
    unanswered = still_open(work, items)
    if unanswered.items and work.request.ask and not _holds_already(work):
        for observation in work.request.ask(unanswered):
            add_observation(work, observation)
        unanswered = still_open(work, items)
    if unanswered.items and not (work.request.seal_unanswered or _holds_already(work)):
        first = unanswered.items[0].item_id
        raise Trouble(
            f"{len(unanswered.items)} inspection items are open, the first is {first}",
            work.attempt.attempt.unit_id,
            "Answer them with `shipworthy inspect`, then run again; nothing is lost. "
            "To seal the attempt as a hold instead, add --seal-unanswered.",
        )
    result = InspectionResult(findings=findings_of(items, observations_so_far(work)))
    names: Wrote = ("inspection/items.json", work.save("inspection/findings.json", result))
    return (*names, "inspection/observations.jsonl") if work.has("inspection/observations.jsonl") else names


def _holds_already(work: Work) -> bool:
    """Nobody need answer twenty questions about a unit whose burn-in was left out for a wrong part."""
    return not work.has(f"{BURN_IN}/plan.json")


def open_items(work: Work) -> Items:
    """Return what a person has to look at on this attempt, given what was shown otherwise."""
    policy, order = work.policy(), work.order()
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order, policy) if k.required]
    return items_for(order, keys, _findings(work, with_inspection=False))


def take_answers(work: Work, items: Items, path: Path) -> None:
    """Add the answers of a file, leaving out those that stand there already (a run taken up again).

    One that says *conforms* never overrules what somebody said after it; anything else is added again.
    """
    answers = read_answers(path)
    so_far = [_said(o) for o in observations_so_far(work)]
    last = {said[0]: said for said in so_far}
    keep = _media_keeper(work)
    observations, unasked = observations_from(answers, items, path.parent, keep, work.bench.clock)
    for observation in observations:
        said = _said(observation)
        harmless = observation.outcome is Outcome.CONFORMS and not observation.danger
        if last.get(observation.item_id) != said and not (harmless and said in so_far):
            add_observation(work, observation)
    if unasked:
        work.bench.show(progress("run.answers-not-asked", items=", ".join(unasked)))


def _said(o: Observation) -> tuple[object, ...]:
    return (o.item_id, o.by, o.outcome, o.note, o.danger, o.media)


def add_observation(work: Work, observation: Observation) -> None:
    work.attempt.append("inspection/observations.jsonl", encode(observation))


def observations_so_far(work: Work) -> list[Observation]:
    path = work.attempt.folder / "inspection/observations.jsonl"
    return decode_lines(read_bytes(path), Observation, path)[0] if path.exists() else []


def still_open(work: Work, items: Items) -> Items:
    """Return the items that nobody has answered yet."""
    answered = {o.item_id for o in observations_so_far(work) if o.outcome is not Outcome.NOT_CHECKED}
    return Items(items=tuple(item for item in items.items if item.item_id not in answered))


def _media_keeper(work: Work) -> Callable[[Path], Media]:
    """Return what takes pictures into the record: named by their digest, so that none is overwritten."""

    def keep(path: Path) -> Media:
        data = read_bytes(path)
        digest = digest_of(data)
        name = f"inspection/media/{digest.removeprefix('sha512:')[:32]}{path.suffix.lower()}"
        work.attempt.write(name, data)
        return Media(file=name, digest=digest)

    return keep


def _findings(work: Work, *, with_inspection: bool) -> tuple[Finding, ...]:
    before = work.load(f"{READING}/reading.json", Reading)
    after = work.load(f"{READING_AFTER}/reading.json", Reading)
    segments = read_segments(work.attempt.folder)
    plan = read_plan_of(work.attempt.folder)
    stops = [s.stop.at for s in segments if s.stop]
    seen = AT_DECISION if work.has(AT_DECISION) else None
    found = [
        *binding_findings(
            work.attempt.attempt.nonce,
            before,
            after,
            (s.start.nonce if s.start else None for s in segments),
            stops[-1] if stops else None,
            work.load(seen, Configuration) if seen else None,
            other_plan=any(s.start.plan_digest != plan_digest(plan) for s in segments if s.start and plan),
            simulated=(
                work.attempt.attempt.simulated,
                before.simulated,
                after.simulated,
                *(s.start.simulated for s in segments if s.start),
            ),
        ),
        *work.load("comparison.json", Comparison).findings,
        *work.load("analysis.json", Analysis).findings,
    ]
    if with_inspection:
        found += work.load("inspection/findings.json", InspectionResult).findings
    return tuple(found)


def decide_step(work: Work) -> Wrote:
    """Compute the verdict from what lies in the folder, and from what the machine is now if this is it."""
    name = f"decisions/{len(decision_names(work.attempt.folder)) + 1:03d}.json"
    decision = fresh_decision(work)
    seen: Wrote = (AT_DECISION,) if work.has(AT_DECISION) else ()
    return (*seen, work.save(name, decision))


def settle(work: Work) -> Decision:
    """Return the decision that today's files give; a new one is kept where it is not the last one's word.

    A record is sealed with this one: what came after the last decision, or was changed, is never left out.
    """
    last, now = last_decision(work.attempt.folder), fresh_decision(work)
    said = [(d.verdict, d.reasons, d.notes, d.coverage) for d in (last, now)]
    if said[0] == said[1]:
        return last
    work.save(f"decisions/{len(decision_names(work.attempt.folder)) + 1:03d}.json", now)
    return now


def fresh_decision(work: Work) -> Decision:
    """Compare, analyse and gather the findings again from what was read, logged and seen, and decide."""
    compare_again(work)
    analyse_step(work)
    items = work.load("inspection/items.json", Items)
    result = InspectionResult(findings=findings_of(items, observations_so_far(work)))
    work.save("inspection/findings.json", result)
    _see_the_machine_again(work)
    after = work.load(f"{READING_AFTER}/reading.json", Reading)
    inputs = [
        name
        for name in (
            "order/order.json",
            f"{READING}/reading.json",
            f"{READING_AFTER}/reading.json",
            "comparison.json",
            "analysis.json",
            "inspection/items.json",
            "inspection/findings.json",
            "policy.toml",
            AT_DECISION,
        )
        if work.has(name)
    ]
    case = Concerned(
        order=work.order(),
        policy=work.policy(),
        findings=_findings(work, with_inspection=True),
        configuration=after.configuration.digest,
        simulated=work.attempt.attempt.simulated,
        inputs=tuple(
            Input(file=name, digest=digest_of(read_bytes(work.attempt.folder / name))) for name in inputs
        ),
        at=work.bench.clock.now(),
        concessions=tuple(_concessions(work)),
    )
    return decide(case)


def _see_the_machine_again(work: Work) -> None:
    """Keep today's configuration, unless this is another machine than the one that was read.

    Days can lie between the last reading and the decision: an open item waits for somebody to look.
    """
    after = work.load(f"{READING_AFTER}/reading.json", Reading).configuration
    now = read_configuration(work.request.root, work.bench.clock)
    if not another_machine(after, now):
        work.save(AT_DECISION, now)


def _concessions(work: Work) -> Iterable[Concession]:
    if not any((work.attempt.folder / "concessions").glob("*.jws")):
        return ()
    trust = TrustList.load(work.bench.trust)
    return concessions_in(work.attempt.folder, work.attempt.attempt.attempt_id, work.policy(), trust)


def decision_names(folder: Path) -> list[str]:
    """Return the names of an attempt's decisions, oldest first; the last one counts."""
    return sorted(f"decisions/{path.name}" for path in (folder / "decisions").glob("*.json"))


def last_decision(folder: Path) -> Decision:
    names = decision_names(folder)
    if not names:
        raise Trouble("no decision was made yet", folder.name, "Run `shipworthy decide` first.")
    return read_record(folder / names[-1], Decision)


STEPS: tuple[tuple[StepName, Callable[[Work], Wrote | Skipped]], ...] = (
    (StepName.ORDER, take_order),
    (StepName.READING, take_reading_step),
    (StepName.COMPARISON, compare_step),
    (StepName.BURN_IN, burn_in_step),
    (StepName.READING_AFTER, take_reading_after),
    (StepName.ANALYSIS, analyse_step),
    (StepName.INSPECTION, inspect_step),
    (StepName.DECISION, decide_step),
)
