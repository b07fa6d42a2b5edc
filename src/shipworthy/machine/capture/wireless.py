"""Ask for the radios of wireless networks. Nothing is scanned, and no network's name is asked for."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/ieee80211"
_SWITCH = re.compile(r"rfkill\d+")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        lister.target(folder)
        lister.target(f"{folder}/device")
        lister.target(f"{folder}/device/driver")
        lister.text(f"{folder}/macaddress")
        list_switches(lister, folder)
    return [lister.reply("wireless", FOLDER)]


def list_switches(lister: Lister, folder: str) -> None:
    """Ask for the switches of a radio: `soft` is set by software, `hard` by a key or the firmware."""
    for name in lister.names(folder):
        if _SWITCH.fullmatch(name):
            lister.texts(f"{folder}/{name}", ("type", "soft", "hard"))
