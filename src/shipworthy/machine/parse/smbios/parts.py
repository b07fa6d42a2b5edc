"""SMBIOS structures to facts: what sits on the board, and which addresses memory answers for.

Standard: DMTF DSP0134; the section stands with each function.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from shipworthy.machine.listing import said
from shipworthy.machine.parse.smbios import board
from shipworthy.machine.parse.smbios.facts import word
from shipworthy.machine.parse.smbios.fields import pci_address
from shipworthy.machine.parse.smbios.memory import mapped_range
from shipworthy.machine.parse.smbios.power import (
    battery_facts,
    cooling_facts,
    current_facts,
    supply_facts,
    temperature_facts,
    voltage_facts,
)
from shipworthy.machine.parse.smbios.processor import cache_bytes, cache_level
from shipworthy.machine.parse.smbios.table import Structure, Table
from shipworthy.machine.parse.smbios.words import (
    ASSOCIATIVITIES,
    CACHE_ERROR_CORRECTIONS,
    CACHE_TYPES,
)
from shipworthy.machine.parse.smbios.words_board import (
    CONNECTORS,
    ONBOARD_TYPES,
    PORT_TYPES,
    SLOT_LENGTHS,
    SLOT_TYPES,
    SLOT_WIDTHS,
)
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

CACHE, ARRAY_RANGE, MODULE_RANGE, SECURITY = 7, 19, 20, 43
AVAILABLE, IN_USE = 3, 4
HOST_BRIDGE = "0000:00:00.0"

Facts = Callable[[Structure], tuple[Said, ...]]


def cache_facts(s: Structure, processors: Mapping[int, str]) -> tuple[Said, ...]:
    """Type 7 (7.8). processors: the place of the processor that names a cache, by the cache's handle.

    Where the longer size of 3.1 is left at 0 the shorter one counts: Dell's firmware writes it so.
    """
    configuration = s.number(0x05, 2)
    return (
        said("label", s.value(0x04)),
        said("level", cache_level(s)),
        said("size_bytes", cache_bytes(s, 0x17, 4) or cache_bytes(s, 0x09, 2) or Absent.NOT_OFFERED),
        said("max_bytes", cache_bytes(s, 0x13, 4) or cache_bytes(s, 0x07, 2) or Absent.NOT_OFFERED),
        said("type", word(s.number(0x11, 1), CACHE_TYPES)),
        said("associativity", word(s.number(0x12, 1), ASSOCIATIVITIES)),
        said("error_correction", word(s.number(0x10, 1), CACHE_ERROR_CORRECTIONS)),
        said("speed_ns", s.number(0x0F, 1) or Absent.NOT_OFFERED),
        said("enabled", None if configuration is None else bool(configuration & 0x80)),
        said("processor", processors.get(s.handle)),
    )


def connector_facts(s: Structure) -> tuple[Said, ...]:
    """Type 8 (7.9)."""
    return (
        said("label", s.value(0x06)),
        said("internal_label", s.value(0x04)),
        said("connector", word(s.number(0x07, 1), CONNECTORS)),
        said("internal_connector", word(s.number(0x05, 1), CONNECTORS)),
        said("type", word(s.number(0x08, 1), PORT_TYPES)),
    )


def slot_facts(s: Structure) -> tuple[Said, ...]:
    """Type 9 (7.10). Width is lanes of PCI Express, or bits of an older bus."""
    width = SLOT_WIDTHS.get(s.number(0x06, 1) or 0, "")
    lanes = width.removeprefix("x") if width.startswith("x") else None
    bits = width.removesuffix("-bit") if width.endswith("-bit") else None
    return (
        said("label", s.value(0x04)),
        said("type", word(s.number(0x05, 1), SLOT_TYPES)),
        said("lanes", int(lanes) if lanes else None),
        said("width_bits", int(bits) if bits else None),
        said("in_use", {IN_USE: True, AVAILABLE: False}.get(s.number(0x07, 1) or 0)),
        said("length", word(s.number(0x08, 1), SLOT_LENGTHS)),
        said("slot_id", s.number(0x09, 2)),
        said("generation", _generation(s)),
        said("device_place", _device_place(s, 0x0D, 0x0F, 0x10)),
    )


def _generation(s: Structure) -> int | Absent:
    """Of the field of 3.4; else of the type's word."""
    tail = board.slot_tail(s)
    told = s.number(tail, 1) if tail is not None else None
    name = SLOT_TYPES.get(s.number(0x05, 1) or 0, "")
    digit = name.removeprefix("PCI Express ")[:1] if name.startswith("PCI Express ") else ""
    return told or (int(digit) if digit.isdigit() else Absent.NOT_OFFERED)


def _device_place(s: Structure, segment_at: int, bus_at: int, function_at: int) -> str | Absent:
    """Where the device is. Bus or function 0xFF say that it is not known; 00:00.0, the host bridge, sits in
    no slot and is what is left where firmware filled in nothing."""
    address = pci_address(s, segment_at, bus_at, function_at)
    unknown = 0xFF in (s.number(bus_at, 1), s.number(function_at, 1))
    if address is None or unknown or address == HOST_BRIDGE:
        return Absent.NOT_OFFERED
    return f"pci:{address}"


def range_facts(s: Structure, modules: Mapping[int, str]) -> tuple[Said, ...]:
    """Types 19 and 20 (7.20, 7.21). modules: place of each memory module by its handle."""
    ends = mapped_range(s, 0x0F if s.type == ARRAY_RANGE else 0x13)
    fields = (
        said("first_address", ends if isinstance(ends, Absent) else f"0x{ends[0]:x}"),
        said("last_address", ends if isinstance(ends, Absent) else f"0x{ends[1]:x}"),
        said("size_bytes", ends if isinstance(ends, Absent) else ends[1] - ends[0] + 1),
    )
    if s.type == ARRAY_RANGE:
        return (*fields, said("partition_width", s.number(0x0E, 1) or Absent.NOT_OFFERED))
    return (
        *fields,
        said("module", modules.get(_handle(s, 0x0C))),
        said("interleave_position", _unless(0xFF, s.number(0x11, 1))),
        said("interleave_depth", _unless(0xFF, s.number(0x12, 1))),
    )


def _handle(s: Structure, at: int) -> int:
    """The handle at an offset; -1 where the structure ends before it."""
    found = s.number(at, 2)
    return -1 if found is None else found


def _unless(unknown: int, number: int | None) -> int | Absent:
    return Absent.NOT_OFFERED if number == unknown else number or Absent.NOT_OFFERED


def onboard_facts(s: Structure) -> tuple[Said, ...]:
    """Type 41 (7.42)."""
    kind = s.number(0x05, 1)
    return (
        said("label", s.value(0x04)),
        said("type", word((kind or 0) & 0x7F, ONBOARD_TYPES)),
        said("enabled", None if kind is None else bool(kind & 0x80)),
        said("instance", s.number(0x06, 1) or Absent.NOT_OFFERED),
        said("device_place", _device_place(s, 0x07, 0x09, 0x0A)),
    )


def security_facts(s: Structure) -> tuple[Said, ...]:
    """Type 43 (7.44)."""
    major, minor = s.number(0x08, 1), s.number(0x09, 1)
    known = major is not None and minor is not None and (major, minor) != (0, 0)
    return (
        said("maker", board.tpm_vendor(s).strip("\ufffd ") or Absent.NOT_OFFERED),
        said("tpm_version", f"{major}.{minor}" if known else Absent.NOT_OFFERED),
        said("firmware_version", board.tpm_firmware(s)),
        said("label", s.value(0x12)),
    )


PARTS: tuple[tuple[int, PartKind, tuple[int, ...], Facts], ...] = (
    (8, PartKind.CONNECTOR, (0x06, 0x04), connector_facts),
    (9, PartKind.SLOT, (0x04,), slot_facts),
    (22, PartKind.BATTERY, (0x04, 0x08), battery_facts),
    (26, PartKind.PROBE, (0x04,), voltage_facts),
    (27, PartKind.PROBE, (0x0E,), cooling_facts),
    (28, PartKind.PROBE, (0x04,), temperature_facts),
    (29, PartKind.PROBE, (0x04,), current_facts),
    (39, PartKind.POWER_SUPPLY, (0x05, 0x06), supply_facts),
    (41, PartKind.ONBOARD_DEVICE, (0x04,), onboard_facts),
)
"""Type, kind, texts of which the first that says something names the part, and its facts."""
READ_TYPES = frozenset({CACHE, ARRAY_RANGE, MODULE_RANGE, SECURITY, *(number for number, *_ in PARTS)})


@dataclass
class Places:
    """Places by name within a kind; a name that several parts have is numbered."""

    times: Counter[tuple[PartKind, str]] = field(default_factory=Counter)

    def of(self, kind: PartKind, place: str) -> str:
        self.times[kind, place] += 1
        times = self.times[kind, place]
        return place if times == 1 else f"{place}#{times}"

    def named(self, kind: PartKind, s: Structure, texts: tuple[int, ...]) -> str:
        names = (s.value(at) for at in texts)
        name = next((name for name in names if not isinstance(name, Absent)), kind.value)
        return self.of(kind, f"smbios:{name}")

    @property
    def repeated(self) -> dict[tuple[PartKind, str], int]:
        """Return how many parts have a name that is not one's alone."""
        return {key: times for key, times in self.times.items() if times > 1}


def sightings(
    table: Table, source: str, places: Places, modules: Mapping[int, str], processors: Mapping[int, str]
) -> Iterator[Sighting]:
    """Yield the parts of the board. modules, processors: their places by handle, of modules and of caches."""
    for s in table.of_type(CACHE):
        place = places.named(PartKind.CACHE, s, (0x04,))
        yield Sighting(kind=PartKind.CACHE, place=place, source=source, said=cache_facts(s, processors))
    for number, kind, texts, facts in PARTS:
        for s in table.of_type(number):
            yield Sighting(kind=kind, place=places.named(kind, s, texts), source=source, said=facts(s))
    for s in (*table.of_type(ARRAY_RANGE), *table.of_type(MODULE_RANGE)):
        place = places.of(PartKind.MEMORY_RANGE, _range_place(s, modules))
        yield Sighting(kind=PartKind.MEMORY_RANGE, place=place, source=source, said=range_facts(s, modules))
    for s in table.of_type(SECURITY):
        place = places.of(PartKind.SECURITY_MODULE, "smbios:tpm")
        also = ("tpm:0",) if place == "smbios:tpm" else ()
        yield Sighting(
            kind=PartKind.SECURITY_MODULE, place=place, source=source, said=security_facts(s), also_at=also
        )


def _range_place(s: Structure, modules: Mapping[int, str]) -> str:
    ends = mapped_range(s, 0x0F if s.type == ARRAY_RANGE else 0x13)
    place = "address:unknown" if isinstance(ends, Absent) else f"address:0x{ends[0]:x}"
    module = modules.get(_handle(s, 0x0C)) if s.type == MODULE_RANGE else None
    return f"{place}/{module}" if module else place


def processors_of_caches(processors: list[tuple[str, Structure]]) -> dict[int, str]:
    """Return the place of the processor that names a cache, by the cache's handle (7.5: L1, L2, L3)."""
    found: dict[int, str] = {}
    for place, s in processors:
        for at in (0x1A, 0x1C, 0x1E):
            handle = s.number(at, 2)
            if handle is not None and handle != 0xFFFF:
                found.setdefault(handle, place)
    return found
