"""Boot log of OpenBSD and NetBSD: processor, memory, drives.

Wording as in the logs of bsdhw/Dmesg. Both count in their own way: OpenBSD in bytes, NetBSD in MB of 1024².
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.boot_log.parts import Log, Parts, bytes_of, processors, text_or_silence
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

_RELEASE = re.compile(r"((?:OpenBSD|NetBSD) ([0-9][^ ]*) \(.*)")
_CPU = re.compile(r"cpu[0-9]{1,4}: ([A-Z][^,]*?), (?:[0-9.]+ MHz|id 0x)")
_UNIT = re.compile(r"cpu[0-9]{1,4}: (?=.*\bsmt [0-9])(?=.*\bcore ([0-9]{1,4}))(?=.*\bpackage ([0-9]{1,3}))")
_REAL = re.compile(r"(?:real mem *= ([0-9]{1,18}) \(|total memory = ([0-9]{1,9}) MB)")
_AVAILABLE = re.compile(r"(?:avail mem *= ([0-9]{1,18}) \(|avail memory = ([0-9]{1,9}) MB)")
_DRIVE = re.compile(r"((?:sd|wd|cd|ld)[0-9]{1,3})(?: at [^<]*)?: <([^>]*)>(.*)")
_SIZE = re.compile(
    r"((?:sd|wd|cd|ld)[0-9]{1,3}): [0-9]+ ?[MG]B,.*?"
    r"([0-9]{1,6}) bytes/sect(?:or)?(?:, | x )([0-9]{1,18}) sectors"
)
_WD_SIZE = re.compile(r"(wd[0-9]{1,3}): .*LBA.*, [0-9]+MB, ([0-9]{1,18}) sectors")


def speaks(log: Log) -> bool:
    """Return whether a log is of such a kernel."""
    return log.first(_RELEASE) is not None


def sightings(log: Log, source: str) -> Iterator[Sighting]:
    """Yield what the kernel found."""
    yield from _processor(log, source)
    real, available = _bytes(log.last(_REAL)), _bytes(log.last(_AVAILABLE))
    fields: list[Said] = []
    if real:
        fields.append(said("real_bytes", real))
    if available:
        fields.append(said("usable_bytes", available))
    if fields:
        yield Sighting(kind=PartKind.MEMORY, place="memory", source=source, said=tuple(fields))
    release = log.last(_RELEASE)
    if release:
        told = (said("release", release[2]), said("version", release[1]))
        yield Sighting(kind=PartKind.KERNEL, place="kernel", source=source, said=told)
    yield from _drives(log).sightings(source)


def _bytes(match: re.Match[str] | None) -> int:
    if match is None:
        return 0
    return int(match[1]) if match[1] else int(match[2]) << 20


def _processor(log: Log, source: str) -> Iterator[Sighting]:
    cpu = log.last(_CPU)
    if cpu is None:
        return
    units = {(m[2], m[1]) for line in log.lines if (m := _UNIT.match(line))}
    packages = len({package for package, _ in units}) or 1
    model = " ".join(cpu[1].split())
    maker = next((name for name in ("Intel", "AMD") if model.startswith(name)), None)
    fields = (said("maker", maker), said("model", model))
    yield from processors(source, packages, fields, len(units) // packages or None, None)


def _drives(log: Log) -> Parts:
    parts = Parts()
    for line in log.lines:
        match = _DRIVE.match(line)
        size = _SIZE.match(line)
        if match:
            _drive(parts, match)
        elif size and (part := parts.known(f"node:{size[1]}")):
            part.add(
                said("size_bytes", bytes_of(size[3], size[2])), said("logical_block_bytes", int(size[2]))
            )
        elif (older := _WD_SIZE.match(line)) and (part := parts.known(f"node:{older[1]}")):
            part.add(said("size_bytes", bytes_of(older[2], "512")))
    return parts


def _drive(parts: Parts, match: re.Match[str]) -> None:
    """`<ATA, MODEL, FIRMWARE>` of OpenBSD: maker, model, firmware; the bus's name in the place of a maker."""
    name, words = match[1], [word.strip() for word in match[2].split(", ")]
    optical = name.startswith("cd")
    part = parts.at(f"node:{name}", PartKind.OPTICAL_DRIVE if optical else PartKind.STORAGE)
    bus = words[0] if len(words) == 3 else ""
    part.add(said("kernel_name", name), said("model", text_or_silence(words[1] if bus else match[2])))
    if bus:
        part.add(said("firmware_version", text_or_silence(words[2])))
        part.add(said("maker", Absent.NOT_OFFERED if bus in ("ATA", "NVMe") else text_or_silence(bus)))
    interface = {"ATA": "SATA", "NVMe": "NVMe"}.get(bus)
    if interface:
        part.add(said("interface", interface))
