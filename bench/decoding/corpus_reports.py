"""Reports of other tools from the reference data, each with the kind of file that it is recognised as."""

from __future__ import annotations

import tarfile
from collections.abc import Iterator
from pathlib import Path

from shipworthy.machine.kinds import KINDS, Kind

MOST_BYTES = 1 << 16
EACH = 40
"""So many files of an archive or folder, the first by name."""
FOLDERS = ("lshw-lspci", "gpu-readings", "smart-json", "smart-text-with-expected", "kernel-logs")
ARCHIVES = (
    "dmi-desktop-text/dmi-desktop-text.tar.xz",
    "bsd-joined-machines/bsd-joined-machines.tar.xz",
    "smart-text/smart-text.tar.xz",
    "cpu/lscpu-text.tar.xz",
    "cpu/cpuid-raw-libcpuid.tar.xz",
    "cpu/cpuid-raw-libvirt.tar.xz",
)


def reports(data: Path) -> list[tuple[Kind, bytes]]:
    """Return the reports, in an order of their own; none without the reference data."""
    kinds = [kind for kind in KINDS if kind.suffix != "bin" and kind.recognises is not None]
    found = []
    for name, content in (*_in_folders(data), *_in_archives(data)):
        kind = next(
            (k for k in kinds if k.recognises is not None and k.recognises(name, content[:4096])), None
        )
        if kind is not None and len(content) <= MOST_BYTES:
            found.append((kind, content))
    return found


def _in_folders(data: Path) -> Iterator[tuple[str, bytes]]:
    for name in FOLDERS:
        files = sorted(
            file for file in (data / name).rglob("*") if file.is_file() and ".tar" not in file.name
        )
        yield from ((file.name, file.read_bytes()) for file in files[:EACH])


def _in_archives(data: Path) -> Iterator[tuple[str, bytes]]:
    for name in ARCHIVES:
        if not (data / name).is_file():
            continue
        with tarfile.open(data / name) as tar:
            members = sorted((m for m in tar if m.isfile()), key=lambda member: member.name)[:EACH]
            for member in members:
                file = tar.extractfile(member)
                if file is not None:
                    yield member.name, file.read()
