"""Real burn-ins whose sensors go and come back, hang, or are crossed: what the guard does to the loads."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Event, LogLine, Report, Row, Stop
from shipworthy.model.words import Ending, Origin, Unit
from tests.machine.recorded import chip
from tests.stress.hanging_file import group, hang
from tests.stress.outside_package import install_outside_loads
from tests.stress.small_burn_ins import Run, small_plan
from tests.stress.test_kill import alive, parent_of, wait_for

BurnIn = Callable[..., Run]
CPU, BOARD = "sys/devices/platform/coretemp.0", "sys/devices/platform/tarn.1"
MATRIX = ("processor", 2, ("matrix",))


@pytest.fixture
def root(tmp_path: Path) -> Root:
    """A machine with a processor's temperature, critical at 90 °C, and one of the board without a limit."""
    folder = tmp_path / "warm"
    cpu = {"temp1_input": "45000", "temp1_label": "Package id 0", "temp1_max": "60000", "temp1_crit": "90000"}
    chip(folder, 0, CPU, "coretemp", cpu)
    chip(folder, 1, BOARD, "tarn", {"temp1_input": "30000"})
    return Root(folder)


def sensor(root: Root, device: str = CPU) -> Path:
    (file,) = (root.folder / device).glob("hwmon/hwmon*/temp1_input")
    return file


def show(file: Path, temp_c: float) -> None:
    """Give a sensor's file a new value, as a pretend machine does: by rename."""
    new = file.with_name("new")
    new.write_text(f"{temp_c * 1000:.0f}\n")
    new.rename(file)


def on(**acts: Callable[[threading.Event], object]) -> Callable[[LogLine, threading.Event], None]:
    """Act once at an event; its code stands with `_` for `.` and `-`."""
    left = dict(acts)

    def see(line: LogLine, stop: threading.Event) -> None:
        if isinstance(line, Event) and (act := left.pop(line.code.replace(".", "_").replace("-", "_"), None)):
            act(stop)

    return see


def at(run: Run, code: str) -> float:
    return next(line.t_s for line in run.of(Event) if line.code == code)


def test_loads_stand_still_while_the_processors_temperature_is_silent_and_then_go_on(
    burn_in: BurnIn, root: Root
) -> None:
    file, noticed = sensor(root), list[bool]()

    def notice(_: threading.Event) -> None:
        """Guard and sampler have eyes of their own: it comes back when both have missed it."""
        noticed.append(True)
        if len(noticed) == 2:
            file.with_name("away").rename(file)

    see = on(
        step_under_load=lambda _: file.rename(file.with_name("away")),
        loads_paused=notice,
        sensor_silent=notice,
    )
    run = burn_in(small_plan(("processor", 8, ("matrix",))), root=root, on_line=see)
    assert run.ending is Ending.COMPLETED
    (paused,), (resumed,) = run.events("loads.paused"), run.events("loads.resumed")
    assert (paused["label"], paused["place"], paused["paused_s"]) == (
        "Package id 0",
        "platform:coretemp.0",
        0.0,
    )
    assert resumed["paused_s"] > 0
    worked_s = at(run, "step.ended") - at(run, "step.under-load")
    assert worked_s >= 8 + resumed["paused_s"] - 0.5  # the pause is not the step's time
    assert any(report.t_s > at(run, "loads.resumed") and report.work for report in run.of(Report))
    assert not sum(report.wrong for report in run.of(Report))
    assert [e["place"] for e in run.events("sensor.back")] == ["platform:coretemp.0"]


def test_another_sensors_silence_is_written_down_and_stops_nothing(burn_in: BurnIn, root: Root) -> None:
    file = sensor(root, BOARD)
    see = on(step_under_load=lambda _: file.unlink())
    run = burn_in(small_plan(("processor", 7, ("matrix",))), root=root, on_line=see)
    assert run.ending is Ending.COMPLETED
    assert [e["place"] for e in run.events("sensor.silent")] == ["platform:tarn.1"]
    assert not run.events("loads.paused")


def test_loads_that_stand_still_can_be_stopped_by_a_person(burn_in: BurnIn, root: Root) -> None:
    file = sensor(root)
    see = on(step_under_load=lambda _: file.unlink(), loads_paused=lambda stop: stop.set())
    run = burn_in(small_plan(("processor", 60, ("matrix", "march"))), root=root, on_line=see)
    assert run.ending is Ending.STOPPED_BY_PERSON
    assert len(run.events("load.stopped")) == len(run.events("load.started"))
    assert not run.events("load.died")


def test_loads_that_stand_still_are_stopped_by_another_sensor_over_its_limit(
    burn_in: BurnIn, root: Root
) -> None:
    file, board = sensor(root), sensor(root, BOARD)
    limit = Limit(quantity="temperature", value=70.0, unit=Unit.CELSIUS, origin=Origin.SHOP)
    see = on(step_under_load=lambda _: file.unlink(), loads_paused=lambda _: show(board, 71.0))
    run = burn_in(small_plan(("processor", 60, ("matrix",)), limits=(limit,)), root=root, on_line=see)
    assert run.ending is Ending.STOPPED_BY_GUARD
    (crossed,) = run.events("guard.limit")
    assert (crossed["seen_c"], crossed["origin"]) == (71.0, "shop's policy")


def test_loads_that_stand_still_die_with_a_killed_guard(burn_in: BurnIn, root: Root) -> None:
    file, pids = sensor(root), list[int]()

    def see(line: LogLine, stop: threading.Event) -> None:
        if isinstance(line, Event) and line.code == "load.started":
            pids.extend(int(value.value) for value in line.values if value.name == "pid")
        acts(line, stop)

    acts = on(
        step_under_load=lambda _: file.unlink(),
        loads_paused=lambda _: os.kill(parent_of(pids[0]), signal.SIGKILL),
    )
    run = burn_in(small_plan(("processor", 60, ("matrix",))), root=root, on_line=see)
    assert (run.ending, run.of(Stop)[0].reason) == (Ending.FAILED_TO_RUN, "guard.lost")
    assert pids
    wait_for(lambda: not any(alive(pid) for pid in pids), 60)


def test_a_control_target_is_no_crossing_and_the_critical_value_is(burn_in: BurnIn, root: Root) -> None:
    file = sensor(root)
    show(file, 61.0)  # above what the processor's cooling aims at (temp1_max of coretemp)
    assert burn_in(small_plan(MATRIX), root=root).ending is Ending.COMPLETED
    see = on(step_under_load=lambda _: show(file, 90.0))
    run = burn_in(small_plan(("processor", 60, ("matrix",))), root=root, on_line=see)
    assert run.ending is Ending.STOPPED_BY_GUARD
    (crossed,) = run.events("guard.limit")
    assert (crossed["seen_c"], crossed["limit_c"], crossed["origin"]) == (90.0, 90.0, "device")


def test_a_sensor_that_hangs_for_ever_blinds_the_guard_to_no_other(burn_in: BurnIn, root: Root) -> None:
    board, file = sensor(root, BOARD), sensor(root)
    with group() as descriptor:
        see = on(
            step_under_load=lambda _: hang(descriptor, board),
            sensor_silent=lambda _: show(file, 95.0),
        )
        run = burn_in(small_plan(("processor", 60, ("matrix",))), root=root, on_line=see)
    assert run.ending is Ending.STOPPED_BY_GUARD
    (crossed,) = run.events("guard.limit")
    assert crossed["label"] == "Package id 0"
    rows = [row for row in run.of(Row) if row.t_s > at(run, "sensor.silent")]
    assert rows and all(row.v[0] is not None and row.v[1] is None for row in rows)
    assert run.of(Stop)


def test_a_thousand_temperatures_are_watched(burn_in: BurnIn, tmp_path: Path) -> None:
    folder = tmp_path / "many"
    for number in range(100):
        values = {f"temp{n}_input": "40000" for n in range(1, 11)} | {"temp10_crit": "90000"}
        chip(folder, number, f"sys/devices/platform/tarn.{number}", "tarn", values)
    last = folder / "sys/devices/platform/tarn.99/hwmon/hwmon99/temp10_input"
    see = on(step_under_load=lambda _: show(last, 91.0))
    run = burn_in(small_plan(("processor", 60, ("matrix",))), root=Root(folder), on_line=see)
    assert run.ending is Ending.STOPPED_BY_GUARD
    assert run.events("guard.limit")[0]["quantity"] == "temperature/platform:tarn.99/temp10"


def test_a_limit_is_heeded_also_while_loads_finish_what_a_person_has_stopped(
    burn_in: BurnIn, root: Root, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    install_outside_loads(tmp_path / "outside", monkeypatch)

    def stop_and_heat(stop: threading.Event) -> None:
        threading.Timer(1.5, stop.set).start()  # when it is in its block
        threading.Timer(2.0, show, (sensor(root), 95)).start()

    plan = small_plan(("processor", 30, ("deaf",)))
    run = burn_in(plan, root=root, on_line=on(step_under_load=stop_and_heat), outside_loads=("deaf",))
    assert run.ending is Ending.STOPPED_BY_GUARD
    assert [line.reason for line in run.of(Stop)] == ["guard.limit"]
    assert at(run, "load.stopped") - at(run, "guard.limit") < 1.0
