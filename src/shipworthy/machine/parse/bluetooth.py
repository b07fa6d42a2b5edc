"""Bluetooth adapters: where they are wired, and whether a switch keeps them silent.

Sources: /sys/class/bluetooth and Documentation/ABI/stable/sysfs-class-rfkill. The kernel has not shown the
adapter's address there since 2012 (from memory): it is not asked for.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.wireless import switches
from shipworthy.machine.parse.wiring import device_place, is_virtual
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.facts import Sighting
from shipworthy.model.words import PartKind

FOLDER = "/sys/class/bluetooth"
_BUSES = (("/usb", "USB"), ("/mmc", "SDIO"), ("/serial", "UART"), ("/tty", "UART"), ("/pci", "PCIe"))


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `bluetooth`: one sighting for each adapter that is hardware."""
    reply = reply_read(replies, "bluetooth")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for name in listing.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        device = listing.target(f"{folder}/device")
        if ":" in name or device is None or is_virtual(device):
            continue
        fields = (
            said("kernel_name", name),
            said("interface", _interface(device)),
            said("driver", listing.target_name(f"{folder}/device/driver")),
            *switches(listing, folder),
        )
        place = device_place(device)
        found.append(Sighting(kind=PartKind.BLUETOOTH, place=place, source=reply.id, said=fields))
    return Parsed(tuple(found))


def _interface(device: str) -> str | None:
    """What the adapter hangs on; the last bus on the way to it counts."""
    at = [
        (device.rfind(part), word) for part, word in _BUSES if re.search(re.escape(part) + r"[\d:]", device)
    ]
    return max(at)[1] if at else None
