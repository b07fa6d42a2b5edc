"""NVMe and ATA replies to facts: offsets against the published tables, and replies that lie."""

from __future__ import annotations

import csv
import ctypes
import fcntl
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.capture import commands
from shipworthy.machine.parse.ata import pages as ata_pages
from shipworthy.machine.parse.nvme import file as nvme_file
from shipworthy.machine.parse.nvme import pages as nvme_pages
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent
from tests.machine.facts_of import facts_of
from tests.machine.recorded import (
    ata_identify,
    ata_statistics,
    health_log,
    identify_controller,
    identify_namespace,
)

NVME_PAGES = (nvme_pages.controller_facts, nvme_pages.namespace_facts, nvme_pages.health_facts)


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
        ("available_spare_threshold", "available_spare_threshold_percent", 1),
        ("host_read_commands", "host_read_commands", 1),
        ("host_write_commands", "host_write_commands", 1),
        ("controller_busy_time", "busy_minutes", 1),
        ("number_of_error_information_log_entries", "error_log_entries", 1),
        ("warning_composite_temperature_time", "warning_temperature_minutes", 1),
        ("critical_composite_temperature_time", "critical_temperature_minutes", 1),
        ("tmt1_transition_count", "thermal_transitions_1", 1),
        ("tmt2_transition_count", "thermal_transitions_2", 1),
        ("tmt1_total_time", "thermal_throttled_1_s", 1),
        ("tmt2_total_time", "thermal_throttled_2_s", 1),
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
    assert facts_of(nvme_pages.health_facts(bytes(page)))[field] == 123 * factor


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
    for name, number in CONTROLLER_NUMBERS.items():
        at, length = rows[name]
        page[at : at + length] = number.to_bytes(length, "little")
    page[rows["psd"][0] : rows["psd"][0] + 2] = (825).to_bytes(2, "little")
    assert facts_of(nvme_pages.controller_facts(bytes(page))) == {
        "serial": "SN-1",
        "model": "Quarrel M2",
        "firmware_version": "1.0",
        "temperature_warning_c": 80,
        "temperature_critical_c": 85,
        "capacity_bytes": 1_000_204_886_016,
        "unallocated_bytes": 4096,
        "vendor_id": "0x1987",
        "subsystem_vendor_id": "0x1988",
        "ieee_oui": "0x002538",
        "nvme_version": "1.4",
        "controller_id": 7,
        "namespaces": 32,
        "power_states": 5,
        "power_most_w": 8.25,
    }


CONTROLLER_NUMBERS = {
    "vid": 0x1987,
    "ssvid": 0x1988,
    "ieee": 0x002538,
    "cntlid": 7,
    "ver": 0x00010400,
    "npss": 4,
    "tnvmcap": 1_000_204_886_016,
    "unvmcap": 4096,
    "nn": 32,
}


def test_a_million_data_units_are_half_a_terabyte() -> None:
    """check-values/storage.md, worked: 1,000,000 units are 512,000,000,000 B."""
    assert (
        facts_of(nvme_pages.health_facts(health_log(units_written=1_000_000)))["written_bytes"]
        == 512_000_000_000
    )


def test_no_data_units_mean_not_reported() -> None:
    """check-values/storage.md: 0 = not reported."""
    assert (
        facts_of(nvme_pages.health_facts(health_log(units_written=0)))["written_bytes"] is Absent.NOT_OFFERED
    )


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
    assert set(facts_of(nvme_pages.health_facts(page)).values()) == {reason}


def test_a_limit_of_all_ones_is_no_limit() -> None:
    assert nvme_pages.kelvin_limit_c(0xFFFF) is Absent.NOT_OFFERED
    assert nvme_pages.kelvin_limit_c(0) is Absent.NOT_OFFERED


def test_a_counter_of_all_ones_is_implausible() -> None:
    page = bytearray(health_log())
    page[128:144] = b"\xff" * 16
    assert facts_of(nvme_pages.health_facts(bytes(page)))["power_on_hours"] is Absent.IMPLAUSIBLE


def test_a_namespace_has_its_size_in_blocks_of_its_format() -> None:
    """1000 GB are 1,953,525,168 blocks of 512 (IDEMA LBA1-03 by check-values/storage-lba.csv)."""
    facts = facts_of(nvme_pages.namespace_facts(identify_namespace(1_953_525_168)))
    assert (facts["size_bytes"], facts["logical_block_bytes"]) == (1_000_204_886_016, 512)
    assert (facts["lba_formats"], facts["eui64"]) == ("512+0", Absent.NOT_OFFERED)
    page = bytearray(identify_namespace(244_190_646))
    page[25:27] = bytes([1, 1])
    page[128 + 4 + 2] = 12
    page[16:24] = (1000).to_bytes(8, "little")
    page[120:128] = bytes.fromhex("00253801b2c3d4e5")
    assert facts_of(nvme_pages.namespace_facts(bytes(page))) == {
        "size_bytes": 1_000_204_886_016,
        "logical_block_bytes": 4096,
        "allocated_bytes": 4_096_000,
        "lba_formats": "512+0, 4096+0",
        "eui64": "0x00253801b2c3d4e5",
        "nguid": Absent.NOT_OFFERED,
    }


def test_a_placeholder_for_a_serial_is_silence() -> None:
    page = identify_controller(serial="0" * 20)
    assert facts_of(nvme_pages.controller_facts(page))["serial"] is Absent.NOT_OFFERED


def test_an_ata_drive_is_identified_by_its_words() -> None:
    """Words as in check-values/storage.md, "ATA"; 4000 GB are 7,814,037,168 sectors."""
    facts = facts_of(ata_pages.identify_facts(ata_identify()))
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
        "physical_block_bytes": Absent.NOT_OFFERED,
        "wwn": Absent.NOT_OFFERED,
        "trim": False,
        "smart_supported": Absent.NOT_OFFERED,
        "smart_enabled": Absent.NOT_OFFERED,
        "security_state": "not supported",
    }


def test_words_of_sectors_name_security_and_smart() -> None:
    """ACS-3: 106 sector sizes, 108-111 name, 169 trim, 128 security, 82 and 85 SMART (from memory)."""
    page = bytearray(ata_identify())
    for number, value in {
        106: 0x6003,
        87: 0x4100,
        83: 0x4400,
        82: 1,
        85: 1,
        169: 1,
        128: 0x0009,
        **dict(zip(range(108, 112), (0x5000, 0xC500, 0xF129, 0xBEE9), strict=True)),
    }.items():
        page[2 * number : 2 * number + 2] = value.to_bytes(2, "little")
    facts = facts_of(ata_pages.identify_facts(resummed(page)))
    assert (facts["logical_block_bytes"], facts["physical_block_bytes"]) == (512, 4096)
    assert (facts["wwn"], facts["trim"], facts["security_state"]) == (
        "0x5000c500f129bee9",
        True,
        "disabled, frozen",
    )
    assert (facts["smart_supported"], facts["smart_enabled"]) == (True, True)
    assert ata_pages.security_words(0x0017) == "enabled, locked, expired"


@pytest.mark.parametrize(
    ("page", "reason"), [(bytes(512), Absent.NOT_OFFERED), (b"\xff" * 512, Absent.IMPLAUSIBLE)]
)
def test_an_identity_of_one_byte_repeated_is_none(page: bytes, reason: Absent) -> None:
    assert set(facts_of(ata_pages.identify_facts(page)).values()) == {reason}


def resummed(page: bytearray) -> bytes:
    page[511] = 0
    page[511] = -sum(page[:511]) % 256
    return bytes(page)


def test_a_link_that_runs_below_what_it_can_is_seen() -> None:
    """Word 76 0x008E with word 77 0x0004: 6.0 Gb/s capable, running 3.0 (check-values/storage.md)."""
    page = bytearray(ata_identify())
    page[154:156] = (0x0004).to_bytes(2, "little")
    facts = facts_of(ata_pages.identify_facts(resummed(page)))
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
    facts = facts_of(ata_pages.identify_facts(ata_identify(rotation=rotation)))
    assert (facts["rotation_rpm"], facts["technology"]) == (rpm, technology)


def test_an_identity_whose_sum_is_wrong_is_not_believed() -> None:
    page = bytearray(ata_identify())
    page[30] ^= 0x20
    assert set(facts_of(ata_pages.identify_facts(bytes(page))).values()) == {Absent.IMPLAUSIBLE}
    assert set(facts_of(ata_pages.identify_facts(bytes(page)[:300])).values()) == {Absent.IMPLAUSIBLE}


def test_drive_statistics_count_only_what_is_marked_valid() -> None:
    """ACS, Device Statistics log, General Statistics page (offsets from memory)."""
    page = bytearray(ata_statistics(hours=3112))
    assert facts_of(ata_pages.statistics_facts(bytes(page), 512)) == {
        "power_cycles": 9,
        "power_on_hours": 3112,
        "written_bytes": 2000 * 512,
        "read_bytes": 1000 * 512,
    }
    page[16 + 7] = 0x80  # supported, and not valid
    assert facts_of(ata_pages.statistics_facts(bytes(page), 512))["power_on_hours"] is Absent.NOT_OFFERED


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
    assert (answer.outcome, answer.data) == (SourceOutcome.FAILED, b"")
    assert answer.error.endswith("NVMe status 0x4002")


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
    assert facts_of(ata_pages.identify_facts(reply.data))["model"] == "Quarrel Archive 4TB Spinner"


def test_temperatures_are_whole_degrees_and_a_sensor_that_is_not_there_is_left_out() -> None:
    """311 K are 38 °C by integer practice (check-values/storage.md); sensors at 200, 2 bytes each."""
    page = bytearray(health_log())
    page[200:204] = (312).to_bytes(2, "little") + (65535).to_bytes(2, "little")
    facts = facts_of(nvme_pages.health_facts(bytes(page)))
    assert (facts["temperature_c"], facts["temperature_sensor_1_c"]) == (38, 39)
    assert facts["temperature_sensor_2_c"] is Absent.IMPLAUSIBLE
    assert "temperature_sensor_3_c" not in facts


def test_the_bits_of_a_warning_are_words() -> None:
    """Bits 0 to 5 by check-values/storage.md."""
    page = bytearray(health_log())
    page[0], page[6] = 0b1001001, 0b1101
    facts = facts_of(nvme_pages.health_facts(bytes(page)))
    assert facts["critical_warning"] == 0x49
    assert facts["critical_warning_words"] == "spare below threshold, read-only, bit 6"
    assert facts["endurance_group_warnings"] == "spare below threshold, reliability degraded, read-only"
    assert facts["health_passed"] is False
    assert nvme_pages.warning_words(0) == "none"


def test_an_nvme_page_in_a_file_of_its_own_is_read_and_described() -> None:
    from shipworthy.machine.raw import Reply

    reply = Reply("nvme-health.1", "/log.bin", SourceOutcome.READ, health_log(hours=9))
    parsed = nvme_file.parse_health((reply,))
    assert parsed.sightings[0].place == "file:nvme-health.1"
    assert facts_of(parsed.sightings[0].said)["power_on_hours"] == 9
    assert ("power_on_hours", 9) in nvme_file.describe_health(health_log(hours=9))[0].fields
    page = bytearray(identify_controller())
    page[263] = 1
    page[2048 + 32 : 2048 + 36] = (500).to_bytes(2, "little") + bytes([0, 3])
    sections = nvme_file.describe_controller(bytes(page))
    assert [section.title for section in sections[1:]] == ["power state 0", "power state 1"]
    assert dict(sections[2].fields)["power_most_w"] == 0.05
    assert dict(sections[2].fields)["operational"] is False
    assert nvme_file.describe_controller(b"") and nvme_file.describe_namespace(b"ab")


@given(st.binary(max_size=5000))
def test_no_bytes_make_a_page_reader_raise(data: bytes) -> None:
    for read in (*NVME_PAGES, ata_pages.identify_facts):
        assert read(data)
    for describe in (nvme_file.describe_controller, nvme_file.describe_namespace, nvme_file.describe_health):
        assert describe(data)
    assert ata_pages.statistics_facts(data, 512, 4)
    ata_pages.registers_of(data)


@given(st.integers(min_value=0))
def test_no_full_page_makes_a_reader_raise(seed: int) -> None:
    data = random.Random(seed).randbytes(4096)
    for read in (*NVME_PAGES, ata_pages._identify):
        assert read(data)
