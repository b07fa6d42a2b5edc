"""What the guard concludes from temperatures, floors of memory, and silence."""

from __future__ import annotations

import pytest

from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column
from shipworthy.model.words import Origin, Unit
from shipworthy.stress.limits import first_crossing, limits_of
from shipworthy.stress.resources import parse_available_bytes, parse_cgroup2_path
from shipworthy.stress.sampling import next_beat_s
from shipworthy.stress.watch import SILENT_S, Watch


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


class Feed:
    """A sampler that gives rows as told."""

    def __init__(self, *rows: tuple[float | None, ...]) -> None:
        self._rows = iter(rows)

    def sample(self) -> tuple[float | None, ...]:
        return next(self._rows)


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


def test_one_reading_over_a_limit_is_not_believed_two_in_a_row_are() -> None:
    column = temperature(critical=90)
    watch = Watch((column,), Feed((95.0,), (50.0,), (95.0,), (96.0,)), ())
    seen = []
    for now_s in range(4):
        watch.look(float(now_s))
        seen.append(watch.crossing() is not None)
    assert seen == [False, False, False, True]


def test_temperatures_that_fall_silent_are_noticed_and_ones_that_never_spoke_are_not() -> None:
    spoke = Watch((temperature(),), Feed((50.0,), (None,)), ())
    never = Watch((temperature(),), Feed((None,), (None,)), ())
    for watch in (spoke, never):
        watch.look(0.0)
        watch.look(SILENT_S)
    assert spoke.silent_s(SILENT_S) >= SILENT_S
    assert never.silent_s(1000.0) == 0.0


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
