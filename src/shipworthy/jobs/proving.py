"""The steps that prove: order, reading, comparison, burn-in, analysis."""

from __future__ import annotations

import msgspec

from shipworthy.analysis import analyse
from shipworthy.compare import compare, with_substitutions
from shipworthy.inspection import loop_findings
from shipworthy.jobs.catalogue import held_against
from shipworthy.jobs.ground import rated_by_serial
from shipworthy.jobs.inspecting import loop_trouble, observations_so_far
from shipworthy.jobs.known import KNOWN_FILE, known_to
from shipworthy.jobs.resuming import may_go_on
from shipworthy.jobs.unit import (
    BURN_IN,
    READING,
    READING_AFTER,
    BurnIn,
    another_machine,
    burn_in_unit,
    read_plan_of,
    read_segments,
    read_unit,
)
from shipworthy.jobs.work import Skipped, Stopped, Work, Wrote
from shipworthy.machine.reading import read_configuration
from shipworthy.messages import finding_sentence, line_text
from shipworthy.model.base import read_bytes
from shipworthy.model.findings import Comparison
from shipworthy.model.known import NOTHING_KNOWN
from shipworthy.model.policy import Weight
from shipworthy.model.progress import Progress, progress
from shipworthy.model.reading import Reading
from shipworthy.model.words import Ending, Outcome, PartKind
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import order_json, read_order
from shipworthy.stress.power_cycles import awaited_in
from shipworthy.verdict import weight_of
from shipworthy.verdict.policies import parse_policy


def take_order(work: Work) -> Wrote:
    """Keep the order as received, the order with its expectations, what of the shop's part list went into
    them, and the policy."""
    source = work.request.order
    order = with_expectations(read_order(source))
    looked_up = held_against(order, work.request.catalogue)
    policy, where = work.request.policy
    parse_policy(policy, where)
    kept = f"order/source{source.suffix.lower()}"
    work.attempt.write(kept, read_bytes(source))
    work.attempt.write("order/order.json", order_json(looked_up.order if looked_up else order))
    work.attempt.write("policy.toml", policy)
    if looked_up is None:
        return (kept, "order/order.json", "policy.toml")
    for question in looked_up.used.questions:
        work.bench.show(Progress(code=question.code, values=question.values))
    used = work.save("order/catalogue-used.json", looked_up.used)
    return (kept, "order/order.json", used, "policy.toml")


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
            of, said = line_text(finding.line), finding_sentence(finding).say
            work.bench.show(progress("run.differs", of=of, said=said, code=finding.code, line=finding.line))
    return ("comparison.json",)


def compare_again(work: Work) -> Comparison:
    """Return the comparison, with the substitutions that the policy allows, and keep it, with what the bench
    knew of the parts beside it."""
    policy, order = work.policy(), work.order()
    reading = work.load(f"{READING}/reading.json", Reading)
    known = known_to(work.bench.shop, work.bench.records, reading, work.attempt.attempt.unit_id)
    if known != NOTHING_KNOWN or work.has(KNOWN_FILE):
        work.save(KNOWN_FILE, known)
    comparison = compare(order, reading, policy.limits, (f"{READING}/reading.json",), known)
    findings = with_substitutions(order, comparison.findings, policy.substitutions)
    comparison = msgspec.structs.replace(comparison, findings=findings)
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
    if not _all_ran(work) and not _awaits_power(work) and _configuration_changed(work):
        work.bench.show(progress("run.configuration-changed"))
        return Skipped("run.configuration-changed")
    if not _all_ran(work) and (trouble := loop_trouble(work)):
        if not work.request.seal_unanswered:
            raise trouble
        work.bench.show(progress("run.loop-not-tested"))
        return Skipped("run.loop-not-tested")
    job = BurnIn(
        root=work.request.root,
        clock=work.bench.clock,
        show=work.bench.show,
        stop=work.request.stop,
        work_folders=(work.bench.records, *work.request.work_folders),
        outside_loads=policy.outside_loads,
        grants=work.request.grants,
        records=work.bench.records,
        rated_bytes=rated_by_serial(_reading(work).of_kind(PartKind.STORAGE), policy.endurance),
    )
    assert work.request.plan is not None, "only `run` gets here, and it has one"
    ending = burn_in_unit(work.attempt, work.request.plan, job)
    if ending in (Ending.STOPPED_BY_PERSON, Ending.AWAITING_POWER):
        raise Stopped
    return (f"{BURN_IN}/plan.json", *(s.file for s in read_segments(work.attempt.folder)))


def _reading(work: Work) -> Reading:
    return work.load(f"{READING}/reading.json", Reading)


def _all_ran(work: Work) -> bool:
    segments = read_segments(work.attempt.folder)
    return bool(segments) and not may_go_on(segments[-1].ending)


def _awaits_power(work: Work) -> bool:
    """Whether the log waits for a restart: what that has changed is to stand in it."""
    return awaited_in(s.lines for s in read_segments(work.attempt.folder)) is not None


def _configuration_changed(work: Work) -> bool:
    """Whether this machine is no longer as it was read: hours of burn-in would cover nothing."""
    was = work.load(f"{READING}/reading.json", Reading).configuration
    now = read_configuration(work.request.root, work.bench.clock)
    return now.digest != was.digest and not another_machine(was, now)


def analyse_step(work: Work) -> Wrote:
    """Say what the run log shows, and whether a custom loop was on record as tested when it began."""
    plan = read_plan_of(work.attempt.folder)
    comparison = work.load("comparison.json", Comparison)
    limits = (*work.policy().limits, *(plan.limits if plan else ()))
    segments = read_segments(work.attempt.folder)
    analysis = analyse(
        plan,
        segments,
        work.order(),
        comparison.matches,
        work.load(f"{READING}/reading.json", Reading),
        limits,
        work.policy().burn_in_least_s,
    )
    begun = next((segment for segment in segments if segment.start), None)
    if begun and begun.start:
        late = loop_findings(work.order(), observations_so_far(work), begun.start.at, begun.file)
        analysis = msgspec.structs.replace(analysis, findings=(*analysis.findings, *late))
    return (work.save("analysis.json", analysis),)
