"""dmidecode's text: reports of our own making, real ones, and the tables that some were printed from."""

from __future__ import annotations

import random
import re
import tarfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.machine.parse.dmidecode_text import source as dmidecode_text
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.parse.smbios import table as smbios_table
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.facts_of import Facts, facts_of

REPORT = """# dmidecode 3.4
Getting SMBIOS data from sysfs.
SMBIOS 3.3.0 present.
12 structures occupying 900 bytes.
Table at 0x000E6CC0.

Handle 0x0000, DMI type 0, 26 bytes
BIOS Information
\tVendor: Norvik Firmware
\tVersion: F7
\tRelease Date: 01/15/2025
\tROM Size: 32 MB
\tCharacteristics:
\t\tPCI is supported
\t\tUEFI is supported
\tBIOS Revision: 5.27

Handle 0x0001, DMI type 1, 27 bytes
System Information
\tManufacturer: To Be Filled By O.E.M.
\tProduct Name: Tarn T1
\tVersion: Default string
\tSerial Number: --
\tUUID: 00112233-4455-6677-8899-AABBCCDDEEFF
\tSKU Number: Default string

Handle 0x0002, DMI type 2, 15 bytes
Base Board Information
\tManufacturer: Holloway
\tProduct Name: H-77
\tVersion: <BAD INDEX>
\tSerial Number: HB1234
\t271882FD79060B21C43F805A2DE81148

Handle 0x0004, DMI type 4, 48 bytes
Processor Information
\tSocket Designation: AM5
\tManufacturer: Advanced Micro Devices, Inc.
\tVersion: Skogdata  Nine   9900
\tExternal Clock: 100 MHz
\tMax Speed: 5650 MHz
\tStatus: Populated, Enabled
\tUpgrade: Socket AM5
\tL1 Cache Handle: 0x0007
\tCore Count: 12
\tCore Enabled: 12
\tThread Count: 24

Handle 0x0007, DMI type 7, 27 bytes
Cache Information
\tSocket Designation: L1 - Cache
\tConfiguration: Enabled, Not Socketed, Level 1
\tInstalled Size: 768 kB
\tMaximum Size: 768 kB
\tSystem Type: Unified

Handle 0x0009, DMI type 9, 17 bytes
System Slot Information
\tDesignation: PCIEX16
\tType: x16 PCI Express 4 x16
\tCurrent Usage: In Use
\tLength: Long
\tID: 7
\tBus Address: 0000:01:00.0

Handle 0x0010, DMI type 16, 23 bytes
Physical Memory Array
\tUse: System Memory
\tError Correction Type: None
\tMaximum Capacity: 192 GB
\tNumber Of Devices: 2

Handle 0x0011, DMI type 17, 92 bytes
Memory Device
\tArray Handle: 0x0010
\tTotal Width: 64 bits
\tData Width: 64 bits
\tSize: 16 GB
\tForm Factor: DIMM
\tLocator: DIMM 0
\tBank Locator: P0 CHANNEL A
\tType: <OUT OF SPEC>
\tType Detail: Synchronous Unbuffered (Unregistered)
\tSpeed: 4800 MT/s
\tManufacturer: 029E
\tSerial Number: 01020304
\tPart Number: NV16G5600 \x20
\tRank: 1
\tConfigured Memory Speed: 5600 MT/s
\tConfigured Voltage: 1.1 V
\tModule Manufacturer ID: Bank 3, Hex 0x9E

Handle 0x0012, DMI type 17, 92 bytes
Memory Device
\tArray Handle: 0x0010
\tSize: No Module Installed
\tLocator: DIMM 0
\tBank Locator: P0 CHANNEL A
\tManufacturer: NO DIMM

Handle 0x0013, DMI type 43, 31 bytes
TPM Device
\tVendor ID: NRVK
\tSpecification Version: 2.0\tFirmware Revision: 7.2
\tDescription: NORVIK

Handle 0x0014, DMI type 221, 26 bytes
OEM-specific Type
\tHeader and Data:
\t\tDD 1A 14 00

Handle 0x0015, DMI type 127, 4 bytes
End Of Table
"""

OLD_REPORT = """# dmidecode 2.12
Handle 0x0011, DMI type 17, 34 bytes
Memory Device
\tSize: 4096 MB
\tType: DDR3
\tSpeed: 1333 MHz
\tManufacturer: Norvik
\tConfigured Clock Speed: 1066 MHz
\tMinimum voltage:  1.500 V
\tConfigured voltage:  1.500 V
"""


def reply(text: str | bytes) -> Reply:
    data = text.encode() if isinstance(text, str) else text
    return Reply(id="dmidecode-text.1", locator="report.txt", outcome=SourceOutcome.READ, data=data)


def parse(text: str | bytes) -> Parsed:
    return dmidecode_text.parse((reply(text),))


def facts(parsed: Parsed, kind: PartKind, place: str | None = None) -> Facts:
    sighting = next(s for s in parsed.sightings if s.kind is kind and place in (None, s.place))
    return facts_of(sighting.said)


def remarks(parsed: Parsed, kind: RemarkKind) -> list[tuple[str, str, int]]:
    return [(r.where, r.detail, r.count) for r in parsed.remarks if r.kind is kind]


def test_the_report_is_recognised_by_its_content() -> None:
    assert dmidecode_text.recognises("anything.log", REPORT.encode()[:4096])
    assert dmidecode_text.recognises("x", REPORT.encode()[200:4096])
    assert not dmidecode_text.recognises("dmidecode.txt", b"CPU: Norvik One (3000.00-MHz K8-class CPU)\n")


def test_the_machine_is_told_as_the_tables_tell_it() -> None:
    parsed = parse(REPORT)
    assert facts(parsed, PartKind.FIRMWARE) == {
        "maker": "Norvik Firmware",
        "version": "F7",
        "date": "01/15/2025",
        "rom_bytes": 32 << 20,
        "revision": "5.27",
        "controller_revision": Absent.NOT_OFFERED,
        "virtual_machine": False,
        "smbios_version": "3.3",
    }
    system = facts(parsed, PartKind.SYSTEM)
    assert system["maker"] is Absent.NOT_OFFERED
    assert system["model"] == "Tarn T1"
    assert system["uuid"] == "00112233-4455-6677-8899-aabbccddeeff"
    processor = facts(parsed, PartKind.PROCESSOR, "smbios-processor:0")
    assert (processor["maker"], processor["model"]) == ("AMD", "Skogdata Nine 9900")
    assert (processor["cores"], processor["threads"], processor["socket_max_mhz"]) == (12, 24, 5650)
    cache = facts(parsed, PartKind.CACHE, "smbios:L1 - Cache")
    assert (cache["level"], cache["size_bytes"], cache["enabled"]) == (1, 768 << 10, True)
    assert cache["processor"] == "smbios-processor:0"
    slot = facts(parsed, PartKind.SLOT, "smbios:PCIEX16")
    assert (slot["type"], slot["lanes"], slot["generation"]) == ("PCI Express 4 x16", 16, 4)
    assert (slot["in_use"], slot["slot_id"], slot["device_place"]) == (True, 7, "pci:0000:01:00.0")


def test_a_report_without_the_line_of_its_version_does_not_tell_it() -> None:
    parsed = parse(REPORT.replace("SMBIOS 3.3.0 present.\n", ""))
    assert facts(parsed, PartKind.FIRMWARE)["smbios_version"] is Absent.NOT_OFFERED
    old = parse(REPORT.replace("SMBIOS 3.3.0 present.", "SMBIOS 2.6 present."))
    assert facts(old, PartKind.FIRMWARE)["smbios_version"] == "2.6"


def test_modules_by_locator_and_bank_and_what_is_empty() -> None:
    parsed = parse(REPORT)
    module = facts(parsed, PartKind.MEMORY_MODULE, "smbios:DIMM 0/P0 CHANNEL A")
    assert module["size_bytes"] == 16 << 30
    assert (module["firmware_speed_mt_s"], module["configured_speed_mt_s"]) == (4800, 5600)
    assert (module["part_number"], module["rank"], module["voltage_mv"]) == ("NV16G5600", 1, 1100)
    assert module["maker"] is Absent.NOT_OFFERED
    assert module["maker_code"] == "JEP106 bank 3 code 0x1E"
    assert module["type_detail"] == "Synchronous; Unbuffered"
    empty = facts(parsed, PartKind.MEMORY_MODULE, "smbios:DIMM 0/P0 CHANNEL A#2")
    assert {value for name, value in empty.items() if name not in ("locator", "bank")} == {Absent.NOT_FITTED}
    memory = facts(parsed, PartKind.MEMORY)
    assert (memory["fitted_bytes"], memory["modules"], memory["slots"]) == (16 << 30, 1, 2)
    assert memory["capacity_bytes"] == 192 << 30


def test_what_is_wrong_or_left_over_is_named() -> None:
    parsed = parse(REPORT)
    assert remarks(parsed, RemarkKind.REPEATED) == [("type 17", "smbios:DIMM 0/P0 CHANNEL A", 1)]
    assert remarks(parsed, RemarkKind.BAD_REFERENCE) == [("type 2", "Version names no text", 1)]
    left = remarks(parsed, RemarkKind.NOT_UNDERSTOOD)
    assert ("type 221", "OEM-specific Type", 1) in left
    assert ("type 17, Type", "<OUT OF SPEC>", 1) in left
    assert ("type 2", "a line that is no field", 1) in left
    silent = {detail: count for _, detail, count in remarks(parsed, RemarkKind.PLACEHOLDER)}
    assert silent == {"To Be Filled By O.E.M.": 1, "Default string": 2, "--": 1}
    assert facts(parsed, PartKind.BOARD)["version"] is Absent.IMPLAUSIBLE
    assert not remarks(parsed, RemarkKind.CUT_SHORT)


def test_a_masked_serial_is_not_readable_and_never_a_value() -> None:
    assert facts(parse(REPORT), PartKind.SYSTEM)["serial"] is Absent.NOT_READABLE
    masked = REPORT.replace("Serial Number: HB1234", "Serial Number: ...")
    assert facts(parse(masked), PartKind.BOARD)["serial"] is Absent.NOT_READABLE


def test_two_fields_in_one_line_are_both_kept() -> None:
    tpm = facts(parse(REPORT), PartKind.SECURITY_MODULE, "smbios:tpm")
    assert (tpm["maker"], tpm["tpm_version"], tpm["firmware_version"]) == ("NRVK", "2.0", "7.2")


def test_the_words_of_older_versions() -> None:
    module = facts(parse(OLD_REPORT), PartKind.MEMORY_MODULE, "smbios:unnamed")
    assert module["size_bytes"] == 4 << 30
    assert (module["firmware_speed_mt_s"], module["configured_speed_mt_s"]) == (1333, 1066)
    assert (module["maker"], module["voltage_mv"]) == ("Norvik", 1500)


@pytest.mark.parametrize("text", ["8388607 kB + 512 bytes", "Unknown", "999999999999 EB", "-1 GB", ""])
def test_odd_sizes_give_a_size_or_none(text: str) -> None:
    size = facts(parse(OLD_REPORT.replace("4096 MB", text)), PartKind.MEMORY_MODULE)["size_bytes"]
    wanted = {"8388607 kB + 512 bytes": (8388607 << 10) + 512, "999999999999 EB": Absent.IMPLAUSIBLE}
    assert size == wanted.get(text, Absent.NOT_OFFERED)


def test_a_broken_table_is_said_to_be_broken() -> None:
    broken = REPORT.replace(
        "OEM-specific Type\n", "Invalid entry length (0). DMI table is broken! Stop.\n"
    ).split("Handle 0x0015")[0]
    parsed = parse(broken)
    assert remarks(parsed, RemarkKind.BAD_LENGTH)[0][0] == "structure 0x0014"
    assert remarks(parsed, RemarkKind.CUT_SHORT) == [("table", "12 structures announced, 11 printed", 1)]


def test_a_structure_whose_first_line_was_masked_is_found_by_its_title() -> None:
    spoilt = REPORT.replace("Handle 0x0004, DMI type 4, 48 bytes", "807075653E24ECB98B63F18E00309403")
    parsed = parse(spoilt)
    assert facts(parsed, PartKind.PROCESSOR)["model"] == "Skogdata Nine 9900"
    assert remarks(parsed, RemarkKind.BAD_HEADER)[0][0] == "type 4"


def test_every_structure_is_described_with_every_field() -> None:
    sections = dmidecode_text.describe(REPORT.encode())
    assert len(sections) == 12
    assert sections[0].fields[4] == ("Characteristics", "PCI is supported; UEFI is supported")


def test_spoiled_reports_raise_nothing() -> None:
    source = random.Random(20)
    whole = REPORT.encode()
    for _ in range(400):
        data = bytearray(whole)
        for _ in range(source.randrange(1, 40)):
            data[source.randrange(len(data))] = source.randrange(256)
        dmidecode_text.parse((reply(bytes(data[: source.randrange(len(data))])),))


# real reports


def reports(reference: Path, most: int) -> Iterator[tuple[str, str]]:
    with tarfile.open(reference / "dmi-desktop-text" / "dmi-desktop-text.tar.xz") as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() and most else None
            if file is not None:
                most -= 1
                yield member.name, file.read().decode("utf-8", "replace")


def test_real_reports_no_structure_is_dropped_and_every_module_found(reference: Path) -> None:
    heads = re.compile(r"^Handle 0x[0-9A-F]{4}, DMI type (\d+),", re.MULTILINE)
    looked = 0
    for name, text in reports(reference, 250):
        parsed = parse(text)
        types = [int(number) for number in heads.findall(text)]
        unread = sum(number not in dmidecode_text.READ_TYPES for number in types)
        named = sum(
            count
            for where, detail, count in remarks(parsed, RemarkKind.NOT_UNDERSTOOD)
            if re.fullmatch(r"type \d+", where)
            and detail != "a line that is no field"
            and int(where[5:]) not in dmidecode_text.READ_TYPES
        )
        assert unread == named, name
        sizes = re.findall(r"^\tSize: (\d+) (kB|MB|GB)$", text, re.MULTILINE)
        modules = [s for s in parsed.sightings if s.kind is PartKind.MEMORY_MODULE]
        found = [f.value for s in modules for f in s.said if f.name == "size_bytes" and f.value is not None]
        if "Use: Flash Memory" not in text:
            assert found == [int(n) << {"kB": 10, "MB": 20, "GB": 30}[unit] for n, unit in sizes], name
        looked += 1
    assert looked == 250


CANNOT_BE_TOLD = {
    (PartKind.SLOT, "slot_id"),  # not printed of a slot of another type
    (PartKind.CACHE, "size_bytes"),  # 3.4 prints 0 where the newer field was left empty
    (PartKind.CACHE, "max_bytes"),
    (PartKind.PROBE, "type"),  # <OUT OF SPEC>
}


def test_the_text_says_what_the_table_says_that_it_was_printed_from(reference: Path) -> None:
    """The parser of tables and the parser of text are two readers of one thing."""
    agreed = 0
    for text in sorted((reference / "smbios-raw").rglob("*.decoded-by-dmidecode-3.4.txt")):
        stem = text.name.removesuffix(".decoded-by-dmidecode-3.4.txt")
        binary = next(
            f for f in text.parent.iterdir() if f.stem == stem and f.suffix in (".bin", ".dmp", ".dmidump")
        )
        by_table = _by_place(
            smbios.sightings(smbios_table.table_of_dump(binary.read_bytes()), "smbios.table")
        )
        by_text = _by_place(iter(parse(text.read_bytes()).sightings))
        assert by_table.keys() == by_text.keys(), stem
        for (kind, place), fields in by_table.items():
            for name, value in fields.items():
                told = by_text[kind, place].get(name)
                if (kind, name) not in CANNOT_BE_TOLD:
                    assert told == value, (stem, place, name)
                agreed += told == value
    assert agreed > 15_000


def _by_place(sightings: Iterator[Sighting]) -> dict[tuple[PartKind, str], Facts]:
    return {(s.kind, s.place): facts_of(s.said) for s in sightings}
