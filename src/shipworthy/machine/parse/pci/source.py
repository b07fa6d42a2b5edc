"""PCI functions: ids, class, link and the way to the root, errors, driver; names from the system's lists.

Sources: sysfs-bus-pci (attributes), `config` (configuration space), `pci.ids`, `amdgpu.ids`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from shipworthy.machine.listing import Listing, number_or_implausible, said
from shipworthy.machine.parse.amdgpu_ids import Products, read_products
from shipworthy.machine.parse.graphics import (
    amd_names,
    driver_facts,
    name_card,
    naming_facts,
    read_card_names,
    resizable_bar,
)
from shipworthy.machine.parse.pci.config_words import Config
from shipworthy.machine.parse.pci.facts import (
    aer_facts,
    bar_sizes,
    config_facts,
    config_of,
    config_remarks,
    serial_facts,
)
from shipworthy.machine.parse.pci.links import Function, chain_of, links_of, offered, path_facts
from shipworthy.machine.raw import Parsed, Reply, reply_read, text_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind

DEVICES = "/sys/bus/pci/devices"
ASLEEP = "D3cold"

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


@dataclass(frozen=True)
class _Names:
    """The lists of names. Of AMD's the source may be absent."""

    source: str
    devices: dict[tuple[str, str], str]
    cards: dict[tuple[str, str, str, str], str]
    products: Products | None
    products_source: str


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `pci`, `pci.names` and `pci.amdgpu-ids`."""
    reply = reply_read(replies, "pci")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    folders = {address: f"{DEVICES}/{address}" for address in listing.names(DEVICES)}
    configs = {address: config_of(listing, folder) for address, folder in folders.items()}
    functions = {a: function_of(listing, folder, configs[a]) for a, folder in folders.items()}
    named = _read_lists(replies)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for address, folder in folders.items():
        kind = kind_of(listing.text(f"{folder}/class") or "")
        place = f"pci:{address}"
        fields = (
            *_fields(listing, folder, functions[address]),
            *config_facts(configs[address]),
            *serial_facts(listing, folder, configs[address]),
            *aer_facts(listing, folder),
            *path_facts(links_of(chain_of(listing.target(folder) or address), functions)),
        )
        if kind is PartKind.GRAPHICS:
            fields += _graphics(listing, folder, configs[address])
        found.append(Sighting(kind=kind, place=place, source=reply.id, said=fields))
        remarks += config_remarks(listing, folder, configs[address], reply.id)
        for source, by_name in _by_name(listing, folder, kind, named):
            found.append(Sighting(kind=kind, place=place, source=source, said=by_name))
    return Parsed(tuple(found), remarks=tuple(remarks))


def function_of(listing: Listing, folder: str, config: Config | None = None) -> Function:
    """Return a function's link: what the kernel shows, else what the registers say (kernels before 4.13)."""
    express = config.express if config is not None else None
    asleep = listing.text(f"{folder}/power_state") == ASLEEP

    def value(path: str, meaning: type[float] | type[int], register: float | None) -> float | None:
        text = listing.text(f"{folder}/{path}")
        if text is None:
            return register
        known = link_width(text) if meaning is int else link_speed_gt_s(text)
        return None if isinstance(known, Absent) else known

    width, most = (
        value(path, int, register)
        for path, register in (
            ("current_link_width", None if express is None else express.link_width),
            ("max_link_width", None if express is None else express.link_max_width),
        )
    )
    return Function(
        address=folder.rsplit("/", 1)[-1],
        speed_gt_s=None
        if asleep
        else value("current_link_speed", float, None if express is None else express.link_speed_gt_s),
        width=None if asleep or width is None else int(width),
        max_speed_gt_s=value(
            "max_link_speed", float, None if express is None else express.link_max_speed_gt_s
        ),
        max_width=None if most is None else int(most),
        port_type=None if express is None else express.port_type,
        asleep=asleep,
        bridge=(listing.text(f"{folder}/class") or "").startswith("0x0604"),
    )


def _fields(listing: Listing, folder: str, function: Function) -> tuple[Said, ...]:
    state = listing.text(f"{folder}/power_state")
    bars = bar_sizes(listing.text(f"{folder}/resource") or "")
    return (
        listing.said("vendor_id", f"{folder}/vendor", _id),
        listing.said("device_id", f"{folder}/device", _id),
        listing.said("subsystem_vendor_id", f"{folder}/subsystem_vendor", _subsystem_id),
        listing.said("subsystem_device_id", f"{folder}/subsystem_device", _subsystem_id),
        listing.said("class", f"{folder}/class", _id),
        listing.said("revision_id", f"{folder}/revision", _id),
        _now(listing.said("link_speed_gt_s", f"{folder}/current_link_speed", link_speed_gt_s), function),
        _now(listing.said("link_width", f"{folder}/current_link_width", link_width), function),
        _or(
            listing.said("link_max_speed_gt_s", f"{folder}/max_link_speed", link_speed_gt_s),
            function.max_speed_gt_s,
        ),
        _or(listing.said("link_max_width", f"{folder}/max_link_width", link_width), function.max_width),
        said("driver", listing.target_name(f"{folder}/driver")),
        *((said("power_state", state),) if state and state != "unknown" else ()),
        *((said("largest_bar_bytes", max(bars)),) if bars else ()),
    )


def _now(field: Said, function: Function) -> Said:
    """Of a function that sleeps without power the registers are not there: what is read means nothing."""
    if function.asleep:
        return said(field.name, Absent.NOT_READABLE)
    return _or(field, function.width if field.name == "link_width" else function.speed_gt_s)


def _or(field: Said, register: float | None) -> Said:
    """Return a field, or where it has no value the one from the registers."""
    return field if field.value is not None or register is None else said(field.name, register)


def _id(text: str) -> str | Absent:
    return text.lower() if re.fullmatch(r"0x[0-9a-fA-F]{2,6}", text) else Absent.IMPLAUSIBLE


def _subsystem_id(text: str) -> str | Absent:
    """0x0000 and 0xffff: the function has none."""
    value = _id(text)
    return Absent.NOT_OFFERED if value in ("0x0000", "0xffff") else value


def link_speed_gt_s(text: str) -> float | Absent:
    """`16.0 GT/s PCIe` and the older `8 GT/s`; `Unknown` where there is no link."""
    match = re.match(r"(\d{1,3}(?:\.\d{1,3})?) GT/s", text)
    return float(match[1]) if match else Absent.NOT_OFFERED


def link_width(text: str) -> int | Absent:
    """Lanes; 0, 63 and 255 mean that there is no link to speak of."""
    lanes = number_or_implausible(text)
    return Absent.NOT_OFFERED if lanes in (0, 63, 255) else lanes


def _graphics(listing: Listing, folder: str, config: Config | None) -> tuple[Said, ...]:
    fields = driver_facts(listing, folder, folder.rsplit("/", 1)[-1])
    known = {field.name: field.value for field in fields}
    memory, visible = known.get("memory_bytes"), known.get("visible_memory_bytes")
    if visible is None:
        visible = max(bar_sizes(listing.text(f"{folder}/resource") or ""), default=None)
    bar = resizable_bar(
        memory if isinstance(memory, int) else None,
        visible if isinstance(visible, int) else None,
        ((b.size_bytes, b.sizes) for b in (config.resizable if config is not None else ())),
    )
    return fields if bar is None else (*fields, said("resizable_bar", bar))


def read_names(text: str) -> dict[tuple[str, str], str]:
    """Return names by (vendor, device); a vendor's own by (vendor, "").

    Form: pci.ids, a vendor a line as `10de  Name`, its devices below it after a tab, cards after two.
    """
    names: dict[tuple[str, str], str] = {}
    vendor = ""
    for line in text.splitlines():
        code, _, name = line.strip().partition("  ")
        if line.startswith(("\t\t", "#")) or not line.strip():
            continue
        if line.startswith("\t"):
            names[vendor, code] = name.strip()
        else:
            vendor = code
            names[vendor, ""] = name.strip()
    return names


def _read_lists(replies: tuple[Reply, ...]) -> _Names:
    text = text_read(replies, "pci.names")
    listed = reply_read(replies, "pci.amdgpu-ids") is not None
    return _Names(
        source="pci.names",
        devices=read_names(text),
        cards=read_card_names(text),
        products=read_products(text_read(replies, "pci.amdgpu-ids")) if listed else None,
        products_source="pci.amdgpu-ids",
    )


def _by_name(
    listing: Listing, folder: str, kind: PartKind, named: _Names
) -> Iterator[tuple[str, tuple[Said, ...]]]:
    """Yield (source, fields) of what the lists call a function and its makers."""
    vendor, device, card_maker, card = (
        (listing.text(f"{folder}/{name}") or "").removeprefix("0x").lower()
        for name in ("vendor", "device", "subsystem_vendor", "subsystem_device")
    )
    card_name = named.cards.get((vendor, device, card_maker, card), "")
    listed = named.devices.get((vendor, device), "")
    fields = offered(
        said("model", listed if listed and kind is not PartKind.GRAPHICS else None),
        said("maker", named.devices.get((vendor, "")) or None),
        said("card_maker", named.devices.get((card_maker, "")) or None),
        said("card_model", card_name or None),
    )
    if kind is PartKind.GRAPHICS:
        amd = amd_names(named.products, vendor, device, listing.number(f"{folder}/revision"))
        memory = listing.number(f"{folder}/mem_info_vram_total")
        by_list = naming_facts(name_card(amd, listed, card_name, memory))
        if amd[0]:
            yield named.products_source, by_list
        else:
            fields = (*by_list, *fields)
    if fields:
        yield named.source, fields
