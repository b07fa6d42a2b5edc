"""What the drive and the display say, against layouts and values from outside."""

from __future__ import annotations

import csv
import shutil
import subprocess
from pathlib import Path

import pytest

from shipworthy.sim.edid import edid
from shipworthy.sim.nvme import (
    DATA_UNIT_BYTES,
    Wear,
    identify_controller,
    identify_namespace,
    lba_count,
    smart_log,
)
from shipworthy.sim.parts import Fault, fitted


def _fields(path: Path, data: bytes) -> dict[str, bytes]:
    with path.open(newline="") as file:
        return {
            row["field"]: data[int(row["offset"]) : int(row["offset"]) + int(row["length"])]
            for row in csv.DictReader(file)
        }


def test_identify_controller_has_its_fields_where_libnvme_has_them(reference: Path) -> None:
    data = identify_controller(fitted().drive)
    said = _fields(reference / "check-values/nvme-identify-controller.csv", data)
    assert len(data) == 4096
    assert said["sn"] == b"QM2A26070088153     "
    assert said["mn"].rstrip() == b"Quarrel M2 1TB"
    assert said["fr"] == b"Q2.04   "
    numbers = {
        name: int.from_bytes(said[name], "little") for name in ("vid", "ver", "wctemp", "cctemp", "nn")
    }
    assert numbers == {"vid": 0x70DE, "ver": 0x10400, "wctemp": 358, "cctemp": 363, "nn": 1}
    assert int.from_bytes(said["tnvmcap"], "little") == 1_000_204_886_016
    assert said["subnqn"].rstrip(b"\0").startswith(b"nqn.2014-08.org.nvmexpress:uuid:")


def test_the_health_log_has_its_fields_where_libnvme_has_them(reference: Path) -> None:
    data = smart_log(fitted(frozenset({Fault.DRIVE_NOT_NEW})).wear, temperature_k=311)
    said = _fields(reference / "check-values/nvme-smart-log-02h.csv", data)
    assert len(data) == 512
    names = (
        "composite_temperature",
        "power_on_hours",
        "power_cycles",
        "data_units_written",
        "percentage_used",
    )
    numbers = {name: int.from_bytes(said[name], "little") for name in names}
    assert numbers == {
        "composite_temperature": 311,
        "power_on_hours": 3112,
        "power_cycles": 410,
        "data_units_written": 18_000_000_000_000 // 512_000,
        "percentage_used": 3,
    }
    assert not any(said["critical_warning"] + said["media_and_data_integrity_errors"])


def test_data_units_are_rounded_up_so_that_one_byte_is_not_nothing() -> None:
    log = smart_log(Wear(0, 1, 1, DATA_UNIT_BYTES + 1, 0, 0), temperature_k=300)
    assert int.from_bytes(log[32:48], "little") == 1
    assert int.from_bytes(log[48:64], "little") == 2


def test_a_drives_blocks_follow_the_published_table(reference: Path) -> None:
    with (reference / "check-values/storage-lba.csv").open(newline="") as file:
        table = {int(row["marketed_GB"]): int(row["lba_512"]) for row in csv.DictReader(file)}
    assert table
    assert {size: lba_count(size) for size in table} == table


def test_the_namespace_is_as_large_as_the_drive() -> None:
    data = identify_namespace(fitted().drive)
    assert int.from_bytes(data[:8], "little") << data[130] == 1_000_204_886_016


def test_the_displays_timing_is_the_published_example(reference: Path) -> None:
    example = bytes.fromhex((reference / "check-values/edid-qhd-example.hex").read_text())
    assert edid(fitted().screen)[54:72] == example[54:72]


def test_the_bytes_of_an_edid_sum_to_zero() -> None:
    block = edid(fitted().screen)
    assert len(block) == 128
    assert sum(block) % 256 == 0


@pytest.mark.skipif(shutil.which("edid-decode") is None, reason="edid-decode is not installed")
def test_edid_decode_finds_no_fault_and_reads_the_serial(tmp_path: Path) -> None:
    file = tmp_path / "edid.bin"
    file.write_bytes(edid(fitted().screen))
    answer = subprocess.run(["edid-decode", "--check", file], capture_output=True, text=True, check=False)
    assert answer.returncode == 0, answer.stdout
    assert "'L27Q6A01938'" in answer.stdout and "Manufacturer: LWL" in answer.stdout
    assert "EDID conformity: PASS" in answer.stdout
