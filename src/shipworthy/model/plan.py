"""A burn-in plan: data that can be read, checked and summed up before it runs (ADR 0008)."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Record
from shipworthy.model.orders import Identifier
from shipworthy.model.words import Cores, Origin, PowerCycle, Unit

Seconds = Annotated[float, msgspec.Meta(gt=0, le=86_400.0)]
Share = Annotated[float, msgspec.Meta(gt=0, le=0.95)]
Intensity = Annotated[float, msgspec.Meta(gt=0, le=1)]


class Limit(Record):
    """A bound, and who set it.

    quantity: one channel (`temperature/<place>/<channel>`) or a kind of them (`temperature`).
    """

    quantity: str
    value: float
    unit: Unit
    origin: Origin


class LoadRequest(Record):
    """One load of a step.

    load: its registered name. variant: which of its kinds of work; empty for its usual one. memory_share
    and memory_cap_bytes: how much of the free memory, for loads that fill it. write_budget_bytes: the most
    that it may write in this step. intensity: share of the time at work; pulse_hz: how often a second it
    goes from idle to work, all cores at the same moment (0: ten times where intensity is below 1). cores:
    all together, or one after the other within the step's time.
    """

    load: Identifier
    variant: str = ""
    memory_share: Share = 0.85
    memory_cap_bytes: Annotated[int, msgspec.Meta(ge=0)] = 0  # 0: no cap of the plan's
    write_budget_bytes: Annotated[int, msgspec.Meta(ge=0)] = 0
    size: Annotated[int, msgspec.Meta(ge=0)] = 0  # 0: the load's own default
    intensity: Intensity = 1.0
    pulse_hz: Annotated[float, msgspec.Meta(ge=0, le=10)] = 0.0
    cores: Cores = Cores.TOGETHER


class PlanStep(Record):
    """What runs at the same time, for how long. A step without loads is a rest that is measured too.

    limits: of this step, beside the plan's. power: this step is a power cycle; `seconds` is then the longest
    time that it may take, and it has no loads.
    """

    step: Identifier
    seconds: Seconds
    loads: tuple[LoadRequest, ...] = ()
    limits: tuple[Limit, ...] = ()
    power: PowerCycle | None = None


class Plan(Record):
    """Steps in order, and the limits at which the guard stops them."""

    schema: Literal[1] = 1
    plan_id: Identifier
    sample_hz: Annotated[float, msgspec.Meta(ge=0.1, le=10)] = 4.0
    limits: tuple[Limit, ...] = ()
    memory_reserve_bytes: Annotated[int, msgspec.Meta(ge=0)] = 256 * 2**20
    disk_reserve_bytes: Annotated[int, msgspec.Meta(ge=0)] = 2**30
    steps: Annotated[tuple[PlanStep, ...], msgspec.Meta(min_length=1)]

    @property
    def seconds(self) -> float:
        return sum(step.seconds for step in self.steps)
