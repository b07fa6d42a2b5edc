"""Ask for the USB devices, the ports of their hubs, and the lines of the system's usb.ids that name them.

All of it is open to every account; no request is sent to a device, as the kernel keeps its descriptors.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.capture.files import Lister, read_file
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

DEVICES = "/sys/bus/usb/devices"
NAME_FILES = ("/usr/share/misc/usb.ids", "/usr/share/hwdata/usb.ids", "/var/lib/usbutils/usb.ids")
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
    """The 700 KB file is read, and only the lines about fitted vendors and devices are kept."""
    texts = {row.path: (row.text or "").strip() for row in lister.rows if row.path.startswith(DEVICES)}
    devices = {
        (text.lower(), texts.get(f"{path.removesuffix('idVendor')}idProduct", "").lower())
        for path, text in texts.items()
        if path.endswith("/idVendor") and text
    }
    for locator in NAME_FILES:
        answer = read_file(root, locator)
        if answer.outcome is not SourceOutcome.ABSENT:
            break
    if answer.outcome is not SourceOutcome.READ:
        return Reply("usb.names", locator, answer.outcome, b"", answer.error)
    lines = b"".join(_lines_about(answer.data, devices))
    return Reply("usb.names", locator, SourceOutcome.READ if lines else SourceOutcome.EMPTY, lines)


def _lines_about(data: bytes, devices: set[tuple[str, str]]) -> Iterator[bytes]:
    """Yield the lines of vendors and of their devices, sorted: `046d  Name`, devices after a tab."""
    data = b"\n" + data
    for vendor in sorted({vendor for vendor, _ in devices}):
        begin = data.find(f"\n{vendor}  ".encode()) + 1
        if not begin:
            continue
        end = data.find(b"\n", begin)
        yield data[begin:end] + b"\n"
        while end >= 0 and data[end + 1 : end + 2] == b"\t":
            begin, end = end + 1, data.find(b"\n", end + 1)
            line = data[begin : end if end >= 0 else len(data)]
            if line[1:2] != b"\t" and (vendor, line[1:5].decode("ascii", "replace")) in devices:
                yield line + b"\n"
