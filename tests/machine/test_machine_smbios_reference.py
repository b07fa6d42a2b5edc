"""The SMBIOS decoder against dmidecode 3.4's text of real tables, field by field."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.machine.parse import smbios
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent
from tests.machine.dmidecode_text import structures

FOLDER = "smbios-raw"
UNITS = {"bytes": 1, "kB": 1 << 10, "MB": 1 << 20, "GB": 1 << 30, "TB": 1 << 40}

SILENCE = {
    "Not Specified", "Unknown", "Other", "Unspecified", "None", "", "<BAD INDEX>", "Not Present",
    "Not Settable",
    "To Be Filled By O.E.M.", "Default string", "00000000", "Not Available", "0x00000000", "N/A", "Undefined",
    "System Product Name", "System manufacturer", "No Module Installed", "Fill By OEM", "<OUT OF SPEC>",
    "To be filled by O.E.M.", "To Be Filled By O.E.M. by More String", "No Asset Tag", "No Asset Information",
    "SerNum0", "SerNum1", "SerNum2", "SerNum3",
    "AssetTagNum0", "AssetTagNum1", "AssetTagNum2", "AssetTagNum3",
    "PartNum0", "PartNum1", "PartNum2", "PartNum3",
    "Manufacturer0", "Manufacturer1", "Manufacturer2", "Manufacturer3",
    "NULL", "1234567890", "0123456789", "123456789", "FFFFFFFF", "x.x", "0", "Empty", "[Empty]", "NO DIMM",
    "XXXXXXX", "XXXXXXXX", "To Be Filled By O.E.M", "Dimm0_AssetTag", "Dimm1_AssetTag", "Dimm2_AssetTag",
    "No Enclosure", "Type1Family", "Type2 - Board Product Name1", "Type2 - Board Serial Number",
    "Type2 - Board Asset Tag",
}  # fmt: skip
"""Texts in these tables that say nothing: what our decoder leaves out must be one of them."""

TEXT_FIELDS: dict[int, dict[str, str]] = {
    0: {"Vendor": "maker", "Version": "version", "Release Date": "date", "BIOS Revision": "revision"},
    1: {
        "Manufacturer": "maker",
        "Product Name": "model",
        "Version": "version",
        "Serial Number": "serial",
        "UUID": "uuid",
        "SKU Number": "sku",
        "Family": "family",
    },
    2: {
        "Manufacturer": "maker",
        "Product Name": "model",
        "Version": "version",
        "Serial Number": "serial",
        "Asset Tag": "asset",
    },
    3: {
        "Manufacturer": "maker",
        "Type": "type",
        "Version": "version",
        "Serial Number": "serial",
        "Asset Tag": "asset",
    },
    4: {
        "Socket Designation": "socket",
        "Manufacturer": "maker",
        "Version": "model",
        "Serial Number": "serial",
        "Asset Tag": "asset",
        "Part Number": "part_number",
    },
    16: {"Error Correction Type": "error_correction"},
    17: {
        "Form Factor": "form_factor",
        "Locator": "locator",
        "Bank Locator": "bank",
        "Type": "type",
        "Manufacturer": "maker",
        "Serial Number": "serial",
        "Asset Tag": "asset",
        "Part Number": "part_number",
    },
}
NUMBER_FIELDS: dict[int, dict[str, str]] = {
    0: {"ROM Size": "rom_bytes"},
    4: {
        "Core Count": "cores",
        "Core Enabled": "cores_enabled",
        "Thread Count": "threads",
        "Max Speed": "socket_max_mhz",
        "External Clock": "external_clock_mhz",
    },
    16: {"Maximum Capacity": "capacity_bytes", "Number Of Devices": "slots"},
    17: {
        "Size": "size_bytes",
        "Speed": "rated_speed_mt_s",
        "Configured Memory Speed": "configured_speed_mt_s",
        "Rank": "rank",
        "Total Width": "total_width_bits",
        "Data Width": "data_width_bits",
        "Configured Voltage": "voltage_mv",
    },
}


def facts_of(s: smbios.Structure, version: tuple[int, int]) -> tuple[Said, ...]:
    if s.type == smbios.SYSTEM:
        return smbios.system_facts(s, version)
    if s.type == smbios.ARRAY:
        return smbios.array_facts([s], [])
    table = {
        smbios.FIRMWARE: smbios.firmware_facts,
        smbios.BOARD: smbios.board_facts,
        smbios.CHASSIS: smbios.chassis_facts,
        smbios.PROCESSOR: smbios.processor_facts,
        smbios.MODULE: smbios.module_facts,
    }
    return table[s.type](s)


def expected_number(field: str, text: str) -> float | None:
    """Return the number that dmidecode printed, in our unit; None where it printed that there is none."""
    first, _, unit = text.partition(" ")
    if not first.replace(".", "", 1).isdigit():
        return None
    if unit == "V":
        return round(float(first) * 1000)
    return float(first) * UNITS.get(unit, 1)


def dumps(reference: Path) -> Iterator[tuple[Path, Path]]:
    for text in sorted((reference / FOLDER).rglob("*.decoded-by-dmidecode-3.4.txt")):
        stem = text.name.removesuffix(".decoded-by-dmidecode-3.4.txt")
        binary = next(
            f for f in text.parent.iterdir() if f.stem == stem and f.suffix in (".bin", ".dmp", ".dmidump")
        )
        yield binary, text


def compare(binary: Path, text: Path) -> tuple[Counter[str], list[str]]:
    """Return how many fields agreed (values, silences) and every disagreement."""
    table = smbios.table_of_dump(binary.read_bytes())
    assert table.entry is not None
    version = (table.entry.major, table.entry.minor)
    printed = structures(text.read_text("utf-8", "replace"))
    agreed: Counter[str] = Counter()
    wrong: list[str] = []
    ours = {s.handle: s for s in table.structures}
    for handle, number, fields in printed:
        if number not in TEXT_FIELDS:
            continue
        assert handle in ours and ours[handle].type == number, (
            f"{binary.name}: structure {handle:04X} is not found"
        )
        said = {field.name: field for field in facts_of(ours[handle], version)}
        empty = fields.get("Size") == "No Module Installed"
        for name, field in TEXT_FIELDS[number].items():
            if name in fields:
                _compare_text(
                    said[field], fields[name].strip(), empty, agreed, wrong, f"{binary.name} {handle:04X}"
                )
        for name, field in NUMBER_FIELDS.get(number, {}).items():
            if name in fields:
                _compare_number(
                    said[field], fields[name], empty, agreed, wrong, f"{binary.name} {handle:04X}"
                )
    return agreed, wrong


def _compare_text(
    said: Said, text: str, empty: bool, agreed: Counter[str], wrong: list[str], where: str
) -> None:
    if said.value is not None:
        value = str(said.value)
        same = "".join(c if c.isascii() and c.isprintable() else "." for c in value)
        agreed["values"] += same == text
        if same != text:
            wrong.append(f"{where} {said.name}: {value!r} and not {text!r}")
    elif said.absent is Absent.NOT_FITTED and empty:
        agreed["of empty slots"] += 1
    elif text in SILENCE or set(text) <= {"0", "F", ".", " ", "\xff"}:
        agreed["silences"] += 1
    else:
        wrong.append(f"{where} {said.name}: {said.absent} and not {text!r}")


def _compare_number(
    said: Said, text: str, empty: bool, agreed: Counter[str], wrong: list[str], where: str
) -> None:
    expected = expected_number(said.name, text)
    if said.value == expected:
        agreed["values" if expected is not None else "silences"] += 1
    elif empty and said.absent is Absent.NOT_FITTED:
        agreed["of empty slots"] += 1
    else:
        wrong.append(f"{where} {said.name}: {said.value!r} {said.absent or ''} and not {text!r}")


def test_every_real_table_is_read_as_dmidecode_reads_it(reference: Path) -> None:
    agreed: Counter[str] = Counter()
    wrong: list[str] = []
    files = list(dumps(reference))
    for binary, text in files:
        more, faults = compare(binary, text)
        agreed += more
        wrong += faults
    print(f"{len(files)} tables: {dict(agreed)}")
    assert wrong == []
    assert len(files) >= 10
    assert agreed["values"] > 1000


@pytest.mark.parametrize("name", ["go-smbios/ASRock-Single-Ryzen.dmi", "rust-dmidecode/dmi.bin"])
def test_a_bare_table_is_walked_to_its_end_mark(reference: Path, name: str) -> None:
    table = smbios.table_of_dump((reference / FOLDER / name).read_bytes())
    assert table.entry is None
    assert table.faults == ()
    assert table.structures[-1].type == smbios.END
