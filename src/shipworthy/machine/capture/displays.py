"""Ask for the graphics cards' connectors and what displays on them say of themselves."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/drm"
CARD = re.compile(r"card\d+")
CONNECTOR = re.compile(r"(card\d+)-(.+)-(\d+)")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        if CARD.fullmatch(name):
            lister.target(f"{folder}/device")
        elif CONNECTOR.fullmatch(name):
            lister.texts(folder, ("status", "enabled"))
            lister.binary(f"{folder}/edid")
    return [lister.reply("displays", FOLDER)]
