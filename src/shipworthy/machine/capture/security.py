"""Ask for the security module (TPM). Nothing is sent to it: the kernel's files are enough."""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

FOLDER = "/sys/class/tpm"


def capture(root: Root) -> list[Reply]:
    """`caps` is of version 1.2 and asks the module; of 2.0 it is not there."""
    lister = Lister(root)
    for name in lister.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        lister.target(folder)
        lister.target(f"{folder}/device")
        lister.target(f"{folder}/device/driver")
        lister.names(folder)
        lister.texts(folder, ("tpm_version_major", "device/description", "device/hid"))
        lister.text(f"{folder}/device/firmware_node/hid")
        if lister.text(f"{folder}/caps") is None:  # where older kernels have it
            lister.text(f"{folder}/device/caps")
    return [lister.reply("security", FOLDER)]
