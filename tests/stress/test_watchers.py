"""Signs of a fault that are waited for beside a burn-in: kernel's log, counters, drives' health."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shipworthy.machine.counters import list_counters, total
from shipworthy.machine.health import DriveHealthReader
from shipworthy.machine.parse.boot_log.errors import ErrorKind
from shipworthy.machine.root import Root
from shipworthy.messages import sentence
from shipworthy.model.base import Value
from shipworthy.model.runlog import Event, LogLine
from shipworthy.model.time import SystemClock
from shipworthy.stress.counters import AGAIN_S, Rises
from shipworthy.stress.health import HealthChanges
from shipworthy.stress.kernel_watch import KernelLog, error_in, events_of, place_in
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.watching import Watching
from tests.machine.drive_pages import ASLEEP, AWAKE, sense, smart_data
from tests.machine.recorded import NVME, build, write

NVME_PLACE, ATA_PLACE = "pci:0000:04:00.0/nvme-ns-1", "pci:0000:00:17.0/ata-2"
AER = f"{NVME}/aer_dev_correctable"
AER_TEXT = "RxErr {0}\nBadTLP 0\nBadDLLP {1}\nRollover 0\nTimeout 0\nTOTAL_ERR_COR {2}\n"


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    root = build(tmp_path / "machine")
    write(root, AER, AER_TEXT.format(0, 0, 0))
    edac = "sys/devices/system/edac/mc/mc0"
    for name, text in {
        "ce_count": "3",
        "ce_noinfo_count": "0",
        "ue_noinfo_count": "0",
        "dimm1/dimm_ce_count": "3",
        "dimm1/dimm_ue_count": "0",
    }.items():
        write(root, f"{edac}/{name}", text + "\n")
    return root


def named(event: tuple[Value, ...]) -> dict[str, Any]:
    return {value.name: value.value for value in event}


def counts(root: Path) -> dict[tuple[str, str], int | None]:
    return {(counter.name, counter.place): counter.read() for counter in list_counters(Root(root))}


def test_counters_are_named_and_placed_as_the_reading_places_parts(machine: Path) -> None:
    assert counts(machine) == {
        ("pcie correctable errors", "pci:0000:04:00.0"): 0,
        ("corrected memory errors", "edac:mc0"): 0,
        ("uncorrected memory errors", "edac:mc0"): 0,
        ("corrected memory errors", "edac:mc0/dimm-1"): 3,
        ("uncorrected memory errors", "edac:mc0/dimm-1"): 0,
        ("thermal throttling", "socket:0"): 7,
    }


def test_rows_of_channels_count_where_a_driver_knows_no_modules(tmp_path: Path) -> None:
    edac = "sys/devices/system/edac/mc/mc1"
    write(tmp_path, f"{edac}/csrow0/ch1_ce_count", "2\n")
    write(tmp_path, f"{edac}/csrow0/ch1_dimm_label", "x\n")
    assert counts(tmp_path) == {("corrected memory errors", "edac:mc1/csrow-0-channel-1"): 2}


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("7", 7),
        ("RxErr 1\nBadTLP 2\nTOTAL_ERR_COR 4", 4),
        ("RxErr 1\nBadTLP 2", 3),
        ("", None),
        ("n/a", None),
    ],
)
def test_a_counters_text_is_one_number_or_named_rows(text: str, number: int | None) -> None:
    assert total(text) == number


def test_a_rise_is_told_at_once_then_seldom_and_the_rest_at_the_end() -> None:
    rises, key = Rises(), ("pcie correctable errors", "pci:0000:04:00.0")
    assert rises.look({key: 5}, 0.0) == []
    (first,) = rises.look({key: 7}, 2.0)
    assert named(first) == {"counter": key[0], "place": key[1], "before": 5, "now": 7}
    assert rises.look({key: 9}, 4.0) == []
    (later,) = rises.look({key: 12}, 2.0 + AGAIN_S)
    assert (named(later)["before"], named(later)["now"]) == (7, 12)
    assert rises.look({key: 13}, 40.0) == []
    (last,) = rises.look({key: 13}, 41.0, last=True)
    assert (named(last)["before"], named(last)["now"]) == (12, 13)


def test_a_counter_that_was_set_back_or_went_away_is_no_rise() -> None:
    rises, key = Rises(), ("corrected memory errors", "edac:mc0")
    rises.look({key: 5}, 0.0)
    assert rises.look({key: None}, 1.0) == rises.look({key: 0}, 2.0) == []
    (rise,) = rises.look({key: 1}, 3.0)
    assert (named(rise)["before"], named(rise)["now"]) == (0, 1)


def awake(root: Path, reallocated: int, crc: int = 0, passed: bool = True) -> None:
    rows = [(5, 100, 100, reallocated), (197, 100, 100, 0), (199, 100, 100, crc)]
    write(root, "replies/sda/ata-power-mode.bin", sense(count=AWAKE))
    write(root, "replies/sda/ata-smart.bin", smart_data(rows))
    registers = {"mid": 0x4F, "high": 0xC2} if passed else {"mid": 0xF4, "high": 0x2C}
    write(root, "replies/sda/ata-smart-status.bin", sense(**registers))


def smart_log(root: Path, **bytes_at: int) -> None:
    path = root / "replies/nvme0/smart-log.bin"
    page = bytearray(path.read_bytes())
    for name, value in bytes_at.items():
        page[int(name.removeprefix("at_"))] = value
    path.write_bytes(page)


def test_a_drives_health_is_told_where_it_changed_against_the_start(machine: Path) -> None:
    awake(machine, reallocated=0)
    reader, changes = DriveHealthReader(Root(machine)), HealthChanges()
    first = {drive.place: drive for drive in reader.read()}
    assert set(first) == {NVME_PLACE, ATA_PLACE}
    assert (first[ATA_PLACE].serial, first[NVME_PLACE].serial) == ("QA4-0017", "QR1TB000451")
    assert changes.look(first.values()) == []
    awake(machine, reallocated=8, crc=2, passed=False)
    smart_log(machine, at_0=1, at_3=9, at_160=4)
    found = {(code, named(e)["place"], named(e)["attribute"]): e for code, e in changes.look(reader.read())}
    assert set(found) == {
        ("drive.health", ATA_PLACE, "reallocated sectors"),
        ("drive.health", ATA_PLACE, "link errors"),
        ("drive.health", ATA_PLACE, "health self-assessment"),
        ("drive.health", NVME_PLACE, "critical warning"),
        ("drive.health", NVME_PLACE, "available spare"),
        ("drive.health", NVME_PLACE, "media errors"),
    }
    warning = named(found["drive.health", NVME_PLACE, "critical warning"])
    assert (warning["before"], warning["now"]) == ("none", "spare below threshold")
    assessed = named(found["drive.health", ATA_PLACE, "health self-assessment"])
    assert (assessed["before"], assessed["now"]) == ("passed", "failed")
    assert changes.look(reader.read()) == []
    awake(machine, reallocated=9, crc=2, passed=False)
    ((_, again),) = changes.look(reader.read())
    assert (named(again)["before"], named(again)["now"]) == (0, 9)


def test_a_drive_that_sleeps_is_not_asked_and_one_that_refuses_is_told_once(machine: Path) -> None:
    awake(machine, reallocated=0)
    write(machine, "replies/sda/ata-power-mode.bin", sense(count=ASLEEP))
    (machine / "replies/nvme0/smart-log.bin").write_bytes(b"")
    reader, changes = DriveHealthReader(Root(machine)), HealthChanges()
    ((code, event),) = changes.look(reader.read())
    assert (code, named(event)["place"]) == ("drive.health-not-read", NVME_PLACE)
    assert changes.look(reader.read()) == []


def record(text: str, priority: int = 3) -> bytes:
    return f"{priority},100,5000000,-;{text}\n SUBSYSTEM=pci\n".encode()


def test_of_the_kernels_records_only_its_own_errors_of_hardware_count() -> None:
    line = "pcieport 0000:00:01.2: PCIe Bus Error: severity=Corrected, type=Data Link Layer, (Receiver ID)"
    heard = error_in(record(line))
    assert heard is not None and (heard.kind, heard.line) == (ErrorKind.LINK, line)
    assert error_in(record(line, priority=8 + 3)) is None  # a program's, not the kernel's
    assert error_in(record("usb 1-2: new high-speed USB device number 4 using xhci_hcd")) is None
    assert error_in(b"\xff\xfe garbage") is None


@pytest.mark.parametrize(
    ("line", "place"),
    [
        ("nvme nvme0: I/O 12 QID 3 timeout, aborting", NVME_PLACE),
        ("I/O error, dev nvme0n1, sector 99", NVME_PLACE),
        ("I/O error, dev sda, sector 99 op 0x0:(READ)", ATA_PLACE),
        ("ata5.00: error: { UNC }", ATA_PLACE),
        ("pcieport 0000:00:01.2: PCIe Bus Error: severity=Corrected", "pci:0000:00:01.2"),
        ("EDAC MC0: 1 CE memory read error on DIMM_A1", "edac:mc0"),
        ("mce: [Hardware Error]: CPU 3: Machine Check: 0 Bank 5: bea0000000000108", "cpu:3"),
        ("I/O error, dev sdz, sector 99", ""),
        ("Kernel panic - not syncing: Fatal exception", ""),
    ],
)
def test_a_line_names_a_part_by_its_place(machine: Path, line: str, place: str) -> None:
    assert place_in(Root(machine), line) == place


def test_a_storm_of_lines_is_one_event_for_each_kind_and_place(machine: Path) -> None:
    lines = [f"I/O error, dev sda, sector {n}" for n in range(1000)]
    heard = [one for line in lines if (one := error_in(record(line))) is not None]
    (event,) = events_of(Root(machine), heard)
    assert named(event) == {"kind": "disk error", "place": ATA_PLACE, "count": 1000, "line": lines[0]}


def watched(
    root: Path, act: Callable[[], None], done: Callable[[list[LogLine]], bool], **more: str
) -> list[Event]:
    """Watch a machine, act once it is being watched, and leave when it is done."""
    lines: list[LogLine] = []
    log = SegmentLog(lines.append, SystemClock())
    with Watching(Root(root), log, **more) as watching:
        time.sleep(0.5)  # let each have its first look; what comes later is a change
        act()
        end_s = time.monotonic() + 60
        while not done(lines) and time.monotonic() < end_s:
            time.sleep(0.05)
    watching.check()
    return [line for line in lines if isinstance(line, Event)]


def codes(lines: list[LogLine]) -> list[str]:
    return [line.code for line in lines if isinstance(line, Event)]


def test_what_changes_while_a_machine_is_watched_is_in_the_log(machine: Path) -> None:
    awake(machine, reallocated=0)

    def act() -> None:
        write(machine, AER, AER_TEXT.format(2, 3, 5))
        awake(machine, reallocated=4)

    events = watched(machine, act, lambda lines: "counter.rose" in codes(lines))
    rise = next(named(e.values) for e in events if e.code == "counter.rose")
    assert (rise["counter"], rise["now"]) == ("pcie correctable errors", 5)
    health = next(
        named(e.values) for e in events if e.code == "drive.health"
    )  # at the end, for the last time
    assert (health["attribute"], health["before"], health["now"]) == ("reallocated sectors", 0, 4)
    said = [sentence(e.code, e.values).say for e in events]
    assert said and not [text for text in said if "{" in text]


def test_a_log_of_the_kernels_that_may_not_be_read_is_said_once(machine: Path, tmp_path: Path) -> None:
    missing = str(tmp_path / "no-such-device")
    events = watched(
        machine, lambda: None, lambda lines: "kernel.not-read" in codes(lines), kernel_log=missing
    )
    assert [e.code for e in events if e.code.startswith("kernel.")] == ["kernel.not-read"]


def test_the_kernels_own_log_is_read_from_its_end_and_never_waited_for() -> None:
    try:
        kernel = KernelLog()
    except OSError as error:
        pytest.skip(f"/dev/kmsg: {os.strerror(error.errno or 0)}")
    assert kernel.heard() == []
    kernel.close()
