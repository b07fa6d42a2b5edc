"""A smaller copy of a set of reference data: so many items of each archive, by chance from a seed."""

from __future__ import annotations

import random
import tarfile
from collections.abc import Callable
from pathlib import Path, PurePosixPath


def _stem(name: str) -> str:
    """The files of one item are named alike up to a point: `ID.bin` and `ID.txt`."""
    path = PurePosixPath(name)
    return str(path.with_name(path.name.partition(".")[0]))


def _folder(name: str) -> str:
    return PurePosixPath(name).parts[0]


ITEMS: dict[str, Callable[[str], str]] = {
    "dmi-desktop-text.tar.xz": _stem,
    "bsd-joined-machines.tar.xz": _folder,
    "edid.tar.xz": _stem,
    "edid-decode-samples.tar.xz": _stem,
    "smart-text.tar.xz": _stem,
    "cpuid-raw-libcpuid.tar.xz": str,
    "cpuid-raw-libvirt.tar.xz": _stem,
    "lscpu-text.tar.xz": _stem,
    "freebsd-dmesg.tar.xz": _stem,
}
"""The archives of many like items: which item a file in it belongs to. All other files are taken whole."""
TREES = (
    "linux-sysfs/util-linux/dumps",
    "linux-sysfs/ghw",
    "linux-sysfs/hwloc/linux",
    "linux-sysfs/hwloc/x86-cpuid",
)
"""Folders in which each archive is a whole machine."""
MACHINE = 10
"""A whole machine takes as long as that many items."""


def sampled(folder: Path, into: Path, count: int, seed: int) -> Path:
    """Make `into` a sample of a set's folder and return it. What is not sampled is a link to the original."""
    for file in sorted(path for path in folder.rglob("*") if path.is_file()):
        within = into / file.relative_to(folder)
        within.parent.mkdir(parents=True, exist_ok=True)
        item = ITEMS.get(file.name)
        if item is not None:
            _thin(file, within, item, count, seed)
        elif file not in _left_out(file.parent, folder, count, seed):
            within.symlink_to(file.resolve())
    return into


def _left_out(parent: Path, folder: Path, count: int, seed: int) -> frozenset[Path]:
    if f"{folder.name}/{parent.relative_to(folder)}" not in TREES:
        return frozenset()
    archives = sorted(parent.glob("*.tar.*"))
    chosen = random.Random(f"{seed}-{parent.name}").sample(archives, min(-(-count // MACHINE), len(archives)))
    return frozenset(archives) - frozenset(chosen)


def _thin(archive: Path, into: Path, item: Callable[[str], str], count: int, seed: int) -> None:
    """Write an archive of a few items of another. It keeps its name; readers look at the bytes."""
    with tarfile.open(archive) as whole, tarfile.open(into, "w") as small:
        members = [member for member in whole if member.isfile()]
        items = sorted({item(member.name) for member in members})
        chosen = set(random.Random(f"{seed}-{archive.name}").sample(items, min(count, len(items))))
        for member in members:
            if item(member.name) in chosen:
                small.addfile(member, whole.extractfile(member))
