"""PCI functions: ids, class, link, driver; and their names from the system's pci.ids."""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, number_or_implausible, said
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply, reply_named
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

DEVICES = "/sys/bus/pci/devices"
NVIDIA = "/proc/driver/nvidia/gpus"

# Base class, and subclass where it decides (PCI Code and ID Assignment Specification, from memory)
_KINDS = {
    "03": PartKind.GRAPHICS,
    "02": PartKind.NETWORK,
    "0401": PartKind.SOUND,
    "0403": PartKind.SOUND,
}


def kind_of(class_code: str) -> PartKind:
    """Return what kind of part a class code such as `0x030000` means."""
    code = class_code.removeprefix("0x")
    return _KINDS.get(code[:4]) or _KINDS.get(code[:2]) or PartKind.PCI_DEVICE


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `pci` and `pci.names`."""
    reply = reply_named(replies, "pci")
    if reply is None or not reply.read:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    names = reply_named(replies, "pci.names")
    named = read_names(names.data.decode("utf-8", "replace")) if names is not None and names.read else None
    found: list[Sighting] = []
    for address in listing.names(DEVICES):
        folder = f"{DEVICES}/{address}"
        kind = kind_of(listing.text(f"{folder}/class") or "")
        place = f"pci:{address}"
        fields = _fields(listing, folder) + (_graphics(listing, address) if kind is PartKind.GRAPHICS else ())
        found.append(Sighting(kind=kind, place=place, source=reply.id, said=fields))
        if names is not None and named is not None:
            by_name = _names(listing, folder, named)
            if by_name:
                found.append(Sighting(kind=kind, place=place, source=names.id, said=by_name))
    return Parsed(tuple(found))


def _fields(listing: Listing, folder: str) -> tuple[Said, ...]:
    driver = listing.target(f"{folder}/driver")
    return (
        listing.said("vendor_id", f"{folder}/vendor", _id),
        listing.said("device_id", f"{folder}/device", _id),
        listing.said("subsystem_vendor_id", f"{folder}/subsystem_vendor", _subsystem_id),
        listing.said("subsystem_device_id", f"{folder}/subsystem_device", _subsystem_id),
        listing.said("class", f"{folder}/class", _id),
        listing.said("link_speed_gt_s", f"{folder}/current_link_speed", link_speed_gt_s),
        listing.said("link_width", f"{folder}/current_link_width", link_width),
        listing.said("link_max_speed_gt_s", f"{folder}/max_link_speed", link_speed_gt_s),
        listing.said("link_max_width", f"{folder}/max_link_width", link_width),
        said("driver", driver.rsplit("/", 1)[-1] if driver else None),
    )


def _id(text: str) -> str | Absent:
    return text.lower() if re.fullmatch(r"0x[0-9a-fA-F]{2,6}", text) else Absent.IMPLAUSIBLE


def _subsystem_id(text: str) -> str | Absent:
    """0x0000 and 0xffff: the function has none."""
    value = _id(text)
    return Absent.NOT_OFFERED if value in ("0x0000", "0xffff") else value


def link_speed_gt_s(text: str) -> float | Absent:
    """`16.0 GT/s PCIe` and the older `8 GT/s`; `Unknown` where there is no link."""
    match = re.match(r"(\d+(?:\.\d+)?) GT/s", text)
    return float(match[1]) if match else Absent.NOT_OFFERED


def link_width(text: str) -> int | Absent:
    """Lanes; 0 and 255 mean that there is no link to speak of."""
    lanes = number_or_implausible(text)
    return Absent.NOT_OFFERED if lanes in (0, 255) else lanes


def _graphics(listing: Listing, address: str) -> tuple[Said, ...]:
    """What a graphics driver says: memory in bytes (amdgpu), a product's name (amdgpu, nvidia)."""
    folder = f"{DEVICES}/{address}"
    fields: list[Said] = []
    memory = listing.number(f"{folder}/mem_info_vram_total")
    if memory:
        fields.append(said("memory_bytes", memory))
    nvidia = re.search(
        r"^Model:\s*(.+)$", listing.text(f"{NVIDIA}/{address}/information") or "", re.MULTILINE
    )
    name = nvidia[1].strip() if nvidia else listing.text(f"{folder}/product_name") or ""
    if name and not is_placeholder(name):
        fields.append(said("model", name))
    return tuple(fields)


def read_names(text: str) -> dict[tuple[str, str], str]:
    """Return names by (vendor, device); a vendor's own by (vendor, "").

    Form: pci.ids, a vendor a line as `10de  Name`, its devices below it after a tab.
    """
    names: dict[tuple[str, str], str] = {}
    vendor = ""
    for line in text.splitlines():
        code, _, name = line.strip().partition("  ")
        if line.startswith("\t"):
            names[vendor, code] = name.strip()
        else:
            vendor = code
            names[vendor, ""] = name.strip()
    return names


def _names(listing: Listing, folder: str, names: dict[tuple[str, str], str]) -> tuple[Said, ...]:
    vendor, device, card_maker = (
        (listing.text(f"{folder}/{name}") or "").removeprefix("0x").lower()
        for name in ("vendor", "device", "subsystem_vendor")
    )
    found = (
        ("model", names.get((vendor, device))),
        ("maker", names.get((vendor, ""))),
        ("card_maker", names.get((card_maker, ""))),
    )
    return tuple(said(field, value) for field, value in found if value)
