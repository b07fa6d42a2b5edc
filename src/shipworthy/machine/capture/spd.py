"""Ask the kernel's drivers for the SPD of memory modules.

Any account may read it where a driver serves it: the file `eeprom` has mode 0444 (at24: seen with Linux 6.1;
ee1004 and spd5118: from memory of their sources). It takes a driver of the bus and one of the module; loading
them needs root and is not this tool's.
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister, file_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

DEVICES = "/sys/bus/i2c/devices"
SERVED = ("spd", "ee1004", "spd5118")
"""The kernel's names of devices that are the SPD of a module. Another memory on the bus (`24c02`) may belong
to a board or a display, and is not asked."""

_DEVICE = re.compile(r"\d+-[0-9a-f]{4}")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    modules: list[str] = []
    for name in lister.names(DEVICES):
        if _DEVICE.fullmatch(name) and lister.text(f"{DEVICES}/{name}/name") in SERVED:
            lister.target(f"{DEVICES}/{name}")
            modules.append(name)
    replies = [lister.reply("spd", DEVICES)]
    replies += [file_reply(root, f"spd.{name}", f"{DEVICES}/{name}/eeprom", "bin") for name in modules]
    return replies
