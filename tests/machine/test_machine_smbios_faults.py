"""SMBIOS tables that lie, break off or point nowhere: what can be trusted is read, each fault is named."""

from __future__ import annotations

import random
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse.smbios import checks as smbios_checks
from shipworthy.machine.parse.smbios import describe as smbios_describe
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.parse.smbios import table as smbios_table
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind
from tests.machine.bounded import ends
from tests.machine.facts_of import facts_of
from tests.machine.smbios_bytes import array, end, entry_point_64, module, structure

FIRMWARE = structure(0, 0, bytes([1, 2, 0, 0xF0, 3, 0xFF]) + bytes(14), "Tarn", "F7", "01/15/2025")
SYSTEM = structure(
    1, 1, bytes([1, 2, 0, 3]) + bytes(range(16)) + bytes([6, 0, 0]), "Norvik", "Quiet 4", "QD-1"
)
STRINGS = ("DIMM_A1", "BANK 0", "Holloway", "0BADF00D", "-", "HB-16")
WHOLE = FIRMWARE + SYSTEM + array(slots=1) + module(0x11, 0x4000, *STRINGS) + end()


def entry_point_32(table: bytes, structures: int, version: tuple[int, int] = (2, 8), size: int = -1) -> bytes:
    """Return the 31 bytes of `_SM_`, by DSP0134 5.2.1. size: a wrong length to tell."""
    half = b"_DMI_\0" + struct.pack("<HIHB", len(table) if size < 0 else size, 32, structures, 0x28)
    half = half[:5] + bytes([-sum(half) % 256]) + half[6:]
    head = b"_SM_\0\x1f" + bytes([*version]) + struct.pack("<H", 0x60) + bytes(6)
    return head[:4] + bytes([-sum(head + half) % 256]) + head[5:] + half


def dumped(entry: bytes, table: bytes) -> bytes:
    return entry.ljust(32, b"\0") + table


def read(data: bytes) -> Parsed:
    return smbios.parse((Reply("smbios.1", "", SourceOutcome.READ, data, suffix="bin"),))


def faults(data: bytes) -> list[tuple[RemarkKind, str]]:
    silent = (RemarkKind.PLACEHOLDER, RemarkKind.NOT_UNDERSTOOD)
    return [(r.kind, r.where) for r in read(data).remarks if r.kind not in silent]


def modules(parsed: Parsed) -> list[dict[str, object]]:
    found = [s for s in parsed.sightings if s.kind is PartKind.MEMORY_MODULE]
    return [facts_of(s.said) for s in found]


SOUND = {
    "32-bit entry point": dumped(entry_point_32(WHOLE, 5), WHOLE),
    "64-bit entry point": dumped(entry_point_64(WHOLE, (2, 8)), WHOLE),
    "Windows header": bytes([0, 2, 8, 0]) + struct.pack("<I", len(WHOLE)) + WHOLE,
    "bare": WHOLE,
}


@pytest.mark.parametrize("form", SOUND)
def test_a_sound_table_has_no_fault_in_any_form(form: str) -> None:
    assert faults(SOUND[form]) == []
    assert modules(read(SOUND[form]))[0]["serial"] == "0BADF00D"
    assert smbios.recognises("x", SOUND[form][:4096])


def test_a_length_of_0x1e_in_an_old_entry_point_is_a_known_slip() -> None:
    entry = bytearray(entry_point_32(WHOLE, 5))
    entry[5] = 0x1E
    entry[4] = (entry[4] + 1) % 256
    assert faults(dumped(bytes(entry), WHOLE)) == []


@pytest.mark.parametrize(
    ("at", "kind"),
    [
        (4, RemarkKind.BAD_CHECKSUM),
        (21, RemarkKind.BAD_CHECKSUM),
        (16, RemarkKind.BAD_HEADER),
        (5, RemarkKind.BAD_LENGTH),
    ],
)
def test_a_spoilt_entry_point_is_named_and_the_table_still_read(at: int, kind: RemarkKind) -> None:
    entry = bytearray(entry_point_32(WHOLE, 5))
    entry[at] ^= 0x40
    found = read(dumped(bytes(entry), WHOLE))
    assert (kind, "entry point") in [(r.kind, r.where) for r in found.remarks]
    assert modules(found)[0]["serial"] == "0BADF00D"


def test_the_kernels_entry_point_is_checked_too() -> None:
    entry = bytearray(entry_point_64(WHOLE))
    entry[5] ^= 1
    replies = (
        Reply("smbios.entry-point", "", SourceOutcome.READ, bytes(entry), suffix="bin"),
        Reply("smbios.table", "", SourceOutcome.READ, WHOLE, suffix="bin"),
    )
    found = smbios.parse(replies)
    assert (RemarkKind.BAD_CHECKSUM, "entry point") in [(r.kind, r.where) for r in found.remarks]
    assert len(modules(found)) == 1


def test_an_entry_point_that_announces_more_or_less_is_named() -> None:
    more = dumped(entry_point_32(WHOLE, 9), WHOLE)
    assert (RemarkKind.BAD_LENGTH, "entry point") in faults(more)
    fewer = dumped(entry_point_32(WHOLE, 3), WHOLE)
    assert (RemarkKind.BAD_LENGTH, "entry point") in faults(fewer)
    assert modules(read(fewer)) == []  # the count is what ends such a table
    longer = dumped(entry_point_32(WHOLE, 5, size=len(WHOLE) + 40), WHOLE)
    assert faults(longer) == [(RemarkKind.BAD_LENGTH, "entry point")]


def test_a_windows_header_with_a_wrong_length_is_named_and_the_table_still_read() -> None:
    for size in (len(WHOLE) + 5, len(WHOLE) - 5, 0):
        data = bytes([0, 2, 8, 0]) + struct.pack("<I", size) + WHOLE
        assert faults(data) == [(RemarkKind.BAD_LENGTH, "header")]
        assert len(modules(read(data))) == 1


@pytest.mark.parametrize("size", range(len(WHOLE)))
def test_a_table_that_is_cut_anywhere_says_so(size: int) -> None:
    found = faults(WHOLE[:size])
    kinds = {kind for kind, _ in found}
    assert kinds & {RemarkKind.CUT_SHORT, RemarkKind.NO_TERMINATOR}


def test_a_missing_terminator_leaves_the_fields_and_the_texts_that_end() -> None:
    broken = module(0x11, 0x4000, *STRINGS)[: -len("HB-16") - 2]
    found = read(FIRMWARE + SYSTEM + broken)
    only = modules(found)[0]
    assert (only["locator"], only["serial"], only["size_bytes"]) == ("DIMM_A1", "0BADF00D", 16 << 30)
    assert [r.where for r in found.remarks if r.kind is RemarkKind.NO_TERMINATOR] == [
        f"structure 0x0011 at {len(FIRMWARE + SYSTEM)}"
    ]


def test_a_string_past_the_last_is_named_with_its_structure() -> None:
    found = read(FIRMWARE + SYSTEM + module(0x11, 0x4000, "DIMM_A1", "BANK 0") + end())
    detail = {r.detail: r.where for r in found.remarks if r.kind is RemarkKind.BAD_REFERENCE}
    where = f"structure 0x0011 at {len(FIRMWARE + SYSTEM)}"
    assert detail["maker: string 3 of 2"] == where
    assert detail["part_number: string 6 of 2"] == where
    assert detail["array_handle: 0x0010 is nothing, not type 16"] == where


def test_a_structure_shorter_than_its_fixed_part_is_named() -> None:
    table = FIRMWARE + SYSTEM + structure(17, 7, bytes(5)) + end()
    lengths = [r for r in read(table).remarks if r.kind is RemarkKind.BAD_LENGTH]
    assert [(r.where, r.detail) for r in lengths] == [
        (f"structure 0x0007 at {len(FIRMWARE + SYSTEM)}", "9 bytes, and a memory device has at least 21")
    ]


def test_structures_shorter_than_their_version_wants_are_counted_by_type() -> None:
    short = b"".join(structure(17, n, bytes(0x15 - 4)) for n in (7, 8))
    table = FIRMWARE + SYSTEM + short + end()
    remarks = read(dumped(entry_point_64(table, (3, 3)), table)).remarks
    lengths = [r for r in remarks if r.kind is RemarkKind.OLD_LAYOUT]
    assert RemarkKind.BAD_LENGTH not in {r.kind for r in remarks}, "an old layout is no fault"
    assert ("type 17", 2) in [(r.where, r.count) for r in lengths]
    assert "since 3.3 at least 92" in next(r.detail for r in lengths if r.where == "type 17")


def test_two_structures_of_one_handle_are_named() -> None:
    table = FIRMWARE + SYSTEM + module(0x11, 0x4000, *STRINGS) + module(0x11, 0, *STRINGS) + end()
    assert (RemarkKind.REPEATED, "handle 0x0011") in faults(table)


def test_slots_of_one_name_are_numbered_and_named() -> None:
    table = FIRMWARE + SYSTEM + module(0x11, 0x4000, *STRINGS) + module(0x12, 0, *STRINGS) + end()
    found = read(table)
    places = [s.place for s in found.sightings if s.kind is PartKind.MEMORY_MODULE]
    assert places == ["smbios:DIMM_A1/BANK 0", "smbios:DIMM_A1/BANK 0#2"]
    assert [(r.where, r.count) for r in found.remarks if r.kind is RemarkKind.REPEATED] == [
        ("smbios:DIMM_A1/BANK 0", 2)
    ]


def test_a_placeholder_is_listed_once_with_where_and_how_often() -> None:
    strings = (
        "DIMM_A1",
        "BANK 0",
        "To Be Filled By O.E.M.",
        "To Be Filled By O.E.M.",
        "Default string",
        "HB-16",
    )
    table = FIRMWARE + SYSTEM + module(0x11, 0x4000, *strings) + module(0x12, 0x4000, *strings) + end()
    told = {r.detail: r for r in read(table).remarks if r.kind is RemarkKind.PLACEHOLDER}
    assert told["To Be Filled By O.E.M."].count == 4
    assert told["To Be Filled By O.E.M."].where == "memory device maker, memory device serial"
    assert told["Default string"].count == 2
    assert len(told) == 2


def test_structures_that_are_not_decoded_are_counted_by_type() -> None:
    table = FIRMWARE + SYSTEM + structure(221, 1, b"\1\2", "x") * 3 + structure(13, 2, bytes(18)) + end()
    told = {r.where: (r.detail, r.count) for r in read(table).remarks if r.kind is RemarkKind.NOT_UNDERSTOOD}
    assert told == {"type 13": ("not decoded", 1), "type 221": ("the maker's own", 3)}


def test_bytes_behind_the_last_known_field_are_counted_and_shown() -> None:
    longer = structure(8, 5, bytes([0, 0, 0, 0x12, 0x10, 0xAB, 0xCD]))
    table = FIRMWARE + SYSTEM + longer + end()
    assert ("type 8", 1) in [
        (r.where, r.count) for r in read(table).remarks if r.kind is RemarkKind.NOT_UNDERSTOOD
    ]
    section = next(s for s in smbios_describe.describe(table) if s.title.startswith("connector"))
    assert dict(section.fields)["beyond_hex"] == "ab cd"


def test_an_end_mark_within_a_counted_table_does_not_end_it() -> None:
    """As dmidecode does: some old firmware has one in the middle, and the entry point's count decides."""
    table = FIRMWARE + end(0x20) + SYSTEM + end()
    counted = smbios_table.table_of_dump(dumped(entry_point_32(table, 4), table))
    assert [s.type for s in counted.structures] == [0, 127, 1, 127]
    assert [s.type for s in smbios_table.walk(table).structures] == [0, 127]


@pytest.mark.parametrize(
    ("told", "meant"), [((2, 31), (2, 3)), ((2, 33), (2, 3)), ((2, 51), (2, 6)), ((2, 8), (2, 8))]
)
def test_three_slips_of_old_firmware_in_the_version_are_corrected(
    told: tuple[int, int], meant: tuple[int, int]
) -> None:
    entry = smbios_table.entry_point(entry_point_32(WHOLE, 5, told))
    assert entry is not None
    assert entry.version == meant


def test_the_entry_point_of_2_0_has_only_its_second_half() -> None:
    half = bytearray(b"_DMI_\0" + struct.pack("<HIHB", len(WHOLE), 32, 5, 0x20))
    half[5] = -sum(half) % 256
    table = smbios_table.table_of_dump(dumped(bytes(half), WHOLE))
    assert table.entry is not None
    assert (table.entry.version, len(table.structures), table.faults) == ((2, 0), 5, ())


def test_what_would_steer_a_terminal_is_replaced_and_latin_1_is_read() -> None:
    assert smbios_table.text_of(b"a\x1b[2Jb\x07") == "a\ufffd[2Jb\ufffd"
    assert smbios_table.text_of(b"Tarn\xae C7") == "Tarn\u00ae C7"
    assert smbios_table.text_of("Tarn\u00ae C7".encode()) == "Tarn\u00ae C7"
    assert smbios_table.text_of(b"\x9b") == "\ufffd"


# Bounds and spoiled input


def huge() -> dict[str, bytes]:
    return {
        "tiny structures": structure(200, 1, b"") * 2_800_000,
        "modules": b"".join(structure(17, n, bytes([1] * 0x60), "A") for n in range(3000)),
        "bad strings": b"".join(structure(17, n, bytes([9] * 0x60)) for n in range(3000)),
        "processors": b"".join(structure(4, n, b"\xff" * 0x60, "x") for n in range(3000)),
        "no terminator": b"\0\x18\0\0" + b"\1" * (16 << 20),
        "many strings": structure(11, 1, b"\xff", *["a"] * 100_000),
        "zeros": bytes(16 << 20),
        "ones": b"\xff" * (16 << 20),
    }


@pytest.mark.parametrize("name", huge())
def test_a_huge_table_is_cut_at_a_named_bound(name: str) -> None:
    data = huge()[name]
    found = ends(lambda: read(data))
    sections = ends(lambda: smbios_describe.describe(data))
    assert len(found.sightings) <= smbios.MOST_PARTS
    assert len(sections) <= smbios_table.MOST_STRUCTURES + 3
    assert len(found.remarks) < 400
    cut = (RemarkKind.CUT_SHORT, RemarkKind.BAD_LENGTH, RemarkKind.NO_TERMINATOR)
    assert [r for r in found.remarks if r.kind in cut]


def sound_in_form(parsed: Parsed) -> None:
    for sighting in parsed.sightings:
        assert all((field.value is None) != (field.absent is None) for field in sighting.said)
        for field in sighting.said:
            if isinstance(field.value, int):
                assert -(1 << 63) <= field.value < 1 << 63
    places = [(s.kind, s.place) for s in parsed.sightings]
    assert len(places) == len(set(places))
    assert all(isinstance(r, Remark) and r.count >= 1 for r in parsed.remarks)


ALL_TYPES = b"".join(
    structure(kind, 0x100 + kind, bytes((n * 7 + kind) % 11 for n in range(0x60)), *STRINGS)
    for kind in sorted(smbios_checks.LAYOUTS)
    if kind != smbios_table.END
)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=600))
def test_no_bytes_whatever_are_raised_over(data: bytes) -> None:
    for form in (data, WHOLE[:-6] + data + end(), SOUND["32-bit entry point"][:32] + data):
        sound_in_form(read(form))
        assert isinstance(smbios_describe.describe(form), tuple)
        smbios.recognises("x", form)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=12),
    st.sampled_from(sorted(SOUND)),
)
def test_no_changed_bytes_are_raised_over(changes: list[tuple[int, int]], form: str) -> None:
    data = bytearray(SOUND[form][: -len(end())] + ALL_TYPES + end())
    for at, value in changes:
        data[at % len(data)] = value
    sound_in_form(read(bytes(data)))
    assert smbios_describe.describe(bytes(data))


def test_a_seeded_run_of_spoiled_structures_is_sound_in_form() -> None:
    chance = random.Random(11)
    kinds = sorted(smbios_checks.LAYOUTS)
    for _ in range(400):
        table = b"".join(
            structure(
                chance.choice(kinds),
                n,
                chance.randbytes(chance.randrange(0, 0x70)),
                *STRINGS[: chance.randrange(7)],
            )
            for n in range(12)
        )
        sound_in_form(read(table))
        assert smbios_describe.describe(table)
