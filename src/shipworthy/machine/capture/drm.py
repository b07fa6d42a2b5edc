"""Ask which files of DRM's drivers there are that tell clock, utilisation and slow-downs. No values."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

DRM = "/sys/class/drm"
NAME = "sensors.drm"
_CARD, _TILE, _GT = re.compile(r"card\d+"), re.compile(r"tile\d+"), re.compile(r"gt\d+")


def capture(root: Root) -> Reply:
    """Return a listing of the cards' folders, connectors and render nodes left out."""
    lister = Lister(root)
    for card in filter(_CARD.fullmatch, lister.names(DRM)):
        folder = f"{DRM}/{card}"
        lister.target(f"{folder}/device")
        lister.target(f"{folder}/device/driver")
        lister.names(folder)
        for gt in filter(_GT.fullmatch, lister.names(f"{folder}/gt")):  # i915
            lister.names(f"{folder}/gt/{gt}")
        for tile in filter(_TILE.fullmatch, lister.names(f"{folder}/device")):  # xe
            for gt in filter(_GT.fullmatch, lister.names(f"{folder}/device/{tile}")):
                lister.names(f"{folder}/device/{tile}/{gt}/freq0")
                lister.names(f"{folder}/device/{tile}/{gt}/freq0/throttle")
    return lister.reply(NAME, DRM)
