"""Power cycles: announced before, looked for afterwards; and what tells a restart from none."""

from __future__ import annotations

import threading
from itertools import count
from pathlib import Path

import pytest

from shipworthy.model.plan import Plan, PlanStep
from shipworthy.model.progress import Progress
from shipworthy.model.runlog import Event, LogLine, Stop
from shipworthy.model.words import Ending, PowerCycle
from shipworthy.stress import power_cycles
from shipworthy.stress.power_cycles import DO, DriveCount, power_cycled, restarted
from tests.stress.segments import BootClock, Runs

RESTARTS = (PowerCycle.COLD_START, PowerCycle.WARM_RESTART)


def drive(power_cycles: int | None, serial: str = "KD77") -> DriveCount:
    return DriveCount("pci:0000:04:00.0/nvme-ns-1", serial, power_cycles, 3)


def runs_of(tmp_path: Path, power: PowerCycle, seconds: float = 600) -> Runs:
    steps = (
        PlanStep(step="before", seconds=0.5),
        PlanStep(step="cycle", seconds=seconds, power=power),
        PlanStep(step="after", seconds=0.5),
    )
    return Runs(Plan(plan_id="cycles", sample_hz=5.0, steps=steps), tmp_path, drives=(drive(11),))


@pytest.mark.parametrize("power", RESTARTS)
def test_a_restart_is_announced_on_the_disk_before_the_person_is_told(
    tmp_path: Path, power: PowerCycle
) -> None:
    runs = runs_of(tmp_path, power)
    assert runs.go(BootClock()) is Ending.AWAITING_POWER
    stop = runs.segments[0][-1]
    assert isinstance(stop, Stop)
    assert (stop.ending, stop.reason) == (Ending.AWAITING_POWER, "power.announced")
    (announced,) = runs.events("power.announced")
    assert announced == {"step": "cycle", "power": power.value, "boot_id": "one"}
    assert [seen.step for seen in runs.seen()] == ["before", "before", "cycle"]
    told = f"shown {DO[power]}"
    assert runs.order_of("drive.power-cycles", "power.announced", told, "Stop") == [
        *("drive.power-cycles", "power.announced", "synced"),
        *("Stop", "synced", told),
    ]
    assert not runs.events("load.started")


@pytest.mark.parametrize("power", RESTARTS)
def test_after_an_announced_restart_the_machine_is_compared_and_the_plan_goes_on(
    tmp_path: Path, power: PowerCycle
) -> None:
    runs = runs_of(tmp_path, power)
    runs.go(BootClock("one"))
    runs.settings, runs.drives = {"memory/speed": 4800}, (drive(12),)
    assert runs.go(BootClock("two", ahead_s=90), first_step=1) is Ending.COMPLETED
    (returned,) = runs.events("power.returned")
    assert (returned["boot_id_before"], returned["boot_id"]) == ("one", "two")
    assert (returned["step"], returned["power"]) == ("cycle", power.value)
    assert returned["drives_power_cycled"] == "yes"
    away_s = returned["away_s"]
    assert isinstance(away_s, float) and away_s >= 90
    assert runs.seen()[0].changed == ("memory/speed",)
    assert [e["step"] for e in runs.events("step.ended")] == ["cycle", "after"]
    assert not runs.events("power.missing")
    assert power_cycles.awaited_in(runs.segments) is None


def test_a_machine_that_has_not_restarted_is_told_and_asked_again(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.COLD_START)
    runs.go(BootClock("one"))
    assert runs.go(BootClock("one"), first_step=1) is Ending.AWAITING_POWER
    assert runs.events("power.missing") == [{"step": "cycle", "power": "cold start"}]
    assert len(runs.events("power.announced")) == 1
    assert not runs.events("step.ended")
    assert runs.go(BootClock("two"), first_step=1) is Ending.COMPLETED
    assert len(runs.events("power.returned")) == 1


def test_a_cord_pulled_before_the_last_line_was_an_announced_restart_too(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.COLD_START)
    runs.go(BootClock("one"))
    runs.segments[0] = runs.segments[0][:-1]
    assert runs.go(BootClock("two"), first_step=1) is Ending.COMPLETED
    assert len(runs.events("power.returned")) == 1


def test_a_kill_just_after_the_announcement_misses_nothing(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.COLD_START)
    runs.go(BootClock("one"))
    runs.segments[0] = runs.segments[0][:-1]
    assert runs.go(BootClock("one"), first_step=1) is Ending.AWAITING_POWER
    assert not runs.events("power.missing")


def test_a_kill_after_the_restart_and_before_it_was_seen_still_finds_it(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.WARM_RESTART)
    runs.go(BootClock("one"))
    runs.go(BootClock("two"), first_step=1)
    runs.segments[1] = runs.segments[1][:2]
    assert runs.go(BootClock("two"), first_step=1) is Ending.COMPLETED
    assert runs.events("power.returned")[0]["boot_id_before"] == "one"


def test_a_restart_is_the_last_step_of_a_plan(tmp_path: Path) -> None:
    plan = Plan(plan_id="one", steps=(PlanStep(step="cycle", seconds=9, power=PowerCycle.WARM_RESTART),))
    runs = Runs(plan, tmp_path)
    assert runs.go(BootClock("one")) is Ending.AWAITING_POWER
    assert runs.go(BootClock("two")) is Ending.COMPLETED
    assert runs.events("power.returned")[0]["drives_power_cycled"] == "unknown"


def test_a_sleep_is_waited_for_and_its_length_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    slept = iter([100.0, 100.0, 100.4, *[142.5] * 1000])
    monkeypatch.setattr(power_cycles, "asleep_s", lambda: next(slept))
    runs = runs_of(tmp_path, PowerCycle.SLEEP)
    assert runs.go(BootClock("one")) is Ending.COMPLETED
    (returned,) = runs.events("power.returned")
    assert (returned["away_s"], returned["boot_id_before"], returned["boot_id"]) == (42.5, "one", "one")
    assert runs.order_of("power.announced", "shown power.do-sleep", "power.returned") == [
        *("power.announced", "synced", "shown power.do-sleep", "power.returned")
    ]
    assert [e["step"] for e in runs.events("step.ended")] == ["before", "cycle", "after"]
    assert [seen.step for seen in runs.seen()].count("cycle") == 2


def test_a_sleep_that_does_not_come_is_missing_and_the_plan_goes_on(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.SLEEP, seconds=0.5)
    assert runs.go(BootClock()) is Ending.COMPLETED
    assert runs.events("power.missing") == [{"step": "cycle", "power": "sleep and wake"}]
    assert not runs.events("power.returned")


def test_reading_two_clocks_one_after_the_other_is_no_sleep(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = count()
    monkeypatch.setattr(power_cycles, "asleep_s", lambda: 1.9 * (next(asked) % 2))
    runs = runs_of(tmp_path, PowerCycle.SLEEP, seconds=1)
    runs.go(BootClock())
    assert len(runs.events("power.missing")) == 1 and next(asked) > 2


def test_a_person_can_stop_while_a_sleep_is_waited_for(tmp_path: Path) -> None:
    def press(line: LogLine, stop: threading.Event) -> None:
        if isinstance(line, Event) and line.code == "power.announced":
            stop.set()

    runs = runs_of(tmp_path, PowerCycle.SLEEP)
    assert runs.go(BootClock(), on_line=press) is Ending.STOPPED_BY_PERSON
    assert runs.events("step.cut-short")[0]["step"] == "cycle"


def test_a_machine_that_never_woke_is_not_taken_for_an_announced_restart(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.SLEEP, seconds=0.2)
    runs.go(BootClock("one"))
    lines = runs.segments[0]
    cut = next(i for i, line in enumerate(lines) if getattr(line, "code", "") == "power.announced")
    assert power_cycles.awaited_in([lines[: cut + 1]]) is None


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ((drive(11),), (drive(12),), "yes"),
        ((drive(11),), (drive(11),), "no"),
        ((drive(11), drive(5, "KD78")), (drive(12), drive(5, "KD78")), "some"),
        ((drive(11),), (drive(12, "another"),), "unknown"),
        ((drive(None),), (drive(12),), "unknown"),
        ((drive(11),), (drive(None),), "unknown"),
        ((), (), "unknown"),
    ],
)
def test_drives_tell_whether_power_was_gone(
    before: tuple[DriveCount, ...], after: tuple[DriveCount, ...], said: str
) -> None:
    assert power_cycled(before, after) == said


def test_a_drive_that_does_not_count_is_not_written_down(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.COLD_START)
    runs.drives = (drive(None), drive(4, "KD78"))
    runs.go(BootClock())
    assert runs.events("drive.power-cycles") == [
        {"step": "cycle", "place": drive(4).place, "serial": "KD78", "power_cycles": 4, "unsafe_shutdowns": 3}
    ]


def test_boot_ids_tell_a_restart_and_without_them_a_clock_that_went_back() -> None:
    now = BootClock("one").now()
    later = BootClock("one", ahead_s=-7200).now()  # the wall clock was set back meanwhile
    assert not restarted(now, later)
    assert restarted(now, BootClock("two", ahead_s=-7200).now())
    nameless, after = BootClock(None).now(), BootClock(None).now()
    assert not restarted(nameless, after)
    assert restarted(after, nameless)


def test_this_machine_does_not_sleep_under_a_test() -> None:
    before_s = power_cycles.asleep_s()
    assert before_s > -0.1  # the clocks are read one after the other
    assert power_cycles.asleep_s() - before_s < power_cycles.SLEPT_LEAST_S


def test_what_is_told_is_shown_once_for_each_asking(tmp_path: Path) -> None:
    runs = runs_of(tmp_path, PowerCycle.COLD_START)
    runs.go(BootClock("one"))
    runs.go(BootClock("one"), first_step=1)
    shown = [one.code for one in runs.happened if isinstance(one, Progress)]
    assert shown.count("power.do-cold-start") == 2
    assert shown.count("power.missing") == 1
