"""Ask for the sound cards and for the codecs on their HD Audio links.

The kernel's own files of codecs are enough. The long text of a codec in /proc is asked for only where they
are missing: to write it, the driver wakes the codec and asks it for everything.
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister, file_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

CARDS = "/proc/asound/cards"
CLASS = "/sys/class/sound"
CODECS = "/sys/bus/hdaudio/devices"
CODEC_ATTRIBUTES = ("vendor_id", "subsystem_id", "revision_id", "vendor_name", "chip_name", "afg", "mfg")
_CARD = re.compile(r"card(\d+)")
_CODEC_TEXT = re.compile(r"codec#\d+")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    codecs = lister.names(CODECS)
    for name in codecs:
        lister.target(f"{CODECS}/{name}")
        lister.texts(f"{CODECS}/{name}", CODEC_ATTRIBUTES)
    for name in lister.names(CLASS):
        match = _CARD.fullmatch(name)
        if match is None:
            continue
        lister.text(f"{CLASS}/{name}/id")
        lister.target(f"{CLASS}/{name}/device")
        lister.target(f"{CLASS}/{name}/device/driver")
        for entry in lister.names(f"/proc/asound/{name}"):
            if not codecs and _CODEC_TEXT.fullmatch(entry):
                lister.text(f"/proc/asound/{name}/{entry}")
    return [lister.reply("sound", CLASS), file_reply(root, "sound.cards", CARDS)]
