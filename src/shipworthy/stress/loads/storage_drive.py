"""A whole drive: found again by its place and serial, opened so that nobody else has it, blank or not."""

from __future__ import annotations

import errno
import fcntl
import mmap
import os
import random
import stat
import struct
import time
from collections.abc import Iterator
from pathlib import Path

from shipworthy.machine.attached import attached_drives
from shipworthy.machine.root import LIVE, Root
from shipworthy.model.base import Trouble
from shipworthy.stress.loads.storage_own import OwnPatterns
from shipworthy.stress.loads.storage_span import Place
from shipworthy.stress.protocol import Drive

BLKSSZGET, BLKDISCARD = 0x1268, 0x1277  # <linux/fs.h>
EDGE_BYTES, SAMPLE_BYTES = 4 * 2**20, 65536
BLANK = (0x00, 0xFF)  # what an erased drive gives
SAMPLES, SAMPLES_MOST, SAMPLING_S = 64, 1024, 3.0
DISCARD_BYTES, DISCARDING_S = 64 * 2**30, 10.0  # at once, and all: a load has to be gone soon after its step
SYS = Path("/sys/dev/block")


def drive_node(drive: Drive, *, writing: bool, root: Root = LIVE) -> Path:
    """Return the device node of the drive at that place today; its kernel name is a nickname that changes.

    Raises Trouble if none is wired there, or if the one there shows another serial. For writing it has to
    show its serial here too.
    """
    for one in attached_drives(root):
        if one.place == drive.place:
            if one.serial != drive.serial.strip() and (one.serial or writing):
                now = one.serial or "not shown"
                what = f"the drive's serial was {drive.serial} when it was read, and is {now}"
                raise Trouble(what, drive.place, "Take the reading again, and type the serial again.")
            return Path("/dev") / one.kernel_name.replace("!", "/")
    raise Trouble("no drive is wired there any more", drive.place, "Look at its cable, and read again.")


def open_the(drive: Drive, *, writing: bool, root: Root = LIVE) -> Place:
    """Open the drive that is meant, and no other.

    Between looking for it and opening its node it may have been pulled, and the name given to another; a node
    may also lead elsewhere (a container's own). So it is looked for again once it is open: the kernel gives
    the numbers of an open device to nobody else.
    """
    node = drive_node(drive, writing=writing, root=root)
    place = open_drive(node, writing=writing)
    try:
        numbers = os.fstat(place.descriptor).st_rdev
        name = (SYS / f"{os.major(numbers)}:{os.minor(numbers)}").resolve().name
        if Path("/dev") / name.replace("!", "/") != drive_node(drive, writing=writing, root=root):
            raise Trouble(
                f"{node} leads to another drive, {name}", drive.place, "Read again, and look twice."
            )
    except BaseException:
        os.close(place.descriptor)
        raise
    return place


def open_drive(node: Path, *, writing: bool) -> Place:
    """Open a whole drive past the caches: for reading only, or for writing and exclusively.

    O_EXCL on a block device is refused while it is mounted, or claimed by anything else (open(2)).
    """
    flags = os.O_DIRECT | ((os.O_RDWR | os.O_EXCL) if writing else os.O_RDONLY)
    try:
        descriptor = os.open(node, flags | os.O_CLOEXEC | os.O_NOFOLLOW)
    except OSError as error:
        mend = "It is in use: unmount it, and look what else holds it."
        if error.errno != errno.EBUSY:
            mend = "Run it with root's rights, on a drive that is there."
        raise Trouble(f"the drive cannot be opened: {error.strerror}", node, mend) from error
    try:
        if not stat.S_ISBLK(os.fstat(descriptor).st_mode):
            raise Trouble("this is no drive", node, "Name a drive by its serial.")
        size_bytes = os.lseek(descriptor, 0, os.SEEK_END)
        (sector_bytes,) = struct.unpack("i", fcntl.ioctl(descriptor, BLKSSZGET, b"\0" * 4))
    except BaseException:
        os.close(descriptor)
        raise
    return Place(descriptor, size_bytes, True, str(node), drive=True, sector_bytes=sector_bytes)


def why_not_blank(place: Place, seed: int, own: OwnPatterns | None = None) -> str:
    """Return why a drive may not be written whole; empty if it is blank.

    Blank: it is no partition and has none, nothing is stacked on it, and its first and last 4 MiB and places
    between, drawn from the seed, hold only zeros or only ones: 1024 of them, or those that are read in 3 s,
    64 at least. Stricter than to look for signatures: whatever anybody wrote there, known or not, is
    something. own: patterns of ours that may be there, too: of a write that was cut off.
    """
    return why_claimed(place.descriptor) or _holds_something(place, seed, own or OwnPatterns())


def discard(place: Place, size_bytes: int) -> int:
    """Tell the drive that what we wrote to its beginning is not needed (BLKDISCARD); return of how many bytes
    it has taken that, in the time that there is for it."""
    until_s, begin = time.monotonic() + DISCARDING_S, 0
    while begin < size_bytes and time.monotonic() < until_s:
        length = min(DISCARD_BYTES, size_bytes - begin)
        try:
            fcntl.ioctl(place.descriptor, BLKDISCARD, struct.pack("<2Q", begin, length))
        except OSError:
            break
        begin += length
    return begin


def why_claimed(descriptor: int) -> str:
    """Return why the kernel does not take a device for a whole drive of nobody's; empty if it does."""
    numbers = os.fstat(descriptor).st_rdev
    folder = SYS / f"{os.major(numbers)}:{os.minor(numbers)}"
    if not folder.is_dir():
        return "the kernel tells nothing of it"
    if (folder / "partition").exists():
        return "it is a partition, no whole drive"
    if any((entry / "partition").exists() for entry in folder.iterdir() if entry.is_dir()):
        return "it has partitions"
    holders = folder / "holders"
    if holders.is_dir() and any(holders.iterdir()):
        return "something is stacked on it"
    if (folder / "ro").exists() and (folder / "ro").read_text().strip() != "0":
        return "it is read-only"
    return ""


def _holds_something(place: Place, seed: int, own: OwnPatterns) -> str:
    """Look at both edges and at places drawn between. What cannot be read counts as something."""
    if place.size_bytes < 4 * EDGE_BYTES:
        return "it is too small"
    last = place.size_bytes // SAMPLE_BYTES * SAMPLE_BYTES - EDGE_BYTES
    rest = (last + EDGE_BYTES, place.size_bytes - last - EDGE_BYTES)
    seen = set[int]()
    with mmap.mmap(-1, EDGE_BYTES) as memory:
        for begin, size_bytes in ((0, EDGE_BYTES), (last, EDGE_BYTES), rest, *_between(place, seed)):
            if not size_bytes:
                continue
            try:
                got = os.preadv(place.descriptor, [memoryview(memory)[:size_bytes]], begin)
            except OSError as error:
                return f"it cannot be read at offset 0x{begin:x}: {error.strerror}"
            data = memory[:got]
            byte = next((byte for byte in BLANK if not data.strip(bytes([byte]))), None)
            if got != size_bytes or (
                byte is None and not any(own.cover(begin, data, byte) for byte in BLANK)
            ):
                return f"it holds something at offset 0x{begin:x}"
            seen |= {byte} if byte is not None else set()
            if len(seen) > 1:
                return f"it holds something at offset 0x{begin:x}"
    return ""


def _between(place: Place, seed: int) -> Iterator[tuple[int, int]]:
    """Yield places between the edges, each drawn anew, as offset and length in bytes."""
    draw = random.Random(seed)  # noqa: S311 places to look at, no secret
    inner = (place.size_bytes - 2 * EDGE_BYTES) // SAMPLE_BYTES - 1
    until_s = time.monotonic() + SAMPLING_S
    for number in range(SAMPLES_MOST):
        if number >= SAMPLES and time.monotonic() >= until_s:
            return
        yield EDGE_BYTES + draw.randrange(inner) * SAMPLE_BYTES, SAMPLE_BYTES
