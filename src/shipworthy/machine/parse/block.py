"""Block devices, as the kernel describes them in sysfs."""

from __future__ import annotations

from shipworthy.machine.listing import Listing, number_or_implausible, said, text_or_silence, whole_number
from shipworthy.machine.parse.usb.bridges import bridge_name
from shipworthy.machine.parse.wiring import ata_port_folder, interface_of, storage_place, usb_device_folder
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

BLOCK = "/sys/block"
_ON_MMC = ("eMMC", "MMC", "SD")
"""Of these the product's name stands in `name` (kernel, driver-api/mmc/mmc-dev-attrs)."""
SECTOR_BYTES = 512  # sysfs counts sizes so, whatever the device's own block is


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `block`: one sighting for each device that is hardware."""
    reply = reply_read(replies, "block")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for name in listing.names(BLOCK):
        place = block_place(listing, name)
        if place is not None:
            fields = _fields(listing, name)
            found.append(Sighting(kind=kind_of(name), place=place, source=reply.id, said=fields))
    return Parsed(tuple(found))


def block_place(listing: Listing, name: str) -> str | None:
    """Return the place of a block device by its kernel name; None if it is no hardware, or not there."""
    path = listing.target(f"{BLOCK}/{name}")
    if path is None:
        return None
    port = ata_port_folder(path)
    return storage_place(
        path,
        namespace=listing.number(f"{BLOCK}/{name}/nsid"),
        ata_port=listing.number(f"{port}/port_no") if port else None,
        controller=listing.target(f"{BLOCK}/{name}/controller"),
    )


def kind_of(name: str) -> PartKind:
    """Return what a block device is by its name: `sr0` reads discs, and holds nothing of its own."""
    return PartKind.OPTICAL_DRIVE if name.startswith("sr") else PartKind.STORAGE


def _is_removable(text: str) -> bool | Absent:
    return text == "1" if text in ("0", "1") else Absent.IMPLAUSIBLE


def _fields(listing: Listing, name: str) -> tuple[Said, ...]:
    folder = f"{BLOCK}/{name}"
    path = listing.target(folder) or ""
    interface = _interface(listing, name, path)
    optical = name.startswith("sr")
    return (
        said("kernel_name", name),
        said("interface", interface),
        listing.said("maker", f"{folder}/device/vendor", _vendor),
        listing.said(
            "model", f"{folder}/device/{'name' if interface in _ON_MMC else 'model'}", text_or_silence
        ),
        _serial(listing, folder),
        _firmware(listing, folder),
        said("size_bytes", Absent.NOT_OFFERED)
        if optical
        else listing.said("size_bytes", f"{folder}/size", _bytes),
        listing.said("logical_block_bytes", f"{folder}/queue/logical_block_size", number_or_implausible),
        said("technology", _technology(listing, folder, interface, optical)),
        listing.said("removable", f"{folder}/removable", _is_removable),
        listing.said("physical_block_bytes", f"{folder}/queue/physical_block_size", number_or_implausible),
        *_bridge(listing, path),
    )


def _interface(listing: Listing, name: str, path: str) -> str:
    """`device/type` tells an SD card from what speaks MMC (kernel, drivers/mmc/core/bus.c, from memory).

    Of the latter, what has areas to start from is an eMMC (JESD84-B51, 6.2, from memory), unless its host
    calls the place one for cards: then it may be either, and is called MMC alone. Linux 6.1 has no such word
    (`removable`, ABI/testing/sysfs-devices-removable; seen), later ones do (from memory).
    """
    interface = interface_of(path)
    if interface != "MMC":
        return interface
    device = f"{BLOCK}/{name}/device"
    kind = listing.text(f"{device}/type")
    if kind in ("SD", "SDcombo"):
        return "SD"
    has_boot_area = f"{name}boot0" in listing.names(BLOCK)
    in_a_reader = listing.text(f"{device}/removable") == "removable"
    return "eMMC" if kind == "MMC" and has_boot_area and not in_a_reader else interface


def _bridge(listing: Listing, path: str) -> tuple[Said, ...]:
    """What carries a drive on USB: the chip's or its box's own identity, apart from that of the drive."""
    folder = usb_device_folder(path)
    if folder is None:
        return ()
    vendor, product = (
        whole_number(f"0x{listing.text(f'{folder}/{n}') or '-'}") for n in ("idVendor", "idProduct")
    )
    if vendor is None or product is None:
        return (said("bridge", Absent.NOT_OFFERED),)
    names = (listing.text(f"{folder}/{name}") or "" for name in ("manufacturer", "product"))
    calls_itself = " ".join(name for name in names if name and not is_placeholder(name))
    return (
        said("bridge", bridge_name(vendor, product, calls_itself)),
        listing.said("bridge_serial", f"{folder}/serial", text_or_silence),
    )


def _vendor(text: str) -> str | Absent:
    """`ATA` is the name of the translation, and `0x1af4` the id of virtio's: neither is a maker."""
    return Absent.NOT_OFFERED if text == "ATA" or text.startswith("0x") else text_or_silence(text)


def _bytes(text: str) -> Scalar | Absent:
    sectors = number_or_implausible(text)
    if isinstance(sectors, Absent):
        return sectors
    return sectors * SECTOR_BYTES or Absent.NOT_OFFERED


def _serial(listing: Listing, folder: str) -> Said:
    """From the device's own attribute, from page 80h of SCSI's vital product data, or from virtio's."""
    page = listing.data(f"{folder}/device/vpd_pg80")
    for text in (
        listing.text(f"{folder}/device/serial"),
        page[4:].decode("ascii", "replace").strip(" \0") if len(page) > 4 else None,
        listing.text(f"{folder}/serial"),
    ):
        if text and not is_placeholder(text):
            return said("serial", text)
    rows = [listing.row(f"{folder}/{file}") for file in ("device/serial", "device/vpd_pg80", "serial")]
    refused = any(row is not None and row.outcome in ("refused", "failed") for row in rows)
    return said("serial", Absent.NOT_READABLE if refused else Absent.NOT_OFFERED)


def _firmware(listing: Listing, folder: str) -> Said:
    """NVMe names it `firmware_rev`; SCSI's `rev` is cut to four signs."""
    name = "firmware_rev" if listing.text(f"{folder}/device/firmware_rev") else "rev"
    return listing.said("firmware_version", f"{folder}/device/{name}", text_or_silence)


def _technology(listing: Listing, folder: str, interface: str, optical: bool) -> str | Absent:
    if optical:
        return "optical"
    if interface in ("NVMe", "virtio"):
        return "NVMe" if interface == "NVMe" else "virtual"
    flag = listing.text(f"{folder}/queue/rotational")
    if interface == "USB" and flag == "1":  # what the kernel takes for granted of any that does not say
        return Absent.NOT_OFFERED
    return {"0": "solid state", "1": "spinning"}.get(flag or "", Absent.NOT_OFFERED)
