"""Where a folder's bytes lie: the place of the drive that holds it."""

from __future__ import annotations

import os
import re
from pathlib import Path

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.files import Lister, names_in, read_file, resolve
from shipworthy.machine.listing import Listing, encode_listing
from shipworthy.machine.parse.block import block_place
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

_ESCAPE = re.compile(rb"\\([0-7]{3})")


def drive_holding(root: Root, folder: Path) -> str | None:
    """Return the place of the storage part that holds a folder, as the reading names it.

    None where it cannot be told: a network share, memory, several drives under one file system.
    """
    try:
        device = folder.stat().st_dev
    except OSError:
        return None
    path = resolve(root, f"/sys/dev/block/{os.major(device)}:{os.minor(device)}")
    if path is None and root.live:
        path = _mounted_from(root, f"{os.major(device)}:{os.minor(device)}")
    places = _drive_places(root, path, 0) if path is not None else set()
    return places.pop() if len(places) == 1 else None


def _mounted_from(root: Root, numbers: str) -> str | None:
    """A file system of several devices (btrfs) has a number of its own; the mount table names one device."""
    for line in read_file(root, "/proc/self/mountinfo").data.splitlines():
        head, _, tail = line.partition(b" - ")
        fields, source = head.split(), tail.split()[1:2]
        if len(fields) > 2 and fields[2].decode("ascii", "replace") == numbers and source:
            name = _ESCAPE.sub(lambda m: bytes([int(m[1], 8)]), source[0]).decode("utf-8", "replace")
            node = os.path.realpath(name)  # a link of the device mapper
            if node.startswith("/dev/"):
                return resolve(root, f"/sys/class/block/{node.rsplit('/', 1)[-1]}")
    return None


def _drive_places(root: Root, path: str, depth: int) -> set[str]:
    """Follow a partition to its disk, and a mapped or joined device to those below it."""
    if read_file(root, f"{path}/partition").outcome is SourceOutcome.READ:
        path = path.rsplit("/", 1)[0]
    slaves = names_in(root, f"{path}/slaves")
    if slaves and depth < 8:
        found: set[str] = set()
        for slave in slaves:
            below = resolve(root, f"{path}/slaves/{slave}")
            found |= _drive_places(root, below, depth + 1) if below is not None else set()
        return found
    place = _place(root, path)
    return {place} if place is not None else set()


def _place(root: Root, path: str) -> str | None:
    name = path.rsplit("/", 1)[-1]
    lister = Lister(root)
    lister.target(f"{BLOCK}/{name}")
    list_wiring(lister, name, path)
    return block_place(Listing(encode_listing(lister.rows)), name)
