"""Join what all sources say into parts. Nobody's word is lost: what is not believed is a witness.

Sightings are of one part where they are of one kind and share a place. Of each field one source is
believed, by the order in PRECEDENCE.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from shipworthy.machine.pairing import natural, paired, same_firmware
from shipworthy.machine.parse.spd.source import same_serial
from shipworthy.model.facts import Fact, Part, Said, Sighting, Witness
from shipworthy.model.words import Absent, PartKind

_BOARD = ("smbios", "dmi-id", "boot", "dmidecode-text", "lshw-xml", "dmesg")
_TABLE = ("smbios", "dmidecode-text")
_BUS = ("pci", "pci.names")
_BUS_REPORTS = ("lspci-text", "pciconf-text", "lshw-xml", "dmesg")

PRECEDENCE: dict[PartKind, tuple[str, tuple[str, ...]]] = {
    PartKind.PROCESSOR: (
        "the processor over the firmware",
        (
            *("cpuinfo", "topology", "power-limits", "smbios"),
            *("cpuid", "lscpu-text", "dmesg", "dmidecode-text", "lshw-xml"),
        ),
    ),
    PartKind.MEMORY: (
        "the firmware over the kernel",
        ("smbios", "meminfo", "dmidecode-text", "lshw-xml", "dmesg"),
    ),
    PartKind.MEMORY_MODULE: ("the module over the firmware", ("spd", "smbios", "dmidecode-text", "lshw-xml")),
    PartKind.FIRMWARE: ("the table over the kernel's copy", _BOARD),
    PartKind.SYSTEM: ("the table over the kernel's copy", _BOARD),
    PartKind.BOARD: ("the table over the kernel's copy", _BOARD),
    PartKind.CHASSIS: ("the table over the kernel's copy", _BOARD),
    PartKind.STORAGE: (
        "the drive over the kernel",
        (
            *("nvme", "ata", "scsi", "smartctl", "block"),
            *("smartctl-json", "smartctl-text", "lsblk-json", "lshw-xml", "dmesg"),
        ),
    ),
    PartKind.GRAPHICS: (
        "the driver over the list of names",
        (
            *("nvidia-smi", "pci", "pci.amdgpu-ids", "pci.names"),
            *("nvidia-smi-xml", "rocm-smi-json", *_BUS_REPORTS),
        ),
    ),
    PartKind.NETWORK: (
        "the bus over the interface",
        (*_BUS, "network", "wireless", *_BUS_REPORTS),
    ),
    PartKind.SOUND: ("the bus over the list of names", (*_BUS, "sound", *_BUS_REPORTS)),
    PartKind.PCI_DEVICE: ("the bus over the list of names", (*_BUS, "usb", *_BUS_REPORTS)),
    PartKind.USB_DEVICE: ("the device over the list of names", ("usb", "usb.names")),
    PartKind.OPTICAL_DRIVE: (
        "the drive over the kernel",
        ("optical", "scsi", "block", "lsblk-json", "lshw-xml", "dmesg"),
    ),
    PartKind.DISPLAY: (
        "the display over the list of names",
        ("displays", "displays.names", "edid", "lshw-xml"),
    ),
    PartKind.SECURITY_MODULE: ("the driver over the firmware", ("security", *_TABLE)),
    PartKind.BATTERY: ("the driver over the firmware", ("battery", *_TABLE)),
    PartKind.POWER_SUPPLY: ("the driver over the firmware", ("battery", *_TABLE)),
    PartKind.SENSOR_CHIP: ("the driver over a report", ("sensors", "sensors-json")),
    PartKind.CACHE: ("the table over a report", (*_TABLE, "lshw-xml")),
    PartKind.SLOT: ("the table over a report", _TABLE),
    PartKind.CONNECTOR: ("the table over a report", _TABLE),
    PartKind.ONBOARD_DEVICE: ("the table over a report", _TABLE),
    PartKind.MEMORY_RANGE: ("the table over a report", _TABLE),
    PartKind.PROBE: ("the table over a report", _TABLE),
    PartKind.KERNEL: ("the kernel over its log", ("kernel", "boot", "dmesg")),
}
"""Of each kind of part: the rule's name, and sources from the most to the least believed. A source stands
for all its replies unless one is named. Sources not listed (other packages') come last, in their order."""

_REGISTERS = ("the registers over the driver", (*_BUS, "nvidia-smi", "nvidia-smi-xml", *_BUS_REPORTS))
FIELDS: dict[tuple[PartKind, str], tuple[str, tuple[str, ...]]] = {
    (PartKind.GRAPHICS, name): _REGISTERS
    for name in (
        "link_speed_gt_s",
        "link_width",
        "link_max_speed_gt_s",
        "link_max_width",
        "path_speed_max_gt_s",
        "path_width_max",
    )
}
"""Where a field of a kind is believed in another order than the rest: a driver's report is of another moment,
or of what the driver has chosen, the registers are what the link runs at."""

_REASONS = (
    Absent.NOT_FITTED,
    Absent.NOT_READABLE,
    Absent.IMPLAUSIBLE,
    Absent.NOT_OFFERED,
    Absent.NOT_ASKED,
)
"""Which reason is believed where no source has a value: the one that tells most, then what can be mended."""

_HEXADECIMAL = ("vbios_version", "uuid", "pci_serial")
_CUT = {"model": 16, "firmware_version": 4}
"""SCSI's inquiry has room for this many signs, so the kernel's copy of an ATA drive's name is cut off."""
_DRIVES = (PartKind.STORAGE, PartKind.OPTICAL_DRIVE)
_CLASS = re.compile(r"0x([0-9a-f]{2}){1,2}")
"""A PCI class of fewer bytes than three: reports print the first two, `0x0108` of `0x010802`."""


def join(sightings: Sequence[Sighting]) -> tuple[Part, ...]:
    """Return the parts, ordered by kind and place. The same sightings give the same parts."""
    groups: list[list[Sighting]] = []
    where: dict[tuple[PartKind, str], list[Sighting]] = {}
    for sighting in paired(sightings):
        keys = [(sighting.kind, place) for place in (sighting.place, *sighting.also_at)]
        known = [where[key] for key in keys if key in where]
        group = known[0] if known else []
        for other in known[1:]:
            if other is not group:
                group.extend(other)
                groups.remove(other)
                where.update({key: group for key, value in where.items() if value is other})
        if not known:
            groups.append(group)
        group.append(sighting)
        where.update(dict.fromkeys(keys, group))
    kinds = list(PartKind)
    return tuple(sorted((_part(g) for g in groups), key=lambda p: (kinds.index(p.kind), natural(p.place))))


def _part(group: list[Sighting]) -> Part:
    first = group[0]
    also = dict.fromkeys(place for s in group for place in (s.place, *s.also_at) if place != first.place)
    words: dict[str, list[tuple[str, Said]]] = {}
    for sighting in group:
        for said in map(_finite, sighting.said):
            words.setdefault(said.name, []).append((sighting.source, said))
    facts = tuple(_fact(first.kind, name, said) for name, said in words.items())
    return Part(kind=first.kind, place=first.place, facts=facts, also_at=tuple(also))


def _finite(said: Said) -> Said:
    """A number that is none (NaN) or without end cannot be so, whichever decoder let it through."""
    if isinstance(said.value, float) and not math.isfinite(said.value):
        return Said(name=said.name, absent=Absent.IMPLAUSIBLE)
    return said


def _rank(source: str, order: tuple[str, ...]) -> int:
    exact = order.index(source) if source in order else None
    head = source.split(".", 1)[0].removesuffix("-file")  # a file of a source's own bytes, beside a machine
    if exact is not None:
        return exact
    return order.index(head) if head in order else len(order)


def order_of(kind: PartKind, name: str) -> tuple[str, tuple[str, ...]]:
    """Return by which rule, and in which order of sources, a field of a kind is believed."""
    return FIELDS.get((kind, name)) or PRECEDENCE.get(kind, ("the order of the sources", ()))


def _fact(kind: PartKind, name: str, words: list[tuple[str, Said]]) -> Fact:
    rule, order = order_of(kind, name)
    ranked = sorted(words, key=lambda word: _rank(word[0], order))
    valued = [word for word in ranked if word[1].value is not None]
    if valued:
        source, believed = valued[0]
    else:
        source, believed = min(ranked, key=lambda word: _REASONS.index(word[1].absent or Absent.NOT_ASKED))
    others = [w for w in ranked if w != (source, believed) and not _is_copy(kind, name, w[1], believed)]
    values = {word[1].value for word in valued if not _is_copy(kind, name, word[1], believed)}
    if len(valued) < 2 or len(values) == 0:
        rule = "only"
    elif len(values) == 1:
        rule = "agreed"
    witnesses = tuple(Witness(source=s, value=w.value, absent=w.absent) for s, w in others)
    return Fact(
        name=name, source=source, value=believed.value, absent=believed.absent, rule=rule, witnesses=witnesses
    )


def _is_copy(kind: PartKind, name: str, word: Said, believed: Said) -> bool:
    """Whether a word is the believed one in another spelling, or the beginning of it where a copy is cut."""
    value, whole = word.value, believed.value
    if word is believed or not isinstance(value, str) or not isinstance(whole, str) or value == whole:
        return False
    if kind is PartKind.MEMORY_MODULE and name == "serial":
        return same_serial(value, whole)
    if name in _HEXADECIMAL:
        return value.casefold() == whole.casefold()
    if name == "class":
        return whole.startswith(value) and _CLASS.fullmatch(value) is not None
    if name == "firmware_version" and kind in _DRIVES and len(value) <= 4 and same_firmware(value, whole):
        return True
    return whole.startswith(value) and name in _CUT and _CUT[name] - 2 <= len(value) <= _CUT[name]
