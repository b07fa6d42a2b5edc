"""Unaltered machines: what holds, what of that the machine's own texts explain, and what stays open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import machines_stated as stated
from common import bound, rounded
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
            (Category.PROCESSOR, Aspect.MODEL),
            *((Category.BOARD, aspect) for aspect in (Aspect.MODEL, Aspect.VERSION)),
            *((Category.MEMORY, a) for a in (Aspect.CAPACITY, Aspect.COUNT, Aspect.SPEED, Aspect.TECHNOLOGY)),
        }
    ),
    "kernel": frozenset(
        {
            (Category.PROCESSOR, Aspect.MODEL),
            (Category.MEMORY, Aspect.CAPACITY),
            *((Category.STORAGE, aspect) for aspect in (Aspect.MODEL, Aspect.CAPACITY)),
            (Category.GRAPHICS, Aspect.MODEL),
            (Category.NETWORK, Aspect.PRESENCE),
        }
    ),
}
"""Which facts a witness has a field for. How many cores are on is in none of them: no log lists the
processors that are off."""
About = tuple[Category, Aspect]


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

    @property
    def false(self) -> set[str]:
        return {*self.differs, *self.cannot_tell}

    def figures(self) -> dict[str, object]:
        return {
            "machines": self.machines,
            "false_holds": len(self.false),
            "share": round(len(self.false) / max(1, self.machines), 5),
            "at_most_95": rounded(bound(len(self.false), self.machines)),
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
            reason = reasons.get((finding.category, finding.aspect), "")
            (right if reason else wrong).append(f"{said} ({reason or 'the texts do not contradict'})")
    if wrong:
        into.differs[machine.name] = wrong
    if right:
        into.contradictions[machine.name] = right
    for key, told in unanswerable(order, findings, reading, policy, pair[1]):
        if told and key not in reasons:
            into.cannot_tell.setdefault(machine.name, []).append(
                f"{key[0].value}, {key[1].value}: cannot tell"
            )
        elif not told:
            into.open_without_witness[f"{key[0].value}, {key[1].value}"] += 1


def unanswerable(
    order: Order, findings: tuple[Finding, ...], reading: Reading, policy: Policy, witness: str
) -> Iterator[tuple[About, bool]]:
    """Yield what of an order's lines stays open and only a reading may show, and whether the witness has a
    field for it. (Burn-in and inspection are no part of this.)"""
    fields = _STATED["firmware"] | _STATED["kernel"] if witness == "all" else _STATED[witness]
    for key in keys_asked(order, policy):
        if key.line and key.required and key.by == (EvidenceKind.READING,):
            state = state_of(key, findings, reading.configuration.digest).state
            if state in (CoverageState.CANNOT_TELL, CoverageState.NOT_CHECKED):
                yield (key.category, key.aspect), (key.category, key.aspect) in fields


def contradictions(machine: Machine) -> dict[About, str]:
    """Return on which facts the machine's own texts contradict each other, and how."""
    firmware, log = machine.text(SMBIOS), machine.text(LOG)
    found: dict[About, str] = {}
    fitted = sum(module.size_bytes for module in stated.modules(firmware))
    real, usable = stated.real_bytes(log), stated.usable_bytes(log)
    if fitted and real and abs(fitted - real) > max(fitted, real) // 10:
        said = f"the firmware has {fitted >> 20} MiB in modules, the kernel counts {real >> 20}"
        found[Category.MEMORY, Aspect.CAPACITY] = said
    elif fitted and usable and usable < fitted * 2 // 3:
        said = f"of {fitted >> 20} MiB in modules the kernel can use {usable >> 20}"
        found[Category.MEMORY, Aspect.CAPACITY] = said
    kernel = stated.processor_of_kernel(log)
    for name in stated.processors_of_firmware(firmware):
        if kernel and name and stated.names_contradict(name, kernel):
            found[Category.PROCESSOR, Aspect.MODEL] = f"the firmware names {name}, the kernel {kernel}"
    counts, running = stated.counts_of_firmware(firmware), stated.counts_of_kernel(log)
    threads = counts.get("Thread Count", counts.get("Core Count"))
    enabled = counts.get("Core Enabled")
    if running and threads and threads != running:
        found[Category.PROCESSOR, Aspect.CORES] = f"the firmware has {threads} threads, {running} run"
    elif enabled and counts.get("Core Count") not in (None, enabled):
        said = f"of {counts['Core Count']} cores the firmware has {enabled} on"
        found[Category.PROCESSOR, Aspect.CORES] = said
    return found
