"""`bench/decode.py`: its result on a sample is pinned, and a set that cannot be measured costs no other."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

SCRIPT = Path(__file__).resolve().parent.parent / "bench/decode.py"
KEYS = {"set", "items", "crashed", "agree", "differ", "unsupported", "examples", "notes", "seconds"}

SEED = 4
PINNED: dict[str, tuple[int, int, int]] = {
    "smbios-raw": (22, 14899, 635),
    "dmi-desktop-text": (30, 1221, 573),
    "bsd-joined-machines": (30, 1249, 0),
    "edid": (60, 10605, 14),
    "spd": (1, 143, 0),
    "smart-text": (30, 487, 6),
    "smart-json": (90, 2080, 12),
    "smart-text-with-expected": (22, 594, 17),
    "cpu": (90, 499, 3),
    "gpu-readings": (11, 282, 16),
    "amdgpu-names": (573, 1719, 0),
    "lshw-lspci": (30, 153, 9),
    "lspci": (1, 103, 0),
    "sensor-labels": (78, 328, 0),
    "kernel-logs": (39, 209, 0),
}
"""Of each set: items, single fields that agree, what is named as not decoded. Nothing differs anywhere."""
TREES: dict[str, tuple[int, int, int]] = {
    "linux-sysfs": (7, 87, 0),
    "linux-sysfs-devices": (5, 93, 7),
    "linux-sysfs-pci": (2, 198, 0),
}
"""Of whole machines, which take longer to unpack."""
TOOLS = {"smbios-raw": "dmidecode", "edid": "edid-decode", "spd": "decode-dimms", "linux-sysfs-pci": "lspci"}
"""What is held against a program that is run then, too: without it, fewer fields agree."""


def decode(*arguments: object) -> tuple[int, dict[str, dict[str, Any]]]:
    done = subprocess.run(
        [sys.executable, SCRIPT, *map(str, arguments)], capture_output=True, text=True, check=False
    )
    assert done.stdout, done.stderr
    rows = json.loads(done.stdout)["sets"]
    return done.returncode, {row["set"]: row for row in rows}


def hold(pinned: dict[str, tuple[int, int, int]], data: Path, sample: int) -> None:
    chosen = ("--sample", sample, "--seed", SEED)
    code, told = decode(data, *chosen, *(word for name in pinned for word in ("--set", name)))
    assert {name for name, row in told.items() if row["crashed"]} == set(), told
    assert {name: row["examples"] for name, row in told.items() if row["differ"]} == {}
    assert code == 0
    assert all(set(row) == KEYS for row in told.values())
    found = {name: (row["items"], row["agree"], row["unsupported"]) for name, row in told.items()}
    for name, tool in TOOLS.items():
        if name in found and shutil.which(tool) is None:
            found[name] = pinned[name] if found[name][1] <= pinned[name][1] else found[name]
    assert found == pinned, f"if the change is meant, pin {found}"


@pytest.mark.slow
def test_the_result_on_a_sample_is_pinned(reference: Path) -> None:
    if shutil.which("dmidecode") is None:
        pytest.skip("dmidecode is not installed")
    hold(PINNED, reference, 30)


@pytest.mark.slow
def test_the_result_on_a_sample_of_whole_machines_is_pinned(reference: Path) -> None:
    hold(TREES, reference, 10)


def test_every_set_of_the_data_has_a_row(reference: Path) -> None:
    folders = {entry.name for entry in reference.iterdir() if entry.is_dir()}
    others = {"gpu-trace", "windows-registry"}  # a trace of loads, and hives: nothing here decodes them
    code = (
        f"import sys; sys.path.insert(0, {str(SCRIPT.parent)!r}); import decode; print(*decode.SETS.values())"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert {name for name in folders - others if f"'{name}'" not in told} == set()


def test_a_set_that_cannot_be_measured_costs_no_other(tmp_path: Path) -> None:
    (tmp_path / "names").mkdir()
    (tmp_path / "smart-json").mkdir()
    report = {"smartctl": {"version": [7, 3]}, "device": {"name": "/dev/sda", "protocol": "ATA"}}
    report |= {"model_name": "Skogdata Sill 3TB", "serial_number": "SK-0007712"}
    (tmp_path / "smart-json/drive.json").write_text(json.dumps(report), "utf-8")
    code, told = decode(tmp_path)
    assert list(told) == ["smart-json", "amdgpu-names"]
    assert (told["amdgpu-names"]["items"], told["amdgpu-names"]["crashed"]) == (0, 1)
    assert "FileNotFoundError" in told["amdgpu-names"]["examples"][0]
    drives = told["smart-json"]
    assert (drives["items"], drives["crashed"], drives["differ"], drives["agree"]) == (1, 0, 0, 2)
    assert code == 1


def test_a_folder_without_any_set_is_refused(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, SCRIPT, tmp_path], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "holds none of the sets" in done.stderr
