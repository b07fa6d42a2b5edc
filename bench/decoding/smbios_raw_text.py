"""What dmidecode printed: structures, each with its fields and their lists. For comparing only."""

from __future__ import annotations

import re
import struct
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

_HEAD = re.compile(r"Handle 0x([0-9A-F]{4}), DMI type (\d+), \d+ bytes")
VERSION = "3.4"


@dataclass
class Printed:
    """One structure as printed: values by label, and the lines of each label's list."""

    handle: int
    type: int
    values: dict[str, str] = field(default_factory=dict)
    lists: dict[str, list[str]] = field(default_factory=dict)


def structures(text: str) -> list[Printed]:
    """Return the structures of a report, in order."""
    found: list[Printed] = []
    label = ""
    for line in text.splitlines():
        head = _HEAD.match(line)
        if head:
            found.append(Printed(int(head[1], 16), int(head[2])))
        elif found and line.startswith("\t\t"):
            found[-1].lists.setdefault(label, []).append(line[2:])
        elif found and line.startswith("\t") and ":" in line:
            label, _, value = line[1:].partition(":")
            found[-1].values[label] = value.removeprefix(" ")
    return found


def run_dmidecode(dump: bytes) -> str:
    """Return what dmidecode prints of a dump. Raises FileNotFoundError where it is not installed."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "dump.bin"
        file.write_bytes(dump)
        done = subprocess.run(["dmidecode", "--from-dump", str(file)], capture_output=True, check=False)
    return done.stdout.decode("utf-8", "replace")


def installed_version() -> str:
    """Return dmidecode's version; empty where it is not installed."""
    try:
        return subprocess.run(["dmidecode", "--version"], capture_output=True, text=True).stdout.strip()
    except FileNotFoundError:
        return ""


def wrapped(table: bytes, version: tuple[int, int] = (3, 0), entry: bytes = b"") -> bytes:
    """Return a dump of a bare table as dmidecode takes it: an entry point, and the table at 32.

    entry: an old entry point of the table's own, which gets the new address and new sums.
    """
    if entry:
        old = bytearray(entry)
        struct.pack_into("<I", old, 24, 32)
        old[21] = 0
        old[21] = -sum(old[16:31]) % 256
        old[4] = 0
        old[4] = -sum(old[:31]) % 256
        return bytes(old).ljust(32, b"\0") + table
    new = bytearray(b"_SM3_\0\x18" + bytes([*version, 0, 1, 0]) + struct.pack("<IQ", len(table), 32))
    new[5] = -sum(new) % 256
    return bytes(new).ljust(32, b"\0") + table
