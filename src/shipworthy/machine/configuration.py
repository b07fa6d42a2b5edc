"""The configuration: what evidence holds for (design rule 10), picked from the parts.

Nothing stands in it that moves by itself, such as a link's present speed, a temperature or a counter.
"""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.reading import Configuration
from shipworthy.model.words import PLUGGED_IN, PartKind

FIELDS: dict[PartKind, tuple[str, ...]] = {
    PartKind.FIRMWARE: ("version", "mode", "secure_boot", "setup_mode"),
    PartKind.BOARD: ("model", "serial"),
    PartKind.SYSTEM: ("serial", "uuid"),
    PartKind.PROCESSOR: (
        *("model", "microcode", "offline_cpus", "smt", "boost"),
        *("power_limit_long_w", "power_limit_short_w"),
    ),
    PartKind.GRAPHICS: ("vbios_version", "resizable_bar", "unique_id"),
    PartKind.MEMORY_MODULE: ("serial", "part_number", "size_bytes", "configured_speed_mt_s"),
    PartKind.STORAGE: ("model", "serial", "firmware_version"),
}
_KNOWN_IN_USE_ALONE = {("0x10de", "vbios_version")}
"""By vendor: what a driver tells only while something uses the card. NVIDIA's shows `??.??` of a card that
nobody has opened (from memory), so whether it is there moves by itself."""
_SLEEPERS = ("0x04", "0x0604", "0x0880", "0x0c03")
"""Classes of functions that go to sleep without power where nothing needs them (sound of a card, ports and
bridges, Thunderbolt, USB), by themselves, and then have no link to read. A port's link is that of what hangs
on it, too; of a card with a switch of its own it is in the card's whole way."""
_ON_THE_BUS = (PartKind.GRAPHICS, PartKind.NETWORK, PartKind.SOUND, PartKind.PCI_DEVICE)


def configuration_of(parts: Iterable[Part]) -> Configuration:
    """Return the configuration of a machine's parts."""
    parts = tuple(parts)
    items: dict[str, Scalar] = {}
    for part in parts:
        if part.kind is PartKind.STORAGE and _is_plugged_in(part):
            continue
        for field in FIELDS.get(part.kind, ()):
            value = part.value(field)
            if value is not None and (part.text("vendor_id"), field) not in _KNOWN_IN_USE_ALONE:
                items[f"{_name(part, parts)}/{field}"] = value
        if part.kind in _ON_THE_BUS:
            items |= _bus_items(part)
    return Configuration.of(items)


def _is_plugged_in(part: Part) -> bool:
    """A stick or card comes and goes, be it the one that this tool runs from: no evidence depends on it."""
    return part.value("removable") is True or part.text("interface") in PLUGGED_IN


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
    width = _width(part)
    items: dict[str, Scalar] = {}
    if vendor and device:
        items[f"pci/{part.place}"] = f"{vendor}:{device}"
    if width is not None:
        items[f"link/{part.place}/width"] = width
    return items


def _width(part: Part) -> int | float | None:
    """Return the lanes that evidence depends on: of graphics those of the whole way, as a card with a switch
    has an inner link that is never narrowed."""
    if part.value("power_state") is not None and part.text("class").startswith(_SLEEPERS):
        return None  # of kernels that tell no state (before 5.11, from memory), the link is all there is
    whole = part.number("path_width") if part.kind is PartKind.GRAPHICS else None
    return part.number("link_width") if whole is None else whole
