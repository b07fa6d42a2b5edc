"""Ask for the network interfaces that are hardware."""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/net"
ATTRIBUTES = (
    "address",
    "addr_assign_type",
    "type",
    "operstate",
    "carrier",
    "speed",
    "duplex",
    "dev_port",
    "ifindex",
)


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        path = lister.target(folder)
        if path is None or path.startswith("/sys/devices/virtual/"):
            continue
        lister.target(f"{folder}/device")
        lister.target(f"{folder}/device/driver")
        lister.texts(folder, ATTRIBUTES)
        lister.names(f"{folder}/wireless")
    return [lister.reply("network", FOLDER)]
