"""Ask for what the firmware left: raw SMBIOS tables, and the fields that the kernel picked from them."""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister, file_reply
from shipworthy.machine.capture.secure_boot import LOCKDOWN, list_secure_boot
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

TABLES = "/sys/firmware/dmi/tables"
DMI_ID = "/sys/class/dmi/id"
DMI_FIELDS = (
    "bios_vendor",
    "bios_version",
    "bios_date",
    "sys_vendor",
    "product_name",
    "product_version",
    "product_serial",
    "product_uuid",
    "product_sku",
    "product_family",
    "board_vendor",
    "board_name",
    "board_version",
    "board_serial",
    "board_asset_tag",
    "chassis_vendor",
    "chassis_type",
    "chassis_version",
    "chassis_serial",
    "chassis_asset_tag",
)


def capture_smbios(root: Root) -> list[Reply]:
    """Both files are for root alone on a live system."""
    return [
        file_reply(root, "smbios.entry-point", f"{TABLES}/smbios_entry_point", "bin"),
        file_reply(root, "smbios.table", f"{TABLES}/DMI", "bin"),
    ]


def capture_dmi_id(root: Root) -> list[Reply]:
    """A weaker source, most of which needs no root; serials do."""
    lister = Lister(root)
    lister.names(DMI_ID)
    lister.texts(DMI_ID, DMI_FIELDS)
    return [lister.reply("dmi-id", DMI_ID)]


def capture_boot(root: Root) -> list[Reply]:
    """How the system was started: a folder `efi` is there exactly when it was by UEFI."""
    lister = Lister(root)
    if "efi" in lister.names("/sys/firmware"):
        list_secure_boot(lister)
    lister.text(LOCKDOWN)
    return [lister.reply("boot", "/sys/firmware")]
