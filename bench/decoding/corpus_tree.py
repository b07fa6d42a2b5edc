"""Devices that the simulated unit lacks, added to its folder: so that the sources that read them are fed too.

A drive on SATA with every page that it is asked for, one on USB, an optical drive, three memory modules' SPD,
a USB device with its capabilities, and what a network driver answers. Places and forms are the kernel's.
"""

from __future__ import annotations

import struct
from pathlib import Path

from decoding import corpus_pages as pages
from shipworthy.machine.parse.scsi import PAGES
from shipworthy.sim.tree import Tree

_SATA = "/sys/devices/pci0000:00/0000:00:17.0/ata1/host0/target0:0:0/0:0:0:0"
_OPTICAL = "/sys/devices/pci0000:00/0000:00:17.0/ata2/host1/target1:0:0/1:0:0:0"
_USB = "/sys/devices/pci0000:00/0000:00:14.0/usb2/2-1"
_SMBUS = "/sys/devices/pci0000:00/0000:00:1f.4/i2c-0"


def add_devices(folder: Path) -> None:
    """Write them into a machine's folder."""
    tree = Tree(folder)
    _add_disk(tree, "sda", _SATA, "0")
    _add_disk(tree, "sdb", f"{_USB}/2-1:1.0/host2/target2:0:0/2:0:0:0", "0")
    _add_optical(tree)
    _add_modules(tree)
    _add_usb(tree)
    for interface in (folder / "sys/class/net").iterdir():
        replies = f"/replies/{interface.name}"
        tree.data(f"{replies}/ethtool-link-settings.bin", pages.ethtool_settings())
        tree.data(
            f"{replies}/ethtool-permanent-address.bin", struct.pack("<II", 0x20, 6) + b"\2\0\x5e\x10\0\x0f"
        )


def statistics_page(number: int) -> bytes:
    """A page of the device statistics log: its number in byte 2, then values that say supported and valid."""
    page = bytearray(pages.ata_statistics())
    page[2] = number
    return bytes(page)


def _add_disk(tree: Tree, name: str, device: str, removable: str) -> None:
    block = f"{device}/block/{name}"
    words = {"size": 5860533168, "ro": 0, "removable": removable, "queue/rotational": 1}
    tree.attributes(block, words | {"queue/logical_block_size": 512})
    tree.attributes(device, {"vendor": "ATA", "model": "Skogdata Sill 3T", "rev": "F102", "type": 0})
    for page, data in zip(("inquiry", *PAGES.values()), pages.scsi_pages(), strict=True):
        tree.data(f"{device}/{page}", data)
    tree.link(f"{block}/device", device)
    tree.link(f"/sys/block/{name}", block)
    registers = bytes([0x72, 1, 0, 0x1D, 0, 0, 0, 14, 9, 12, 0, 0, 0, 0xFF, 0, 0, 0, 0x4F, 0, 0xC2, 0, 0x50])
    answers = {
        "ata-power-mode": registers,
        "ata-identify": pages.ata_identify(),
        "ata-smart": pages.ata_smart(),
        "ata-smart-thresholds": pages.summed(b"\1\0" + bytes(510)),
        "ata-smart-status": registers,
        "ata-device-statistics": statistics_page(1),
    }
    answers |= {f"ata-device-statistics-{number:02x}": statistics_page(number) for number in (4, 5, 6, 7)}
    for page, data in answers.items():
        tree.data(f"/replies/{name}/{page}.bin", data)


def _add_optical(tree: Tree) -> None:
    tree.attributes(_OPTICAL, {"vendor": "Quarrel", "model": "BD-RE 12", "rev": "1.02", "type": 5})
    tree.attributes(f"{_OPTICAL}/block/sr0", {"size": 4, "removable": 1})
    tree.link(f"{_OPTICAL}/block/sr0/device", _OPTICAL)
    tree.link("/sys/block/sr0", f"{_OPTICAL}/block/sr0")
    tree.data("/replies/sr0/get-configuration.bin", pages.optical_configuration())
    tree.text("/proc/sys/dev/cdrom/info", "drive name:\t\tsr0\ndrive speed:\t\t48\nCan write CD-R:\t\t1\n")


def _add_modules(tree: Tree) -> None:
    images = (("spd", pages.ddr3()), ("ee1004", pages.ddr4()), ("spd5118", pages.ddr5()))
    for slot, (driver, image) in enumerate(images):
        module = f"{_SMBUS}/0-005{slot}"
        tree.attributes(module, {"name": driver})
        tree.data(f"{module}/eeprom", image)
        tree.link(f"/sys/bus/i2c/devices/0-005{slot}", module)


def _add_usb(tree: Tree) -> None:
    words = {"idVendor": "5ab1", "idProduct": "0012", "bcdDevice": "0110", "version": " 3.20", "speed": 5000}
    words |= {"rx_lanes": 1, "bDeviceClass": "00", "bMaxPower": "896mA", "bConfigurationValue": 1}
    tree.attributes(_USB, words | {"product": "Bridge", "serial": "SB-00071", "removable": "removable"})
    tree.data(f"{_USB}/descriptors", pages.usb_sound())
    tree.data(f"{_USB}/bos_descriptors", pages.usb_capabilities())
    tree.attributes(f"{_USB}/2-1:1.0", {"bInterfaceClass": "08", "bInterfaceProtocol": "62"})
    tree.link("/sys/bus/usb/devices/2-1", _USB)
    tree.link("/sys/bus/usb/devices/2-1:1.0", f"{_USB}/2-1:1.0")
