"""Fields of dmidecode's text: caches, connectors, slots, memory ranges, devices on the board.

Kinds, places and names of fields are those of the tables' own parser (source `smbios`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator

from shipworthy.machine.listing import said
from shipworthy.machine.parse.dmidecode_text.core import handle_of, leading_number, size_bytes
from shipworthy.machine.parse.dmidecode_text.lines import Report, TextStructure
from shipworthy.machine.parse.dmidecode_text.probes import (
    battery_facts,
    cooling_facts,
    current_facts,
    supply_facts,
    temperature_facts,
    voltage_facts,
)
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind, RemarkKind

_LEVEL = re.compile(r"(Enabled|Disabled), .*Level ([0-9]{1,2})")
_SLOT_TYPE = re.compile(r"(?:x([0-9]{1,2})|([0-9]{1,3})-bit) (.+)")
_GENERATION = re.compile(r"PCI Express ([0-9])")
_SPEED_NS = re.compile(r"([0-9]{1,5}) ns")
_PCI = re.compile(r"[0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]")
_ADDRESS = re.compile(r"0x([0-9A-Fa-f]{1,16})")

_SLOT_ID = re.compile(r"[0-9]{1,5}")
_CARD = re.compile(r"Adapter ([0-9]{1,3}), Socket ([0-9]{1,3})")
HOST_BRIDGE = "0000:00:00.0"

Facts = Callable[[TextStructure], tuple[Said, ...]]


def cache_facts(s: TextStructure, processors: dict[int, str]) -> tuple[Said, ...]:
    """Type 7 (7.8). `Enabled, Not Socketed, Level 2`: the level, and whether it works."""
    state = _LEVEL.match(s.fields.get("Configuration", ""))
    speed = _SPEED_NS.match(s.fields.get("Speed", ""))
    return (
        said("label", s.value("Socket Designation")),
        said("level", int(state[2]) if state else None),
        said("size_bytes", size_bytes(s, "Installed Size") or Absent.NOT_OFFERED),
        said("max_bytes", size_bytes(s, "Maximum Size") or Absent.NOT_OFFERED),
        said("type", s.word("System Type")),
        said("associativity", s.word("Associativity")),
        said("error_correction", s.word("Error Correction Type")),
        said("speed_ns", int(speed[1]) if speed else None),
        said("enabled", state[1] == "Enabled" if state else None),
        said("processor", processors.get(s.handle)),
    )


def connector_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 8 (7.9)."""
    return (
        said("label", s.value("External Reference Designator")),
        said("internal_label", s.value("Internal Reference Designator")),
        said("connector", s.word("External Connector Type")),
        said("internal_connector", s.word("Internal Connector Type")),
        said("type", s.word("Port Type")),
    )


def slot_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 9 (7.10). dmidecode puts the width before the type: `x16 PCI Express 3 x16`, `32-bit PCI`."""
    kind = s.word("Type")
    match = None if isinstance(kind, Absent) else _SLOT_TYPE.fullmatch(kind)
    usage = s.fields.get("Current Usage", "")
    generation = None if isinstance(kind, Absent) else _GENERATION.search(kind)
    return (
        said("label", s.value("Designation")),
        said("type", match[3] if match else kind),
        said("lanes", int(match[1]) if match and match[1] else None),
        said("width_bits", int(match[2]) if match and match[2] else None),
        said("in_use", {"In Use": True, "Available": False}.get(usage)),
        said("length", s.word("Length")),
        said("slot_id", _slot_id(s)),
        said("generation", int(generation[1]) if generation else None),
        said("device_place", _device_place(s)),
    )


def _slot_id(s: TextStructure) -> int | Absent:
    """A number, of PC Card as its two bytes: `Adapter 1, Socket 0`."""
    text = s.fields.get("ID", "")
    card = _CARD.fullmatch(text)
    if card:
        return int(card[1]) | int(card[2]) << 8
    return int(text) if _SLOT_ID.fullmatch(text) else Absent.NOT_OFFERED


def _device_place(s: TextStructure) -> str | Absent:
    """`0000:01:00.0`. Bus or function all ones are not known; 00:00.0 is the host bridge, which sits in no
    slot, and what is left where firmware filled in nothing."""
    address = s.fields.get("Bus Address", "")
    bare = address[5:]
    if not _PCI.fullmatch(address) or bare[:2] == "ff" or bare[3:] == "1f.7" or address == HOST_BRIDGE:
        return Absent.NOT_OFFERED
    return f"pci:{address}"


def range_facts(s: TextStructure, modules: dict[int, str]) -> tuple[Said, ...]:
    """Types 19 and 20 (7.20, 7.21)."""
    ends = _ends(s)
    fields = (
        said("first_address", ends if isinstance(ends, Absent) else f"0x{ends[0]:x}"),
        said("last_address", ends if isinstance(ends, Absent) else f"0x{ends[1]:x}"),
        said("size_bytes", ends if isinstance(ends, Absent) else ends[1] - ends[0] + 1),
    )
    if s.type == 19:
        return (*fields, said("partition_width", leading_number(s, "Partition Width")))
    return (
        *fields,
        said("module", modules.get(handle_of(s, "Physical Device Handle"))),
        said("interleave_position", leading_number(s, "Interleave Position")),
        said("interleave_depth", leading_number(s, "Interleaved Data Depth")),
    )


def _ends(s: TextStructure) -> tuple[int, int] | Absent:
    """First and last byte of a range."""
    first = _ADDRESS.match(s.fields.get("Starting Address", ""))
    last = _ADDRESS.match(s.fields.get("Ending Address", ""))
    if first is None or last is None:
        return Absent.NOT_OFFERED
    ends = int(first[1], 16), int(last[1], 16)
    return ends if ends[0] < ends[1] < 1 << 63 else Absent.IMPLAUSIBLE


def onboard_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 41 (7.42)."""
    status = s.fields.get("Status", "")
    return (
        said("label", s.value("Reference Designation")),
        said("type", s.word("Type")),
        said("enabled", {"Enabled": True, "Disabled": False}.get(status)),
        said("instance", leading_number(s, "Type Instance")),
        said("device_place", _device_place(s)),
    )


def security_facts(s: TextStructure) -> tuple[Said, ...]:
    """Type 43 (7.44)."""
    return (
        said("maker", s.value("Vendor ID")),
        said("tpm_version", s.value("Specification Version")),
        said("firmware_version", s.value("Firmware Revision")),
        said("label", s.value("Description")),
    )


_PARTS: tuple[tuple[int, PartKind, tuple[str, ...], Facts], ...] = (
    (
        8,
        PartKind.CONNECTOR,
        ("External Reference Designator", "Internal Reference Designator"),
        connector_facts,
    ),
    (9, PartKind.SLOT, ("Designation",), slot_facts),
    (22, PartKind.BATTERY, ("Location", "Name"), battery_facts),
    (26, PartKind.PROBE, ("Description",), voltage_facts),
    (27, PartKind.PROBE, ("Description",), cooling_facts),
    (28, PartKind.PROBE, ("Description",), temperature_facts),
    (29, PartKind.PROBE, ("Description",), current_facts),
    (39, PartKind.POWER_SUPPLY, ("Location", "Name"), supply_facts),
    (41, PartKind.ONBOARD_DEVICE, ("Reference Designation",), onboard_facts),
)
"""Type, kind, fields whose first text names the part, and its facts."""

READ_TYPES = frozenset({7, 19, 20, 43, *(number for number, *_ in _PARTS)})


class _Places:
    """Places by name within a kind; a name that several have is numbered and remarked."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.times: Counter[tuple[PartKind, str]] = Counter()

    def of(self, kind: PartKind, place: str) -> str:
        self.times[kind, place] += 1
        times = self.times[kind, place]
        if times == 2:
            self.report.fault(RemarkKind.REPEATED, place, kind.value)
        return place if times == 1 else f"{place}#{times}"

    def named(self, kind: PartKind, s: TextStructure, labels: tuple[str, ...]) -> str:
        names = (s.value(label, counted=False) for label in labels)
        name = next((name for name in names if not isinstance(name, Absent)), kind.value)
        return self.of(kind, f"smbios:{name}")


def sightings(report: Report, source: str, modules: dict[int, str]) -> Iterator[Sighting]:
    """Yield the parts of the board. modules: place of each memory module by its handle."""
    places = _Places(report)
    processors = _caches_of_processors(report)
    for s in report.of_type(7):
        place = places.named(PartKind.CACHE, s, ("Socket Designation",))
        yield Sighting(kind=PartKind.CACHE, place=place, source=source, said=cache_facts(s, processors))
    for number, kind, labels, facts in _PARTS:
        for s in report.of_type(number):
            place = places.named(kind, s, labels)
            yield Sighting(kind=kind, place=place, source=source, said=facts(s))
    for s in (*report.of_type(19), *report.of_type(20)):
        place = places.of(PartKind.MEMORY_RANGE, _range_place(s, modules))
        yield Sighting(kind=PartKind.MEMORY_RANGE, place=place, source=source, said=range_facts(s, modules))
    for s in report.of_type(43):
        place = places.of(PartKind.SECURITY_MODULE, "smbios:tpm")
        yield Sighting(
            kind=PartKind.SECURITY_MODULE,
            place=place,
            source=source,
            said=security_facts(s),
            also_at=("tpm:0",) if place == "smbios:tpm" else (),
        )


def _range_place(s: TextStructure, modules: dict[int, str]) -> str:
    ends = _ends(s)
    place = "address:unknown" if isinstance(ends, Absent) else f"address:0x{ends[0]:x}"
    module = modules.get(handle_of(s, "Physical Device Handle")) if s.type == 20 else None
    return f"{place}/{module}" if module else place


def _caches_of_processors(report: Report) -> dict[int, str]:
    """Return the place of the processor that names a cache, by the cache's handle."""
    found: dict[int, str] = {}
    for place, s in report.processors.items():
        for level in (1, 2, 3):
            handle = handle_of(s, f"L{level} Cache Handle")
            if handle >= 0:
                found.setdefault(handle, place)
    return found
