"""Ask for the USB devices, the ports of their hubs, and the lines of the system's usb.ids that name them.

All of it is open to every account; no request is sent to a device, as the kernel keeps its descriptors.
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.capture.id_databases import USB_FILES, names_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

DEVICES = "/sys/bus/usb/devices"
ATTRIBUTES = (
    "idVendor",
    "idProduct",
    "bcdDevice",
    "version",
    "speed",
    "rx_lanes",
    "bDeviceClass",
    "bDeviceSubClass",
    "bDeviceProtocol",
    "bMaxPower",
    "bConfigurationValue",
    "manufacturer",
    "product",
    "serial",
    "removable",
)
INTERFACE_ATTRIBUTES = ("bInterfaceClass", "bInterfaceSubClass", "bInterfaceProtocol")
PORT_ATTRIBUTES = ("connect_type", "over_current_count")
_PORT = re.compile(r".+-port\d+")


def capture(root: Root) -> list[Reply]:
    lister = _devices(root)
    reply = lister.reply("usb", DEVICES)
    return [reply, _names(root, lister)] if reply.read else [reply]


def capture_devices(root: Root) -> list[Reply]:
    """The same without the names: what a configuration needs."""
    return [_devices(root).reply("usb", DEVICES)]


def _devices(root: Root) -> Lister:
    lister = Lister(root)
    names = lister.names(DEVICES)
    for name in names:
        folder = f"{DEVICES}/{name}"
        if ":" in name:
            lister.texts(folder, INTERFACE_ATTRIBUTES)
            lister.target(f"{folder}/driver")
            continue
        lister.target(folder)
        lister.texts(folder, ATTRIBUTES)
        lister.binary(f"{folder}/descriptors")
        lister.binary(f"{folder}/bos_descriptors")
        if lister.text(f"{folder}/maxchild") not in (None, "0"):
            _list_ports(lister, name)
    return lister


def _list_ports(lister: Lister, hub: str) -> None:
    """A hub's ports lie below its one interface: `usb1/1-0:1.0/usb1-port1`, `1-4/1-4:1.0/1-4-port1`."""
    interface = f"{hub[3:]}-0:1.0" if hub.startswith("usb") else f"{hub}:1.0"
    folder = f"{DEVICES}/{interface}"
    for name in lister.names(folder):
        if not _PORT.fullmatch(name):
            continue
        lister.texts(f"{folder}/{name}", PORT_ATTRIBUTES)
        lister.text(f"{folder}/{name}/physical_location/panel")
        for link in ("peer", "device", "connector"):
            lister.target(f"{folder}/{name}/{link}")


def _names(root: Root, lister: Lister) -> Reply:
    texts = {row.path: (row.text or "").strip().lower() for row in lister.rows}
    vendors = {
        path.removesuffix("idVendor"): text for path, text in texts.items() if path.endswith("/idVendor")
    }
    wanted = {(vendor, texts.get(f"{folder}idProduct", "")) for folder, vendor in vendors.items() if vendor}
    return names_reply(root, "usb.names", USB_FILES, wanted)
