"""What the guard concludes from temperatures, floors of memory, and silence."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import list_columns
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column
from shipworthy.model.words import Origin, Unit
from shipworthy.stress import watch
from shipworthy.stress.limits import first_crossing, limits_of
from shipworthy.stress.pausing import Act, Pausing
from shipworthy.stress.resources import parse_available_bytes, parse_cgroup2_path
from shipworthy.stress.sampling import next_beat_s
from shipworthy.stress.silence import SILENT_S
from shipworthy.stress.watch import Eyes, Watch, required_of
from tests.machine.recorded import chip


def temperature(channel: str = "temp1", high: float | None = None, critical: float | None = None) -> Column:
    return Column(
        quantity="temperature",
        place="pci:0000:00:18.3",
        channel=channel,
        label="Tdie",
        unit=Unit.CELSIUS,
        source="/sys/class/hwmon/hwmon0/temp1_input",
        high=high,
        critical=critical,
    )


def shop(value_c: float, quantity: str = "temperature") -> Limit:
    return Limit(quantity=quantity, value=value_c, unit=Unit.CELSIUS, origin=Origin.SHOP)


def test_the_devices_critical_value_is_a_limit_and_its_control_target_beside_it_is_none() -> None:
    column = temperature(high=80, critical=95)
    assert first_crossing((column,), (90.0,), ()) is None
    crossing = first_crossing((column,), (95.0,), ())
    assert crossing is not None and (crossing.limit_c, crossing.origin) == (95.0, Origin.DEVICE)


def test_a_device_that_names_only_a_high_value_is_held_to_that() -> None:
    assert first_crossing((temperature(high=80),), (80.0,), ()) is not None


def test_a_shops_limit_holds_for_all_temperatures_or_for_the_one_it_names() -> None:
    columns = (temperature("temp1"), temperature("temp2"))
    one = shop(70, "temperature/pci:0000:00:18.3/temp2")
    assert first_crossing(columns, (75.0, 60.0), (one,)) is None
    crossing = first_crossing(columns, (75.0, 71.0), (one,))
    assert crossing is not None and crossing.column.channel == "temp2" and crossing.origin is Origin.SHOP
    assert first_crossing(columns, (75.0, 60.0), (shop(75),)) is not None


def test_without_any_limit_nothing_is_crossed() -> None:
    assert limits_of(temperature(), ()) == ()
    assert first_crossing((temperature(),), (120.0,), ()) is None


def test_of_several_crossings_the_worst_is_told() -> None:
    columns = (temperature("temp1", critical=90), temperature("temp2", critical=90))
    crossing = first_crossing(columns, (91.0, 99.0), ())
    assert crossing is not None and crossing.found_c == 99.0


def test_a_sensor_that_gave_nothing_crosses_nothing() -> None:
    assert first_crossing((temperature(critical=90),), (None,), (shop(40),)) is None


def looks(watch: Watch, *rows: tuple[float | None, ...]) -> list[bool]:
    """Let a watch look at rows, a second apart; return when it saw a crossing."""
    seen = []
    for now_s, row in enumerate(rows):
        watch.look(row, float(now_s))
        seen.append(watch.crossing() is not None)
    return seen


def test_one_reading_over_a_limit_is_not_believed_two_in_a_row_are() -> None:
    watch = Watch((temperature(critical=90),), ())
    assert looks(watch, (95.0,), (50.0,), (95.0,), (96.0,)) == [False, False, False, True]


def test_two_sensors_that_are_garbled_once_each_confirm_nothing() -> None:
    watch = Watch((temperature("temp1", critical=90), temperature("temp2", critical=90)), ())
    assert looks(watch, (95.0, 40.0), (40.0, 95.0), (40.0, 40.0)) == [False, False, False]


def test_a_reading_of_a_slow_sensor_that_stands_in_two_rows_is_one_reading() -> None:
    watch = Watch((temperature(critical=90),), ())
    watch.look((95.0,), 1.0, (0.9,))
    watch.look((95.0,), 1.2, (0.9,))
    assert watch.crossing() is None
    watch.look((95.0,), 1.4, (1.3,))
    assert watch.crossing() is not None


def test_a_reading_that_did_not_come_between_two_that_are_over_is_not_skipped() -> None:
    watch = Watch((temperature(critical=90),), ())
    assert looks(watch, (95.0,), (None,), (95.0,), (95.0,)) == [False, False, False, True]


def test_a_steps_limits_hold_for_that_step_beside_the_plans() -> None:
    watch = Watch((temperature(critical=90),), ())
    assert looks(watch, (75.0,), (75.0,)) == [False, False]
    watch.hold_to((shop(70),))
    assert looks(watch, (75.0,), (75.0,)) == [False, True]
    watch.hold_to(())
    assert looks(watch, (75.0,), (75.0,)) == [False, False]


def test_a_required_part_is_silent_when_none_of_its_sensors_speaks() -> None:
    watch = Watch((temperature("temp1"), temperature("temp2")), (), ((0, 1),))
    watch.look((50.0, 50.0), 0.0)
    watch.look((None, 51.0), 9.0)
    silent = watch.silent(10.0)
    assert silent is not None and silent.silent_s == 1.0
    never = Watch((temperature(),), (), ((0,),))
    never.look((None,), 0.0)
    assert never.silent(1000.0) is None and not never.spoke()


def test_processors_and_graphics_are_required_by_their_drivers_names(tmp_path: Path) -> None:
    chip(tmp_path, 0, "sys/devices/platform/coretemp.0", "coretemp", {"temp1_input": "1", "temp2_input": "1"})
    chip(tmp_path, 1, "sys/devices/pci0000:00/0000:01:00.0", "amdgpu", {"temp1_input": "1"})
    chip(tmp_path, 2, "sys/devices/platform/tarn.2", "tarn", {"temp1_input": "1", "temp1_label": "CPUTIN"})
    root = Root(tmp_path)
    assert required_of(root, list_columns(root)) == ((0, 1), (2,))


def test_where_no_sensor_is_known_as_a_processors_all_of_them_together_are_required(tmp_path: Path) -> None:
    chip(tmp_path, 0, "sys/devices/platform/tarn.0", "tarn", {"temp1_input": "1", "temp2_input": "1"})
    root = Root(tmp_path)
    assert required_of(root, list_columns(root)) == ((0, 1),)
    assert required_of(root, ()) == ()


def test_silence_pauses_and_a_sensor_that_is_back_resumes() -> None:
    pausing = Pausing()
    assert pausing.act(SILENT_S - 0.1, 10.0) is Act.NOTHING
    assert pausing.act(SILENT_S, 10.1) is Act.PAUSE
    assert pausing.act(30.0, 35.1) is Act.NOTHING
    assert pausing.act(0.2, 50.1) is Act.RESUME
    assert pausing.paused_s(50.1) == 40.0
    pausing.end(50.1)
    assert pausing.act(0.2, 51.0) is Act.NOTHING and not pausing.paused


def test_silence_that_lasts_stops() -> None:
    pausing = Pausing(back_within_s=60.0)
    pausing.act(SILENT_S, 10.0)
    assert pausing.act(64.9, 69.9) is Act.NOTHING
    assert pausing.act(65.0, 70.0) is Act.STOP


def test_a_sensor_that_comes_and_goes_is_not_waited_for_for_ever() -> None:
    pausing, now_s, pauses = Pausing(back_within_s=60.0), 0.0, 0
    while pausing.act(SILENT_S, now_s) is Act.PAUSE and pausing.act(SILENT_S, now_s) is Act.NOTHING:
        pauses += 1
        assert pauses < 100
        assert pausing.act(0.0, now_s + 6.0) is Act.RESUME
        pausing.end(now_s + 6.0)
        now_s += 6.0 + 10.0
    assert pauses == 12  # 6 s each, less 1 s forgiven in between: 60 s are reached in the 12th


def test_pauses_far_apart_are_forgiven() -> None:
    pausing = Pausing(back_within_s=60.0)
    for now_s in range(0, 20_000, 1000):
        assert pausing.act(SILENT_S, now_s) is Act.PAUSE
        assert pausing.act(SILENT_S + 40, now_s + 40.0) is Act.NOTHING
        pausing.end(now_s + 40.0)


def test_available_memory_is_in_bytes_as_proc_meminfo_prints_units_of_1024() -> None:
    text = "MemTotal:       24684092 kB\nMemFree:  1 kB\nMemAvailable:   24304616 kB\n"
    assert parse_available_bytes(text) == 24_304_616 * 1024
    with pytest.raises(ValueError, match="MemAvailable"):
        parse_available_bytes("MemTotal: 1 kB\n")


def test_the_unified_cgroup_is_told_from_the_older_ones() -> None:
    assert parse_cgroup2_path("1:cpu:/old\n0::/user.slice/bench\n") == "/user.slice/bench"
    assert parse_cgroup2_path("1:cpu:/old\n") is None


def test_beats_that_were_missed_are_left_out_and_the_beat_is_kept() -> None:
    assert next_beat_s(10.0, 10.01, 0.5) == 10.5
    assert next_beat_s(10.0, 12.2, 0.5) == 12.5


def test_a_folder_that_hangs_does_not_hide_that_another_fills_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    leave, ask = threading.Event(), watch._free_disk_bytes
    monkeypatch.setattr(
        watch, "_free_disk_bytes", lambda folder: leave.wait(60) if folder == "/gone" else ask(folder)
    )
    eyes = Eyes(Root(tmp_path), (), ("/gone", str(tmp_path)))
    try:
        eyes.open()
        until_s = time.monotonic() + 5
        while eyes.free_disk_bytes is None and time.monotonic() < until_s:
            time.sleep(0.05)
        assert eyes.free_disk_bytes
    finally:
        leave.set()
