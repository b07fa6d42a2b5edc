"""Ask for what memory controllers counted: errors that were mended, and errors that were not."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/devices/system/edac/mc"
CONTROLLER = re.compile(r"mc\d+")
MODULE = re.compile(r"(dimm|rank)\d+")
ROW = re.compile(r"csrow\d+")
CHANNEL = re.compile(r"(ch\d+)_(ce_count|dimm_label|ue_count)")
CONTROLLER_ATTRIBUTES = (
    "mc_name",
    "size_mb",
    "seconds_since_reset",
    "ce_count",
    "ce_noinfo_count",
    "ue_count",
    "ue_noinfo_count",
)
MODULE_ATTRIBUTES = (
    "dimm_label",
    "dimm_location",
    "dimm_mem_type",
    "dimm_edac_mode",
    "dimm_ce_count",
    "dimm_ue_count",
    "size",
)
ROW_ATTRIBUTES = ("size_mb", "mem_type", "edac_mode", "ce_count", "ue_count")


def capture(root: Root) -> list[Reply]:
    """Kernels before 3.6 have rows only; later ones have modules, and rows if they were built with them."""
    lister = Lister(root)
    for name in lister.names(FOLDER):
        if not CONTROLLER.fullmatch(name):
            continue
        folder = f"{FOLDER}/{name}"
        lister.texts(folder, CONTROLLER_ATTRIBUTES)
        for entry in lister.names(folder):
            if MODULE.fullmatch(entry):
                lister.texts(f"{folder}/{entry}", MODULE_ATTRIBUTES)
            elif ROW.fullmatch(entry):
                lister.texts(f"{folder}/{entry}", ROW_ATTRIBUTES)
                files = [file for file in lister.names(f"{folder}/{entry}") if CHANNEL.fullmatch(file)]
                lister.texts(f"{folder}/{entry}", tuple(files))
    return [lister.reply("edac", FOLDER)]
