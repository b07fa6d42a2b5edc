"""Whole runs, seconds long, with real guards and real loads."""

from __future__ import annotations

import ast
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.messages import known_codes, sentence
from shipworthy.model.base import Trouble, digest_of, encode
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import (
    Columns,
    ConfigurationSeen,
    Event,
    LogLine,
    Report,
    Row,
    Start,
    Stop,
    read_log,
)
from shipworthy.model.words import Ending, Origin, Unit
from shipworthy.stress import registry
from shipworthy.stress.plans import plan_digest
from tests.stress.outside_package import NAMES, install_outside_loads
from tests.stress.small_burn_ins import Run, small_plan

BurnIn = Callable[..., Run]
ALL = ("matrix", "march", "storage")


@pytest.fixture
def outside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[str, ...]:
    install_outside_loads(tmp_path / "site", monkeypatch)
    return NAMES


@pytest.fixture
def warm_root(tmp_path: Path) -> Root:
    """A machine with one temperature at 45 °C, whose device calls 90 °C critical (hwmon sysfs interface)."""
    chip = tmp_path / "warm" / "sys/devices/platform/tarn.0/hwmon/hwmon0"
    chip.mkdir(parents=True)
    for name, text in {
        "name": "tarn",
        "temp1_input": "45000",
        "temp1_crit": "90000",
        "temp1_label": "Core",
    }.items():
        (chip / name).write_text(text + "\n")
    (chip / "device").symlink_to("../..")
    links = tmp_path / "warm" / "sys/class/hwmon"
    links.mkdir(parents=True)
    (links / "hwmon0").symlink_to("../../devices/platform/tarn.0/hwmon/hwmon0")
    return Root(tmp_path / "warm")


def heat(root: Root, temp_c: float) -> None:
    chip = root.path("/sys/devices/platform/tarn.0/hwmon/hwmon0")
    (chip / "new").write_text(f"{temp_c * 1000:.0f}\n")
    (chip / "new").rename(chip / "temp1_input")


def on_event(code: str, act: Callable[[threading.Event], None]) -> Callable[[LogLine, threading.Event], None]:
    """Act once, when that event is written."""
    done: list[bool] = []

    def see(line: LogLine, stop: threading.Event) -> None:
        if isinstance(line, Event) and line.code == code and not done:
            done.append(True)
            act(stop)

    return see


def test_a_run_writes_start_columns_rows_reports_and_a_stop(burn_in: BurnIn, work_folder: Path) -> None:
    plan = small_plan(("rest", 1, ()), ("all", 2, ALL))
    run = burn_in(plan)
    assert run.ending is Ending.COMPLETED
    start, columns, stop = run.lines[0], run.lines[1], run.lines[-1]
    assert isinstance(start, Start) and isinstance(columns, Columns) and isinstance(stop, Stop)
    assert (start.nonce, start.segment, start.seed) == ("n-1", 1, 5)
    assert start.plan_digest == plan_digest(plan)
    assert (stop.ending, stop.reason) == (Ending.COMPLETED, "")
    assert [e["step"] for e in run.events("step.ended")] == ["rest", "all"]
    assert [e["index"] for e in run.events("step.began")] == [0, 1]
    assert [c.step for c in run.of(ConfigurationSeen)] == ["rest", "rest", "all", "all"]
    assert list(work_folder.iterdir()) == []


def test_every_target_reports_right_results_and_a_limit_measured_in_the_same_run(burn_in: BurnIn) -> None:
    reports = burn_in(small_plan(("all", 3, ALL))).of(Report)
    targets = {f"cpu:{cpu}" for cpu in os.sched_getaffinity(0)} | {"memory", "unknown drive"}
    assert {report.target for report in reports} == targets
    for target in targets:
        of_target = [report for report in reports if report.target == target]
        assert sum(r.checks for r in of_target) > 0
        assert sum(r.wrong for r in of_target) == 0
        assert any(r.limit for r in of_target)
        assert any(r.detail for r in of_target)


def test_lines_of_a_run_read_back_as_they_were_written(burn_in: BurnIn) -> None:
    run = burn_in(small_plan(("processor", 1, ("matrix",))))
    lines, torn = read_log(b"".join(encode(line) + b"\n" for line in run.lines), "log")
    assert (lines, torn) == (run.lines, b"")


def test_times_of_each_kind_of_line_never_run_backwards(burn_in: BurnIn) -> None:
    run = burn_in(small_plan(("processor", 1, ("matrix",))))
    for kind in (Row, Event, Report, ConfigurationSeen):
        times = [line.t_s for line in run.of(kind)]
        assert times == sorted(times) and times


def test_rows_come_at_the_plans_rate_while_loads_run(burn_in: BurnIn, warm_root: Root) -> None:
    run = burn_in(small_plan(("all", 3, ("matrix", "march"))), root=warm_root)
    rows = run.of(Row)
    stop = run.of(Stop)[0]
    assert len(rows) >= 0.5 * 5.0 * stop.t_s
    assert all(row.v[0] == 45.0 for row in rows)


def test_a_run_goes_on_at_the_step_it_is_told(burn_in: BurnIn) -> None:
    plan = small_plan(("rest", 1, ()), ("cooling", 1, ()))
    run = burn_in(plan, first_step=1)
    assert run.events("step.began")[0] == {"step": "cooling", "index": 1, "seconds_s": 1.0}
    assert burn_in(plan, first_step=2).ending is Ending.COMPLETED


def test_a_person_stops_it_and_the_log_ends_in_order(burn_in: BurnIn) -> None:
    def press(stop: threading.Event) -> None:
        stop.set()

    run = burn_in(small_plan(("all", 60, ALL)), on_line=on_event("load.ready", press))
    assert run.ending is Ending.STOPPED_BY_PERSON
    assert run.events("step.cut-short")[0]["why"] == "person"
    assert not run.events("step.ended")
    assert len(run.events("load.stopped")) == len(run.events("load.started"))
    assert run.of(Stop)[0].reason == "person"


def test_the_guard_stops_the_loads_within_a_second_of_the_devices_own_limit(
    burn_in: BurnIn, warm_root: Root
) -> None:
    crossed: list[float] = []

    def act(_: threading.Event) -> None:
        crossed.append(time.monotonic())
        heat(warm_root, 91.5)

    stopped: list[float] = []

    def see(line: LogLine, stop: threading.Event) -> None:
        first(line, stop)
        if isinstance(line, Event) and line.code == "load.stopped":
            stopped.append(time.monotonic())

    first = on_event("load.ready", act)
    run = burn_in(small_plan(("all", 60, ("matrix", "march"))), root=warm_root, on_line=see)
    assert run.ending is Ending.STOPPED_BY_GUARD
    (limit,) = run.events("guard.limit")
    assert (limit["seen_c"], limit["limit_c"], limit["origin"]) == (91.5, 90.0, "device")
    assert limit["label"] == "Core"
    assert len(stopped) == len(run.events("load.started"))
    assert max(stopped) - crossed[0] < 3  # 1 s is promised; a machine busy with other tests adds to it


def test_a_limit_of_the_shop_is_told_as_the_shops(burn_in: BurnIn, warm_root: Root) -> None:
    limit = Limit(quantity="temperature", value=44.0, unit=Unit.CELSIUS, origin=Origin.SHOP)
    run = burn_in(small_plan(("processor", 60, ("matrix",)), limits=(limit,)), root=warm_root)
    assert run.ending is Ending.STOPPED_BY_GUARD
    assert run.events("guard.limit")[0]["origin"] == "shop's policy"


@pytest.mark.slow
def test_temperatures_that_fall_silent_stop_the_loads(burn_in: BurnIn, warm_root: Root) -> None:
    def act(_: threading.Event) -> None:
        (warm_root.path("/sys/devices/platform/tarn.0/hwmon/hwmon0") / "temp1_input").unlink()

    run = burn_in(
        small_plan(("processor", 60, ("matrix",))), root=warm_root, on_line=on_event("load.ready", act)
    )
    assert run.ending is Ending.STOPPED_BY_GUARD
    assert run.events("guard.limit")[0]["quantity"] == "silence"


def test_a_load_that_hears_nothing_is_killed(
    burn_in: BurnIn, warm_root: Root, outside: tuple[str, ...]
) -> None:
    limit = Limit(quantity="temperature", value=44.0, unit=Unit.CELSIUS, origin=Origin.SHOP)
    plan = small_plan(("processor", 60, ("deaf",)), limits=(limit,))
    run = burn_in(plan, root=warm_root, outside_loads=outside)
    assert run.ending is Ending.STOPPED_BY_GUARD


def test_a_machine_without_temperatures_runs_and_the_guard_says_so(burn_in: BurnIn) -> None:
    run = burn_in(small_plan(("processor", 1, ("matrix",))))
    assert run.ending is Ending.COMPLETED
    assert len(run.events("guard.no-temperature")) == 1


def test_a_bit_flipped_in_a_product_is_in_the_log_and_the_run_goes_on(
    burn_in: BurnIn, outside: tuple[str, ...]
) -> None:
    run = burn_in(small_plan(("processor", 2, ("flipping",))), outside_loads=outside)
    assert run.ending is Ending.COMPLETED
    reports = run.of(Report)
    assert 0 < sum(r.wrong for r in reports) < sum(r.checks for r in reports)
    wrong = run.events("load.wrong")[0]
    assert (wrong["load"], wrong["where"]) == ("flipping", "row 11, column 7")
    assert wrong["expected"] != wrong["found"]
    assert any(shown.code == "burn-in.wrong" for shown in run.shown)


def test_a_load_of_another_package_runs_only_if_named(burn_in: BurnIn, outside: tuple[str, ...]) -> None:
    plan = small_plan(("processor", 1, ("flipping",)))
    with pytest.raises(Trouble, match="belongs to the package kestrel-loads"):
        burn_in(plan)
    with pytest.raises(Trouble, match="speaks protocol 3"):
        burn_in(small_plan(("processor", 1, ("newer",))), outside_loads=outside)


def test_a_load_of_another_package_is_named_with_version_and_digest(
    burn_in: BurnIn, outside: tuple[str, ...], tmp_path: Path
) -> None:
    found = registry.find_load("flipping", outside)
    (event,) = burn_in(small_plan(("rest", 1, ("flipping",))), outside_loads=outside).events("load.outside")
    assert (event["distribution"], event["version"]) == ("kestrel-loads", "1.2")
    assert event["digest"] == found.digest
    (tmp_path / "site" / "kestrel_loads.py").write_text("# changed\n")
    assert registry._digest(registry.metadata.distribution("kestrel-loads")) != found.digest
    assert found.digest != digest_of(b"")


@pytest.mark.parametrize(
    ("load", "told", "why"),
    [
        ("dying", None, "ended by SIGSEGV"),
        ("refusing", "load.could-not", "there is nothing to work on"),
        ("crashing", "load.crashed", "KeyError"),
    ],
)
def test_a_load_that_fails_ends_the_run_as_failed_and_says_why(
    burn_in: BurnIn, outside: tuple[str, ...], load: str, told: str | None, why: str
) -> None:
    run = burn_in(small_plan(("processor", 60, (load, "march"))), outside_loads=outside)
    assert run.ending is Ending.FAILED_TO_RUN
    assert run.of(Stop)[0].reason == "load.died"
    died = run.events("load.died")[0]
    assert died["load"] == load
    assert why in str(run.events(told)[0]["why"] if told else died["how"])


def test_a_write_that_fails_ends_the_run_with_that_failure_and_no_process_left(burn_in: BurnIn) -> None:
    pids: list[int] = []

    def full(line: LogLine, _: threading.Event) -> None:
        if isinstance(line, Event) and line.code == "load.started":
            pids.extend(int(v.value) for v in line.values if v.name == "pid")
        if isinstance(line, Report):
            raise Trouble("the disk is full", "log", "Make room.")

    with pytest.raises(Trouble, match="the disk is full"):
        burn_in(small_plan(("processor", 60, ("matrix",))), on_line=full)
    assert pids and not any(Path(f"/proc/{pid}").exists() for pid in pids)


def test_a_step_whose_load_has_nothing_to_work_on_is_passed_over(burn_in: BurnIn) -> None:
    cpus = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cpus)})
    try:
        run = burn_in(small_plan(("between cores", 60, ("exchange",)), ("processor", 1, ("matrix",))))
    finally:
        os.sched_setaffinity(0, cpus)
    assert run.ending is Ending.COMPLETED
    assert run.events("load.without-target") == [{"step": "between cores", "load": "exchange"}]
    assert [event["step"] for event in run.events("step.without-target")] == ["between cores"]
    assert [event["step"] for event in run.events("step.ended")] == ["between cores", "processor"]
    assert run.of(Stop)[0].t_s < 60


def test_progress_comes_at_most_about_once_a_second(burn_in: BurnIn) -> None:
    run = burn_in(small_plan(("rest", 3, ())))
    ticks = [shown for shown in run.shown if shown.code.startswith("burn-in.tick")]
    assert 2 <= len(ticks) <= 4


def test_every_code_that_this_room_says_has_a_sentence(burn_in: BurnIn) -> None:
    folder = Path(registry.__file__).parent
    rooms = ("burn-in.", "step.", "load.", "loads.", "guard.", "configuration.", "march.", "power.")
    rooms += ("sensor.", "counter.", "drive.", "kernel.")
    codes = {
        node.value
        for path in folder.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
        if node.value.startswith(rooms) and " " not in node.value
    }
    assert len(codes) > 15
    assert codes <= known_codes()
    run = burn_in(small_plan(("processor", 1, ("matrix",))))
    said = [sentence(e.code, e.values).say for e in run.of(Event)]
    assert not [text for text in said if "{" in text]
