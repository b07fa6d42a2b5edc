"""Drives in a Linux boot log: libata, SCSI disks and NVMe.

Wording from memory of the kernel's sources. libata counts its ports over all controllers; with a single AHCI
controller in the log a port's own number follows from its register's address: ports lie 0x80 bytes apart,
the first at 0x100 (Serial ATA AHCI 1.3.1, 3.3).
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import said
from shipworthy.machine.parse.boot_log.parts import Log, Parts, bytes_of, text_or_silence
from shipworthy.model.facts import Said
from shipworthy.model.words import PartKind

_PCI = r"([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7])"
_AHCI = re.compile(rf"ahci {_PCI}: AHCI ")
_PORT = re.compile(r"ata([0-9]{1,3}): SATA max \S+ abar m[0-9]+@0x([0-9a-f]{1,16}) port 0x([0-9a-f]{1,16})")
_IDENTIFIED = re.compile(r"ata([0-9]{1,3})\.([0-9]{2}): (ATA|ATAPI)(?:-[0-9]+)?: (.+), (\S*), max ")
_SECTORS = re.compile(r"ata([0-9]{1,3})\.([0-9]{2}): ([0-9]{1,18}) sectors, ")
_LINK = re.compile(r"ata([0-9]{1,3}): SATA link up ([0-9.]{1,5}) Gbps")
_INQUIRY = re.compile(r"scsi ([0-9:]{7,20}): (Direct-Access|CD-ROM) +(.{8}) (.{16}) (.{4}) PQ: ")
_DISK = re.compile(r"sd ([0-9:]{7,20}): \[(sd[a-z]{1,3})\] ([0-9]{1,18}) ([0-9]{1,6})-byte logical blocks")
_NVME = re.compile(rf"nvme (nvme[0-9]{{1,3}}): pci function {_PCI}")
_NAMESPACE = re.compile(r" ?(nvme[0-9]{1,3})n([0-9]{1,3}):")


def drives(log: Log) -> Parts:
    """Return the drives of a log. Disks that libata already told of are not told again."""
    parts = Parts()
    places = _port_places(log)
    inquiries: dict[str, re.Match[str]] = {}
    controllers: dict[str, str] = {}
    for line in log.lines:
        if match := _IDENTIFIED.match(line):
            _ata(parts, places, match)
        elif match := _SECTORS.match(line):
            if (part := parts.known(f"node:ata{match[1]}.{match[2]}")) is not None:
                part.add(said("size_bytes", bytes_of(match[3], "512")))
        elif match := _INQUIRY.match(line):
            inquiries[match[1]] = match
        elif match := _DISK.match(line):
            _scsi(parts, inquiries.get(match[1]), match)
        elif match := _NVME.match(line):
            controllers[match[1]] = match[2]
        elif (match := _NAMESPACE.match(line)) and match[1] in controllers:
            _nvme(parts, controllers[match[1]], match)
    _links(log, parts)
    return parts


def _port_places(log: Log) -> dict[str, str]:
    """Return the place of each port by the kernel's number, where one AHCI controller is all there is."""
    functions = {match[1] for line in log.lines if (match := _AHCI.match(line))}
    if len(functions) != 1:
        return {}
    function = functions.pop()
    places: dict[str, str] = {}
    for line in log.lines:
        match = _PORT.match(line)
        if match:
            port, left = divmod(int(match[3], 16) - int(match[2], 16) - 0x100, 0x80)
            if left == 0 and 0 <= port < 32:
                places[match[1]] = f"pci:{function}/ata-{port + 1}"
    return places


def _ata(parts: Parts, places: dict[str, str], match: re.Match[str]) -> None:
    kind = PartKind.STORAGE if match[3] == "ATA" else PartKind.OPTICAL_DRIVE
    part = parts.at(f"node:ata{match[1]}.{match[2]}", kind)
    part.add(
        said("interface", "SATA"),
        said("model", text_or_silence(match[4])),
        said("firmware_version", text_or_silence(match[5])),
    )
    if match[1] in places and match[2] == "00":
        part.also_at[:] = [places[match[1]]]


def _links(log: Log, parts: Parts) -> None:
    for line in log.lines:
        match = _LINK.match(line)
        part = parts.known(f"node:ata{match[1]}.00") if match else None
        if match and part is not None:
            part.add(said("sata_now_gbit_s", float(match[2])))


def _scsi(parts: Parts, inquiry: re.Match[str] | None, match: re.Match[str]) -> None:
    """A disk of another bus, USB for the most part; `ATA` as maker is libata's translation."""
    if inquiry is None or inquiry[3].strip() == "ATA":
        return
    part = parts.at(f"node:{match[2]}", PartKind.STORAGE)
    fields: tuple[Said, ...] = (
        said("kernel_name", match[2]),
        said("maker", text_or_silence(inquiry[3])),
        said("model", text_or_silence(inquiry[4])),
        said("firmware_version", text_or_silence(inquiry[5])),
        said("size_bytes", bytes_of(match[3], match[4])),
        said("logical_block_bytes", int(match[4])),
    )
    part.add(*fields)


def _nvme(parts: Parts, function: str, match: re.Match[str]) -> None:
    part = parts.at(f"pci:{function}/nvme-ns-{match[2]}", PartKind.STORAGE)
    part.add(
        said("kernel_name", f"{match[1]}n{match[2]}"),
        said("interface", "NVMe"),
        said("technology", "NVMe"),
    )
