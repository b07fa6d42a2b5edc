"""Batteries and adapters: what they hold, and what they say that cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.capture import battery as capture_battery
from shipworthy.machine.parse import battery
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.devices import by_place, failing, files, read
from tests.machine.facts_of import facts_of
from tests.machine.recorded import link
from tests.machine.ttar import unpack

ACPI = "sys/devices/LNXSYSTM:00/LNXSYBUS:00/PNP0A08:00/device:19/PNP0C0A:00"
TEXTS = {
    "type": "Battery",
    "present": "1",
    "status": "Discharging",
    "technology": "Li-ion",
    "manufacturer": "Norvik",
    "model_name": "NB-50",
    "serial_number": "38109",
    "capacity": "81",
    "cycle_count": "112",
    "energy_now": "36580000",
    "energy_full": "45070000",
    "energy_full_design": "47520000",
    "voltage_now": "11660000",
    "voltage_min_design": "10800000",
}


def supply(root: Path, name: str, device: str = ACPI, **texts: str) -> None:
    files(root, f"{device}/power_supply/{name}", texts)
    link(root, f"{device}/power_supply/{name}/device", device)
    link(root, f"sys/class/power_supply/{name}", f"{device}/power_supply/{name}")


def one(root: Path, **changed: str) -> dict[str, object]:
    supply(root, "BAT0", **{**TEXTS, **changed})
    (told,) = by_place(read(root, capture_battery.capture, battery.parse)).values()
    return told


def test_a_battery_tells_what_it_holds_against_its_design(tmp_path: Path) -> None:
    supply(tmp_path, "BAT0", **TEXTS)
    parsed = read(tmp_path, capture_battery.capture, battery.parse)
    (sighting,) = parsed.sightings
    assert (sighting.kind, sighting.place) == (PartKind.BATTERY, "acpi:PNP0C0A:00")
    assert facts_of(sighting.said) == {
        "kernel_name": "BAT0",
        "of_a_device": False,
        "present": True,
        "maker": "Norvik",
        "model": "NB-50",
        "serial": "38109",
        "status": "Discharging",
        "technology": "Li-ion",
        "capacity_percent": 81,
        "cycles": 112,
        "voltage_mv": 11660,
        "voltage_design_mv": 10800,
        "energy_full_wh": 45.07,
        "energy_design_wh": 47.52,
        "energy_now_wh": 36.58,
        "health_ratio": 0.9484,
    }
    assert parsed.remarks == ()


def test_a_battery_that_counts_charge_has_its_health_by_that(tmp_path: Path) -> None:
    texts = {name: text for name, text in TEXTS.items() if not name.startswith("energy")}
    supply(tmp_path, "BAT0", **texts, charge_full="4000000", charge_full_design="5000000", charge_now="1")
    (told,) = by_place(read(tmp_path, capture_battery.capture, battery.parse)).values()
    assert (told["charge_full_ah"], told["charge_design_ah"], told["health_ratio"]) == (4.0, 5.0, 0.8)
    assert "energy_full_wh" not in told


@pytest.mark.parametrize(
    ("file", "text", "field", "told"),
    [
        ("cycle_count", "0", "cycles", Absent.NOT_OFFERED),
        ("cycle_count", "-1", "cycles", Absent.NOT_OFFERED),
        ("cycle_count", "65535", "cycles", Absent.IMPLAUSIBLE),
        ("capacity", "101", "capacity_percent", Absent.IMPLAUSIBLE),
        ("capacity", "-3", "capacity_percent", Absent.IMPLAUSIBLE),
        ("voltage_now", "0", "voltage_mv", Absent.IMPLAUSIBLE),
        ("voltage_now", "4294967295", "voltage_mv", Absent.IMPLAUSIBLE),
        ("status", "Unknown", "status", Absent.NOT_OFFERED),
        ("serial_number", "00000", "serial", Absent.NOT_OFFERED),
        ("energy_full_design", "0", "health_ratio", Absent.NOT_OFFERED),
        ("energy_full_design", "0", "energy_design_wh", Absent.NOT_OFFERED),
        ("energy_full", "much", "health_ratio", Absent.IMPLAUSIBLE),
        ("energy_full", "95040000", "health_ratio", 2.0),
    ],
)
def test_what_cannot_be_is_no_number(tmp_path: Path, file: str, text: str, field: str, told: object) -> None:
    assert one(tmp_path, **{file: text})[field] == told


def test_a_battery_that_holds_more_than_twice_its_design_is_named(tmp_path: Path) -> None:
    supply(tmp_path, "BAT0", **{**TEXTS, "energy_full": "95050000"})
    parsed = read(tmp_path, capture_battery.capture, battery.parse)
    assert facts_of(parsed.sightings[0].said)["health_ratio"] is Absent.IMPLAUSIBLE
    assert [(r.kind, r.detail) for r in parsed.remarks] == [
        (RemarkKind.BAD_VALUE, "full 95.05, design 47.52")
    ]


def test_an_empty_bay_is_no_battery_of_zero(tmp_path: Path) -> None:
    told = one(tmp_path, present="0", capacity="0", energy_full="0")
    assert told == {"kernel_name": "BAT0", "of_a_device": False, "present": False}


def test_a_mouses_cell_is_a_devices_own_and_adapters_are_named(tmp_path: Path) -> None:
    mouse = "sys/devices/pci0000:00/0000:00:14.0/usb1/1-4/1-4:1.2/0003:046D:C52B.0003"
    supply(tmp_path, "hidpp_battery_0", mouse, type="Battery", scope="Device", status="Discharging")
    supply(tmp_path, "AC", "sys/devices/platform/ACPI0003:00", type="Mains", online="1")
    supply(tmp_path, "ucsi0", "sys/devices/platform/USBC000:00", type="USB", online="2")
    parsed = read(tmp_path, capture_battery.capture, battery.parse)
    told = by_place(parsed)
    assert told["pci:0000:00:14.0/usb-1-4"]["of_a_device"] is True
    assert told["acpi:ACPI0003:00"] == {"kernel_name": "AC", "type": "Mains", "online": True}
    assert told["acpi:USBC000:00"] == {"kernel_name": "ucsi0", "type": "USB", "online": True}
    kinds = [s.kind for s in parsed.sightings]
    assert kinds.count(PartKind.POWER_SUPPLY) == 2


def test_a_value_that_fails_costs_its_own_field_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing(monkeypatch, "/energy_full")
    told = one(tmp_path)
    assert (told["energy_full_wh"], told["health_ratio"]) == (Absent.NOT_READABLE, Absent.NOT_OFFERED)
    assert (told["capacity_percent"], told["model"]) == (81, "NB-50")


def test_a_machine_without_a_battery_has_no_part_of_it(tmp_path: Path) -> None:
    assert read(tmp_path, capture_battery.capture, battery.parse).sightings == ()
    (tmp_path / "sys/class/power_supply").mkdir(parents=True)
    assert read(tmp_path, capture_battery.capture, battery.parse).sightings == ()


def test_the_recorded_notebook_is_read_without_the_rubbish_behind_its_model(
    reference: Path, tmp_path: Path
) -> None:
    root = unpack(reference / "linux-sysfs/node_exporter/sys.ttar", tmp_path)
    parsed = read(root, capture_battery.capture, battery.parse)
    told = by_place(parsed)["power:BAT0"]
    assert (told["model"], told["health_ratio"]) == ("LNV-45N1", round(45070000 / 47520000, 4))
    assert told["cycles"] is Absent.NOT_OFFERED  # it says 0, and holds 5 % less than its design
    assert [(r.kind, r.where) for r in parsed.remarks] == [
        (RemarkKind.BAD_VALUE, "/sys/class/power_supply/BAT0/model_name")
    ]
