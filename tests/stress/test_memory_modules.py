"""From a physical address to the module: tables of our own making, and recorded ones."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.stress.loads.memory_modules import Modules, modules_in, modules_of
from tests.machine.smbios_bytes import array, end, module, structure

GIB = 2**30
A, B = "smbios:DIMM_A1/BANK 0", "smbios:DIMM_B1/BANK 1"
UNKNOWN = 0xFF


def modules(*structures: bytes) -> Modules:
    table = b"".join((array(), *structures, end()))
    reply = Reply("smbios.table", "", SourceOutcome.READ, table, suffix="bin")
    return modules_in(smbios.parse((reply,)).sightings)


def fitted(handle: int, locator: str, bank: str, size_mib: int = 0x4000) -> bytes:
    return module(handle, size_mib, locator, bank, "Holloway", "1A", "-", "P")


BOTH = (fitted(0x11, "DIMM_A1", "BANK 0"), fitted(0x12, "DIMM_B1", "BANK 1"))


def whole(last_gib: int) -> bytes:
    """Type 19."""
    return structure(19, 0x20, struct.pack("<IIHB", 0, (last_gib << 20) - 1, 0x10, 2))


def of_one(handle: int, first_gib: int, last_gib: int, position: int = 0, depth: int = 0) -> bytes:
    """Type 20: device 0x11 or 0x12, its row position 1."""
    ends = first_gib << 20, (last_gib << 20) - 1
    return structure(20, 0x20 + handle, struct.pack("<IIHHBBB", *ends, handle, 0x20, 1, position, depth))


def test_modules_one_behind_the_other_are_told_apart() -> None:
    found = modules(*BOTH, whole(32), of_one(0x11, 0, 16), of_one(0x12, 16, 32))
    assert (found.meant(0), found.meant(16 * GIB - 1)) == (A, A)
    assert (found.meant(16 * GIB), found.meant(32 * GIB - 1)) == (B, B)
    assert found.candidates(5 * GIB) == (A,)


def test_interleaved_modules_are_all_candidates_and_none_is_meant() -> None:
    found = modules(*BOTH, whole(32), of_one(0x11, 0, 32, 1, 2), of_one(0x12, 0, 32, 2, 2))
    assert found.candidates(7 * GIB) == (A, B)
    assert found.meant(7 * GIB) == ""


@pytest.mark.parametrize("position", [1, 2])
def test_a_table_that_says_interleaved_anywhere_is_believed_nowhere(position: int) -> None:
    """Seen in a recorded table: ranges one behind the other, with an interleave position each."""
    found = modules(*BOTH, of_one(0x11, 0, 16), of_one(0x12, 16, 32, position, 2))
    assert found.candidates(1 * GIB) == (A,)
    assert (found.meant(1 * GIB), found.meant(17 * GIB)) == ("", "")


def test_ranges_that_leave_out_a_module_claim_none() -> None:
    found = modules(*BOTH, of_one(0x11, 0, 32))
    assert (found.candidates(GIB), found.meant(GIB)) == ((A,), "")


def test_an_address_beyond_all_ranges_has_no_candidate() -> None:
    """Memory behind the hole below 4 GiB is mapped above; many tables do not tell of that."""
    found = modules(*BOTH, of_one(0x11, 0, 16), of_one(0x12, 16, 32))
    assert (found.candidates(33 * GIB), found.meant(33 * GIB)) == ((), "")


def test_with_the_range_of_the_whole_array_alone_every_module_is_a_candidate() -> None:
    found = modules(*BOTH, whole(32))
    assert (found.candidates(GIB), found.meant(GIB)) == ((A, B), "")


def test_a_single_module_is_meant_whatever_the_ranges_say() -> None:
    empty = fitted(0x12, "DIMM_B1", "BANK 1", size_mib=0)
    for ranges in ((), (whole(16),), (of_one(0x11, 0, 16, 1, 2),)):
        assert modules(BOTH[0], empty, *ranges).meant(3 * GIB) == A


def test_an_unknown_position_is_no_sharing() -> None:
    found = modules(*BOTH, of_one(0x11, 0, 16, UNKNOWN, UNKNOWN), of_one(0x12, 16, 32, UNKNOWN, UNKNOWN))
    assert found.meant(20 * GIB) == B


def test_recorded_tables_claim_no_module_where_they_contradict_themselves(reference: Path) -> None:
    folder = reference / "smbios-raw"
    seen = 0
    for name in ("go-smbios/ASRock-Single-Ryzen.dmi", "systemd/Lenovo-Thinkcentre-m720s.bin",
                 "u-root/satellite_pro_l70_testdata.bin", "u-root/Gigabyte-GA-MA74GMT-S2.bin"):  # fmt: skip
        reply = Reply("table", "", SourceOutcome.READ, (folder / name).read_bytes(), suffix="bin")
        found = modules_in(smbios.parse((reply,)).sightings)
        assert len(found.fitted) > 1 and found.candidates(0x100)
        assert found.meant(0x100) == "", name
        seen += 1
    assert seen == 4


def test_the_modules_are_read_from_the_kernels_files(tmp_path: Path) -> None:
    folder = tmp_path / "sys/firmware/dmi/tables"
    folder.mkdir(parents=True)
    (folder / "DMI").write_bytes(b"".join((array(), BOTH[0], whole(16), end())))
    assert modules_of(Root(tmp_path)).meant(GIB) == A
    assert modules_of(Root(tmp_path / "nothing")) == Modules()
