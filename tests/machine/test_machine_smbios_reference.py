"""The SMBIOS decoder against real tables: what dmidecode 3.4 prints of them, and what lies beside them."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.machine.parse.smbios import checks as smbios_checks
from shipworthy.machine.parse.smbios import describe as smbios_describe
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.parse.smbios import table as smbios_table
from shipworthy.machine.parse.smbios.table import walk
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent / "bench"))

from decoding.smbios_raw import GOAL, fields_of, measure, specimens
from decoding.smbios_raw_labels import Ours
from decoding.smbios_raw_rules import rule_for
from decoding.smbios_raw_text import VERSION, installed_version, run_dmidecode, structures, wrapped

FOLDER = "smbios-raw"


def read(data: bytes) -> Parsed:
    return smbios.parse((Reply("smbios.1", "", SourceOutcome.READ, data, suffix="bin"),))


def test_every_field_that_dmidecode_prints_of_every_table_means_what_ours_means(reference: Path) -> None:
    """The goal: no difference on types 0-4, 7-9, 16, 17, 19, 39, 41; nor is there one on the others."""
    tally = measure(reference / FOLDER)
    assert tally.examples == []
    assert (tally.items, tally.crashed, tally.differ) == (22, 0, 0)
    assert tally.agree == 14_899 if tally.notes["dmidecode"] == VERSION else tally.agree > 13_000
    assert not [name for name in tally.notes if name.endswith("differ") and tally.notes[name]]
    for kind in GOAL:
        assert int(tally.notes[f"type {kind} agree"]) > 50


def spoilt(value: object) -> str | int | float | bool:
    """Return another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * 2 + (1 << 40) + 1
    return f"{value}!"


def test_the_rules_notice_every_field_that_is_not_as_it_was(reference: Path) -> None:
    """A comparison that cannot fail shows nothing: each of our fields is spoilt in turn."""
    if installed_version() != VERSION:
        pytest.skip(f"dmidecode {VERSION} is not installed")
    held, missed = 0, []
    for specimen in specimens(reference / FOLDER):
        printed = structures(run_dmidecode(specimen.dump))
        ours = fields_of(smbios_describe.describe_table(specimen.table))
        for theirs, (_, kind, mine) in zip(printed, ours, strict=True):
            for label, value in theirs.values.items():
                rule = rule_for(kind, label)
                if rule is None or rule.field not in mine:
                    continue
                other: Ours = {**mine, rule.field: spoilt(mine[rule.field])}
                held += 1
                if rule.agrees(value, theirs.lists.get(label, []), other):
                    missed.append(f"type {kind} {label}: {value!r} and {other[rule.field]!r}")
    assert held > 16_000
    assert missed == []


def containers(table: bytes, version: tuple[int, int]) -> Iterator[tuple[str, bytes]]:
    """Yield a bare table in the forms that it is kept in."""
    yield "64-bit entry point", wrapped(table, version)
    yield "Windows header", bytes([0, *version, 0]) + len(table).to_bytes(4, "little") + table
    if version == (3, 0):
        yield "bare", table


def test_a_table_is_the_same_in_all_its_containers(reference: Path) -> None:
    for specimen in specimens(reference / FOLDER):
        last = specimen.table.structures[-1]
        raw = specimen.file.read_bytes()
        bare = raw[32:] if raw[:3] == b"_SM" else raw
        if last.type != smbios_table.END:
            continue
        version = (3, 0)
        wanted = smbios_describe.describe_table(walk(bare))
        for name, data in containers(bare[: len(bare)], version):
            found = [s for s in smbios_describe.describe(data) if s.where.startswith("structure 0x")]
            assert found == [s for s in wanted if s.where.startswith("structure 0x")], (specimen.name, name)
            if name != "bare":
                entry = smbios_table.table_of_dump(data).entry
                assert entry is not None and entry.version == version


def test_every_real_file_is_told_to_be_one(reference: Path) -> None:
    for specimen in specimens(reference / FOLDER):
        assert smbios.recognises("odd-name", specimen.file.read_bytes()[:4096]), specimen.name
    others = [*(reference / "edid").rglob("*.bin"), *(reference / "check-values").glob("*.md")]
    assert not [f for f in others[:200] if smbios.recognises(f.name, f.read_bytes()[:4096])]


def test_no_structure_of_a_real_table_is_dropped_in_silence(reference: Path) -> None:
    """Each structure is a section, and one that becomes no part is counted in a remark or is a known one."""
    no_parts = {11, 12, 16, 32, 127}
    for specimen in specimens(reference / FOLDER):
        table = specimen.table
        assert len(fields_of(smbios_describe.describe_table(table))) == len(table.structures)
        remarks = smbios_checks.remarks(table, (), "smbios")
        named = {r.where for r in remarks if r.kind is RemarkKind.NOT_UNDERSTOOD}
        for s in table.structures:
            known = s.type in smbios_checks.LAYOUTS
            assert known or f"type {s.type}" in named, (specimen.name, s.type)
            assert not (known and s.type in no_parts and s.type > 127)


@pytest.mark.parametrize("name", ["ASRock-Single-Ryzen", "Dell-PowerEdge-R630-Dual-Xeon"])
def test_another_decoders_expectation_is_met(reference: Path, name: str) -> None:
    """go-smbios ships what it expects of its own decoder; a number of 0 is unknown there."""
    folder = reference / FOLDER / "go-smbios"
    expected = json.loads((folder / f"{name}.upstream-expected.json").read_text("utf-8"))
    ours = fields_of(smbios_describe.describe((folder / f"{name}.dmi").read_bytes()))
    modules = [fields for _, kind, fields in ours if kind == 17]
    assert len(modules) == len(expected["MemoryDevices"])
    for mine, theirs in zip(modules, expected["MemoryDevices"], strict=True):
        for field, label in (
            ("locator", "DeviceLocator"),
            ("bank", "BankLocator"),
            ("serial", "SerialNumber"),
        ):
            assert mine[field] == (theirs[label] or "not given") or not theirs[label]
        assert mine["firmware_speed_mt_s"] == (theirs["Speed"] or "unknown")
        size = theirs["Size"] << 20 if theirs["Size"] != 0x7FFF else theirs["ExtendedSize"] << 20
        assert mine["size_bytes"] == (size or "not fitted")
    processors = [fields for _, kind, fields in ours if kind == 4]
    for mine, theirs in zip(processors, expected["ProcessorInformation"], strict=True):
        assert mine["cores"] == (theirs["CoreCount"] or "unknown")
        assert mine["threads"] == (theirs["ThreadCount"] or "unknown")
        assert mine["socket_max_mhz"] == theirs["MaxSpeed"]
        assert str(mine["model"]).strip() == (theirs["ProcessorVersion"].strip() or "not given")


def test_real_modules_are_found_with_their_parts(reference: Path) -> None:
    """systemd's expectation for a Lenovo desktop, line by line."""
    folder = reference / FOLDER / "systemd"
    lines = (folder / "Lenovo-Thinkcentre-m720s.upstream-expected-memory.txt").read_text("utf-8").splitlines()
    wanted = dict(line.partition("=")[::2] for line in lines)
    parsed = read((folder / "Lenovo-Thinkcentre-m720s.bin").read_bytes())
    modules = [s for s in parsed.sightings if s.kind is PartKind.MEMORY_MODULE]
    assert len(modules) == 4
    names = {
        "SIZE": "size_bytes",
        "LOCATOR": "locator",
        "BANK_LOCATOR": "bank",
        "SPEED_MTS": "firmware_speed_mt_s",
        "CONFIGURED_SPEED_MTS": "configured_speed_mt_s",
        "SERIAL_NUMBER": "serial",
        "PART_NUMBER": "part_number",
        "TYPE": "type",
        "RANK": "rank",
    }
    held = 0
    for number, module in enumerate(modules):
        facts = {field.name: field.value for field in module.said}
        for label, name in names.items():
            text = wanted.get(f"MEMORY_DEVICE_{number}_{label}")
            if text not in (None, "Unknown", "Not Specified"):
                assert str(facts[name]) == text, (number, label)
                held += 1
    assert held > 20
