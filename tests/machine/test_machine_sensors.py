"""Columns and samples: what a recorded machine has, and what of it is believed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.mounts import drives_holding
from shipworthy.machine.parse.sensors.source import (
    clock_mhz,
    cpu_times,
    fan_rpm,
    limit_c,
    power_w,
    temperature_c,
)
from shipworthy.machine.root import LIVE, Root
from shipworthy.machine.sensors import Sampler, list_columns
from shipworthy.model.runlog import Column
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Unit
from tests.machine.recorded import NVME, build, chip, link, write


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


def by_name(root: Path) -> dict[tuple[str, str], Column]:
    return {(column.place, column.channel): column for column in list_columns(Root(root))}


def sampled(root: Path, sampler: Sampler, columns: tuple[Column, ...]) -> dict[tuple[str, str], float | None]:
    return dict(zip(((c.place, c.channel) for c in columns), sampler.sample(), strict=True))


def test_a_sensor_is_told_by_its_device_and_named_by_its_driver(machine: Path) -> None:
    columns = by_name(machine)
    drive = columns["pci:0000:04:00.0", "temp1"]
    assert (drive.quantity, drive.unit, drive.label) == ("temperature", Unit.CELSIUS, "Composite")
    assert (drive.high, drive.critical) == (81.85, 84.85)
    assert columns["pci:0000:00:18.3", "temp1"].label == "Tctl"
    assert columns["pci:0000:00:1f.4/i2c-0-0051", "temp1"].critical == 85.0
    assert columns["platform:nct6775.656", "fan1"].unit is Unit.RPM


def test_a_device_that_names_no_sane_limit_names_none(machine: Path) -> None:
    """65261.85 °C is 0xFFFF kelvin, as psutil #1902 shows it."""
    processor = by_name(machine)["pci:0000:00:18.3", "temp1"]
    assert (processor.high, processor.critical) == (None, 95.0)


def test_two_chips_at_one_place_keep_their_channels_apart(machine: Path) -> None:
    write(machine, f"{NVME}/nvme/nvme0/hwmon/hwmon9/name", "other\n")
    write(machine, f"{NVME}/nvme/nvme0/hwmon/hwmon9/temp1_input", "20000\n")
    link(machine, f"{NVME}/nvme/nvme0/hwmon/hwmon9/device", f"{NVME}/nvme/nvme0")
    link(machine, "sys/class/hwmon/hwmon9", f"{NVME}/nvme/nvme0/hwmon/hwmon9")
    columns = list_columns(Root(machine))
    keys = [(column.place, column.channel) for column in columns]
    assert len(set(keys)) == len(keys)
    assert ("pci:0000:04:00.0#other", "temp1") in keys


def test_a_zone_that_is_shown_as_a_chip_too_is_listed_once(machine: Path) -> None:
    columns = by_name(machine)
    assert columns["thermal:thermal_zone0", "temp"].label == "acpitz"
    assert columns["thermal:thermal_zone0", "temp"].critical == 105.0
    assert ("thermal:thermal_zone1", "temp") not in columns


def test_what_cannot_be_so_is_no_value_and_a_standing_fan_is_one(machine: Path) -> None:
    columns = list_columns(Root(machine))
    row = sampled(machine, Sampler(Root(machine), columns, PretendClock()), columns)
    board = "platform:nct6775.656"
    assert row[board, "fan1"] == 842
    assert row[board, "fan2"] == 0
    assert row[board, "fan3"] is None
    assert [row[board, f"temp{n}"] for n in (1, 2, 3, 4)] == [None, None, None, 36.0]
    assert row["pci:0000:00:18.3", "temp1"] == 41.5
    assert row["cpu:0", "scaling_cur_freq"] == 3600
    assert row["socket:0", "package_throttle_count"] == 7


def test_power_is_the_mean_since_the_sample_before(machine: Path) -> None:
    clock, columns = PretendClock(), list_columns(Root(machine))
    sampler = Sampler(Root(machine), columns, clock)
    key = ("socket:0", "intel-rapl:0")
    assert sampled(machine, sampler, columns)[key] is None
    clock.sleep_s(0.5)
    write(machine, "sys/class/powercap/intel-rapl:0/energy_uj", "31000000\n")
    assert sampled(machine, sampler, columns)[key] == 60.0


def test_an_energy_counter_that_wraps_gives_the_right_power(machine: Path) -> None:
    clock, columns = PretendClock(), list_columns(Root(machine))
    write(machine, "sys/class/powercap/intel-rapl:0/energy_uj", "65532600987\n")
    sampler = Sampler(Root(machine), columns, clock)
    sampler.sample()
    clock.sleep_s(1)
    write(machine, "sys/class/powercap/intel-rapl:0/energy_uj", "49990000\n")
    assert sampled(machine, sampler, columns)["socket:0", "intel-rapl:0"] == 50.0


def test_utilisation_is_the_share_of_time_that_was_busy(machine: Path) -> None:
    columns = list_columns(Root(machine))
    sampler = Sampler(Root(machine), columns, PretendClock())
    assert sampled(machine, sampler, columns)["cpu:0", "utilisation"] is None
    #               user nice system idle iowait irq softirq steal guest guest_nice
    write(machine, "proc/stat", "cpu0 40 0 0 20 0 0 0 0 0 0\ncpu1 10 0 0 10 0 0 0 0 0 0\n")
    row = sampled(machine, sampler, columns)
    assert row["cpu:0", "utilisation"] == 0.75
    assert row["cpu:1", "utilisation"] is None  # its counters stand still: nothing is known
    assert row["cpu:2", "utilisation"] is None  # it is gone


def test_time_stolen_by_a_host_and_waiting_is_not_busy() -> None:
    """proc_stat(5): the seven first columns after the name, then steal."""
    assert cpu_times(b"cpu  9 9 9 9\ncpu3 10 1 2 40 5 3 4 35 6 0\nintr 1\n") == {3: (20, 100)}


def test_a_sensor_that_goes_away_gives_nothing_and_spoils_no_other(machine: Path) -> None:
    columns = list_columns(Root(machine))
    sampler = Sampler(Root(machine), columns, PretendClock())
    (machine / NVME / "nvme/nvme0/hwmon/hwmon1/temp1_input").unlink()
    row = sampled(machine, sampler, columns)
    assert row["pci:0000:04:00.0", "temp1"] is None
    assert row["pci:0000:00:18.3", "temp1"] == 41.5


@pytest.mark.parametrize(
    "text", ["", "n/a", "-128000", "127000", "127500", "255000", "65261850", "1e3", "nan"]
)
def test_what_is_no_temperature_of_a_pc_is_none(text: str) -> None:
    assert temperature_c(text) is None


def test_units_are_converted_once() -> None:
    assert temperature_c("41500") == 41.5
    assert temperature_c("-5000") == -5.0
    assert power_w("65000000") == 65.0
    assert clock_mhz("3600000", 1000) == 3600
    assert clock_mhz("2400000000", 1_000_000) == 2400
    assert fan_rpm("65535") is None
    assert limit_c("0") is None and limit_c("-273150") is None and limit_c(None) is None


def test_an_average_counts_where_a_power_has_no_input(machine: Path) -> None:
    chip(
        machine,
        8,
        "sys/devices/pci0000:00/0000:00:01.0/0000:01:00.0",
        "amdgpu",
        {"power1_average": "31000000"},
    )
    columns = list_columns(Root(machine))
    row = sampled(machine, Sampler(Root(machine), columns, PretendClock()), columns)
    assert row["pci:0000:01:00.0", "power1"] == 31.0


def test_small_hwmon_trees_of_a_metrics_agent_are_read(unpacked: Callable[[str], Path]) -> None:
    folder = unpacked("linux-sysfs/telegraf-hwmon-sysfs.tar.xz")
    root = Root(
        next(f for f in (folder, folder / "general", *folder.iterdir()) if (f / "sys/class/hwmon").is_dir())
    )
    columns = list_columns(root)
    assert columns
    row = dict(
        zip([(c.label) for c in columns], Sampler(root, columns, PretendClock()).sample(), strict=True)
    )
    assert row["Composite"] == 35.85
    assert all(value is not None for value in row.values())


def test_the_drive_that_holds_a_folder_has_the_place_of_its_part(machine: Path, tmp_path: Path) -> None:
    import os

    device = tmp_path.stat().st_dev
    numbers = f"{os.major(device)}:{os.minor(device)}"
    block = f"{NVME}/nvme/nvme0/nvme0n1"
    assert drives_holding(Root(machine), tmp_path) == ()
    link(machine, f"sys/dev/block/{numbers}", f"{block}/nvme0n1p1")
    assert drives_holding(Root(machine), tmp_path) == ("pci:0000:04:00.0/nvme-ns-1",)
    assert drives_holding(Root(machine), tmp_path / "no-such-folder") == ()


def test_a_folder_on_a_mapped_device_is_on_the_drive_below_and_on_two_drives_on_both(
    machine: Path, tmp_path: Path
) -> None:
    import os

    device = tmp_path.stat().st_dev
    mapped = "sys/devices/virtual/block/dm-0"
    link(machine, f"{mapped}/slaves/nvme0n1p1", f"{NVME}/nvme/nvme0/nvme0n1/nvme0n1p1")
    link(machine, f"sys/dev/block/{os.major(device)}:{os.minor(device)}", mapped)
    assert drives_holding(Root(machine), tmp_path) == ("pci:0000:04:00.0/nvme-ns-1",)
    link(
        machine,
        f"{mapped}/slaves/sda",
        "sys/devices/pci0000:00/0000:00:17.0/ata5/host4/target4:0:0/4:0:0:0/block/sda",
    )
    assert len(drives_holding(Root(machine), tmp_path)) == 2


def test_on_this_machine_the_drive_of_a_folder_is_one_of_its_parts_or_unknown(tmp_path: Path) -> None:
    from shipworthy.machine.reading import take_reading

    places = drives_holding(LIVE, tmp_path)
    reading = take_reading(LIVE, lambda name, data: None, nonce=None, clock=PretendClock())
    assert all(reading.at(place) is not None for place in places)
