"""The configuration: what evidence holds for (design rule 10), picked from the parts.

Nothing stands in it that moves by itself, such as a link's present speed, a temperature or a counter.
"""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.reading import Configuration
from shipworthy.model.words import PartKind

_FIELDS: dict[PartKind, tuple[str, ...]] = {
    PartKind.FIRMWARE: ("version", "mode", "secure_boot", "setup_mode"),
    PartKind.BOARD: ("model", "serial"),
    PartKind.SYSTEM: ("serial", "uuid"),
    PartKind.PROCESSOR: (
        *("model", "microcode", "offline_cpus", "smt", "boost"),
        *("power_limit_long_w", "power_limit_short_w"),
    ),
    PartKind.GRAPHICS: ("vbios_version", "resizable_bar"),
    PartKind.MEMORY_MODULE: ("serial", "part_number", "size_bytes", "configured_speed_mt_s"),
    PartKind.STORAGE: ("model", "serial", "firmware_version"),
}
_ON_THE_BUS = (PartKind.GRAPHICS, PartKind.NETWORK, PartKind.SOUND, PartKind.PCI_DEVICE)


def configuration_of(parts: Iterable[Part]) -> Configuration:
    """Return the configuration of a machine's parts."""
    parts = tuple(parts)
    items: dict[str, Scalar] = {}
    for part in parts:
        if part.kind is PartKind.STORAGE and _is_plugged_in(part):
            continue
        for field in _FIELDS.get(part.kind, ()):
            value = part.value(field)
            if value is not None:
                items[f"{_name(part, parts)}/{field}"] = value
        if part.kind in _ON_THE_BUS:
            items |= _bus_items(part)
    return Configuration.of(items)


def _is_plugged_in(part: Part) -> bool:
    """A stick comes and goes, be it the one that this tool runs from: no evidence depends on it."""
    return part.value("removable") is True or part.text("interface") == "USB"


def _name(part: Part, parts: tuple[Part, ...]) -> str:
    if part.kind is PartKind.MEMORY_MODULE:
        return f"memory module/{part.place.removeprefix('smbios:')}"
    if part.kind is PartKind.STORAGE:
        return f"storage/{part.place}"
    if part.kind is PartKind.PROCESSOR and sum(p.kind is PartKind.PROCESSOR for p in parts) > 1:
        return f"processor/{part.place}"
    if part.kind is PartKind.GRAPHICS:
        return f"graphics/{part.place}"
    if part.kind is PartKind.BOARD:
        return part.place  # `board`, and `board#2` for the next: one with daughter boards has several
    return part.kind.value


def _bus_items(part: Part) -> dict[str, Scalar]:
    vendor, device = (part.text(name).removeprefix("0x") for name in ("vendor_id", "device_id"))
    width = part.number("link_width")
    items: dict[str, Scalar] = {}
    if vendor and device:
        items[f"pci/{part.place}"] = f"{vendor}:{device}"
    if width is not None:
        items[f"link/{part.place}/width"] = width
    return items
