"""A burn-in plan: data that can be read, checked and summed up before it runs (ADR 0008)."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Record
from shipworthy.model.orders import Identifier
from shipworthy.model.words import Origin, Unit

Seconds = Annotated[float, msgspec.Meta(gt=0, le=86_400.0)]
Share = Annotated[float, msgspec.Meta(gt=0, le=0.95)]


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

    load: its registered name. memory_share and memory_cap_bytes: how much of the free memory (default none
    for loads that need none). write_budget_bytes: the most that it may write. settings are the load's own.
    """

    load: Identifier
    memory_share: Share = 0.5
    memory_cap_bytes: Annotated[int, msgspec.Meta(ge=0)] = 0  # 0: no cap of the plan's
    write_budget_bytes: Annotated[int, msgspec.Meta(ge=0)] = 0
    size: Annotated[int, msgspec.Meta(ge=0)] = 0  # 0: the load's own default


class PlanStep(Record):
    """What runs at the same time, for how long. A step without loads is a rest that is measured too."""

    step: Identifier
    seconds: Seconds
    loads: tuple[LoadRequest, ...] = ()


class Plan(Record):
    """Steps in order, and the limits at which the guard stops them."""

    schema: Literal[1] = 1
    plan_id: Identifier
    sample_hz: Annotated[float, msgspec.Meta(ge=0.1, le=10)] = 2.0
    limits: tuple[Limit, ...] = ()
    memory_reserve_bytes: Annotated[int, msgspec.Meta(ge=0)] = 256 * 2**20
    disk_reserve_bytes: Annotated[int, msgspec.Meta(ge=0)] = 2**30
    steps: Annotated[tuple[PlanStep, ...], msgspec.Meta(min_length=1)]

    @property
    def seconds(self) -> float:
        return sum(step.seconds for step in self.steps)
