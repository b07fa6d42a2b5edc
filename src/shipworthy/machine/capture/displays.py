"""Ask for the graphics cards' connectors, what displays there say of themselves, and their makers' names."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.capture.id_databases import PNP_FILES, names_reply
from shipworthy.machine.parse.edid.blocks import is_edid
from shipworthy.machine.parse.edid.found import letters
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/drm"
CARD = re.compile(r"card\d+")
CONNECTOR = re.compile(r"(card\d+)-(.+)-(\d+)")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    makers: set[str] = set()
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        if CARD.fullmatch(name):
            lister.target(f"{folder}/device")
        elif CONNECTOR.fullmatch(name):
            lister.texts(folder, ("status", "enabled"))
            edid = lister.binary(f"{folder}/edid")
            if is_edid(edid):
                makers.add(letters(edid[8] << 8 | edid[9]))
    reply = lister.reply("displays", FOLDER)
    wanted = {(maker, "") for maker in makers if maker}
    return [reply, names_reply(root, "displays.names", PNP_FILES, wanted)] if wanted else [reply]
