"""The SMBIOS decoder against the standard's own layout, and against tables that break off or lie."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.parse.smbios import facts as smbios_facts
from shipworthy.machine.parse.smbios import memory as smbios_memory
from shipworthy.machine.parse.smbios import processor as smbios_processor
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.parse.smbios import system as smbios_system
from shipworthy.machine.parse.smbios import table as smbios_table
from shipworthy.machine.raw import Fault, Reply
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.facts_of import facts_of
from tests.machine.smbios_bytes import array, end, entry_point_64, module, structure

GIB = 1 << 30


def example(reference: Path) -> smbios_table.Table:
    text = (reference / "check-values" / "smbios-example.hex").read_text("ascii")
    return smbios_table.table_of_dump(bytes.fromhex(text))


def at(table: smbios_table.Table, handle: int) -> smbios_table.Structure:
    return next(s for s in table.structures if s.handle == handle)


def test_the_worked_example_reads_as_its_table_says(reference: Path) -> None:
    """check-values/smbios.md, "Full worked example", printed by dmidecode 3.4."""
    table = example(reference)
    assert table.faults == ()
    assert table.entry is not None
    assert (table.entry.major, table.entry.minor, table.entry.table_bytes) == (3, 6, 1067)
    firmware = facts_of(smbios_facts.firmware_facts(at(table, 0)))
    assert firmware == {
        "maker": "Example Firmware Co",
        "version": "F7",
        "date": "01/15/2025",
        "rom_bytes": 32 << 20,
        "revision": "5.27",
        "controller_revision": Absent.NOT_OFFERED,
        "virtual_machine": False,
    }
    system = facts_of(smbios_facts.system_facts(at(table, 1)))
    assert (system["maker"], system["model"], system["version"]) == ("Bench Builder", "Model T", "1.0")
    assert system["serial"] == "SN-0001"
    assert system["uuid"] == "00112233-4455-6677-8899-aabbccddeeff"
    assert (system["sku"], system["family"]) == ("SKU-9", "Family A")
    board = facts_of(smbios_facts.board_facts(at(table, 2)))
    assert (board["maker"], board["model"], board["version"]) == ("BoardMaker", "BM-Z1", "Rev 1.02")
    assert board["serial"] == "MB123456"
    chassis = facts_of(smbios_facts.chassis_facts(at(table, 3)))
    assert (chassis["type"], chassis["serial"]) == ("Desktop", "CH42")


def test_the_worked_example_has_its_processor_and_modules(reference: Path) -> None:
    """The same, handles 0004 and 0010 to 0014."""
    table = example(reference)
    assert smbios_processor.fitted(at(table, 4))
    processor = facts_of(smbios_facts.processor_facts(at(table, 4)))
    assert processor["socket"] == "AM5"
    assert (processor["cores"], processor["cores_enabled"], processor["threads"]) == (16, 16, 32)
    assert (processor["socket_max_mhz"], processor["external_clock_mhz"]) == (5050, 100)
    assert smbios_memory.array_capacity_bytes(at(table, 0x10)) == 192 * GIB
    first = facts_of(smbios_facts.module_facts(at(table, 0x11)))
    assert (first["size_bytes"], first["type"], first["form_factor"]) == (16 * GIB, "DDR5", "DIMM")
    assert (first["firmware_speed_mt_s"], first["configured_speed_mt_s"]) == (4800, 4800)
    assert (first["rank"], first["voltage_mv"]) == (1, 1100)
    assert (first["serial"], first["part_number"]) == ("00A1B2C3", "PN-16G-5600")
    second = facts_of(smbios_facts.module_facts(at(table, 0x12)))
    assert (second["size_bytes"], second["part_number"]) == (48 * GIB, "PN-48G-6000")
    assert second["firmware_speed_mt_s"] == 6000
    assert facts_of(smbios_facts.module_facts(at(table, 0x13)))["size_bytes"] is Absent.NOT_FITTED
    last = facts_of(smbios_facts.module_facts(at(table, 0x14)))
    assert (last["size_bytes"], last["type"]) == (256 << 10, "DDR4")
    assert (last["total_width_bits"], last["data_width_bits"]) == (72, 64)
    assert last["firmware_speed_mt_s"] == 70000


def test_entry_points_are_believed_only_with_their_sums() -> None:
    """check-values/smbios.md: both examples there are own bytes, the 64-bit one accepted by dmidecode 3.4."""
    bits_32 = bytes.fromhex(
        "5f 53 4d 5f 78 1f 02 08 00 01 00 00 00 00 00 00 5f 44 4d 49 5f 32 e8 03 00 00 0f 00 14 00 28"
    )
    bits_64 = bytes.fromhex("5f 53 4d 33 5f fe 18 03 06 00 01 00 2b 04 00 00 20 00 00 00 00 00 00 00")
    assert smbios_table.entry_point(bits_32) == smbios_table.EntryPoint(2, 8, 0x000F0000, 0x03E8, 20)
    assert smbios_table.entry_point(bits_64) == smbios_table.EntryPoint(3, 6, 32, 0x042B)
    for good in (bits_32, bits_64):
        for index in range(len(good)):
            spoiled = bytearray(good)
            spoiled[index] ^= 0x01
            assert smbios_table.entry_point(bytes(spoiled)) is None


@pytest.mark.parametrize(
    ("size", "extended", "size_bytes"),
    [
        (0x8100, 0, 256 << 10),
        (0x0100, 0, 256 << 20),
        (0x4000, 0, 16 * GIB),
        (0x7FFF, 49152, 48 * GIB),
        (0x7FFF, 32768, 32 * GIB),
        (0x7FFF, 0x00800000, 8 << 40),
        (0, 0, Absent.NOT_FITTED),
        (0xFFFF, 0, Absent.NOT_OFFERED),
    ],
)
def test_a_module_size_is_read_as_the_standard_writes_it(
    size: int, extended: int, size_bytes: int | Absent
) -> None:
    """DSP0134 7.18.5 by check-values/smbios.md, "Encodings"."""
    table = smbios_table.walk(module(1, size, "A", "B", "C", "D", "E", "F", extended=extended) + end())
    assert smbios_memory.module_size_bytes(table.structures[0]) == size_bytes


def parts(table: bytes, entry: bytes = b"") -> list[Sighting]:
    replies = (
        Reply("smbios.entry-point", "", SourceOutcome.READ, entry, suffix="bin"),
        Reply("smbios.table", "", SourceOutcome.READ, table, suffix="bin"),
    )
    return list(smbios.parse(replies).sightings)


def test_an_empty_slot_is_a_part_that_is_not_fitted() -> None:
    table = (
        array()
        + module(1, 0x4000, "DIMM 0", "BANK A", "Fennec", "51C0FFEE", "-", "FN-16")
        + module(2, 0, "DIMM 1", "BANK B", "x", "y", "z", "w")
    )
    found = {s.place: facts_of(s.said) for s in parts(table + end())}
    assert found["smbios:DIMM 0/BANK A"]["size_bytes"] == 16 * GIB
    assert found["smbios:DIMM 1/BANK B"]["size_bytes"] is Absent.NOT_FITTED
    assert found["smbios:DIMM 1/BANK B"]["serial"] is Absent.NOT_FITTED
    assert found["memory"]["modules"] == 1
    assert found["memory"]["slots"] == 2
    assert found["memory"]["fitted_bytes"] == 16 * GIB


def test_slots_of_one_name_stay_two_slots() -> None:
    strings = ("DIMM", "BANK", "Fennec", "1", "-", "P")
    table = array() + module(1, 0x4000, *strings) + module(2, 0x2000, *strings) + end()
    places = [s.place for s in parts(table) if s.kind is PartKind.MEMORY_MODULE]
    assert places == ["smbios:DIMM/BANK", "smbios:DIMM/BANK#2"]


def test_the_memory_of_a_flash_array_is_no_memory() -> None:
    table = array(0x20, 1, use=5) + structure(17, 1, bytes([0x20, 0]) + bytes(0x50), "ROM") + end()
    assert [s for s in parts(table) if s.kind in (PartKind.MEMORY, PartKind.MEMORY_MODULE)] == []


def test_one_unknown_size_makes_the_sum_unknown() -> None:
    table = array() + module(1, 0x4000, "A") + module(2, 0xFFFF, "B") + end()
    memory = next(s for s in parts(table) if s.kind is PartKind.MEMORY)
    assert facts_of(memory.said)["fitted_bytes"] is Absent.NOT_OFFERED
    assert facts_of(memory.said)["modules"] == 2


def test_a_number_past_the_last_string_is_implausible_and_none_given_is_silence() -> None:
    table = smbios_table.walk(structure(2, 2, bytes([1, 9, 0, 2, 0]), "Holloway", "Default string") + end())
    board = facts_of(smbios_facts.board_facts(table.structures[0]))
    assert board["maker"] == "Holloway"
    assert board["model"] is Absent.IMPLAUSIBLE
    assert board["version"] is Absent.NOT_OFFERED
    assert board["serial"] is Absent.NOT_OFFERED


def test_a_table_that_breaks_off_keeps_what_came_before_and_says_so() -> None:
    whole = array() + module(1, 0x4000, "A", "B", "C", "D", "E", "F") + end()
    for size in range(len(whole)):
        table = smbios_table.walk(whole[:size])
        assert len(table.structures) <= 3
        for s in table.structures:
            assert s.area == next(o for o in smbios_table.walk(whole).structures if o.handle == s.handle).area
    assert smbios_table.walk(whole[:30]).faults == (
        Fault(RemarkKind.CUT_SHORT, "structure at 25", "5 bytes of 92"),
    )


def test_a_structure_that_is_shorter_than_its_header_ends_the_walk() -> None:
    table = smbios_table.walk(array() + b"\x11\x03\x00\x00\0\0" + module(1, 0x4000, "A"))
    assert [s.type for s in table.structures] == [16]
    assert [(f.kind, f.where) for f in table.faults] == [(RemarkKind.BAD_LENGTH, "structure at 25")]


@given(st.binary(max_size=400))
def test_no_bytes_whatever_make_the_decoder_fail(data: bytes) -> None:
    for sighting in parts(data) + parts(array() + data + end()):
        assert sighting.said
    smbios_table.table_of_dump(data)
    smbios_table.entry_point(data)


@given(st.integers(0, 230), st.integers(1, 255))
def test_no_flipped_byte_makes_the_decoder_fail(index: int, flip: int) -> None:
    table = bytearray(array() + module(1, 0x4000, "A", "B", "C", "D", "E", "F") + end())
    table[index % len(table)] ^= flip
    for sighting in parts(bytes(table)):
        assert all((field.value is None) != (field.absent is None) for field in sighting.said)


def test_an_entry_point_gives_the_version_that_decides_a_uuid() -> None:
    """DSP0134 7.2.1: before 2.6 the fields of the UUID are in the order of the bytes."""
    raw = bytes.fromhex("33221100 5544 7766 8899 aabbccddeeff")
    table = structure(1, 1, bytes(4) + raw + bytes(3)) + end()
    new = parts(table, entry_point_64(table))[0]
    old = smbios_facts.system_facts(
        smbios_table.walk(table, smbios_table.EntryPoint(2, 4, 0, len(table))).structures[0]
    )
    assert facts_of(new.said)["uuid"] == "00112233-4455-6677-8899-aabbccddeeff"
    assert facts_of(old)["uuid"] == "33221100-5544-7766-8899-aabbccddeeff"


def test_the_version_of_the_table_is_a_fact_of_the_firmware() -> None:
    table = structure(0, 0, bytes(20)) + end()

    def version(entry: bytes) -> object:
        return facts_of(parts(table, entry)[0].said)["smbios_version"]

    assert version(entry_point_64(table)) == "3.6"
    assert version(b"") is Absent.NOT_OFFERED
    spoiled = bytearray(entry_point_64(table))
    spoiled[7] ^= 1  # its sum holds no more, so neither does its version
    assert version(bytes(spoiled)) is Absent.NOT_OFFERED


def test_tables_that_are_refused_and_tables_that_are_not_there_are_two_things() -> None:
    def memory(outcome: SourceOutcome) -> Absent | None:
        replies = (Reply("smbios.table", "", outcome),)
        sighting = next(s for s in smbios.parse(replies).sightings if s.kind is PartKind.MEMORY)
        return next(field.absent for field in sighting.said if field.name == "modules")

    assert memory(SourceOutcome.REFUSED) is Absent.NOT_READABLE
    assert memory(SourceOutcome.FAILED) is Absent.NOT_READABLE
    assert memory(SourceOutcome.ABSENT) is Absent.NOT_OFFERED


def test_the_sample_uuid_of_a_firmware_vendor_is_nobodys() -> None:
    raw = bytes.fromhex("00020003000400050006000700080009")
    (system,) = smbios_table.walk(structure(1, 1, bytes(4) + raw + bytes(3)) + end(2)).of_type(1)
    assert smbios_system.uuid(system) == "03000200-0400-0500-0006-000700080009"
    said = {field.name: field.absent for field in smbios_facts.system_facts(system)}
    assert said["uuid"] is Absent.NOT_OFFERED
