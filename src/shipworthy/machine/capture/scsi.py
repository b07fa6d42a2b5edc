"""Ask for what the kernel keeps of SCSI drives: INQUIRY and pages of vital product data, in sysfs."""

from __future__ import annotations

import re

from shipworthy.machine.capture.block import BLOCK, list_wiring
from shipworthy.machine.capture.files import Lister
from shipworthy.machine.parse.scsi import PAGES
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

_DISK = re.compile(r"sd[a-z]+|sr\d+")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    for name in lister.names(BLOCK):
        path = lister.target(f"{BLOCK}/{name}") if _DISK.fullmatch(name) else None
        if path is None:
            continue
        list_wiring(lister, name, path)
        for page in ("inquiry", *PAGES.values()):
            lister.binary(f"{BLOCK}/{name}/device/{page}")
    return [lister.reply("scsi", BLOCK)]
