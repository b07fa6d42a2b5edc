"""What the kernel picked from the firmware's tables, and how the system was started."""

from __future__ import annotations

from shipworthy.machine.listing import Listing, number_or_implausible, said, text_or_silence
from shipworthy.machine.parse import secure_boot
from shipworthy.machine.parse.smbios.words import CHASSIS_TYPES, SILENT_WORDS
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind

DMI_ID = "/sys/class/dmi/id"
_FIELDS: tuple[tuple[PartKind, str, tuple[tuple[str, str], ...]], ...] = (
    (
        PartKind.FIRMWARE,
        "firmware",
        (("maker", "bios_vendor"), ("version", "bios_version"), ("date", "bios_date")),
    ),
    (
        PartKind.SYSTEM,
        "system",
        (
            ("maker", "sys_vendor"),
            ("model", "product_name"),
            ("version", "product_version"),
            ("serial", "product_serial"),
            ("uuid", "product_uuid"),
            ("sku", "product_sku"),
            ("family", "product_family"),
        ),
    ),
    (
        PartKind.BOARD,
        "board",
        (
            ("maker", "board_vendor"),
            ("model", "board_name"),
            ("version", "board_version"),
            ("serial", "board_serial"),
            ("asset", "board_asset_tag"),
        ),
    ),
    (
        PartKind.CHASSIS,
        "chassis",
        (
            ("maker", "chassis_vendor"),
            ("type", "chassis_type"),
            ("version", "chassis_version"),
            ("serial", "chassis_serial"),
            ("asset", "chassis_asset_tag"),
        ),
    ),
)


def parse_dmi_id(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `dmi-id`: the same fields that the tables hold, as far as this account may read them."""
    reply = reply_read(replies, "dmi-id")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for kind, place, names in _FIELDS:
        fields = tuple(
            listing.said(name, f"{DMI_ID}/{file}", _chassis_type if name == "type" else text_or_silence)
            for name, file in names
        )
        found.append(Sighting(kind=kind, place=place, source=reply.id, said=fields))
    return Parsed(tuple(found))


def _chassis_type(text: str) -> str | Absent:
    number = number_or_implausible(text)
    if isinstance(number, Absent):
        return number
    word = CHASSIS_TYPES.get(number & 0x7F)
    return Absent.NOT_OFFERED if word is None or word in SILENT_WORDS else word


def parse_boot(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `boot`: mode `UEFI` or `legacy`, Secure Boot, and the kernel's lockdown. Without ACPI or DMI
    beside it, a missing folder `efi` proves neither mode."""
    reply = reply_read(replies, "boot")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    names = listing.names("/sys/firmware")
    mode = "UEFI" if "efi" in names else "legacy" if {"acpi", "dmi"} & set(names) else None
    remarks: list[Remark] = []
    fields = (said("mode", mode), *secure_boot.fields(listing, mode, reply.id, remarks))
    firmware = Sighting(kind=PartKind.FIRMWARE, place="firmware", source=reply.id, said=fields)
    kernel = secure_boot.kernel_sighting(listing, reply.id)
    return Parsed((firmware, *kernel), remarks=tuple(remarks))
