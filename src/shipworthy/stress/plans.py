"""Plans: read from TOML, checked, summed up. A plan is data; nothing here runs anything."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from importlib import resources
from pathlib import Path

import msgspec

from shipworthy.model.base import Record, Trouble, digest_of, encode_pretty, read_bytes
from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.words import Origin, Unit
from shipworthy.stress.limits import TEMPERATURE
from shipworthy.stress.registry import find_load

PLAN_BYTES_MOST = 256 * 1024
LIMIT_C_LEAST, LIMIT_C_MOST = 30.0, 125.0
"""No sound limit on a temperature lies outside: below is room heat, above is the highest junction rating of
common parts (common practice)."""


class StopLimit(Record):
    """One bound at which the guard stops a step, and who set it. value None: the device names it, if any."""

    quantity: str
    value: float | None
    unit: Unit
    origin: Origin


class PlanRow(Record):
    """One step in sum: what runs for how long, what is written where at most, and what would stop it."""

    step: str
    seconds: float
    loads: tuple[str, ...]
    stresses: tuple[str, ...]
    verifies: tuple[str, ...]
    power: tuple[str, ...]
    write_budget_bytes: int
    written_where: str
    stops: tuple[StopLimit, ...]


def read_plan(path: Path) -> Plan:
    """Return the plan in a TOML file, whose keys are the fields of `model.plan.Plan`, or Trouble."""
    return parse_plan(read_bytes(path), path)


def shipped_names() -> tuple[str, ...]:
    """Return the names of the plans that come with the tool."""
    return tuple(
        sorted(
            file.name.removesuffix(".toml") for file in _shipped().iterdir() if file.name.endswith(".toml")
        )
    )


def shipped_plan(name: str) -> Plan:
    """Return the plan of that name; Trouble if none ships under it."""
    if name not in shipped_names():
        raise Trouble(
            f"no plan is called {name}", "burn-in plan", f"There are: {', '.join(shipped_names())}."
        )
    return parse_plan((_shipped() / f"{name}.toml").read_bytes(), name)


def parse_plan(data: bytes, where: object) -> Plan:
    """Return the plan in the bytes of a TOML file.

    Raises Trouble, naming `where`, for text that is no TOML, for keys and units that a plan does not have,
    and for values that make no sense.
    """
    if len(data) > PLAN_BYTES_MOST:
        raise Trouble("too large for a plan", where, f"A plan has at most {PLAN_BYTES_MOST} bytes.")
    try:
        plan = msgspec.convert(tomllib.loads(data.decode("utf-8")), Plan)
    except UnicodeDecodeError as error:
        raise Trouble("not UTF-8 text", where, "Save it as UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise Trouble(f"not TOML: {error}", where, "Mend that line.") from error
    except msgspec.ValidationError as error:
        raise Trouble(
            f"not a plan: {error}", where, "Keys carry their unit, as in `seconds = 60`."
        ) from error
    _check_shape(plan, where)
    return plan


def check_plan(plan: Plan, outside_loads: Sequence[str] = (), where: object = "burn-in plan") -> None:
    """Raise Trouble for a plan that cannot be run with the loads installed here."""
    _check_shape(plan, where)
    for step in plan.steps:
        for request in step.loads:
            find_load(request.load, outside_loads).load.check(request)


def summary(plan: Plan, outside_loads: Sequence[str] = ()) -> tuple[PlanRow, ...]:
    """Return what each step would do. Imports the loads, touches no machine."""
    return tuple(_row(plan, step, outside_loads) for step in plan.steps)


def plan_digest(plan: Plan) -> str:
    """Return the digest of the plan as the record keeps it (`burn-in/plan.json`, pretty)."""
    return digest_of(encode_pretty(plan))


def _shipped() -> resources.abc.Traversable:
    return resources.files("shipworthy.stress") / "plans"


def _check_shape(plan: Plan, where: object) -> None:
    names = [step.step for step in plan.steps]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise Trouble(f"two steps are called {twice}", where, "Give each step a name of its own.")
    for step in plan.steps:
        _check_step(step, where)
    for limit in plan.limits:
        _check_limit(limit, where)


def _check_step(step: PlanStep, where: object) -> None:
    names = [request.load for request in step.loads]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise Trouble(f"the step {step.step} has the load {twice} twice", where, "Ask for it once.")
    if sum(request.memory_share for request in step.loads if _takes_memory(request)) > 1:
        raise Trouble(f"the step {step.step} asks for more memory than there is", where, "Lower its shares.")


def _takes_memory(request: LoadRequest) -> bool:
    return request.load == "march"


def _check_limit(limit: Limit, where: object) -> None:
    named = f"the limit on {limit.quantity}"
    if limit.quantity != TEMPERATURE and not limit.quantity.startswith(f"{TEMPERATURE}/"):
        mend = "Use `temperature`, or `temperature/<place>/<channel>` for one sensor."
        raise Trouble(f"{named} is on nothing that the guard watches", where, mend)
    if limit.unit is not Unit.CELSIUS:
        raise Trouble(f"{named} is in {limit.unit.value or 'no unit'}", where, 'Write unit = "celsius".')
    if not LIMIT_C_LEAST <= limit.value <= LIMIT_C_MOST:
        span = f"{LIMIT_C_LEAST:.0f} to {LIMIT_C_MOST:.0f} °C"
        raise Trouble(f"{named} is {limit.value} °C", where, f"A limit lies at {span}.")
    if limit.origin is Origin.DEVICE:
        mend = "The guard reads a device's own limit from the device; say who set this one."
        raise Trouble(f"{named} claims to be set by the device", where, mend)


def _row(plan: Plan, step: PlanStep, outside_loads: Sequence[str]) -> PlanRow:
    abouts = [find_load(request.load, outside_loads).load.about for request in step.loads]
    budget_bytes = sum(request.write_budget_bytes for request in step.loads)
    return PlanRow(
        step=step.step,
        seconds=step.seconds,
        loads=tuple(request.load for request in step.loads),
        stresses=tuple(about.stresses for about in abouts),
        verifies=tuple(about.verifies for about in abouts),
        power=tuple(about.power for about in abouts),
        write_budget_bytes=budget_bytes,
        written_where="an unnamed file in the work folder" if budget_bytes else "",
        stops=_stops(plan, step, budget_bytes),
    )


def _stops(plan: Plan, step: PlanStep, budget_bytes: int) -> tuple[StopLimit, ...]:
    shop = [("time", step.seconds, Unit.SECONDS), ("free memory", plan.memory_reserve_bytes / 2, Unit.BYTES)]
    if budget_bytes:
        shop.append(("free disk space", plan.disk_reserve_bytes / 2, Unit.BYTES))
    device = StopLimit(quantity=TEMPERATURE, value=None, unit=Unit.CELSIUS, origin=Origin.DEVICE)
    given = [
        StopLimit(quantity=limit.quantity, value=limit.value, unit=limit.unit, origin=limit.origin)
        for limit in plan.limits
    ]
    own = [StopLimit(quantity=q, value=v, unit=u, origin=Origin.SHOP) for q, v, u in shop]
    return (device, *given, *own)
