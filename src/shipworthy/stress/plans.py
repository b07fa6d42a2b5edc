"""Plans: read from TOML and checked. A plan is data; nothing here runs anything."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from importlib import resources
from pathlib import Path

import msgspec

from shipworthy.model.base import Trouble, digest_of, encode_pretty, read_bytes
from shipworthy.model.plan import Limit, LoadRequest, Plan, PlanStep
from shipworthy.model.words import Origin, Unit
from shipworthy.model.wrong_values import in_words
from shipworthy.stress.limits import TEMPERATURE
from shipworthy.stress.registry import find_load

PLAN_BYTES_MOST = 256 * 1024
MEMORY_LOAD = "march"
USUAL_SHARE = LoadRequest(load=MEMORY_LOAD).memory_share
LIMIT_C_LEAST, LIMIT_C_MOST = 30.0, 125.0
"""No sound limit on a temperature lies outside: below is room heat, above is the highest junction rating of
common parts (common practice)."""


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
    except msgspec.ValidationError as error:
        mend = "Keys carry their unit, as in `seconds = 60`."
        raise Trouble(f"not a plan: {in_words(str(error))}", where, mend) from error
    except RecursionError as error:
        raise Trouble("not a plan: it is nested too deep", where, "Steps lie in one list.") from error
    except ValueError as error:  # no TOML, or a number of thousands of digits
        raise Trouble(f"not TOML: {error}", where, "Mend that line.") from error
    _check_shape(plan, where)
    return plan


def check_plan(plan: Plan, outside_loads: Sequence[str] = (), where: object = "burn-in plan") -> None:
    """Raise Trouble for a plan that cannot be run with the loads installed here."""
    _check_shape(plan, where)
    for step in plan.steps:
        for request in step.loads:
            try:
                find_load(request.load, outside_loads).load.check(request)
            except Trouble as trouble:  # told apart by where: a plan has many steps
                raise Trouble(trouble.what, f"{where}, step {step.step}", trouble.mend) from trouble


def takes_memory(request: LoadRequest) -> bool:
    """Whether a load fills a share of the free memory: march does; any other, if the plan gives it one."""
    return request.load == MEMORY_LOAD or request.memory_share != USUAL_SHARE


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
    at = f"{where}, step {step.step}"
    if step.power is not None and step.loads:
        raise Trouble(f"a {step.power.value} cannot have loads", at, "Give the loads a step of their own.")
    names = [request.load for request in step.loads]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise Trouble(f"the load {twice} stands there twice", at, "Ask for it once, or in two steps.")
    for request in step.loads:
        if request.pulse_hz and request.intensity >= 1:
            what = f"the load {request.load} has pulses and never rests"
            raise Trouble(what, at, "Give it an intensity below 1, as 0.5, or leave pulse_hz out.")
    if sum(request.memory_share for request in step.loads if takes_memory(request)) > 1:
        raise Trouble("more memory is asked for than there is", at, "Lower its shares to 1 together.")
    for limit in step.limits:
        _check_limit(limit, at)


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
