"""smartctl's JSON and its live use, on reports of invented drives."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.capture import smartctl as capture_smartctl
from shipworthy.machine.join import join
from shipworthy.machine.parse.smartctl import json_report as smartctl_json
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.facts import Part
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.recorded import link, write


def ata_report(**more: Any) -> dict[str, Any]:
    report: dict[str, Any] = {
        "json_format_version": [1, 0],
        "smartctl": {"version": [7, 4], "exit_status": 0},
        "device": {"name": "/dev/sdb", "type": "sat", "protocol": "ATA"},
        "model_name": "Quarrel Archive 4TB Spinner",
        "serial_number": "QA4-0017",
        "firmware_version": "AA03",
        "wwn": {"naa": 5, "oui": 3152, "id": 4045127401},
        "user_capacity": {"blocks": 7814037168, "bytes": 4000787030016},
        "logical_block_size": 512,
        "physical_block_size": 4096,
        "rotation_rate": 5400,
        "form_factor": {"ata_value": 2, "name": "3.5 inches"},
        "trim": {"supported": False},
        "interface_speed": {
            "max": {"units_per_second": 60, "bits_per_unit": 100000000},
            "current": {"units_per_second": 30, "bits_per_unit": 100000000},
        },
        "smart_support": {"available": True, "enabled": True},
        "smart_status": {"passed": True},
        "ata_smart_attributes": {
            "table": [
                row(5, "Reallocated_Sector_Ct", 9, value=9, thresh=10, failed="now"),
                row(9, "Power_On_Hours", 70),
                row(199, "UDMA_CRC_Error_Count", 3),
            ]
        },
        "power_on_time": {"hours": 70},
        "power_cycle_count": 12,
        "temperature": {"current": 31},
        "ata_smart_error_log": {"summary": {"revision": 1, "count": 4}},
        "ata_smart_self_test_log": {
            "standard": {
                "table": [
                    {"status": {"value": 121, "string": "Completed: read failure", "passed": False}},
                    {"status": {"value": 0, "string": "Completed without error", "passed": True}},
                ]
            }
        },
        "ata_device_statistics": {
            "pages": [
                {
                    "number": 1,
                    "table": [
                        {"offset": 16, "value": 71, "flags": {"valid": True}},
                        {"offset": 24, "value": 2000, "flags": {"valid": True}},
                        {"offset": 40, "value": 9, "flags": {"valid": False}},
                    ],
                }
            ]
        },
    }
    return {**report, **more}


def row(number: int, name: str, raw: int, value: int = 100, thresh: int = 0, failed: str = "") -> Any:
    return {
        "id": number,
        "name": name,
        "value": value,
        "worst": value,
        "thresh": thresh,
        "when_failed": failed,
        "raw": {"value": raw, "string": str(raw)},
    }


def replied(data: object, name: str = "smartctl-json.1") -> Reply:
    raw = data if isinstance(data, bytes) else json.dumps(data).encode()
    return Reply(name, "/smart.json", SourceOutcome.READ, raw, "", "json")


def parsed(data: object) -> Parsed:
    return smartctl_json.parse((replied(data),))


def part(data: object) -> Part:
    (found,) = join(parsed(data).sightings)
    assert found.kind is PartKind.STORAGE
    return found


def test_a_report_gives_the_facts_that_the_drives_own_pages_give() -> None:
    drive = part(ata_report())
    assert drive.place == "node:sdb"
    told = {fact.name: fact.value for fact in drive.facts}
    expected = {
        "model": "Quarrel Archive 4TB Spinner",
        "serial": "QA4-0017",
        "firmware_version": "AA03",
        "wwn": "0x5000c500f11bbee9",
        "interface": "SATA",
        "size_bytes": 4_000_787_030_016,
        "logical_block_bytes": 512,
        "physical_block_bytes": 4096,
        "technology": "spinning",
        "rotation_rpm": 5400,
        "form_factor": "3.5 inch",
        "sata_max_gbit_s": 6.0,
        "sata_now_gbit_s": 3.0,
        "health_passed": True,
        "power_cycles": 12,
        "temperature_c": 31,
        "reallocated_sectors": 9,
        "interface_crc_errors": 3,
        "attributes_failing_now": 1,
        "failing_attributes": "5",
        "written_bytes": 1_024_000,
        "error_log_entries": 4,
        "self_tests_logged": 2,
        "self_tests_failed": 1,
        "self_test_last": "Completed: read failure",
        "smartctl_status": "nothing found",
    }
    assert {name: told[name] for name in expected} == expected
    assert "read_bytes" not in told


def test_what_the_report_says_twice_is_a_witness_where_it_differs() -> None:
    hours = part(ata_report()).fact("power_on_hours")
    assert hours is not None
    assert (hours.value, hours.disputed) == (70, True)
    assert [witness.value for witness in hours.witnesses] == [71]


def test_the_upper_bits_of_the_exit_status_are_news_of_the_drive_and_no_failure() -> None:
    """smartctl(8), RETURN VALUES: bits 3 to 7."""
    report = ata_report(smartctl={"version": [7, 3], "exit_status": 0b11111000})
    assert part(report).value("smartctl_status") == (
        "failing; attributes at or below their thresholds; attributes were at or below their thresholds; "
        "the error log has entries; the self-test log has errors"
    )
    assert parsed(report).remarks == ()


@pytest.mark.parametrize(
    ("status", "kind"),
    [(1, RemarkKind.NOT_ANSWERED), (2, RemarkKind.NOT_ANSWERED), (4, RemarkKind.BAD_CHECKSUM)],
)
def test_the_lowest_bits_say_what_could_not_be_read_and_the_rest_stands(
    status: int, kind: RemarkKind
) -> None:
    report = ata_report(smartctl={"version": [7, 3], "exit_status": status})
    assert [remark.kind for remark in parsed(report).remarks] == [kind]
    assert part(report).value("serial") == "QA4-0017"


def test_a_failing_drive_whose_status_is_left_out_is_told_by_the_exit_status() -> None:
    report = ata_report(smartctl={"version": [7, 0], "exit_status": 8})
    del report["smart_status"]
    assert part(report).value("health_passed") is False


def test_messages_are_kept_and_a_sleeping_drive_is_named() -> None:
    message = {"string": "Device is in STANDBY mode, exit(0)", "severity": "error"}
    note = {"string": "Nothing of note", "severity": "information"}
    report = ata_report(smartctl={"version": [7, 4], "exit_status": 2, "messages": [message, note]})
    details = [remark.detail for remark in parsed(report).remarks]
    assert details[-1] == "Device is in STANDBY mode, exit(0)"
    assert len(details) == 2


def test_an_nvme_report_has_two_names_of_its_place_and_the_log() -> None:
    log = {
        "critical_warning": 4,
        "data_units_written": 1_000_000,
        "media_errors": 1 << 80,
        "power_on_hours": 5,
    }
    report = {
        "smartctl": {"version": [7, 3], "exit_status": 8},
        "device": {"name": "/dev/nvme0", "type": "nvme", "protocol": "NVMe"},
        "model_name": "Quarrel M2 1TB",
        "nvme_ieee_oui_identifier": 9528,
        "nvme_total_capacity": 1000204886016,
        "nvme_namespaces": [{"id": 1, "size": {"bytes": 1000204886016}, "eui64": {"oui": 9528, "ext_id": 5}}],
        "nvme_smart_health_information_log": {**log, "temperature_sensors": [40, 0, 300]},
        "smart_status": {"passed": False},
    }
    drive = part(report)
    assert (drive.place, drive.also_at) == ("node:nvme0", ("node:nvme0n1",))
    assert drive.fact("kernel_name") is None  # it is the controller's, and no other name of the drive
    assert drive.value("written_bytes") == 512_000_000_000
    assert drive.why_absent("media_errors") is Absent.IMPLAUSIBLE
    assert drive.value("critical_warning_words") == "reliability degraded"
    assert (drive.value("health_passed"), drive.value("size_bytes")) == (False, 1_000_204_886_016)
    assert (drive.value("ieee_oui"), drive.value("eui64")) == ("0x002538", "0x0025380000000005")
    assert drive.value("temperature_sensor_1_c") == 40
    assert drive.fact("temperature_sensor_2_c") is None
    assert drive.why_absent("temperature_sensor_3_c") is Absent.IMPLAUSIBLE


@pytest.mark.parametrize("prefix", ["", "scsi_"])
def test_a_scsi_report_by_its_old_and_new_keys(prefix: str) -> None:
    """7.2 says `vendor`, 7.4 `scsi_vendor`."""
    counters = {"gigabytes_processed": "132513.233", "total_uncorrected_errors": 2}
    report = {
        "smartctl": {"version": [7, 4], "exit_status": 0},
        "device": {"name": "/dev/bus/0", "type": "megaraid,16", "protocol": "SCSI"},
        f"{prefix}vendor": "TARN",
        f"{prefix}product": "TN-15K",
        f"{prefix}revision": "C3D0",
        "scsi_transport_protocol": {"name": "SAS (SPL-4)"},
        "scsi_grown_defect_list": 1,
        "scsi_error_counter_log": {"read": counters, "write": counters, "verify": {}},
        "scsi_start_stop_cycle_counter": {"year_of_manufacture": "2019", "week_of_manufacture": "35"},
        "temperature": {"current": 0, "drive_trip": 0},
    }
    drive = part(report)
    assert drive.place == "node:bus/0/megaraid,16"
    assert (drive.value("maker"), drive.value("model")) == ("TARN", "TN-15K")
    assert (drive.value("firmware_version"), drive.value("interface")) == ("C3D0", "SAS")
    assert drive.value("written_bytes") == 132_513_233_000_000
    assert (drive.value("media_errors"), drive.value("grown_defects")) == (4, 1)
    assert drive.value("manufactured") == "2019-W35"
    assert drive.fact("temperature_c") is None


def test_several_reports_in_one_file() -> None:
    other = ata_report(device={"name": "/dev/sdc", "protocol": "ATA"}, serial_number="QA4-0018")
    places = {sighting.place for sighting in parsed([ata_report(), other]).sightings}
    assert places == {"node:sdb", "node:sdc"}


@pytest.mark.parametrize(
    ("data", "kind", "words"),
    [
        (b"smartctl 6.6 2016-05-31 r4324\nUNRECOGNIZED OPTION", RemarkKind.NOT_UNDERSTOOD, "6.6"),
        (b'{"smartctl": {"version"', RemarkKind.CUT_SHORT, "no whole JSON"),
        (b'{"smartctl": "\xff"}', RemarkKind.CUT_SHORT, "no whole JSON"),
        (b"[" * 100_000, RemarkKind.CUT_SHORT, "no whole JSON"),
        (b"[1, 2]", RemarkKind.NOT_UNDERSTOOD, "no report"),
        (b"42", RemarkKind.NOT_UNDERSTOOD, "no report"),
    ],
)
def test_rubbish_and_old_versions_are_named(data: bytes, kind: RemarkKind, words: str) -> None:
    result = parsed(data)
    assert result.sightings == ()
    assert [remark.kind for remark in result.remarks] == [kind]
    assert words in result.remarks[0].detail


def test_a_file_is_recognised_by_what_is_in_it() -> None:
    head = json.dumps(ata_report(), sort_keys=True).encode()[:200]
    assert smartctl_json.recognises("x", json.dumps(ata_report()).encode()[:100])
    assert smartctl_json.recognises("x", head) == (b"ata_smart" in head)
    assert not smartctl_json.recognises("smartctl.json", b'{"blockdevices": []}')
    assert not smartctl_json.recognises("smartctl.json", b"smartctl 7.4")


def test_every_value_can_be_looked_at() -> None:
    sections = smartctl_json.describe(json.dumps(ata_report()).encode())
    fields = {(section.title, name): value for section in sections for name, value in section.fields}
    assert fields["ata_smart_attributes", "table.1.raw.string"] == "70"
    assert smartctl_json.describe(b"[") == smartctl_json.describe(b"[1]") == ()


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(sorted(ata_report())), inner),
    max_leaves=12,
)


@given(st.dictionaries(st.sampled_from([*sorted(ata_report()), "nvme_namespaces"]), JSON, max_size=8))
def test_no_shape_of_json_makes_the_parser_raise(shape: dict[str, Any]) -> None:
    parsed({**shape, "device": shape.get("device", {})})
    parsed({**ata_report(), **shape})


@given(st.binary(max_size=400))
def test_no_bytes_make_the_parser_raise(data: bytes) -> None:
    parsed(data)
    smartctl_json.recognises("x", data)
    smartctl_json.describe(data)


def test_real_reports_agree_with_their_keys(reference: Path) -> None:
    """`smart-json`: 90 files as printed by 7.1 to 7.4; the independent look-ups are in bench/decoding."""
    for file in sorted((reference / "smart-json").rglob("*.json"))[::3]:
        data = file.read_bytes()
        report = json.loads(data)
        assert smartctl_json.recognises(file.name, data[:4096]), file.name
        drive = part(data)
        assert drive.value("power_on_hours") == report.get("power_on_time", {}).get("hours"), file.name
        assert drive.value("size_bytes") == report.get("user_capacity", {}).get("bytes"), file.name
        assert drive.value("health_passed") == report["smart_status"]["passed"], file.name


# The live use

PCI = "sys/devices/pci0000:00/0000:01:00.0"


def machine(root: Path, count: int = 1, *, removable: str = "0", vendor: str = "TARN") -> Root:
    for number in range(count):
        name = f"sd{'bcde'[number]}"
        folder = f"{PCI}/host6/port-6:{number}/end_device-6:{number}/target6:0:{number}/6:0:{number}:0"
        write(root, f"{folder}/vendor", f"{vendor}\n")
        write(root, f"{folder}/block/{name}/removable", f"{removable}\n")
        link(root, f"{folder}/block/{name}/device", folder)
        link(root, f"sys/block/{name}", f"{folder}/block/{name}")
    return Root(root)


def tool(folder: Path, script: str) -> tuple[str, ...]:
    file = folder / "smartctl"
    file.write_text(f"#!/bin/sh\n{script}\n")
    file.chmod(0o755)
    return (str(file),)


def test_a_recorded_answer_is_joined_with_the_drive_where_it_is_wired(tmp_path: Path) -> None:
    root = machine(tmp_path)
    write(tmp_path, "replies/sdb/smartctl.bin", json.dumps(ata_report()))
    result = smartctl_json.parse_live(tuple(capture_smartctl.capture(root)))
    assert {sighting.place for sighting in result.sightings} == {"pci:0000:01:00.0/sas-0"}


@pytest.mark.parametrize(("removable", "vendor"), [("1", "TARN"), ("0", "QEMU"), ("0", "ATA")])
def test_sticks_virtual_disks_and_ata_drives_are_left_alone(
    tmp_path: Path, removable: str, vendor: str
) -> None:
    root = machine(tmp_path, removable=removable, vendor=vendor)
    assert [reply.id for reply in capture_smartctl.capture(root)] == ["smartctl"]


def test_at_most_two_drives_are_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[str, ...]] = []

    def ask(command: tuple[str, ...], reply_id: str, locator: str) -> Reply:
        asked.append(command)
        return Reply(reply_id, locator, SourceOutcome.READ, b"{}")

    monkeypatch.setattr(capture_smartctl, "ask", ask)
    monkeypatch.setattr(capture_smartctl.os, "access", lambda path, mode: True)
    replies = [capture_smartctl._asked(Root(Path("/")), f"sd{n}", i) for i, n in enumerate("bcd")]
    assert asked == [("/usr/sbin/smartctl", *capture_smartctl.OPTIONS, f"/dev/sd{n}") for n in "bc"]
    assert (replies[2].outcome, replies[2].error) == (SourceOutcome.FAILED, "2 drives were asked")


def test_a_tool_that_is_not_there_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(capture_smartctl, "FOLDERS", (str(tmp_path),))
    reply = capture_smartctl._asked(Root(Path("/")), "sdb", 0)
    head = capture_smartctl.capture(machine(tmp_path / "machine"))[0]
    result = smartctl_json.parse_live((head, reply))
    assert [remark.detail for remark in result.remarks] == ["smartctl is not installed"]


def test_the_tool_is_told_the_device_in_a_plain_environment(tmp_path: Path) -> None:
    command = tool(tmp_path, 'echo "$LC_ALL $HOME $*"; exit 4')
    reply = capture_smartctl.ask((*command, "-x"), "smartctl.sdb", "smartctl")
    assert (reply.outcome, reply.data, reply.error) == (SourceOutcome.READ, b"C  -x\n", "exit status 4")


@pytest.mark.parametrize(
    ("script", "error"),
    [
        ("sleep 60", "no answer in its time"),
        ("head -c 5000 /dev/zero", "more than 1000 bytes"),
        ("sleep 60 & exec sleep 60", "no answer in its time"),
    ],
)
def test_a_tool_that_hangs_or_floods_is_ended(tmp_path: Path, script: str, error: str) -> None:
    began = time.monotonic()
    reply = capture_smartctl.ask(tool(tmp_path, script), "smartctl.sdb", "x", limit_s=0.3, most_bytes=1000)
    assert (reply.outcome, reply.error, reply.data) == (SourceOutcome.FAILED, error, b"")
    assert time.monotonic() - began < 30  # half of its sleep


def test_a_tool_that_cannot_be_run_is_a_failure(tmp_path: Path) -> None:
    (tmp_path / "smartctl").write_text("not a program")
    reply = capture_smartctl.ask((str(tmp_path / "smartctl"),), "smartctl.sdb", "x")
    assert reply.outcome is SourceOutcome.FAILED
