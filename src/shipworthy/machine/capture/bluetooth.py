"""Ask for the Bluetooth adapters. Nothing is scanned, and no peer is asked for."""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.capture.wireless import list_switches
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/bluetooth"


def capture(root: Root) -> list[Reply]:
    """Names with a colon (`hci0:11`) are connections to other people's devices: they are left alone."""
    lister = Lister(root)
    for name in lister.names(FOLDER):
        if ":" in name:
            continue
        folder = f"{FOLDER}/{name}"
        lister.target(folder)
        lister.target(f"{folder}/device")
        lister.target(f"{folder}/device/driver")
        list_switches(lister, folder)
    return [lister.reply("bluetooth", FOLDER)]
