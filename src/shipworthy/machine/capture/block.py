"""Ask for the block devices in sysfs."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister, names_in, resolve
from shipworthy.machine.listing import ListingRow
from shipworthy.machine.parse.wiring import MMC_AREA, NVME_CONTROLLER, ata_port_folder, usb_device_folder
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

BLOCK = "/sys/block"
_OF_SOFTWARE = re.compile(r"(loop|ram|zram|dm-|md|nbd|drbd|zd|bcache|fd)\d+")
_MMC = re.compile(r"mmcblk\d+")


def capture(root: Root) -> list[Reply]:
    lister = Lister(root)
    for name in lister.names(BLOCK):
        if not is_hardware(name):
            continue
        folder = f"{BLOCK}/{name}"
        path = lister.target(folder)
        lister.texts(folder, ("size", "removable", "serial"))
        lister.texts(f"{folder}/queue", ("rotational", "logical_block_size", "physical_block_size"))
        lister.texts(f"{folder}/device", ("vendor", "model", "rev", "serial", "firmware_rev", "wwid"))
        lister.binary(f"{folder}/device/vpd_pg80")
        if _MMC.fullmatch(name):
            lister.texts(f"{folder}/device", ("type", "name", "removable"))
        list_wiring(lister, name, path)
        usb = None if path is None else usb_device_folder(path)
        if usb is not None:
            lister.texts(usb, ("idVendor", "idProduct", "manufacturer", "product", "serial"))
    return [lister.reply("block", BLOCK)]


def is_hardware(name: str) -> bool:
    """Return whether a block device is one of its own: not made by software, and no area of an eMMC."""
    return _OF_SOFTWARE.fullmatch(name) is None and MMC_AREA.fullmatch(name) is None


def list_wiring(lister: Lister, name: str, path: str | None) -> None:
    """Ask for what tells where a block device is wired beyond its path: port, namespace, controller."""
    if path is None:
        return
    port = ata_port_folder(path)
    if port is not None:
        lister.text(f"{port}/port_no")
    if name.startswith("nvme"):
        lister.text(f"{BLOCK}/{name}/nsid")
        _list_nvme_controller(lister, name, path)


def _list_nvme_controller(lister: Lister, name: str, path: str) -> None:
    """Keep a row `<block device>/controller` that leads to the controller answering for the namespace.

    With multipath the namespace hangs on the subsystem, whose folder links to its controllers.
    """
    parent = path.rsplit("/", 1)[0]
    controller: str | None = parent if NVME_CONTROLLER.fullmatch(parent.rsplit("/", 1)[-1]) else None
    if controller is None:
        links = [entry for entry in names_in(lister.root, parent) if NVME_CONTROLLER.fullmatch(entry)]
        controller = next((t for link in links if (t := resolve(lister.root, f"{parent}/{link}"))), None)
    if controller is not None:
        lister.rows.append(ListingRow(path=f"{BLOCK}/{name}/controller", link=controller))
