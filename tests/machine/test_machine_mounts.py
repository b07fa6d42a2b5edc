"""Which drives hold a folder, through partitions, joined drives, loop devices and overlays."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shipworthy.machine import mounts
from shipworthy.machine.capture.files import resolve
from shipworthy.machine.mounts import drives_holding
from shipworthy.machine.reading import take_reading
from shipworthy.machine.root import LIVE, Root
from shipworthy.model.time import PretendClock
from tests.machine.recorded import NVME, build, link

NVME_PLACE, SATA_PLACE = "pci:0000:04:00.0/nvme-ns-1", "pci:0000:00:17.0/ata-2"
SDA = "sys/devices/pci0000:00/0000:00:17.0/ata5/host4/target4:0:0/4:0:0:0/block/sda"
Mount = Callable[..., Path]


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


@pytest.fixture
def mount(tmp_path: Path) -> Iterator[Mount]:
    """Mount something at a folder with that name; all is taken away at the end."""
    mounted: list[Path] = []

    def at(name: str, *arguments: object) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        done = subprocess.run(["mount", *map(str, arguments), folder], capture_output=True, text=True)
        if done.returncode:
            pytest.skip(f"this account may not mount, or the kernel knows no such thing: {done.stderr}")
        mounted.insert(0, folder)
        return folder

    yield at
    for folder in mounted:
        subprocess.run(["umount", folder], check=True)


def device_of(folder: Path) -> str:
    device = folder.stat().st_dev
    return f"sys/dev/block/{os.major(device)}:{os.minor(device)}"


def sparse(path: Path, size_bytes: int = 300 << 20) -> Path:
    path.touch()
    os.truncate(path, size_bytes)
    return path


def test_a_partition_lies_on_its_drive(machine: Path, tmp_path: Path) -> None:
    assert drives_holding(Root(machine), tmp_path) == ()
    link(machine, device_of(tmp_path), f"{NVME}/nvme/nvme0/nvme0n1/nvme0n1p1")
    assert drives_holding(Root(machine), tmp_path) == (NVME_PLACE,)
    assert drives_holding(Root(machine), tmp_path / "no-such-folder") == ()


def test_a_joined_device_lies_on_all_the_drives_below(machine: Path, tmp_path: Path) -> None:
    joined, mapped = "sys/devices/virtual/block/md0", "sys/devices/virtual/block/dm-0"
    link(machine, device_of(tmp_path), mapped)
    link(machine, f"{mapped}/slaves/md0", joined)
    link(machine, f"{joined}/slaves/nvme0n1p1", f"{NVME}/nvme/nvme0/nvme0n1/nvme0n1p1")
    assert drives_holding(Root(machine), tmp_path) == (NVME_PLACE,)
    link(machine, f"{joined}/slaves/sda", SDA)
    assert drives_holding(Root(machine), tmp_path) == (SATA_PLACE, NVME_PLACE)
    link(machine, f"{joined}/slaves/again", joined)  # a circle that no kernel makes
    assert drives_holding(Root(machine), tmp_path) == (SATA_PLACE, NVME_PLACE)


def test_on_this_machine_they_are_parts_of_its_reading(tmp_path: Path) -> None:
    reading = take_reading(LIVE, lambda name, data: None, nonce=None, clock=PretendClock())
    for place in drives_holding(LIVE, tmp_path):
        assert reading.at(place) is not None


@pytest.mark.parametrize("folder", ["/proc", "/sys"])
def test_what_lies_on_no_drive_is_on_none(folder: str) -> None:
    assert drives_holding(LIVE, Path(folder)) == ()


def test_memory_is_no_drive(mount: Mount) -> None:
    assert drives_holding(LIVE, mount("memory", "-t", "tmpfs", "none")) == ()


def test_a_file_system_in_a_file_lies_where_the_file_does(mount: Mount, tmp_path: Path) -> None:
    here = drives_holding(LIVE, tmp_path)
    if not here:
        pytest.skip("nothing tells which drive holds the tests' folder")
    image = sparse(tmp_path / "drive with a blank.img")
    subprocess.run(["mkfs.ext4", "-q", "-F", image], check=True)
    inner = mount("inner", "-o", "loop", image)
    assert drives_holding(LIVE, inner) == here
    memory = mount("memory", "-t", "tmpfs", "none")
    other = shutil.copy(image, memory / "drive.img")
    assert drives_holding(LIVE, mount("in-memory", "-o", "loop", other)) == ()


def test_an_overlay_lies_where_it_is_written_to(mount: Mount, tmp_path: Path) -> None:
    here = drives_holding(LIVE, tmp_path)
    if not here:
        pytest.skip("nothing tells which drive holds the tests' folder")
    for name in ("lower", "upper", "work"):
        (tmp_path / name).mkdir()
    options = f"lowerdir={tmp_path}/lower,upperdir={tmp_path}/upper,workdir={tmp_path}/work"
    both = mount("both", "-t", "overlay", "-o", options, "none")
    (both / "inside").mkdir()
    assert drives_holding(LIVE, both / "inside") == here


def test_btrfs_lies_on_all_its_devices_though_no_number_of_its_names_one(
    mount: Mount, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What stat(2) says of a folder in a subvolume stands nowhere else, not even in the mount table."""
    if shutil.which("mkfs.btrfs") is None:
        pytest.skip("there is no mkfs.btrfs here")
    loops = []
    for name in ("one", "two"):
        made = ["losetup", "--find", "--show", str(sparse(tmp_path / f"{name}.img"))]
        loops.append(subprocess.run(made, check=True, capture_output=True, text=True).stdout.strip())
    try:
        subprocess.run(["mkfs.btrfs", "-q", "-m", "raid1", "-d", "raid1", *loops], check=True)
        folder = mount("joined", loops[1])
        assert resolve(LIVE, f"/{device_of(folder)}") is None
        monkeypatch.setattr(mounts, "_below", lambda root, path, depth: {path.rsplit("/", 1)[-1]})
        assert set(drives_holding(LIVE, folder)) == {loop.removeprefix("/dev/") for loop in loops}
    finally:
        for loop in loops:  # a mounted one goes with its mount
            subprocess.run(["losetup", "--detach", loop], check=True)
