"""Recorded trees of real machines against what other tools printed of them."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.mounts import drives_holding
from shipworthy.machine.parse.wiring import storage_place
from shipworthy.machine.reading import reread, take_reading
from shipworthy.machine.root import Root
from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.time import PretendClock
from shipworthy.model.words import PartKind
from tests.machine.test_machine_reading import Kept

Unpack = Callable[[str], Path]
GHW, UTIL = "linux-sysfs/ghw", "linux-sysfs/util-linux"


def read(folder: Path) -> Reading:
    return take_reading(Root(folder), lambda name, data: None, nonce=None, clock=PretendClock())


def one(reading: Reading, kind: PartKind) -> Part:
    (part,) = reading.of_kind(kind)
    return part


def test_the_desktop_of_ghw_has_its_processor_memory_and_cards(unpacked: Unpack) -> None:
    """ghw's own tests of this snapshot: a Ryzen 5 1600, 6 cores, 12 threads, a Radeon at 0000:0a:00.0."""
    reading = read(unpacked(f"{GHW}/linux-amd64-amd-ryzen-1600.tar.gz"))
    processor = one(reading, PartKind.PROCESSOR)
    assert processor.value("model") == "AMD Ryzen 5 1600 Six-Core Processor"
    assert (processor.value("cores"), processor.value("threads")) == (6, 12)
    assert processor.value("online_cpus") == "0-11"
    card = one(reading, PartKind.GRAPHICS)
    assert (card.place, card.value("vendor_id"), card.value("device_id")) == (
        "pci:0000:0a:00.0",
        "0x1002",
        "0x6758",
    )
    assert len(reading.of_kind(PartKind.STORAGE)) == 3
    assert one(reading, PartKind.MEMORY).value("usable_bytes") == 32777916 * 1024


def test_every_function_in_the_desktops_bus_folder_is_a_part(unpacked: Unpack) -> None:
    folder = unpacked(f"{GHW}/linux-amd64-amd-ryzen-1600.tar.gz")
    reading = read(folder)
    functions = {f"pci:{entry.name}" for entry in (folder / "sys/bus/pci/devices").iterdir()}
    assert functions <= {part.place for part in reading.parts}
    assert len(functions) > 30


def test_a_machine_with_processors_offline_says_which(unpacked: Unpack) -> None:
    folder = unpacked(f"{GHW}/linux-amd64-offlineCPUs.tar.gz")
    online = (folder / "sys/devices/system/cpu/online").read_text().strip()
    parts = read(folder).of_kind(PartKind.PROCESSOR)
    assert online == "0-1"
    assert [part.value("online_cpus") for part in parts] == ["0", "1"]
    assert all(part.value("cores") is None for part in parts)


def test_a_machine_with_accelerators_reads_to_its_end(unpacked: Unpack) -> None:
    folder = unpacked(f"{GHW}/linux-amd64-accel.tar.gz")
    reading = read(folder)
    functions = list((folder / "sys/bus/pci/devices").iterdir())
    on_the_bus = [part for part in reading.parts if part.fact("vendor_id") is not None]
    assert len(on_the_bus) == len(functions)


LSCPU = re.compile(r"^(.+?):\s+(.*)$", re.MULTILINE)


@pytest.mark.parametrize("name", ["x86_64-64cpu", "x86_64-dell_e4310", "vbox-win"])
def test_processors_are_those_that_lscpu_lists(unpacked: Unpack, reference: Path, name: str) -> None:
    """util-linux tests/expected/lscpu."""
    said = dict(LSCPU.findall((reference / UTIL / "expected" / f"lscpu-{name}").read_text()))
    sockets = read(unpacked(f"{UTIL}/dumps/{name}.tar.gz")).of_kind(PartKind.PROCESSOR)
    assert len(sockets) == int(said["Socket(s)"])
    for socket in sockets:
        assert socket.value("model") == " ".join(said["Model name"].split())
        assert socket.value("cores") == int(said["Core(s) per socket"])
        assert socket.value("threads") == int(said["Core(s) per socket"]) * int(said["Thread(s) per core"])
        if "CPU max MHz" in said:
            assert socket.value("max_mhz") == int(float(said["CPU max MHz"]))


@pytest.mark.parametrize("name", ["simple-nvme", "simple-lvm"])
def test_drives_are_the_disks_that_lsblk_lists(unpacked: Unpack, reference: Path, name: str) -> None:
    """util-linux tests/expected/lsblk: names and sizes (in GiB, one place), models."""
    folder = reference / UTIL / "expected"
    disks = re.findall(
        r"^(\w+) +\w+ +\d+:\d+ +\d +([\d.]+)G disk",
        (folder / f"lsblk-{name}-basic").read_text(),
        re.MULTILINE,
    )
    models = (folder / f"lsblk-{name}-vendor").read_text()
    drives = {
        part.text("kernel_name"): part
        for part in read(unpacked(f"{UTIL}/dumps/{name}.tar.xz")).of_kind(PartKind.STORAGE)
    }
    assert set(drives) == {disk for disk, _ in disks}
    for disk, size in disks:
        bytes_ = drives[disk].number("size_bytes")
        assert bytes_ is not None
        assert abs(bytes_ / (1 << 30) - float(size)) <= 0.05
        assert f"{disk} " in models and drives[disk].text("model") in models
    assert len({part.place for part in drives.values()}) == len(disks)


@pytest.mark.parametrize(
    ("partition", "place"), [("sda4", "pci:0000:00:1f.2/ata-1"), ("nvme0n1p2", "pci:0000:01:00.0/nvme-ns-1")]
)
def test_a_folder_on_a_partition_is_on_the_partitions_drive(
    unpacked: Unpack, tmp_path: Path, partition: str, place: str
) -> None:
    tree = tmp_path / "tree"
    shutil.copytree(unpacked(f"{UTIL}/dumps/simple-nvme.tar.xz"), tree, symlinks=True)
    device = tmp_path.stat().st_dev
    disk = (tree / "sys/block" / ("sda" if partition.startswith("sda") else "nvme0n1")).resolve()
    block = tree / "sys/dev/block" / f"{os.major(device)}:{os.minor(device)}"
    block.parent.mkdir(parents=True, exist_ok=True)
    block.unlink(missing_ok=True)
    block.symlink_to(os.path.relpath(disk / partition, block.parent))
    assert drives_holding(Root(tree), tmp_path) == (place,)


def test_a_hybrid_processor_is_counted_as_hwloc_counts_it(unpacked: Unpack, reference: Path) -> None:
    """hwloc's listing of an i7-1370P: cores and processing units, board and firmware from the DMI fields."""
    stem = "linux-sysfs/hwloc/linux/20em64t-hybrid-1p6c2t+2ca4co1t"
    listing = (reference / f"{stem}.console").read_text()
    reading = read(unpacked(f"{stem}.tar.bz2"))
    processor = one(reading, PartKind.PROCESSOR)
    assert processor.value("cores") == len(re.findall(r"^ +Core L#", listing, re.MULTILINE))
    assert processor.value("threads") == len(re.findall(r"^ +PU L#", listing, re.MULTILINE))
    assert processor.value("performance_cores") == len(re.findall(r"Core L#.*cpukind=1", listing)) == 6
    assert processor.value("efficiency_cores") == len(re.findall(r"Core L#.*cpukind=0", listing)) == 8
    assert (processor.value("performance_cpus"), processor.value("efficiency_cpus")) == ("0-11", "12-19")
    assert processor.value("core_kinds_by") == "base clock"  # the tree lacks the kernel's lists
    assert f'CPUModel="{processor.value("model")}"' in listing
    assert f"DMIBoardName={one(reading, PartKind.BOARD).value('model')} " in listing
    assert f'DMIBIOSVersion="{one(reading, PartKind.FIRMWARE).value("version")}"' in listing
    assert f'DMIProductName="{one(reading, PartKind.SYSTEM).value("model")}"' in listing
    assert one(reading, PartKind.CHASSIS).value("type") == "Notebook"  # type 10 in the listing


def test_a_two_socket_server_is_counted_as_hwloc_counts_it(unpacked: Unpack, reference: Path) -> None:
    stem = "linux-sysfs/hwloc/linux/32intel64-2p8co2t+8ve"
    listing = (reference / f"{stem}.console").read_text()
    sockets = read(unpacked(f"{stem}.tar.bz2")).of_kind(PartKind.PROCESSOR)
    assert len(sockets) == len(re.findall(r"^ +Package L#", listing, re.MULTILINE))
    assert sum(int(socket.number("cores") or 0) for socket in sockets) == len(
        re.findall(r"^ +Core L#", listing, re.MULTILINE)
    )


def test_namespaces_are_at_the_controllers_that_libnvme_lists(
    unpacked: Unpack, reference: Path, tmp_path: Path
) -> None:
    """libnvme's tree-pcie: one plain namespace, and one behind a subsystem with two controllers. The tree has
    no /sys/block, which every live system has: links are added to a copy."""
    tree = tmp_path / "tree"
    shutil.copytree(unpacked("linux-sysfs/libnvme/tree-pcie.tar.xz"), tree, symlinks=True)
    block = tree / "sys/block"
    block.mkdir(parents=True)
    folders = [f for f in (tree / "sys/devices").rglob("nvme?n1") if f.is_dir() and not f.is_symlink()]
    for folder in folders:
        (block / folder.name).symlink_to(Path("..") / folder.relative_to(tree / "sys"))
    expected: dict[str, str] = {}
    hosts = json.loads((reference / "linux-sysfs/libnvme/tree-pcie.out").read_text())["hosts"]
    for subsystem in hosts[0]["subsystems"]:
        for namespace in subsystem["namespaces"]:
            first = namespace.get("controller") or namespace["paths"][0]["controller"]
            expected[namespace["name"]] = f"pci:{first[0]['traddr']}/nvme-ns-{namespace['nsid']}"
    drives = read(tree).of_kind(PartKind.STORAGE)
    assert {drive.text("kernel_name"): drive.place for drive in drives} == expected
    assert storage_place("/sys/devices/virtual/nvme-subsystem/nvme-subsys1/nvme1n1") is None


@pytest.mark.parametrize(
    "name",
    [
        f"{GHW}/linux-amd64-amd-ryzen-1600.tar.gz",
        f"{UTIL}/dumps/simple-nvme.tar.xz",
        "linux-sysfs/hwloc/linux/20em64t-hybrid-1p6c2t+2ca4co1t.tar.bz2",
    ],
)
def test_a_real_tree_reads_the_same_again_from_its_raw_files(
    unpacked: Unpack, tmp_path: Path, name: str
) -> None:
    reading = take_reading(Root(unpacked(name)), Kept(tmp_path), nonce=None, clock=PretendClock())
    assert reread(tmp_path) == reading
