"""What a plan would do, summed up before it runs. Starts nothing; looks at a machine only if given one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import msgspec

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import list_columns
from shipworthy.model.base import Record
from shipworthy.model.facts import Part
from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.runlog import Column
from shipworthy.model.words import Cores, Origin, PartKind, PowerCycle, Unit
from shipworthy.stress.limits import OVERDUE_S, TEMPERATURE, limits_of, temperature_columns
from shipworthy.stress.pausing import BACK_WITHIN_S
from shipworthy.stress.plans import takes_memory
from shipworthy.stress.protocol import Ground
from shipworthy.stress.registry import find_load
from shipworthy.stress.silence import SILENT_S

FLOOR_SHARE = 0.5  # of a reserve: loads leave the whole of it alone, the guard stops at half of it
CAUTIONS = (
    "caution.burn-in",
    "caution.burn-in-mains",
    "caution.burn-in-unattended",
    "caution.burn-in-leak",
    "caution.burn-in-rules",
)
STATED_POWER = {
    (PartKind.PROCESSOR, "power_limit_long_w"): "its limit over a long time",
    (PartKind.PROCESSOR, "power_limit_short_w"): "its limit over a short time",
    (PartKind.GRAPHICS, "power_limit_w"): "its limit in force",
}
"""Facts of a reading that say how much a part may draw. Nothing else here is a figure in watts."""


class StopLimit(Record):
    """One bound at which the guard stops a step. origin: who set it; stands: where it is written.

    value None: the device names it, and no device was asked. label: which sensor; empty for all of a kind.
    """

    quantity: str
    value: float | None
    unit: Unit
    origin: Origin
    stands: str
    label: str = ""


class LoadRow(Record):
    """One load of a step. processes: how many it would run here; None where no machine was asked.

    memory_share and memory_cap_bytes: 0 for a load that fills no memory.
    """

    load: str
    variant: str
    intensity: float
    pulse_hz: float
    cores: Cores
    memory_share: float
    memory_cap_bytes: int
    processes: int | None
    stresses: str
    verifies: str
    slips_through: str
    power: str


class WriteRow(Record):
    """What may be written to one drive. place: as the reading names it; empty where no machine was asked.

    budget_bytes: the plan's, and not more than the drive's own budget leaves. left_bytes: what that, counted
    over attempts, leaves to each step; None where the drive has none. whole: the drive itself is written,
    and no file on it.
    """

    place: str
    serial: str
    folder: str
    budget_bytes: int
    left_bytes: int | None = None
    whole: bool = False


class StepRow(Record):
    """One step: what runs for how long, what is written where at most, and what would stop it."""

    step: str
    seconds: float
    power: PowerCycle | None
    loads: tuple[LoadRow, ...]
    writes: tuple[WriteRow, ...]
    stops: tuple[StopLimit, ...]


class StatedPower(Record):
    """How much a part may draw, as the machine's own reading states it. source: the row of its raw index."""

    kind: PartKind
    place: str
    what: str
    watts: float
    source: str


class Summary(Record):
    """A whole plan. under_load_s: of the steps with loads. written: per drive, over all steps.

    temperatures: how many sensors of heat this machine has; None where none was asked. cautions: the codes of
    what to beware of before the first load.
    """

    plan_id: str
    seconds: float
    under_load_s: float
    steps: tuple[StepRow, ...]
    written: tuple[WriteRow, ...]
    draws: tuple[StatedPower, ...]
    temperatures: int | None
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Machine:
    """The machine that the plan is meant for. parts: of its reading, if there is one."""

    root: Root
    ground: Ground
    parts: Sequence[Part] = ()


def summary(plan: Plan, machine: Machine | None = None, outside_loads: Sequence[str] = ()) -> Summary:
    """Return what a plan would do. Raises Trouble for a load that is not installed or not allowed."""
    columns = None if machine is None else temperature_columns(list_columns(machine.root))
    steps = tuple(_step(plan, step, machine, columns, outside_loads) for step in plan.steps)
    return Summary(
        plan_id=plan.plan_id,
        seconds=plan.seconds,
        under_load_s=sum(step.seconds for step in plan.steps if step.loads),
        steps=steps,
        written=_added_up(row for step in steps for row in step.writes),
        draws=() if machine is None else _stated(machine.parts),
        temperatures=None if columns is None else len(columns),
        cautions=CAUTIONS,
    )


def _step(
    plan: Plan,
    step: PlanStep,
    machine: Machine | None,
    columns: Sequence[Column] | None,
    outside_loads: Sequence[str],
) -> StepRow:
    writes = [row for request in step.loads for row in _writes(request, machine, outside_loads)]
    return StepRow(
        step=step.step,
        seconds=step.seconds,
        power=step.power,
        loads=tuple(_load(request, machine, outside_loads) for request in step.loads),
        writes=_added_up(writes),
        stops=_stops(plan, step, columns, bool(writes)),
    )


def _load(request: LoadRequest, machine: Machine | None, outside_loads: Sequence[str]) -> LoadRow:
    load = find_load(request.load, outside_loads).load
    fills = takes_memory(request)
    return LoadRow(
        load=request.load,
        variant=request.variant,
        intensity=request.intensity,
        pulse_hz=request.pulse_hz,
        cores=request.cores,
        memory_share=request.memory_share if fills else 0.0,
        memory_cap_bytes=request.memory_cap_bytes if fills else 0,
        processes=None if machine is None else len(load.targets(request, machine.ground, machine.root)),
        stresses=load.about.stresses,
        verifies=load.about.verifies,
        slips_through=load.about.slips_through,
        power=load.about.power,
    )


def _writes(
    request: LoadRequest, machine: Machine | None, outside_loads: Sequence[str]
) -> tuple[WriteRow, ...]:
    """Return a row for each drive that a load would write to: each of its processes has the whole budget."""
    if not request.write_budget_bytes:
        return ()
    if machine is None:
        return (WriteRow(place="", serial="", folder="", budget_bytes=request.write_budget_bytes),)
    targets = find_load(request.load, outside_loads).load.targets(request, machine.ground, machine.root)
    return tuple(
        WriteRow(
            place=target.drive.place if target.drive else target.name,
            serial=target.drive.serial if target.drive else "",
            folder=target.work_folder,
            budget_bytes=min(
                request.write_budget_bytes, request.write_budget_bytes if left is None else left
            ),
            left_bytes=left,
            whole=target.drive is not None and not target.work_folder,
        )
        for target in targets
        for left in (target.drive.write_left_bytes if target.drive else None,)
    )


def _added_up(rows: Iterable[WriteRow]) -> tuple[WriteRow, ...]:
    """Return one row for each drive, with all that may be written to it."""
    drives: dict[str, WriteRow] = {}
    for row in rows:
        before = drives.get(row.place)
        budget_bytes = row.budget_bytes + (before.budget_bytes if before else 0)
        drives[row.place] = msgspec.structs.replace(row, budget_bytes=budget_bytes)
    return tuple(drives.values())


def _stated(parts: Sequence[Part]) -> tuple[StatedPower, ...]:
    stated = []
    for part in parts:
        for (kind, name), what in STATED_POWER.items():
            fact = part.fact(name) if part.kind is kind else None
            if fact is not None and isinstance(fact.value, int | float):
                row = StatedPower(
                    kind=kind, place=part.place, what=what, watts=float(fact.value), source=fact.source
                )
                stated.append(row)
    return tuple(stated)


def _stops(
    plan: Plan, step: PlanStep, columns: Sequence[Column] | None, writes: bool
) -> tuple[StopLimit, ...]:
    """Return what would stop a step before its time, with who set it and where that stands."""
    if step.power is not None:
        return ()
    given = [_given(limit, f"the plan {plan.plan_id}") for limit in plan.limits]
    given += [_given(limit, f"the step {step.step}") for limit in step.limits]
    floors = [("free memory", plan.memory_reserve_bytes)] if step.loads else []
    floors += [("free disk space", plan.disk_reserve_bytes)] if writes else []
    reserves = [
        StopLimit(
            quantity=quantity,
            value=reserve_bytes * FLOOR_SHARE,
            unit=Unit.BYTES,
            origin=Origin.SHOP,
            stands=f"half of what the plan {plan.plan_id} reserves",
        )
        for quantity, reserve_bytes in floors
    ]
    return (*_of_devices(columns), *given, *reserves, *(_OWN_RULES if step.loads else ()))


_OWN_RULES = tuple(
    StopLimit(
        quantity=quantity,
        value=seconds,
        unit=Unit.SECONDS,
        origin=Origin.TOOL,
        stands="the guard",
        label=label,
    )
    for quantity, seconds, label in (
        ("silence", BACK_WITHIN_S, f"a required temperature's silence (loads rest after {SILENT_S:.0f} s)"),
        ("time", OVERDUE_S, "time over a step's"),
    )
)


def _of_devices(columns: Sequence[Column] | None) -> tuple[StopLimit, ...]:
    """Return the limits that the sensors of this machine name; one without a value where none was asked."""
    if columns is None:
        return (
            StopLimit(
                quantity=TEMPERATURE,
                value=None,
                unit=Unit.CELSIUS,
                origin=Origin.DEVICE,
                stands="the device",
            ),
        )
    return tuple(
        StopLimit(
            quantity=f"{TEMPERATURE}/{column.place}/{column.channel}",
            value=limit.value,
            unit=limit.unit,
            origin=limit.origin,
            stands="the device",
            label=column.label or column.channel,
        )
        for column in columns
        for limit in limits_of(column, ())
    )


def _given(limit: Limit, stands: str) -> StopLimit:
    return StopLimit(
        quantity=limit.quantity, value=limit.value, unit=limit.unit, origin=limit.origin, stands=stands
    )
