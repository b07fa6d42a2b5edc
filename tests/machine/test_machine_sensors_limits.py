"""Chips as parts: labels and where they come from, limits apart by what they mean, and what cannot be so."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from shipworthy.machine.capture.sensors import capture
from shipworthy.machine.parse.sensors.sanity import implausible_temperature
from shipworthy.machine.parse.sensors.source import columns, fan_rpm, parse, power_w, temperature_c
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind
from tests.machine.facts_of import Facts, facts_by_place
from tests.machine.recorded import NVME, build, chip, write


def facts(parsed: Parsed) -> dict[str, Facts]:
    assert all(one.kind is PartKind.SENSOR_CHIP for one in parsed.sightings)
    return facts_by_place(parsed)


def read(root: Path) -> dict[str, Facts]:
    return facts(parse(tuple(capture(Root(root)))))


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


def test_a_label_is_the_drivers_or_the_channels_own_name(machine: Path) -> None:
    """Never made from the chip's name: what an input is wired to is the board's choice."""
    got = read(machine)
    processor, board = got["pci:0000:00:18.3"], got["platform:nct6775.656"]
    assert (processor["temp1_label"], processor["temp1_label_origin"]) == ("Tctl", "driver")
    assert (board["fan1_label"], board["fan1_label_origin"]) == ("fan1", "channel name")
    assert board["channels"] == "fan1, fan2, fan3, temp1, temp2, temp3, temp4"


def test_targets_of_control_high_and_critical_limits_stand_apart(machine: Path) -> None:
    """The kernel's documentation of coretemp: `max` is where all cooling should run."""
    files = {
        "temp1_input": "45000",
        "temp1_max": "80000",
        "temp1_crit": "100000",
        "temp1_label": "Package id 0",
    }
    chip(machine, 7, "sys/devices/platform/coretemp.0", "coretemp", files)
    more = {"temp1_max_hyst": "70000", "temp1_emergency": "95000", "temp1_crit_hyst": "80000"}
    for name, text in more.items():
        write(machine, f"{NVME}/nvme/nvme0/hwmon/hwmon1/{name}", f"{text}\n")
    got = read(machine)
    processor, drive = got["platform:coretemp.0"], got["pci:0000:04:00.0"]
    assert (processor["temp1_control_target_c"], processor["temp1_critical_c"]) == (80.0, 100.0)
    assert "temp1_high_c" not in processor
    assert (drive["temp1_high_c"], drive["temp1_critical_c"]) == (81.85, 84.85)
    assert (drive["temp1_emergency_c"], drive["temp1_high_clears_c"], drive["temp1_critical_clears_c"]) == (
        95.0,
        70.0,
        80.0,
    )


def test_limits_that_cannot_be_are_named_and_none_is_made_of_zero(machine: Path) -> None:
    write(machine, f"{NVME}/nvme/nvme0/hwmon/hwmon1/temp1_max", "0\n")
    parsed = parse(tuple(capture(Root(machine))))
    got = facts(parsed)
    assert got["pci:0000:00:18.3"]["temp1_control_target_c"] is Absent.IMPLAUSIBLE  # 65,261.85
    assert got["pci:0000:04:00.0"]["temp1_high_c"] is Absent.NOT_OFFERED
    assert [remark.where for remark in parsed.remarks] == ["pci:0000:00:18.3: temp1_control_target_c"]


def test_trip_points_of_a_zone_are_limits_by_their_kinds(machine: Path) -> None:
    zone = "sys/class/thermal/thermal_zone0"
    for number, (kind, text) in enumerate(
        (("passive", "95000"), ("active", "60000"), ("active", "50000"), ("hot", "100000")), 1
    ):
        write(machine, f"{zone}/trip_point_{number}_type", f"{kind}\n")
        write(machine, f"{zone}/trip_point_{number}_temp", f"{text}\n")
    got = read(machine)
    assert got["thermal:thermal_zone0"] == {
        "name": "acpitz",
        "channels": "temp",
        "temp_critical_c": 105.0,
        "temp_control_target_c": 50.0,
        "temp_high_c": 100.0,
    }
    assert "thermal:thermal_zone1" not in got  # shown as a chip


def test_only_files_that_are_there_are_asked_for(machine: Path) -> None:
    hwmon = next(reply for reply in capture(Root(machine)) if reply.id == "sensors.hwmon")
    assert b'"absent"' not in hwmon.data


@pytest.mark.parametrize(
    ("value", "part"),
    [
        (-128.0, "signed byte"),
        (127.0, "signed byte"),
        (127.5, "nine bits"),
        (255.0, "all bits"),
        (65261.85, "kelvin"),
        (-273.15, "kelvin"),
        (-41.0, "below"),
        (151.0, "above"),
        (math.nan, "no number"),
        (math.inf, "no number"),
    ],
)
def test_what_cannot_be_a_temperature_has_its_reason(value: float, part: str) -> None:
    reason = implausible_temperature(value)
    assert reason is not None and part in reason


@pytest.mark.parametrize("value", [-40.0, 0.0, 41.5, 126.9, 127.1, 150.0])
def test_what_may_be_a_temperature_has_none(value: float) -> None:
    assert implausible_temperature(value) is None
    assert temperature_c(str(round(value * 1000))) == value
    assert temperature_c("9" * 600) is fan_rpm("9" * 600) is power_w("9" * 600) is None


def test_listings_of_any_text_raise_nothing() -> None:
    rows = (
        b'{"path":"/sys/class/hwmon","names":["hwmon0"]}\n'
        b'{"path":"/sys/class/hwmon/hwmon0","names":["temp1_input","temp99999999999_input","fan_input"]}\n'
        b'{"path":"/sys/class/hwmon/hwmon0/temp1_max","text":"1e9"}\n'
        b'{"path":"/sys/class/hwmon/hwmon0/temp1_crit","text":"%d"}\n'
    ) % 10**600
    (got,) = facts(parse((Reply("sensors.hwmon", "/sys/class/hwmon", SourceOutcome.READ, rows),))).values()
    assert got["temp1_high_c"] is got["temp1_critical_c"] is Absent.IMPLAUSIBLE
    assert got["name"] is Absent.NOT_OFFERED


def test_a_target_is_no_limit_that_a_guard_stops_at(tmp_path: Path) -> None:
    """A processor without a critical value regulates at its `max` by design: only the shop's limit holds."""
    for number, (name, folder) in enumerate((("k10temp", "k10.0"), ("nct6798", "nct.0")), 1):
        files = {"temp1_input": "41000", "temp1_max": "70000"}
        chip(tmp_path, number, f"sys/devices/platform/{folder}", name, files)
    found = {column.place: column.high for column in columns(tuple(capture(Root(tmp_path))))}
    assert found == {"platform:k10.0": None, "platform:nct.0": 70.0}
