"""The tables that we write, against bytes composed by others and against dmidecode."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from uuid import UUID

import pytest

from shipworthy.sim import smbios
from shipworthy.sim.parts import Fault, fitted
from shipworthy.sim.unit import smbios_table


@pytest.fixture(scope="module")
def example(reference: Path) -> bytes:
    """A table whose every field dmidecode 3.4 has read: entry point at 0, table at 32 (smbios.md)."""
    return bytes.fromhex((reference / "check-values/smbios-example.hex").read_text())


def test_the_entry_point_is_the_published_example_byte_for_byte(example: bytes) -> None:
    assert smbios.entry_point(bytes(1067)) == example[:24]


def test_the_bytes_of_an_entry_point_sum_to_zero_for_any_length() -> None:
    assert all(sum(smbios.entry_point(bytes(size))) % 256 == 0 for size in (0, 1, 255, 256, 70_000))


@pytest.mark.parametrize(
    "ours",
    [
        smbios.system(
            0x01,
            maker="Bench Builder",
            product="Model T",
            version="1.0",
            serial="SN-0001",
            uuid=UUID("00112233-4455-6677-8899-aabbccddeeff"),
            sku="SKU-9",
            family="Family A",
        ),
        smbios.port(0x09, internal="J_LAN1", external="LAN rear", connector=0x0B, kind=0x1F),
        smbios.memory_array(0x10, max_gib=192, slots=4),
        smbios.memory_mapping(0x20, 0x10, size_bytes=64 * 2**30, partition_width=2),
        smbios.onboard_device(0x21, designation="Onboard LAN", kind=0x05, bus=3, function=0),
        smbios.structure(127, 0x00FF, b""),
    ],
    ids=["system", "port", "memory array", "memory mapping", "onboard device", "end"],
)
def test_a_structure_is_the_examples_byte_for_byte(example: bytes, ours: bytes) -> None:
    assert ours in example


def test_a_module_says_the_examples_fields_at_the_examples_offsets(example: bytes) -> None:
    handle_0011 = example.index(bytes.fromhex("115c1100"))
    theirs = example[handle_0011 : handle_0011 + 0x5C]
    module = smbios.Module(16_384, "Maker One", "00A1B2C3", "PN-16G-5600", 4800, 4800, 1100)
    ours = smbios.memory_device(0x11, 0x10, locator="DIMM_A1", bank="BANK 0", module=module)
    same = {"size": (0x0C, 2), "form": (0x0E, 1), "type": (0x12, 3), "speed": (0x15, 2), "ranks": (0x1B, 1)}
    same |= {"configured": (0x20, 2), "millivolts": (0x22, 6), "kind": (0x28, 3)}
    for offset, length in same.values():
        assert ours[offset : offset + length] == theirs[offset : offset + length], hex(offset)
    assert ours[1] == theirs[1] == 0x5C


def test_a_structure_without_strings_ends_in_two_nuls() -> None:
    assert smbios.structure(126, 7, b"\x01") == bytes([126, 5, 7, 0, 1, 0, 0])


def test_equal_strings_are_stored_once() -> None:
    strings = smbios.Strings()
    assert [strings("a"), strings("b"), strings("a"), strings("")] == [1, 2, 1, 0]


@pytest.mark.skipif(shutil.which("dmidecode") is None, reason="dmidecode is not installed")
@pytest.mark.parametrize(
    ("faults", "processor", "configured"),
    [(frozenset[Fault](), "Tarn C7", "6000"), (frozenset(Fault), "Tarn C5", "4800")],
)
def test_dmidecode_reads_the_units_table(
    tmp_path: Path, faults: frozenset[Fault], processor: str, configured: str
) -> None:
    table = smbios_table(fitted(faults), cores=2)
    dump = tmp_path / "dump.bin"
    dump.write_bytes(smbios.entry_point(table).ljust(smbios.TABLE_ADDRESS, b"\0") + table)
    text = subprocess.run(
        ["dmidecode", "--from-dump", dump], capture_output=True, text=True, check=True
    ).stdout
    assert "Wrong" not in text and "<BAD" not in text and "<OUT OF SPEC>" not in text
    assert f"Version: {processor}\n" in text
    assert text.count(f"Configured Memory Speed: {configured} MT/s") == 2
    assert text.count("\tSize: No Module Installed") == text.count("\tSize: 8 GB\n") == 2
    assert "Serial Number: 2F61C0A4" in text and "Serial Number: 2F61C0B7" in text
    assert "Range Size: 16 GB" in text
    assert text.rstrip().endswith("End Of Table")
