"""The machine's own code reads the unit: every part with its serial, every fault, and nothing else."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shipworthy.machine.mounts import drives_holding
from shipworthy.machine.reading import read_configuration, take_reading
from shipworthy.machine.root import Root
from shipworthy.machine.sensors import Sampler, list_columns
from shipworthy.model.base import Scalar
from shipworthy.model.reading import PortState, Reading, SourceOutcome
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Absent, PartKind, RemarkKind
from shipworthy.sim.feed import Feed
from shipworthy.sim.parts import Fault
from shipworthy.sim.unit import build

_DRIVE = "pci:0000:03:00.0/nvme-ns-1"
_USED = (
    "power_on_hours",
    "power_cycles",
    "written_bytes",
    "read_bytes",
    "percentage_used",
    "unsafe_shutdowns",
    "busy_minutes",
    "host_read_commands",
    "host_write_commands",
)


def _unit(folder: Path, *faults: Fault) -> Root:
    device = folder.parent.stat().st_dev
    numbers = (os.major(device), os.minor(device))
    return build(
        folder, frozenset(faults), cpus=tuple(sorted(os.sched_getaffinity(0)))[:2], device_number=numbers
    )


def _read(root: Root) -> Reading:
    return take_reading(root, lambda name, data: None, nonce=None, clock=PretendClock())


def _facts(reading: Reading) -> dict[tuple[str, str], Scalar | Absent | None]:
    return {
        (p.place, f.name): f.absent if f.value is None else f.value for p in reading.parts for f in p.facts
    }


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Reading:
    return _read(_unit(tmp_path_factory.mktemp("sim") / "unit"))


def test_no_source_is_refused_or_fails(sound: Reading) -> None:
    # A PC without lists of names, thermal zones, radios, batteries and the like is a usual one.
    missing = {row.id: row.outcome for row in sound.sources if row.outcome is not SourceOutcome.READ}
    assert set(missing.values()) == {SourceOutcome.ABSENT}
    present = {"smbios", "cpuinfo", "topology", "block", "nvme", "pci", "network", "displays", "kernel"}
    assert present.isdisjoint(missing)
    assert sound.remarks == tuple(r for r in sound.remarks if r.kind is RemarkKind.PLACEHOLDER)


def test_every_part_that_has_a_serial_is_found_with_it(sound: Reading) -> None:
    serials = {(p.kind, p.place): p.text("serial") for p in sound.parts if p.text("serial")}
    assert serials == {
        (PartKind.SYSTEM, "system"): "KDQ4-26-0093",
        (PartKind.BOARD, "board"): "HB6Q-71150934",
        (PartKind.CHASSIS, "chassis"): "OF2-004417",
        (PartKind.MEMORY_MODULE, "smbios:DIMM_A2/BANK 1"): "2F61C0A4",
        (PartKind.MEMORY_MODULE, "smbios:DIMM_B2/BANK 3"): "2F61C0B7",
        (PartKind.STORAGE, _DRIVE): "QM2A26070088153",
        (PartKind.DISPLAY, "drm:card0-DP-1"): "L27Q6A01938",
    }


def test_what_the_order_asks_is_what_is_read(sound: Reading) -> None:
    facts = _facts(sound)
    assert facts["socket:0", "model"] == "Tarn C7"
    assert facts["board", "model"] == "Holloway B6-Q"
    assert facts["memory", "fitted_bytes"] == 2 * facts["smbios:DIMM_A2/BANK 1", "size_bytes"] == 16 * 2**30  # type: ignore[operator]
    assert facts["smbios:DIMM_B2/BANK 3", "configured_speed_mt_s"] == 6000
    assert facts["smbios:DIMM_A1/BANK 0", "size_bytes"] is Absent.NOT_FITTED
    assert facts[_DRIVE, "model"] == "Quarrel M2 1TB"
    assert facts[_DRIVE, "size_bytes"] == 1_000_204_886_016
    assert facts[_DRIVE, "power_on_hours"] == 2
    assert (facts["drm:card0-DP-1", "width_px"], facts["drm:card0-DP-1", "height_px"]) == (2560, 1440)
    assert facts["drm:card0-DP-1", "refresh_hz"] == pytest.approx(59.95, abs=0.01)
    assert facts["pci:0000:01:00.0", "vendor_id"] == "0x5ab1"
    assert facts["firmware", "mode"] == "UEFI"


def test_its_witnesses_agree_and_a_nameless_card_stays_nameless(sound: Reading) -> None:
    disputed = [(p.place, f.name) for p in sound.parts for f in p.facts if f.disputed]
    assert disputed == []
    (card,) = sound.of_kind(PartKind.GRAPHICS)
    assert card.value("model") is None


def test_the_screen_shows_which_port_to_use(sound: Reading) -> None:
    states = {port.place: port.state for port in sound.ports if port.place.startswith("drm:")}
    assert states.pop("drm:card0-DP-1") is PortState.USE
    assert set(states.values()) == {PortState.UNTESTED}


@pytest.mark.parametrize(
    ("fault", "planted"),
    [
        (Fault.WRONG_PART, {("socket:0", "model"): "Tarn C5"}),
        (
            Fault.PROFILE_OFF,
            {
                ("smbios:DIMM_A2/BANK 1", "configured_speed_mt_s"): 4800,
                ("smbios:DIMM_B2/BANK 3", "configured_speed_mt_s"): 4800,
            },
        ),
        (
            Fault.DRIVE_NOT_NEW,
            dict(
                zip(
                    [(_DRIVE, name) for name in _USED],
                    (3112, 410, 18_000_000_000_000, 21_400_000_000_000, 3, 37, 300, 326_538_085, 274_658_203),
                    strict=True,
                )
            ),
        ),
    ],
)
def test_a_faulty_unit_differs_in_the_planted_facts_and_no_other(
    tmp_path: Path, sound: Reading, fault: Fault, planted: dict[tuple[str, str], Scalar]
) -> None:
    expected, found = _facts(sound), _facts(_read(_unit(tmp_path / "unit", fault)))
    assert found.keys() == expected.keys()
    assert {key: value for key, value in found.items() if value != expected[key]} == planted


def test_a_reading_says_that_it_is_of_a_simulated_unit(sound: Reading) -> None:
    assert sound.simulated


def test_files_beside_it_lie_on_its_drive(tmp_path: Path) -> None:
    assert drives_holding(_unit(tmp_path / "unit"), tmp_path) == (_DRIVE,)


def test_the_sampler_sees_what_the_feed_moves(tmp_path: Path) -> None:
    root = _unit(tmp_path / "unit")
    columns = list_columns(root)
    quantities = {column.quantity for column in columns}
    assert quantities == {
        *("temperature", "fan", "power", "clock", "utilisation", "throttle"),
        *("link speed", "link width"),
    }
    package = next(c for c in columns if (c.place, c.channel) == ("platform:coretemp.0", "temp1"))
    assert (package.high, package.critical) == (None, 95.0)  # coretemp regulates at its `max`
    sampler, clock = Sampler(root, columns), PretendClock()
    feed = Feed(root, clock=clock)
    sampler.sample()
    clock.sleep_s(1.0)
    feed.beat()
    row = dict(zip(columns, sampler.sample(), strict=True))
    assert all(
        row[column] is not None for column in columns if column.quantity in ("temperature", "fan", "clock")
    )
    assert 35.0 < (row[package] or 0.0) < 95.0


def test_the_configuration_does_not_move_with_the_sensors(tmp_path: Path) -> None:
    root, clock = _unit(tmp_path / "unit"), PretendClock()
    before = read_configuration(root, clock)
    feed = Feed(root, clock=clock)
    clock.sleep_s(30.0)
    feed.beat()
    assert read_configuration(root, clock) == before
    assert before == _read(root).configuration
