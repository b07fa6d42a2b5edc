"""Which drives hold a folder's bytes: the places of the storage parts below its file system."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.files import Lister, names_in, read_file, resolve
from shipworthy.machine.listing import Listing, encode_listing
from shipworthy.machine.parse.block import block_place
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

BTRFS = "/sys/fs/btrfs"
DEEPEST = 8  # of devices on devices, and files on file systems
_ESCAPE = re.compile(rb"\\([0-7]{3})")


def drives_holding(root: Root, folder: Path) -> tuple[str, ...]:
    """Return the places of all drives that hold a folder, as the reading names them, in order.

    Several where a file system lies on several: joined drives (RAID, LVM), or btrfs over more than one.
    Empty where none can be told: a network share, memory, ZFS.
    """
    return tuple(sorted(_holding(root, folder, DEEPEST)))


def _holding(root: Root, folder: Path, depth: int) -> set[str]:
    if not depth:
        return set()
    found: set[str] = set()
    try:
        for path in _devices(root, folder):
            found |= _below(root, path, depth)
        if root.live and (upper := _upper(folder)) is not None:
            found |= _holding(root, upper, depth - 1)
    except OSError:
        return set()  # not there, or gone meanwhile
    return found


def _devices(root: Root, folder: Path) -> Iterator[str]:
    """Yield the folders in sysfs of the block devices that a file system is on.

    A file system of several devices has a number of its own (st_dev), which is not even the one in the mount
    table for a part of it (a subvolume of btrfs); so the mount is found by its id, and it names one device.
    """
    device = folder.stat().st_dev
    path = resolve(root, f"/sys/dev/block/{os.major(device)}:{os.minor(device)}")
    if path is not None:
        yield path
    elif root.live:
        _, source, _ = _mount(folder)
        for name in _names(source):
            for member in _members(root, name):
                path = resolve(root, f"/sys/class/block/{member}")
                if path is not None:
                    yield path


def _mount(folder: Path) -> tuple[str, str, str]:
    """Return type, source and options of the mount that a folder is in: proc_pid_mountinfo(5); `mnt_id` of
    proc_pid_fdinfo(5), since Linux 3.15. Empty texts where that is not told."""
    descriptor = os.open(folder, os.O_PATH | os.O_CLOEXEC)
    try:
        told = Path(f"/proc/self/fdinfo/{descriptor}").read_bytes()
    finally:
        os.close(descriptor)
    wanted = re.search(rb"^mnt_id:\s*(\d+)", told, re.MULTILINE)
    for line in Path("/proc/self/mountinfo").read_bytes().splitlines():
        head, _, tail = line.partition(b" - ")
        if wanted is not None and head.split()[:1] == [wanted[1]] and len(tail.split()) > 2:
            kind, source, options = map(_unescaped, tail.split()[:3])
            return kind, source, options
    return "", "", ""


def _names(source: str) -> Iterator[str]:
    """Yield the kernel's names of what was mounted; some list several devices (`/dev/sda:/dev/sdb`)."""
    nodes = [source] if os.path.exists(source) else source.split(":")  # noqa: PTH110 as the kernel wrote it
    for node in nodes:
        real = os.path.realpath(node)  # a link of the device mapper
        if node.startswith("/dev/") and real.startswith("/dev/"):
            yield real.removeprefix("/dev/").replace("/", "!")


def _members(root: Root, name: str) -> tuple[str, ...]:
    """Return all devices of the btrfs that a device belongs to; the device alone if it is of none."""
    for entry in names_in(root, BTRFS):
        devices = names_in(root, f"{BTRFS}/{entry}/devices")
        if name in devices:
            return devices
    return (name,)


def _upper(folder: Path) -> Path | None:
    """Return where an overlay keeps what is written to it; None for another file system, or one unseen from
    here (a container's)."""
    kind, _, options = _mount(folder)
    upper = re.search(r"(?:^|,)upperdir=([^,]+)", options) if kind == "overlay" else None
    return Path(upper[1]) if upper is not None and Path(upper[1]).is_dir() else None


def _below(root: Root, path: str, depth: int) -> set[str]:
    """Follow a partition to its disk, a mapped or joined device to those below it, and a loop device to the
    drives that hold its file."""
    if read_file(root, f"{path}/partition").outcome is SourceOutcome.READ:
        path = path.rsplit("/", 1)[0]
    found: set[str] = set()
    if not depth:
        return found
    slaves = names_in(root, f"{path}/slaves")
    for slave in slaves:
        below = resolve(root, f"{path}/slaves/{slave}")
        found |= _below(root, below, depth - 1) if below is not None else set()
    backing = read_file(root, f"{path}/loop/backing_file")
    if root.live and backing.outcome is SourceOutcome.READ:
        return found | _holding(root, Path(os.fsdecode(backing.data.rstrip(b"\n"))), depth - 1)
    place = None if slaves else _place(root, path)
    return found | ({place} if place is not None else set())


def _place(root: Root, path: str) -> str | None:
    name = path.rsplit("/", 1)[-1]
    lister = Lister(root)
    lister.target(f"{BLOCK}/{name}")
    list_wiring(lister, name, path)
    return block_place(Listing(encode_listing(lister.rows)), name)


def _unescaped(text: bytes) -> str:
    return os.fsdecode(_ESCAPE.sub(lambda match: bytes([int(match[1], 8)]), text))
