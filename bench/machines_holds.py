"""Unaltered machines: what holds, what of that the machine's own texts explain, and what stays open."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import machines_stated as stated
from machines_sets import LOG, SMBIOS, Machine

from shipworthy.compare import compare
from shipworthy.model.base import Trouble
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order
from shipworthy.model.policy import CoverageState, Policy
from shipworthy.model.reading import Reading
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from shipworthy.verdict.coverage import keys_asked, state_of
from shipworthy.verdict.decide import weight_of

_STATED = {
    "firmware": frozenset(
        {
            *((Category.PROCESSOR, aspect) for aspect in (Aspect.MODEL, Aspect.CORES)),
            *((Category.BOARD, aspect) for aspect in (Aspect.MODEL, Aspect.VERSION)),
            *((Category.MEMORY, a) for a in (Aspect.CAPACITY, Aspect.COUNT, Aspect.SPEED, Aspect.TECHNOLOGY)),
        }
    ),
    "kernel": frozenset(
        {
            *((Category.PROCESSOR, aspect) for aspect in (Aspect.MODEL, Aspect.CORES)),
            (Category.MEMORY, Aspect.CAPACITY),
            *((Category.STORAGE, aspect) for aspect in (Aspect.MODEL, Aspect.CAPACITY)),
            (Category.GRAPHICS, Aspect.MODEL),
            (Category.NETWORK, Aspect.PRESENCE),
        }
    ),
}
"""Which facts a witness has a field for. How many threads are on is in none of them: no log lists the
processors that are off."""


def ordered(reading: Reading) -> Order | None:
    """Return the order drafted from a reading, with its expectations; None if it tells of no part."""
    try:
        drafted = draft_order(reading, order_id="bench", shop="bench", unit_id="bench")
    except Trouble:
        return None
    return with_expectations(drafted)


@dataclass
class Holds:
    """What unaltered machines of one pair of witnesses gave, by machine."""

    machines: int = 0
    differs: dict[str, list[str]] = field(default_factory=dict)
    cannot_tell: dict[str, list[str]] = field(default_factory=dict)
    contradictions: dict[str, list[str]] = field(default_factory=dict)
    open_without_witness: Counter[str] = field(default_factory=Counter)
    contradicting: dict[str, frozenset[Category]] = field(default_factory=dict)

    @property
    def false(self) -> set[str]:
        return {*self.differs, *self.cannot_tell}

    def figures(self) -> dict[str, object]:
        return {
            "machines": self.machines,
            "false_holds": len(self.false),
            "share": round(len(self.false) / max(1, self.machines), 5),
            "at_most_95": round(upper_bound(len(self.false), self.machines), 5),
            "differs": len(self.differs),
            "cannot_tell_unanswerable": len(self.cannot_tell),
            "contradictions": len(self.contradictions),
            "open_without_witness": dict(self.open_without_witness),
        }


def hold_unaltered(machine: Machine, pair: tuple[str, str], policy: Policy, into: Holds) -> None:
    """Compare one unaltered machine and add what holds, and why."""
    order = ordered(machine.reading(pair[0]))
    if order is None:
        return
    into.machines += 1
    reading = machine.reading(pair[1])
    findings = compare(order, reading, policy.limits, ()).findings
    reasons = contradictions(machine)
    right: list[str] = []
    wrong: list[str] = []
    for finding in findings:
        if finding.outcome is Outcome.DIFFERS and weight_of(finding, policy).value == "hold":
            if pair[0] == "firmware" and finding.code.startswith("unordered."):
                into.open_without_witness["parts that the firmware's table has no field for"] += 1
                continue
            said = f"{finding.code}: wanted {finding.want}, got {finding.got}"
            reason = reasons.get(finding.category, "")
            (right if reason else wrong).append(f"{said} ({reason or 'the texts do not contradict'})")
    if wrong:
        into.differs[machine.name] = wrong
    if right:
        into.contradictions[machine.name] = right
        into.contradicting[machine.name] = frozenset(reasons)
    for key, told in unanswerable(order, findings, reading, policy, pair[1]):
        if told and key[0] not in reasons:
            into.cannot_tell.setdefault(machine.name, []).append(
                f"{key[0].value}, {key[1].value}: cannot tell"
            )
        elif not told:
            into.open_without_witness[f"{key[0].value}, {key[1].value}"] += 1


def unanswerable(
    order: Order, findings: tuple[Finding, ...], reading: Reading, policy: Policy, witness: str
) -> Iterator[tuple[tuple[Category, Aspect], bool]]:
    """Yield what of an order's lines stays open and only a reading may show, and whether the witness has a
    field for it. (Burn-in and inspection are no part of this.)"""
    fields = _STATED["firmware"] | _STATED["kernel"] if witness == "all" else _STATED[witness]
    for key in keys_asked(order, policy):
        if key.line and key.required and key.by == (EvidenceKind.READING,):
            state = state_of(key, findings, reading.configuration.digest).state
            if state in (CoverageState.CANNOT_TELL, CoverageState.NOT_CHECKED):
                known = (key.category, key.aspect) in fields and key.aspect is not Aspect.CORES
                yield (key.category, key.aspect), known


def contradictions(machine: Machine) -> dict[Category, str]:
    """Return in which categories the machine's own texts contradict each other, and how."""
    firmware, log = machine.text(SMBIOS), machine.text(LOG)
    found: dict[Category, str] = {}
    fitted = sum(module.size_bytes for module in stated.modules(firmware))
    real, usable = stated.real_bytes(log), stated.usable_bytes(log)
    if fitted and real and abs(fitted - real) > max(fitted, real) // 10:
        found[Category.MEMORY] = (
            f"the firmware has {fitted >> 20} MiB in modules, the kernel counts {real >> 20}"
        )
    elif fitted and usable and usable < fitted * 2 // 3:
        found[Category.MEMORY] = f"of {fitted >> 20} MiB in modules the kernel can use {usable >> 20}"
    kernel = stated.processor_of_kernel(log)
    for name in stated.processors_of_firmware(firmware):
        if kernel and name and stated.names_contradict(name, kernel):
            found[Category.PROCESSOR] = f"the firmware names {name}, the kernel {kernel}"
    counts, running = stated.counts_of_firmware(firmware), stated.counts_of_kernel(log)
    threads = counts.get("Thread Count", counts.get("Core Count"))
    if Category.PROCESSOR not in found and running and threads and threads != running:
        found[Category.PROCESSOR] = f"the firmware has {threads} threads, {running} run"
    enabled = counts.get("Core Enabled")
    if Category.PROCESSOR not in found and enabled and counts.get("Core Count") not in (None, enabled):
        found[Category.PROCESSOR] = f"of {counts['Core Count']} cores the firmware has {enabled} on"
    return found


def upper_bound(count: int, of: int) -> float:
    """Return the upper end of the 95 % interval of a share (Wilson's, one-sided 97.5 %)."""
    if not of:
        return 1.0
    z, share = 1.959964, count / of
    middle = share + z * z / (2 * of)
    spread = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return (middle + spread) / (1 + z * z / of)
