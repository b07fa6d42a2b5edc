"""Ask for the kernel that runs."""

from __future__ import annotations

import os

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.listing import ListingRow
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/proc/sys/kernel"


def capture(root: Root) -> list[Reply]:
    """`arch` is a file since Linux 6.1; before, only uname(2) tells, and only of the machine we run on."""
    lister = Lister(root)
    lister.texts(FOLDER, ("osrelease", "version"))
    if lister.text(f"{FOLDER}/arch") is None and root.live:
        lister.rows[-1] = ListingRow(path=f"{FOLDER}/arch", text=os.uname().machine)
    reply = lister.reply("kernel", f"{FOLDER}/osrelease")
    return [reply]
