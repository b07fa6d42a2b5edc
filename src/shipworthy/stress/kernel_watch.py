"""The kernel's log while a burn-in runs: errors of hardware, by kind and place.

Source: Documentation/ABI/testing/dev-kmsg. A read gives one record, `priority,number,time,flags;text`, and
lines of continuation that begin with a space. High bits of the priority say who wrote it: 0 is the kernel.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.files import Lister, names_in
from shipworthy.machine.listing import Listing, encode_listing
from shipworthy.machine.parse.block import block_place
from shipworthy.machine.parse.boot_log.errors import ErrorKind, bare, classify
from shipworthy.machine.root import Root
from shipworthy.model.base import Value, values
from shipworthy.stress.wire import short

KMSG = "/dev/kmsg"
_RECORD_BYTES = 8192  # CONSOLE_EXT_LOG_MAX of the kernel
_MOST_RECORDS = 5000  # at once: a storm must not keep the watcher
_MOST_EVENTS = 20  # at once; what is over is counted in the last
_PCI = re.compile(r"\b([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7])\b")
_NAMESPACE = re.compile(r"\b(nvme\d+)(?:c\d+)?(n\d+)?\b")
_DISK = re.compile(r"\b(sd[a-z]{1,3})\d*\b")
_PORT = re.compile(r"^ata(\d+)(?:\.\d+)?:")
_CPU = re.compile(r"\bCPU ?(\d+)\b", re.IGNORECASE)
_MEMORY = re.compile(r"^EDAC MC(\d+):")


@dataclass(frozen=True)
class Heard:
    """One line of the kernel's that speaks of an error of hardware."""

    kind: ErrorKind
    line: str


def error_in(record: bytes) -> Heard | None:
    """Return the error that a record of /dev/kmsg speaks of; None for all others, and for what other programs
    wrote there."""
    head, _, text = record.decode("utf-8", "replace").partition(";")
    priority = head.partition(",")[0]
    if not priority.isdecimal() or int(priority) >> 3:
        return None
    line = text.partition("\n")[0]
    kind = classify(line)
    return None if kind is None else Heard(kind, short(bare(line)))


def place_in(root: Root, line: str) -> str:
    """Return the place of the part that a line names, as the reading has it; empty if it names none."""
    if match := _NAMESPACE.search(line):
        return _drive_place(root, match[1] + (match[2] or "n1"))
    if match := _DISK.search(line):
        return _drive_place(root, match[1])
    if match := _PORT.search(line):
        names = names_in(root, BLOCK)
        return next(
            (p for n in names if f"/ata{match[1]}/" in _path(root, n) and (p := _drive_place(root, n))), ""
        )
    if match := _PCI.search(line):
        return f"pci:{match[1]}"
    if match := _MEMORY.search(line):
        return f"edac:mc{match[1]}"
    return f"cpu:{match[1]}" if (match := _CPU.search(line)) else ""


def events_of(root: Root, heard: Iterable[Heard]) -> list[tuple[Value, ...]]:
    """Return the values of an event for each kind and place, with the first line and how many there were."""
    found: dict[tuple[ErrorKind, str], tuple[str, int]] = {}
    places: dict[str, str] = {}
    for one in heard:
        place = places.setdefault(one.line, "") or place_in(root, one.line)
        places[one.line] = place
        if (one.kind, place) not in found and len(found) >= _MOST_EVENTS:
            place = ""
        line, count = found.get((one.kind, place), (one.line, 0))
        found[one.kind, place] = (line, count + 1)
    return [
        values(kind=kind.value, place=place, count=count, line=line)
        for (kind, place), (line, count) in found.items()
    ]


class KernelLog:
    """The kernel's log from now on. Raises OSError where this account may not read it."""

    def __init__(self, path: str = KMSG) -> None:
        self._descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        os.lseek(self._descriptor, 0, os.SEEK_END)

    def heard(self) -> list[Heard]:
        """Return the errors since the last call; never waits."""
        found = []
        for _ in range(_MOST_RECORDS):
            try:
                record = os.read(self._descriptor, _RECORD_BYTES)
            except BlockingIOError:
                break
            except OSError as error:
                if error.errno == errno.EPIPE:  # overwritten before we came: go on with the oldest there is
                    continue
                raise
            if (one := error_in(record)) is not None:
                found.append(one)
        return found

    def close(self) -> None:
        os.close(self._descriptor)


def _path(root: Root, name: str) -> str:
    return Lister(root).target(f"{BLOCK}/{name}") or ""


def _drive_place(root: Root, name: str) -> str:
    lister = Lister(root)
    list_wiring(lister, name, lister.target(f"{BLOCK}/{name}"))
    return block_place(Listing(encode_listing(lister.rows), name), name) or ""
