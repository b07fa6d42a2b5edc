"""A plan's summary on a terminal, before anything runs: 80 columns are enough."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from shipworthy.cli.show import NARROWEST, as_json, say
from shipworthy.machine.root import LIVE
from shipworthy.messages import quantity_text, sentence
from shipworthy.model.base import read_record
from shipworthy.model.plan import Plan
from shipworthy.model.progress import Sink, progress
from shipworthy.model.reading import Reading
from shipworthy.model.words import Cores, Origin, Unit
from shipworthy.stress.plans import check_plan
from shipworthy.stress.protocol import Ground
from shipworthy.stress.silence import SILENT_S
from shipworthy.stress.summary import (
    CAUTIONS,
    LoadRow,
    Machine,
    StatedPower,
    StepRow,
    StopLimit,
    Summary,
    WriteRow,
    summary,
)

if TYPE_CHECKING:
    from shipworthy.jobs.ground import Grant

WIDEST = 100
OWN_RULES = {
    "silence": f"the processor's or a graphics card's own temperature silent for {{}} "
    f"(the loads rest after {SILENT_S:.0f} s)",
    "time": "loads that are not done {} after their step's time",
}
"""The guard's own rules, in words."""
NAMED_MOST = 6
"""Sensors named one by one; more are counted, and `--json` has them all."""


def show_dry_run(
    plan: Plan,
    name: str,
    into: Path | None,
    work_folders: tuple[Path, ...],
    json: bool,
    grants: tuple[Grant, ...] = (),
) -> None:
    """Print what a plan would do: on this machine, if folders of it are named, else on any.

    name: as it was asked for. grants: whole drives that a person has allowed.
    """
    check_plan(plan, where=name)
    folders = tuple(folder for folder in (into, *work_folders) if folder is not None)
    told = summary(plan, _this_machine(plan, into, folders, grants) if folders else None)
    if json:
        as_json(told)
    else:
        show_plan(told)


def warn(show: Sink) -> None:
    """Say what to beware of before the first load."""
    for code in CAUTIONS:
        show(progress(code))


def _this_machine(
    plan: Plan, into: Path | None, folders: tuple[Path, ...], grants: tuple[Grant, ...]
) -> Machine:
    """Return this machine, with its drives and their write budgets where a reading names them."""
    path = None if into is None else into / "reading" / "reading.json"
    if into is None or path is None or not path.exists():
        return Machine(root=LIVE, ground=Ground(work_folders=tuple(map(str, folders))))
    from shipworthy.jobs.ground import Ask, ground_for

    reading = read_record(path, Reading)
    ground = ground_for(reading, LIVE, Ask(plan=plan, own=into, work_folders=folders, grants=grants))
    return Machine(root=LIVE, ground=ground, parts=reading.parts)


def show_plan(told: Summary) -> None:
    """Print what a plan does: its steps, its loads, what is written and drawn, and what stops it."""
    total, under = (_time(seconds) for seconds in (told.seconds, told.under_load_s))
    _line(f"Plan {told.plan_id}: {total} in {len(told.steps)} steps, {under} of it with loads.")
    everywhere = _everywhere(told.steps)
    for number, step in enumerate(told.steps, 1):
        _step(number, step, everywhere)
    _loads(told.steps)
    _draws(told.draws)
    _written(told.written)
    _head("What stops it")
    for stop in _few(everywhere):
        _item(stop)
    if told.temperatures == 0:
        _item("no temperature can be read on this machine, so heat stops nothing: stay with it")
    _item(
        "each step ends with its time, which counts from when all its loads are ready (memory takes longest)"
    )
    _item("Ctrl-C stops the loads at once and measures a short cool-down")
    _head("Before you start it")
    for code in told.cautions:
        _item(sentence(code).say)


def _step(number: int, step: StepRow, everywhere: tuple[StopLimit, ...]) -> None:
    _line(f"{number:>2}. {step.step}, {_time(step.seconds)}{_at_most(step)}")
    for load in step.loads:
        _detail("runs", _load(load))
    if step.power is not None:
        _detail("asks for", f"a {step.power.value}; it is announced in the log, and compared after it")
    elif not step.loads:
        _detail("rests", "no load; what cools down or settles is measured")
    for power in dict.fromkeys(_power(load) for load in step.loads):
        _detail("draws", power)
    for row in step.writes:
        _detail("writes", f"at most {_bytes(row.budget_bytes)} to {_drive(row)}")
    for stop in step.stops:
        if stop not in everywhere:
            _detail("stops at", _stop(stop))


def _at_most(step: StepRow) -> str:
    return " at most" if step.power is not None else ""


def _power(load: LoadRow) -> str:
    """Return what a load draws; the most of it only while it is at work."""
    return load.power if load.intensity >= 1 else f"while at work: {load.power}"


def _load(load: LoadRow) -> str:
    """Return how a load is run, in a few words."""
    words = [f"{load.load} ({load.variant})" if load.variant else load.load]
    if load.memory_share:
        cap = f", {_bytes(load.memory_cap_bytes, binary=True)} at most" if load.memory_cap_bytes else ""
        words.append(f"{load.memory_share * 100:.0f} % of the free memory{cap}")
    if load.processes:
        words.append(f"{load.processes} {'process' if load.processes == 1 else 'processes'}")
    if load.cores is Cores.IN_TURN:
        words.append("one after the other")
    if load.intensity < 1:
        pulse = f", in pulses of {load.pulse_hz:g} Hz" if load.pulse_hz else ""
        words.append(f"at work {load.intensity * 100:.0f} % of the time{pulse}")
    return "; ".join(words)


def _loads(steps: Iterable[StepRow]) -> None:
    """Print once what each load stresses, verifies and may let slip."""
    loads = {load.load: load for step in steps for load in step.loads}
    if loads:
        _head("What the loads do")
    for name, load in loads.items():
        _line(f"  {name}")
        _detail("stresses", load.stresses)
        _detail("verifies", load.verifies)
        _detail("misses", load.slips_through)


def _draws(draws: Iterable[StatedPower]) -> None:
    _head("Heat and power")
    rows = list(draws)
    for row in rows:
        _item(
            f"{row.kind.value} {row.place}: {quantity_text(row.watts, Unit.WATTS)}, {row.what} ({row.source})"
        )
    if not rows:
        _item("no reading of this machine states watts; the step with everything draws the most")
    _item("nearly all of it becomes heat in the room")


def _written(rows: Iterable[WriteRow]) -> None:
    _head("What is written, at most")
    rows = list(rows)
    for row in rows:
        left = (
            ""
            if row.left_bytes is None
            else f"; its own write budget leaves {_bytes(row.left_bytes)} to each step"
        )
        _item(f"{_bytes(row.budget_bytes)} to {_drive(row)}{left}")
    if not rows:
        _item("nothing")
    elif not all(row.whole for row in rows):
        _item("into files of its own without a name, gone with the load")


def _drive(row: WriteRow) -> str:
    """Return which drive is meant; without a machine only where it will be."""
    if not row.place:
        return "each drive under a work folder"
    if row.place == "unknown drive":
        return f"what holds {row.folder}: no drive can be told"
    serial = f", serial {row.serial}" if row.serial else ""
    folder = f" (under {row.folder})" if row.folder else ""
    if row.whole:
        folder = ", the whole drive from end to end"
    return f"{row.place}{serial}{folder}"


def _everywhere(steps: Iterable[StepRow]) -> tuple[StopLimit, ...]:
    """Return the limits that stand for more than one step: those that are not a step's own."""
    stops = dict.fromkeys(stop for step in steps for stop in step.stops)
    return tuple(stop for stop in stops if not stop.stands.startswith("the step "))


def _few(stops: Iterable[StopLimit]) -> Iterable[str]:
    """Yield the limits, of a device's own only the lowest ones by name."""
    stops = list(stops)
    own = [stop for stop in stops if stop.origin is Origin.DEVICE and stop.value is not None]
    own.sort(key=lambda stop: stop.value or 0.0)
    for stop in (*own[:NAMED_MOST], *(stop for stop in stops if stop not in own)):
        yield _stop(stop)
    if len(own) > NAMED_MOST:
        yield f"{len(own) - NAMED_MOST} more sensors have limits of their own (see --json)"


def _stop(stop: StopLimit) -> str:
    if stop.value is None:
        return "temperature: what each device names as critical (set by the device)"
    name = stop.label or stop.quantity
    own = (Origin.DEVICE, Origin.TOOL)
    where = "" if stop.origin in own else f", in {stop.stands}"
    if stop.quantity in OWN_RULES:
        told = OWN_RULES[stop.quantity].format(quantity_text(stop.value, stop.unit))
        return f"{told}: set by the {stop.origin.value}"
    if stop.unit is Unit.BYTES:
        return f"{name} below {_bytes(stop.value, binary=True)}: {stop.stands} ({stop.origin.value})"
    return f"{name} of {quantity_text(stop.value, stop.unit)} or more: set by the {stop.origin.value}{where}"


def _time(seconds: float) -> str:
    return quantity_text(seconds, Unit.SECONDS)


def _bytes(size_bytes: float, *, binary: bool = False) -> str:
    return quantity_text(size_bytes, Unit.BYTES, binary=binary)


def _head(text: str) -> None:
    say()
    _line(text)


def _item(text: str) -> None:
    _line(f"  - {text}", 4)


def _detail(label: str, text: str) -> None:
    _line(f"    {label:<10}{text}", 14)


def _line(text: str, indent: int = 4) -> None:
    columns = min(max(shutil.get_terminal_size().columns, NARROWEST), WIDEST)
    for line in textwrap.wrap(text, columns, subsequent_indent=" " * indent, break_on_hyphens=False):
        say(line)
