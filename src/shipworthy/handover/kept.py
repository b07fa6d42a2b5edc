"""The files of a sealed record that a handover is made from, read once; nothing outside it is read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol, TypeVar

import msgspec

from shipworthy.model.analysis import Analysis
from shipworthy.model.attempt import Attempt
from shipworthy.model.base import Trouble, decode, decode_lines
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.inspection import InspectionResult, Items, Observation
from shipworthy.model.orders import Order
from shipworthy.model.plan import Plan
from shipworthy.model.policy import Concession, Decision, Policy
from shipworthy.model.reading import Reading
from shipworthy.record.keys import taken_apart
from shipworthy.verdict.policies import parse_policy

R = TypeVar("R", bound=msgspec.Struct)


class RecordFiles(Protocol):
    """What a handover may ask of a record. Names are those below `data/`."""

    @property
    def digest(self) -> str: ...

    def names(self) -> Iterable[str]: ...

    def bytes(self, name: str) -> bytes: ...

    def read(self, name: str, kind: type[R]) -> R: ...


@dataclass(frozen=True)
class Kept:
    """What the record holds. None or empty: the attempt ended before that step."""

    digest: str
    attempt: Attempt
    order: Order
    decision: Decision
    policy: Policy | None
    before: Reading | None
    after: Reading | None
    comparison: Comparison | None
    plan: Plan | None
    analysis: Analysis | None
    items: Items | None
    observations: tuple[Observation, ...]
    inspection: InspectionResult | None
    concessions: tuple[Concession, ...]

    @property
    def simulated(self) -> bool:
        """Whether any part of the record says that the unit is a pretend one."""
        readings = (self.before, self.after)
        return (
            self.attempt.simulated
            or self.decision.simulated
            or any(reading.simulated for reading in readings if reading)
        )

    @property
    def findings(self) -> tuple[Finding, ...]:
        sources = (self.comparison, self.analysis, self.inspection)
        return tuple(finding for source in sources if source for finding in source.findings)

    @property
    def last_observations(self) -> dict[str, Observation]:
        """The last observation of each item: that is the one that counts."""
        return {observation.item_id: observation for observation in self.observations}


def keep(files: RecordFiles) -> Kept:
    """Read what is needed of a record; Trouble if it has no decision or holds what it should not."""
    names = frozenset(files.names())

    def maybe(name: str, kind: type[R]) -> R | None:
        return files.read(name, kind) if name in names else None

    return Kept(
        digest=files.digest,
        attempt=files.read("attempt.json", Attempt),
        order=files.read("order/order.json", Order),
        decision=files.read(_last_decision(names), Decision),
        policy=parse_policy(files.bytes("policy.toml"), "policy.toml") if "policy.toml" in names else None,
        before=maybe("reading/reading.json", Reading),
        after=maybe("reading-after/reading.json", Reading),
        comparison=maybe("comparison.json", Comparison),
        plan=maybe("burn-in/plan.json", Plan),
        analysis=maybe("analysis.json", Analysis),
        items=maybe("inspection/items.json", Items),
        observations=_observations(files, names),
        inspection=maybe("inspection/findings.json", InspectionResult),
        concessions=tuple(_concession(files, name) for name in sorted(names) if _is_concession(name)),
    )


def _last_decision(names: frozenset[str]) -> str:
    decisions = sorted(n for n in names if n.startswith("decisions/") and n.endswith(".json"))
    if not decisions:
        raise Trouble("this record holds no decision", "decisions/", "Decide and seal the attempt first.")
    return decisions[-1]


def _is_concession(name: str) -> bool:
    return name.startswith("concessions/") and name.endswith(".jws")


def _concession(files: RecordFiles, name: str) -> Concession:
    """Return what a concession says. Whether it counts was settled by the decision, which the seal covers."""
    signature = files.bytes(name).decode("ascii", errors="replace")
    return decode(taken_apart(signature)[0], Concession, name)


def _observations(files: RecordFiles, names: frozenset[str]) -> tuple[Observation, ...]:
    name = "inspection/observations.jsonl"
    return tuple(decode_lines(files.bytes(name), Observation, name)[0]) if name in names else ()
