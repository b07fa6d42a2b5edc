"""NVMe and ATA replies to facts: offsets against the published tables, and replies that lie."""

from __future__ import annotations

import csv
import ctypes
import fcntl
from pathlib import Path

import pytest

from shipworthy.machine.capture import commands
from shipworthy.machine.parse import ata_pages, nvme
from shipworthy.machine.root import Root
from shipworthy.model.facts import Said
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent
from tests.machine.recorded import (
    ata_identify,
    ata_statistics,
    health_log,
    identify_controller,
    identify_namespace,
)


def values(fields: tuple[Said, ...]) -> dict[str, object]:
    return {field.name: field.value if field.absent is None else field.absent for field in fields}


def offsets(reference: Path, name: str) -> dict[str, tuple[int, int]]:
    with (reference / "check-values" / name).open() as file:
        return {row["field"]: (int(row["offset"]), int(row["length"])) for row in csv.DictReader(file)}


@pytest.mark.parametrize(
    ("row", "field", "factor"),
    [
        ("critical_warning", "critical_warning", 1),
        ("available_spare", "available_spare_percent", 1),
        ("percentage_used", "percentage_used", 1),
        ("data_units_read", "read_bytes", 512_000),
        ("data_units_written", "written_bytes", 512_000),
        ("power_cycles", "power_cycles", 1),
        ("power_on_hours", "power_on_hours", 1),
        ("unsafe_shutdowns", "unsafe_shutdowns", 1),
        ("media_and_data_integrity_errors", "media_errors", 1),
    ],
)
def test_each_field_of_the_health_log_lies_where_the_table_says(
    reference: Path, row: str, field: str, factor: int
) -> None:
    """Offsets of libnvme's nvme_smart_log (check-values/nvme-smart-log-02h.csv)."""
    at, length = offsets(reference, "nvme-smart-log-02h.csv")[row]
    page = bytearray(512)
    page[511] = 1  # a page of one byte repeated would be none
    page[at : at + length] = (123).to_bytes(length, "little")
    assert values(nvme.health_facts(bytes(page)))[field] == 123 * factor


def test_the_identity_of_a_controller_lies_where_the_table_says(reference: Path) -> None:
    """Offsets of libnvme's nvme_id_ctrl (check-values/nvme-identify-controller.csv)."""
    rows = offsets(reference, "nvme-identify-controller.csv")
    page = bytearray(4096)
    for name, text in (("sn", b"SN-1"), ("mn", b"Quarrel M2"), ("fr", b"1.0")):
        at, length = rows[name]
        page[at : at + length] = text.ljust(length)
    for name, kelvin in (("wctemp", 353), ("cctemp", 358)):
        at, length = rows[name]
        page[at : at + length] = kelvin.to_bytes(length, "little")
    assert values(nvme.controller_facts(bytes(page))) == {
        "serial": "SN-1",
        "model": "Quarrel M2",
        "firmware_version": "1.0",
        "temperature_warning_c": 80,
        "temperature_critical_c": 85,
    }


def test_a_million_data_units_are_half_a_terabyte() -> None:
    """check-values/storage.md, worked: 1,000,000 units are 512,000,000,000 B."""
    assert values(nvme.health_facts(health_log(units_written=1_000_000)))["written_bytes"] == 512_000_000_000


def test_no_data_units_mean_not_reported() -> None:
    """check-values/storage.md: 0 = not reported."""
    assert values(nvme.health_facts(health_log(units_written=0)))["written_bytes"] is Absent.NOT_OFFERED


@pytest.mark.parametrize(
    ("page", "reason"),
    [
        (b"\xff" * 512, Absent.IMPLAUSIBLE),
        (b"\0" * 512, Absent.NOT_OFFERED),
        (b"\1" * 100, Absent.IMPLAUSIBLE),
        (b"", Absent.IMPLAUSIBLE),
    ],
)
def test_a_health_log_of_nothing_gives_no_counters(page: bytes, reason: Absent) -> None:
    assert set(values(nvme.health_facts(page)).values()) == {reason}


def test_a_limit_of_all_ones_is_no_limit() -> None:
    assert nvme.kelvin_limit_c(0xFFFF) is Absent.NOT_OFFERED
    assert nvme.kelvin_limit_c(0) is Absent.NOT_OFFERED


def test_a_counter_of_all_ones_is_implausible() -> None:
    page = bytearray(health_log())
    page[128:144] = b"\xff" * 16
    assert values(nvme.health_facts(bytes(page)))["power_on_hours"] is Absent.IMPLAUSIBLE


def test_a_namespace_has_its_size_in_blocks_of_its_format() -> None:
    """1000 GB are 1,953,525,168 blocks of 512 (IDEMA LBA1-03 by check-values/storage-lba.csv)."""
    facts = values(nvme.namespace_facts(identify_namespace(1_953_525_168)))
    assert facts == {"size_bytes": 1_000_204_886_016, "logical_block_bytes": 512}
    page = bytearray(identify_namespace(244_190_646))
    page[26] = 1
    page[128 + 4 + 2] = 12
    assert values(nvme.namespace_facts(bytes(page))) == {
        "size_bytes": 1_000_204_886_016,
        "logical_block_bytes": 4096,
    }


def test_a_placeholder_for_a_serial_is_silence() -> None:
    page = identify_controller(serial="0" * 20)
    assert values(nvme.controller_facts(page))["serial"] is Absent.NOT_OFFERED


def test_an_ata_drive_is_identified_by_its_words() -> None:
    """Words as in check-values/storage.md, "ATA"; 4000 GB are 7,814,037,168 sectors."""
    facts = values(ata_pages.identify_facts(ata_identify()))
    assert facts == {
        "model": "Quarrel Archive 4TB Spinner",
        "serial": "QA4-0017",
        "firmware_version": "AA03",
        "size_bytes": 4_000_787_030_016,
        "logical_block_bytes": 512,
        "rotation_rpm": 5400,
        "technology": "spinning",
        "sata_max_gbit_s": 6.0,
        "sata_now_gbit_s": 6.0,
        "form_factor": "3.5 inch",
    }


def resummed(page: bytearray) -> bytes:
    page[511] = 0
    page[511] = -sum(page[:511]) % 256
    return bytes(page)


def test_a_link_that_runs_below_what_it_can_is_seen() -> None:
    """Word 76 0x008E with word 77 0x0004: 6.0 Gb/s capable, running 3.0 (check-values/storage.md)."""
    page = bytearray(ata_identify())
    page[154:156] = (0x0004).to_bytes(2, "little")
    facts = values(ata_pages.identify_facts(resummed(page)))
    assert (facts["sata_max_gbit_s"], facts["sata_now_gbit_s"]) == (6.0, 3.0)


@pytest.mark.parametrize(
    ("rotation", "rpm", "technology"),
    [
        (0x0000, Absent.NOT_OFFERED, Absent.NOT_OFFERED),
        (0x0001, Absent.NOT_OFFERED, "solid state"),
        (0x1518, 5400, "spinning"),
        (0x1C20, 7200, "spinning"),
        (0xFFFF, Absent.NOT_OFFERED, Absent.NOT_OFFERED),
    ],
)
def test_the_rotation_tells_the_technology(rotation: int, rpm: object, technology: object) -> None:
    """Word 217 by check-values/storage.md."""
    facts = values(ata_pages.identify_facts(ata_identify(rotation=rotation)))
    assert (facts["rotation_rpm"], facts["technology"]) == (rpm, technology)


def test_an_identity_whose_sum_is_wrong_is_not_believed() -> None:
    page = bytearray(ata_identify())
    page[30] ^= 0x20
    assert set(values(ata_pages.identify_facts(bytes(page))).values()) == {Absent.IMPLAUSIBLE}
    assert set(values(ata_pages.identify_facts(bytes(page)[:300])).values()) == {Absent.IMPLAUSIBLE}


def test_drive_statistics_count_only_what_is_marked_valid() -> None:
    """ACS, Device Statistics log, General Statistics page (offsets from memory)."""
    page = bytearray(ata_statistics(hours=3112))
    assert values(ata_pages.statistics_facts(bytes(page), 512)) == {
        "power_cycles": 9,
        "power_on_hours": 3112,
        "written_bytes": 2000 * 512,
        "read_bytes": 1000 * 512,
    }
    page[16 + 7] = 0x80  # supported, and not valid
    assert values(ata_pages.statistics_facts(bytes(page), 512))["power_on_hours"] is Absent.NOT_OFFERED


def test_the_kernels_structures_have_the_kernels_sizes() -> None:
    """linux/nvme_ioctl.h: _IOWR('N', 0x41, 72 bytes); scsi/sg.h: struct sg_io_hdr has 88 on 64 bits."""
    size = ctypes.sizeof(commands.NvmeAdminCommand)
    assert size == 72
    assert 3 << 30 | size << 16 | ord("N") << 8 | 0x41 == commands.NVME_IOCTL_ADMIN_CMD
    assert ctypes.sizeof(commands.SgIoHeader) == (88 if ctypes.sizeof(ctypes.c_void_p) == 8 else 64)


def test_a_node_that_knows_no_such_command_is_absent_and_a_missing_one_too() -> None:
    assert commands.nvme_admin("/dev/null", 6, 4096).outcome is SourceOutcome.ABSENT
    assert commands.ata_in("/dev/null", 0xEC).outcome is SourceOutcome.ABSENT
    assert commands.nvme_admin("/dev/no-such-drive", 6, 4096).outcome is SourceOutcome.ABSENT


def test_the_commands_that_are_sent_only_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """What goes to the kernel, caught at the door: opcode, log and page as in NVMe base and ACS."""
    sent: list[tuple[int, bytes]] = []

    def catch(descriptor: int, request: int, argument: ctypes.Structure, mutate: bool) -> int:
        raw = bytes(argument)
        if isinstance(argument, commands.SgIoHeader):
            raw = ctypes.string_at(argument.cmdp, argument.cmd_len)
        sent.append((request, raw))
        return 0

    monkeypatch.setattr(fcntl, "ioctl", catch)
    commands.nvme_admin("/dev/null", commands.NVME_GET_LOG_PAGE, 512, nsid=0xFFFFFFFF, cdw10=0x007F0002)
    commands.ata_in("/dev/null", commands.ATA_READ_LOG_EXT, lba=4, page=1)
    commands.ata_in("/dev/null", commands.ATA_IDENTIFY_DEVICE)
    (_, health), (_, log), (_, identify) = sent
    assert health[0] == 0x02 and health[4:8] == b"\xff" * 4 and health[40:44] == bytes([2, 0, 0x7F, 0])
    assert log == bytes([0x85, 0x09, 0x0E, 0, 0, 0, 1, 0, 4, 0, 1, 0, 0, 0, 0x2F, 0])
    assert identify == bytes([0x85, 0x08, 0x0E, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0xEC, 0])


def test_a_device_that_refuses_a_command_has_failed_with_its_own_status(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(fcntl, "ioctl", lambda *arguments: 0x4002)
    answer = commands.nvme_admin("/dev/null", 6, 4096)
    assert (answer.outcome, answer.error, answer.data) == (SourceOutcome.FAILED, "NVMe status 0x4002", b"")


def test_a_reply_that_was_not_recorded_was_not_asked_for(tmp_path: Path) -> None:
    from shipworthy.machine.reading import take_reading
    from shipworthy.model.time import PretendClock
    from tests.machine.recorded import build

    root = build(tmp_path / "machine")
    (root / "replies/nvme0/smart-log.bin").unlink()
    reading = take_reading(Root(root), lambda name, data: None, nonce=None, clock=PretendClock())
    drive = reading.at("pci:0000:04:00.0/nvme-ns-1")
    assert drive is not None
    assert drive.why_absent("power_on_hours") is Absent.NOT_ASKED


def test_the_kernels_copy_of_the_identity_serves_an_account_without_rights(tmp_path: Path) -> None:
    """SAT, ATA Information page 89h: the 512 bytes of IDENTIFY DEVICE lie at 60 (from memory)."""
    from shipworthy.machine.capture.ata import capture
    from tests.machine.recorded import SATA, build, write

    root = build(tmp_path / "machine")
    (root / "replies/sda/ata-identify.bin").unlink()
    write(root, f"{SATA}/ata5/host4/target4:0:0/4:0:0:0/vpd_pg89", bytes(60) + ata_identify())
    reply = next(r for r in capture(Root(root)) if r.id == "ata.sda.identify")
    assert reply.locator == "/sys/block/sda/device/vpd_pg89"
    assert values(ata_pages.identify_facts(reply.data))["model"] == "Quarrel Archive 4TB Spinner"
