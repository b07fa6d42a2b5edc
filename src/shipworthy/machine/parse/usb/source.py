"""USB devices as a tree: what each is, how fast it runs, and how fast it and its port could.

Sources: sysfs (Documentation/ABI/testing/sysfs-bus-usb, stable/sysfs-bus-usb) and the descriptors that the
kernel keeps. A USB 3 device that runs at 480 Mbit/s must call itself 2.10 (USB 3.2, 9.2.6.6 and 9.6.1, from
memory), so its version alone never shows that it is slow: its capabilities (BOS) do, where the kernel has
them in sysfs.
"""

from __future__ import annotations

import re
from collections import Counter

from shipworthy.machine.listing import Listing, said, text_or_silence, whole_number
from shipworthy.machine.parse.id_databases import Key, read_names
from shipworthy.machine.parse.usb.descriptors import capability_mbit_s, self_powered, split
from shipworthy.machine.parse.usb.tree import DEVICES, Tree
from shipworthy.machine.parse.usb.words import HUB, PER_INTERFACE, class_word
from shipworthy.machine.raw import Parsed, Reply, remark, reply_read, text_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

_REMOVABLE: dict[str, bool | Absent] = {"removable": True, "fixed": False, "unknown": Absent.NOT_OFFERED}
_SPEEDS = {"1.5", "12", "53.3", "480", "5000", "10000", "20000"}  # usb_device_speed; 53.3-480 was wireless


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `usb` and `usb.names`. Root hubs are no parts: what they say is of their controller."""
    reply = reply_read(replies, "usb")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    tree = Tree(listing)
    named = read_names(text_read(replies, "usb.names"))
    found = [_controller(tree, place, reply.id) for place in tree.controllers()]
    remarks: list[Remark] = []
    for name in tree.devices():
        place = tree.place(name)
        kind = PartKind.USB_DEVICE
        fields = _fields(listing, tree, name)
        found.append(Sighting(kind=kind, place=place, source=reply.id, said=fields))
        remarks += _faults(listing, name, reply.id)
        by_list = _names(listing, name, named)
        if by_list:
            found.append(Sighting(kind=kind, place=place, source="usb.names", said=by_list))
    remarks += _repeated(found, reply.id)
    return Parsed(tuple(found), tree.ports(reply.id), tuple(remarks))


def _controller(tree: Tree, place: str, source: str) -> Sighting:
    """What a controller's root hubs say: its fastest bus, and how often a port drew too much current."""
    fields = (
        said("usb_speed_max_mbit_s", tree.fastest_bus(place)),
        said("usb_over_current_events", tree.over_currents(place)),
    )
    return Sighting(kind=PartKind.PCI_DEVICE, place=place, source=source, said=fields)


def _fields(listing: Listing, tree: Tree, name: str) -> tuple[Said, ...]:
    folder = f"{DEVICES}/{name}"
    interfaces = tree.interfaces(name)
    now, most = tree.speed(name), _most_mbit_s(listing, tree, name)
    drivers = sorted({d for i in interfaces if (d := listing.target_name(f"{DEVICES}/{i}/driver"))})
    return (
        said("kernel_name", name),
        listing.said("vendor_id", f"{folder}/idVendor", _id),
        listing.said("device_id", f"{folder}/idProduct", _id),
        listing.said("maker", f"{folder}/manufacturer", text_or_silence),
        listing.said("model", f"{folder}/product", text_or_silence),
        listing.said("serial", f"{folder}/serial", text_or_silence),
        listing.said("device_release", f"{folder}/bcdDevice", _release),
        listing.said("usb_version", f"{folder}/version", _version),
        said("class", _class(listing, folder)),
        said("functions", _functions(listing, folder, interfaces)),
        said("driver", ", ".join(drivers) or None),
        listing.said("speed_mbit_s", f"{folder}/speed", _speed),
        said("speed_max_mbit_s", most),
        said("below_capability", _below(tree, name, now, most)),
        said("port_speed_max_mbit_s", tree.port_speed(name)),
        listing.said("lanes", f"{folder}/rx_lanes", _lanes),
        listing.said("power_max_ma", f"{folder}/bMaxPower", _milliamperes),
        said(
            "self_powered",
            self_powered(listing.data(f"{folder}/descriptors"), _configuration(listing, folder)),
        ),
        listing.said("removable", f"{folder}/removable", _is_removable),
        said("ports", listing.number(f"{folder}/maxchild") or None),
    )


def _id(text: str) -> str | Absent:
    return f"0x{text.lower()}" if re.fullmatch(r"[0-9a-fA-F]{4}", text) else Absent.IMPLAUSIBLE


def _release(text: str) -> str | Absent:
    return (
        f"{text[:2].lstrip('0') or '0'}.{text[2:]}"
        if re.fullmatch(r"[0-9a-f]{4}", text)
        else Absent.IMPLAUSIBLE
    )


def _version(text: str) -> str | Absent:
    return text if re.fullmatch(r"[0-9a-f]{1,2}\.[0-9a-f]{2}", text) else Absent.IMPLAUSIBLE


def _speed(text: str) -> float | int | Absent:
    if text not in _SPEEDS:
        return Absent.NOT_OFFERED if text == "unknown" else Absent.IMPLAUSIBLE
    return float(text) if "." in text else int(text)


def _is_removable(text: str) -> bool | Absent:
    return _REMOVABLE.get(text, Absent.IMPLAUSIBLE)


def _lanes(text: str) -> int | Absent:
    return whole_number(text) or Absent.IMPLAUSIBLE


def _milliamperes(text: str) -> int | Absent:
    match = re.fullmatch(r"(\d{1,5})\s*mA", text)
    return int(match[1]) if match else Absent.IMPLAUSIBLE


def _configuration(listing: Listing, folder: str) -> int | None:
    return listing.number(f"{folder}/bConfigurationValue")


def _class(listing: Listing, folder: str) -> str | None:
    """The three class bytes of the device descriptor, as PCI writes its own: `0x080650`."""
    bytes_ = [listing.text(f"{folder}/bDevice{part}") for part in ("Class", "SubClass", "Protocol")]
    text = "".join(part or "" for part in bytes_)
    return f"0x{text.lower()}" if re.fullmatch(r"[0-9a-fA-F]{6}", text) else None


def _functions(listing: Listing, folder: str, interfaces: list[str]) -> str | None:
    """What the device is for: by its interfaces, and by itself where it does not leave it to them."""
    codes = [listing.text(f"{DEVICES}/{name}/bInterfaceClass") for name in interfaces]
    own = listing.text(f"{folder}/bDeviceClass")
    numbers = [int(code, 16) for code in codes or [own] if code and re.fullmatch(r"[0-9a-fA-F]{2}", code)]
    return ", ".join(dict.fromkeys(class_word(n) for n in numbers if n != PER_INTERFACE)) or None


def _most_mbit_s(listing: Listing, tree: Tree, name: str) -> float | int | None:
    """Return the fastest speed that the device itself is known to be able to do.

    By its capabilities; else by its version where that leaves one answer: 1.x is at most 12, 2.00 at 480
    is at its most, 3.00 does 5,000. A device of 2.00 at 12, of 2.10 at 480 and of 3.10 and later does not
    tell without them.
    """
    folder = f"{DEVICES}/{name}"
    now = tree.speed(name)
    told = capability_mbit_s(listing.data(f"{folder}/bos_descriptors"))
    if told is not None:
        most = max(told, now or 0)
        return int(most) if most == int(most) else most
    version = listing.text(f"{folder}/version") or ""
    if re.fullmatch(r"1\.[0-9a-f]{2}", version):
        return now
    if version == "2.00":
        return 480 if now == 480 else None
    return 5000 if version == "3.00" else None


def _below(tree: Tree, name: str, now: float | None, most: float | None) -> bool | None:
    """Return whether a device runs slower than it can. A USB 3 hub is two devices, of which one always runs
    at 480: it is slow only where its fast half is missing."""
    if now is None or most is None:
        return None
    if now < most and tree.class_of(name) == HUB and now <= 480:
        twin = tree.has_twin(name)
        return None if twin is None else not twin
    return now < most


def _faults(listing: Listing, name: str, source: str) -> list[Remark]:
    remarks: list[Remark] = []
    for file in ("descriptors", "bos_descriptors"):
        fault = split(listing.data(f"{DEVICES}/{name}/{file}"))[1]
        if fault is not None:
            where = f"{name} {file} at {fault.where}"
            remarks.append(remark(source, fault.kind, where, fault.detail))
    return remarks


def _repeated(found: list[Sighting], source: str) -> list[Remark]:
    """Name serials that several devices of one model have: they tell none from the other."""
    keys: Counter[tuple[str, str, str]] = Counter()
    for sighting in found:
        words = {word.name: str(word.value) for word in sighting.said if word.value is not None}
        if "serial" in words:
            keys[words.get("vendor_id", ""), words.get("device_id", ""), words["serial"]] += 1
    return [
        remark(source, RemarkKind.REPEATED, f"{vendor}:{device}", "serial", count=count)
        for (vendor, device, _), count in keys.items()
        if count > 1
    ]


def _names(listing: Listing, name: str, names: dict[Key, str]) -> tuple[Said, ...]:
    vendor, device = (
        (listing.text(f"{DEVICES}/{name}/{file}") or "").lower() for file in ("idVendor", "idProduct")
    )
    found = (("maker", names.get((vendor, ""))), ("model", names.get((vendor, device))))
    return tuple(said(field, value) for field, value in found if value)
