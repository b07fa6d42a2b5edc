"""The unit as a folder: complete, closed in itself, and faulty only where a fault was planted."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, read_record
from shipworthy.sim.parts import Fault
from shipworthy.sim.tree import cpu_list, cpu_mask
from shipworthy.sim.unit import Mark, build

_PLANTED = {
    Fault.WRONG_PART: {"proc/cpuinfo", "sys/firmware/dmi/tables/DMI"},
    Fault.PROFILE_OFF: {"sys/firmware/dmi/tables/DMI"},
    Fault.DRIVE_NOT_NEW: {"replies/nvme0/smart-log.bin"},
    Fault.LINK_SLOW: set[str](),  # it shows once the unit is warm: see the feed
}


def _build(folder: Path, *faults: Fault, cpus: tuple[int, ...] = (0, 1)) -> Root:
    return build(folder, frozenset(faults), cpus=cpus, device_number=(259, 3))


def _files(root: Root) -> dict[str, bytes | str]:
    found: dict[str, bytes | str] = {}
    for path in root.folder.rglob("*"):
        name = path.relative_to(root.folder).as_posix()
        if path.is_symlink():
            found[name] = str(path.readlink())
        elif path.is_file():
            found[name] = path.read_bytes()
    return found


def test_it_says_that_it_is_simulated_and_what_it_borrows(tmp_path: Path) -> None:
    root = _build(tmp_path / "unit", Fault.PROFILE_OFF, cpus=(2, 5))
    mark = read_record(root.path("simulated-unit.json"), Mark)
    assert root.simulated
    assert (mark.cpus, mark.device, mark.faults) == ((2, 5), "259:3", (Fault.PROFILE_OFF,))


def test_every_link_is_relative_and_stays_inside(tmp_path: Path) -> None:
    root = _build(tmp_path / "unit")
    links = [path for path in root.folder.rglob("*") if path.is_symlink()]
    assert len(links) > 40
    for link in links:
        assert not link.readlink().is_absolute(), link
        target = Path(os.path.realpath(link))
        assert target.is_relative_to(root.folder.resolve()), link
        assert target.exists(), link


def test_the_same_unit_is_built_twice_alike(tmp_path: Path) -> None:
    assert _files(_build(tmp_path / "one")) == _files(_build(tmp_path / "two"))


@pytest.mark.parametrize("fault", list(Fault))
def test_a_fault_changes_only_what_its_part_says(tmp_path: Path, fault: Fault) -> None:
    sound, faulty = _files(_build(tmp_path / "sound")), _files(_build(tmp_path / "faulty", fault))
    assert sound.keys() == faulty.keys()
    changed = {name for name in sound if sound[name] != faulty[name]} - {"simulated-unit.json"}
    assert changed == _PLANTED[fault]


def test_the_mirror_of_the_firmware_says_what_the_table_says(tmp_path: Path) -> None:
    root = _build(tmp_path / "unit")
    table = root.path("/sys/firmware/dmi/tables/DMI").read_bytes()
    mirror = root.path("/sys/class/dmi/id")
    for name in (
        "bios_version",
        "board_serial",
        "board_name",
        "chassis_serial",
        "product_serial",
        "sys_vendor",
    ):
        text = (mirror / name).read_text().strip()
        assert text and text.encode() + b"\0" in table, name


def test_it_has_exactly_the_cpus_that_it_was_lent(tmp_path: Path) -> None:
    root = _build(tmp_path / "unit", cpus=(3, 8, 9))
    cpu = root.path("/sys/devices/system/cpu")
    assert (cpu / "online").read_text() == "3,8-9\n"
    assert sorted(path.name for path in cpu.glob("cpu[0-9]*")) == ["cpu3", "cpu8", "cpu9"]
    assert root.path("/proc/cpuinfo").read_text().count("processor\t:") == 3
    assert (cpu / "cpu8/topology/core_siblings_list").read_text() == "3,8-9\n"


def test_files_of_the_lent_device_lie_on_its_drive(tmp_path: Path) -> None:
    root = _build(tmp_path / "unit")
    block = root.path("/sys/dev/block/259:3").resolve()
    assert block == root.path("/sys/block/nvme0n1").resolve()
    assert (block / "dev").read_text() == "259:3\n"
    assert "/0000:03:00.0/nvme/nvme0/nvme0n1" in str(block)


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(Trouble, match="is not empty"):
        _build(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(Trouble, match="cannot be written"):
        _build(tmp_path / "file" / "unit")


@pytest.mark.parametrize("cpus", [(), (1, 1), (-1,)])
def test_impossible_cpus_are_our_bug_not_a_trouble(tmp_path: Path, cpus: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="at least one CPU"):
        _build(tmp_path / "unit", cpus=cpus)


def test_cpu_numbers_are_written_as_the_kernel_writes_them() -> None:
    # Documentation/admin-guide/cputopology.rst and bitmap printing (%*pbl, %*pb)
    assert [cpu_list(n) for n in ((), (0,), (0, 1, 2), (0, 2, 3, 9))] == ["", "0", "0-2", "0,2-3,9"]
    assert [cpu_mask(n) for n in ((0,), (0, 4), (32,))] == ["00000001", "00000011", "00000001,00000000"]
