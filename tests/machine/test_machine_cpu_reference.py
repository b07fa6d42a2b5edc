"""What `bench/decoding` measures of processors, recorded trees, reports of other tools and sensor labels."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent / "bench"))

from decoding import cpu, linux_sysfs, lshw_lspci, sensor_labels


def test_processors_agree_with_two_projects_expectations_and_with_lscpus_reports(reference: Path) -> None:
    """Six expectations of libcpuid's are corrected by name, and say why."""
    tally = cpu.measure(reference / "cpu")
    assert (tally.items, tally.crashed, tally.differ) == (1263, 0, 0), tally.examples
    assert tally.agree > 7_600
    assert tally.notes["corrected expectations"] == len(cpu.KNOWN_WRONG) == 6
    assert tally.notes["lscpu reports that contradict themselves"] == 1


@pytest.mark.slow
def test_recorded_trees_agree_with_lscpu_lsblk_hwloc_and_their_own_files(reference: Path) -> None:
    tally = linux_sysfs.measure(reference / "linux-sysfs")
    assert (tally.items, tally.crashed, tally.differ) == (31, 0, 0), tally.examples
    assert tally.agree > 240


def test_reports_of_lshw_lscpu_and_lsblk_agree_with_plain_counts(reference: Path) -> None:
    """Of twelve servers that are called the same, two have a quarter of the others' memory."""
    tally = lshw_lspci.measure(reference / "lshw-lspci")
    assert (tally.crashed, tally.differ) == (0, 0), tally.examples
    assert tally.agree > 150
    assert tally.notes["identical servers: 2 with memory of (bytes)"] == 32 << 30
    assert tally.notes["identical servers: 10 with memory of (bytes)"] == 128 << 30


def test_one_input_of_one_chip_is_many_things_on_many_boards(reference: Path) -> None:
    tally = sensor_labels.measure(reference / "sensor-labels")
    assert (tally.items, tally.crashed, tally.differ) == (78, 0, 0), tally.examples
    shared = tally.notes["inputs of chips on several boards"]
    several = tally.notes["of them, with several meanings"]
    assert isinstance(shared, int) and isinstance(several, int) and several > shared / 2 > 100
