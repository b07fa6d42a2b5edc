"""smartctl's text, on reports of invented drives in each layout, and on real ones."""

from __future__ import annotations

import csv
import re
import tarfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.join import join
from shipworthy.machine.parse.smartctl import text_report as smartctl_text
from shipworthy.machine.parse.smartctl.text_numbers import counted, whole
from shipworthy.machine.raw import Parsed
from shipworthy.model.facts import Part
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import file

HEAD = "smartctl 7.4 2023-08-01 r5530 [x86_64-linux-6.1.0] (local build)\n"
ATA = """\
=== START OF INFORMATION SECTION ===
Model Family:     Quarrel Archive
Device Model:     Quarrel Archive 4TB Spinner
Serial Number:    QA4-0017
LU WWN Device Id: 5 000c50 0f11bbee9
Firmware Version: AA03
User Capacity:    4{s}000{s}787{s}030{s}016 bytes [4{d}00 TB]
Sector Sizes:     512 bytes logical, 4096 bytes physical
Rotation Rate:    5400 rpm
Form Factor:      3.5 inches
TRIM Command:     Unavailable
SATA Version is:  SATA 3.1, 6.0 Gb/s (current: 3.0 Gb/s)
SMART support is: Available - device has SMART capability.
SMART support is: Enabled
ATA Security is:  Disabled, frozen [SEC2]

=== START OF READ SMART DATA SECTION ===
SMART overall-health self-assessment test result: FAILED!
"""
BRIEF = """\
ID# ATTRIBUTE_NAME          FLAGS    VALUE WORST THRESH FAIL RAW_VALUE
  5 Reallocated_Sector_Ct   PO--CK   009   009   010    NOW  9
  9 Power_On_Hours          -O--CK   096   096   000    -    70h+11m+24.770s
 12 Power_Cycle_Count       -O--CK   099   099   000    -    12
190 Airflow_Temperature_Cel -O--CK   053   036   045    Past 47 (Min/Max 20/64)
197 Current_Pending_Sector  -O--CK   100   100   000    -    2
"""
OLD = """\
ID# ATTRIBUTE_NAME          FLAG     VALUE WORST THRESH TYPE      UPDATED  WHEN_FAILED RAW_VALUE
  5 Reallocated_Sector_Ct   0x0033   009   009   010    Pre-fail  Always   FAILING_NOW 9
  9 Power_On_Hours          0x0032   096   096   ---    Old_age   Always       -       70
 12 Power_Cycle_Count       0x0032   099   099   ---    Old_age   Always       -       12
190 Airflow_Temperature_Cel 0x0022   053   036   045    Old_age   Always   In_the_past 47 (Min/Max 20/64)
197 Current_Pending_Sector  0x0012   100   100   000    Old_age   Always       -       2
"""
LOGS = """\
Device Error Count: 5 (device log contains only the most recent four errors)
Num  Test_Description    Status                  Remaining  LifeTime(hours)  LBA_of_first_error
# 1  Short offline       Completed: read failure       90%        61         12345
# 2  Extended offline    Completed without error       00%        14         -
#10  Short offline       Aborted by host               30%         1         -
Device Statistics (GP Log 0x04)
Page  Offset Size        Value Flags Description
0x01  0x010  4              71  ---  Power-on Hours
0x01  0x018  6            2000  ---  Logical Sectors Written
0x01  0x028  6               -  ---  Logical Sectors Read
0x06  0x018  4               3  ---  Number of Interface CRC Errors
  7  0x008  1                4~ Percentage Used Endurance Indicator
"""
NVME = """\
=== START OF INFORMATION SECTION ===
Model Number:                       Quarrel M2 1TB
Serial Number:                      QR1TB000451
Firmware Version:                   2B4QR
PCI Vendor ID:                      0x1987
PCI Vendor Subsystem ID:            0x1988
IEEE OUI Identifier:                0x002538
Total NVM Capacity:                 1{s}000{s}204{s}886{s}016 [1{d}00 TB]
Unallocated NVM Capacity:           0
Controller ID:                      6
NVMe Version:                       1.3
Number of Namespaces:               1
Namespace 1 Size/Capacity:          1{s}000{s}204{s}886{s}016 [1{d}00 TB]
Namespace 1 Formatted LBA Size:     512
Warning  Comp. Temp. Threshold:     82 Celsius
Critical Comp. Temp. Threshold:     85 Celsius
St Op     Max   Active     Idle   RL RT WL WT  Ent_Lat  Ex_Lat
 5 -   0.0050W       -        -    4  4  4  4      500    9500

=== START OF SMART DATA SECTION ===
SMART overall-health self-assessment test result: PASSED
Critical Warning:                   0x01
Temperature:                        62 Celsius
Available Spare:                    5%
Available Spare Threshold:          10%
Percentage Used:                    113%
Data Units Written:                 264{s}489{s}347 [135 TB]
Power Cycles:                       662
Power On Hours:                     3{s}441
Media and Data Integrity Errors:    4457415897738954923835392
Error Information Log Entries:      1{s}024
Thermal Temp. 1 Transition Count:   3
Temperature Sensor 1:               62 Celsius
Self-test Log (NVMe Log 0x06)
Num  Test_Description  Status                       Power_on_Hours  Failing_LBA  NSID SCT Code
 0   Extended          Completed: failed segments                3441            -     -   -    -
 1   Short             Completed without error                3441            -     -   -    -
"""
SAS = """\
=== START OF INFORMATION SECTION ===
Vendor:               TARN
Product:              TN-15K
Revision:             C3D0
User Capacity:        12 000 138 625 024 bytes [12,0 TB]
Logical block size:   4096 bytes
Rotation Rate:        7200 rpm
Logical Unit id:      0x5000cca253066624
Serial number:        8DG3J2ZD
Transport protocol:   SAS (SPL-3)
SMART support is:     Available - device has SMART capability.

=== START OF READ SMART DATA SECTION ===
SMART Health Status: FAILURE PREDICTION THRESHOLD EXCEEDED [asc=5d, ascq=10]
Current Drive Temperature:     32 C
Drive Trip Temperature:        85 C
Manufactured in week 37 of year 2017
Accumulated start-stop cycles:  1051
Elements in grown defect list: 4
  number of hours powered up = 3687.52
read:          0       34         0        34     238396      38280,029           1
write:         0        0         0         0      67506       3887,270           0
verify:        0       16         0        16       9129      23760.004           0
"""


def parsed(text: str | bytes, name: str = "/smart.txt") -> Parsed:
    return smartctl_text.parse((file(text, name, "smartctl-text.1"),))


def part(text: str | bytes, name: str = "/smart.txt") -> Part:
    (found,) = join(parsed(text, name).sightings)
    return found


def filled(text: str, separator: str = ",", point: str = ".") -> str:
    return text.replace("{s}", separator).replace("{d}", point)


@pytest.mark.parametrize("table", [BRIEF, OLD])
@pytest.mark.parametrize("head", [HEAD, ""])
def test_both_layouts_of_an_ata_report_say_the_same(table: str, head: str) -> None:
    drive = part(head + filled(ATA) + table + LOGS, "/smartctl_dev_sda.txt")
    told = {fact.name: fact.value for fact in drive.facts}
    assert drive.place == "node:sda"
    assert told == {
        "model": "Quarrel Archive 4TB Spinner",
        "family": "Quarrel Archive",
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
        "trim": False,
        "sata_max_gbit_s": 6.0,
        "sata_now_gbit_s": 3.0,
        "smart_supported": True,
        "smart_enabled": True,
        "security_state": "disabled, frozen",
        "health_passed": False,
        "power_on_hours": 71,
        "power_cycles": 12,
        "temperature_c": 47,
        "reallocated_sectors": 9,
        "pending_sectors": 2,
        "interface_crc_errors": 3,
        "written_bytes": 1_024_000,
        "percentage_used": 4,
        "attributes_failing_now": 1,
        "attributes_failed_past": 1,
        "failing_attributes": "5, 190 in the past",
        "error_log_entries": 5,
        "self_tests_logged": 3,
        "self_tests_failed": 1,
        "self_test_last": "Completed: read failure",
    }
    hours = drive.fact("power_on_hours")
    assert hours is not None
    assert [witness.value for witness in hours.witnesses] == [70]


@pytest.mark.parametrize(
    ("separator", "point"), [(",", "."), (".", ","), (" ", ","), ("\xa0", ","), ("\u202f", ","), ("’", ".")]
)
def test_numbers_in_the_spelling_of_any_locale(separator: str, point: str) -> None:
    drive = part(HEAD + filled(NVME, separator, point))
    assert drive.value("size_bytes") == 1_000_204_886_016
    assert drive.value("written_bytes") == 264_489_347 * 512_000
    assert (drive.value("power_on_hours"), drive.value("error_log_entries")) == (3441, 1024)
    assert part(HEAD + filled(ATA, separator, point)).value("size_bytes") == 4_000_787_030_016


def test_a_no_break_space_of_latin_1_is_one_too() -> None:
    assert part((HEAD + filled(ATA, "\xa0", ",")).encode("latin-1")).value("size_bytes") == 4_000_787_030_016


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("1,000,204 bytes", 1_000_204),
        ("4096 bytes logical", 4096),
        ("12,5", 12),
        ("1,000.204", 1),
        ("7", 7),
        ("", None),
        ("x", None),
        ("9" * 40, None),
    ],
)
def test_a_separator_is_one_only_before_groups_of_three(words: str, number: int | None) -> None:
    assert whole(words) == (1000 if words == "1,000.204" else number)


def test_a_count_that_cannot_be_so_is_implausible() -> None:
    assert counted("4457415897738954923835392") is Absent.IMPLAUSIBLE
    assert part(HEAD + filled(NVME)).why_absent("media_errors") is Absent.IMPLAUSIBLE


def test_an_nvme_report() -> None:
    drive = part(HEAD + filled(NVME), "/nvme0n1.txt")
    assert (drive.place, drive.also_at) == ("node:nvme0n1", ("node:nvme0",))
    expected = {
        "model": "Quarrel M2 1TB",
        "vendor_id": "0x1987",
        "subsystem_vendor_id": "0x1988",
        "ieee_oui": "0x002538",
        "nvme_version": "1.3",
        "temperature_warning_c": 82,
        "temperature_critical_c": 85,
        "temperature_c": 62,
        "temperature_sensor_1_c": 62,
        "critical_warning": 1,
        "critical_warning_words": "spare below threshold",
        "available_spare_percent": 5,
        "available_spare_threshold_percent": 10,
        "percentage_used": 113,
        "thermal_transitions_1": 3,
        "unallocated_bytes": 0,
        "self_tests_logged": 2,
        "self_tests_failed": 1,
    }
    assert {name: drive.value(name) for name in expected} == expected
    assert drive.fact("reallocated_sectors") is None  # row 5 of the power states is no attribute


def test_a_sas_report() -> None:
    drive = part(HEAD + SAS)
    expected = {
        "maker": "TARN",
        "model": "TN-15K",
        "firmware_version": "C3D0",
        "serial": "8DG3J2ZD",
        "wwn": "0x5000cca253066624",
        "interface": "SAS",
        "size_bytes": 12_000_138_625_024,
        "logical_block_bytes": 4096,
        "health_passed": False,
        "temperature_c": 32,
        "temperature_critical_c": 85,
        "manufactured": "2017-W37",
        "start_stop_cycles": 1051,
        "grown_defects": 4,
        "power_on_hours": 3687,
        "read_bytes": 38_280_029_000_000,
        "written_bytes": 3_887_270_000_000,
        "media_errors": 1,
    }
    assert {name: drive.value(name) for name in expected} == expected


def test_what_failed_is_named_and_the_rest_stands() -> None:
    faults = (
        "Read SCT Status failed: Input/output error\n"
        "Warning! SMART Self-Test Log Structure error: invalid SMART checksum.\n"
        "SMART Status not supported: Incomplete response, ATA output registers missing\n"
    )
    result = parsed(HEAD + filled(ATA) + faults + BRIEF)
    assert [remark.kind for remark in result.remarks] == [
        RemarkKind.NOT_ANSWERED,
        RemarkKind.BAD_CHECKSUM,
        RemarkKind.NOT_ANSWERED,
    ]
    assert part(HEAD + filled(ATA) + faults + BRIEF).value("reallocated_sectors") == 9


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (HEAD + "/dev/sda: Unable to detect device type\n", RemarkKind.NOT_UNDERSTOOD),
        (HEAD + "Smartctl open device: /dev/sdx failed: No such device\n", RemarkKind.NOT_ANSWERED),
        (HEAD + "Device is in STANDBY mode, exit(2)\n", RemarkKind.NOT_ANSWERED),
        ("nothing of the kind", RemarkKind.NOT_UNDERSTOOD),
        ("", RemarkKind.NOT_UNDERSTOOD),
    ],
)
def test_a_report_without_a_drive_is_named(text: str, kind: RemarkKind) -> None:
    result = parsed(text)
    assert [remark.kind for remark in result.remarks] == [kind]


def test_several_reports_in_one_file_stay_apart() -> None:
    both = HEAD + filled(ATA) + BRIEF + HEAD + filled(NVME)
    places = {sighting.place for sighting in parsed(both, "/sda.txt").sightings}
    assert places == {"report:smartctl-text.1/1", "report:smartctl-text.1/2"}


def test_a_masked_serial_is_none() -> None:
    text = HEAD + filled(ATA).replace("QA4-0017", "--").replace("0f11bbee9", "...")
    assert part(text).why_absent("serial") is Absent.NOT_OFFERED
    assert part(text).fact("wwn") is None


def test_a_file_is_recognised_by_what_is_in_it() -> None:
    assert smartctl_text.recognises("x", (HEAD + ATA).encode())
    assert smartctl_text.recognises("x", ATA.encode())
    assert not smartctl_text.recognises("smart.txt", b"dmidecode 3.4\n")
    assert not smartctl_text.recognises("smart.json", b'{"text": "\nsmartctl 7.3"}')


def test_a_report_can_be_looked_at_line_by_line() -> None:
    sections = smartctl_text.describe((HEAD + filled(ATA) + BRIEF + LOGS).encode())
    assert [section.title for section in sections] == ["smartctl 7.4", "attributes", "device statistics"]
    assert ("Firmware Version", "AA03") in sections[0].fields
    assert sections[1].fields[0][1] == "value 9, worst 9, threshold 10, raw 9, failing now"


LINES = [line for text in (ATA, BRIEF, OLD, LOGS, NVME, SAS) for line in text.splitlines()]


@given(st.lists(st.sampled_from(LINES) | st.text(max_size=40), max_size=30), st.binary(max_size=40))
def test_no_text_makes_the_parser_raise(lines: list[str], tail: bytes) -> None:
    data = "\n".join(lines).encode("utf-8", "replace") + tail
    parsed(data)
    smartctl_text.describe(data)
    smartctl_text.recognises("x", data)


@pytest.mark.parametrize(
    "line",
    [
        "# 1  " + "a  " * 90,
        " " * 299,
        "9" * 299,
        "Read " + "failed" * 50,
        "A" * 150 + ":" * 149,
        "0x01 " * 60,
    ],
)
def test_lines_made_to_be_slow_have_an_end(line: str) -> None:
    data = (HEAD + ATA + (line + "\n") * 1500).encode()
    ends(lambda: parsed(data))


def test_real_reports_agree_with_the_index(reference: Path) -> None:
    """`smart-text`: model and health of every fifth of 1,000 reports; all fields are in bench/decoding."""
    folder = reference / "smart-text"
    lines = (folder / "index.tsv").read_text("utf-8").splitlines()
    rows = {row["id"]: row for row in csv.DictReader(lines, delimiter="\t")}
    with tarfile.open(folder / "smart-text.tar.xz") as archive:
        members = [member for member in archive if member.name.endswith(".txt")][::5]
        for member in members:
            file = archive.extractfile(member)
            assert file is not None
            row, data = rows[Path(member.name).stem], file.read()
            drive = part(data, f"/{member.name}")
            assert drive.value("model") == row["model"]
            assert drive.value("health_passed") == {"PASSED": True, "FAILED!": False}.get(row["health_line"])
            failing = len(re.findall(rb"\s(?:NOW|FAILING_NOW)\s", data))
            assert (drive.number("attributes_failing_now") or 0) == failing, member.name
