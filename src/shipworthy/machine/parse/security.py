"""The security module (TPM), as the kernel has it.

Source: Documentation/ABI/stable/sysfs-class-tpm. `tpm_version_major` is there since Linux 5.6, the banks of
platform configuration registers since 5.12 (from memory). Of a module of version 2.0 the kernel's files tell
neither maker nor firmware: they would have to be asked of the module itself, which only root may.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.acpi_place import acpi_place
from shipworthy.machine.parse.wiring import is_virtual
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

FOLDER = "/sys/class/tpm"
_VERSIONS = {"1": "1.2", "2": "2.0"}
_IN_TEXT = re.compile(r"\bTPM\s+(1\.2|2\.0)\b|\bTCG version:\s*(1\.2)\b")


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `security`: one sighting for each module."""
    reply = reply_read(replies, "security")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for name in listing.names(FOLDER):
        device = listing.target(f"{FOLDER}/{name}/device") or ""
        if is_virtual(device):  # vtpm proxies
            continue
        number = f"tpm:{name.removeprefix('tpm')}"
        place = acpi_place(device) or number
        also = () if place == number else (number,)  # the firmware's table knows no other place
        fields = _fields(listing, name)
        found.append(
            Sighting(kind=PartKind.SECURITY_MODULE, place=place, source=reply.id, said=fields, also_at=also)
        )
    return Parsed(tuple(found))


def _fields(listing: Listing, name: str) -> tuple[Said, ...]:
    folder = f"{FOLDER}/{name}"
    banks = [entry[4:] for entry in listing.names(folder) if entry.startswith("pcr-")]
    caps = listing.text(f"{folder}/device/caps") or listing.text(f"{folder}/caps") or ""
    return (
        said("kernel_name", name),
        _version(listing, folder, caps),
        said("driver", listing.target_name(f"{folder}/device/driver")),
        said("maker", _maker(caps)),
        said("firmware_version", _after("Firmware version", caps)),
        said("pcr_banks", ", ".join(banks) or None),
        said("acpi_id", _acpi_id(listing, f"{folder}/device")),
    )


def _acpi_id(listing: Listing, device: str) -> str | None:
    """The device is itself the firmware's (CRB), or has it beside (TIS)."""
    return listing.text(f"{device}/hid") or listing.text(f"{device}/firmware_node/hid")


def _version(listing: Listing, folder: str, caps: str) -> Said:
    """The kernel's number; of older kernels what the ACPI description or the module's own text says."""
    row = listing.row(f"{folder}/tpm_version_major")
    if row is not None and row.text is not None:
        return said("tpm_version", _VERSIONS.get(row.text.strip(), Absent.IMPLAUSIBLE))
    for text in (caps, listing.text(f"{folder}/device/description") or ""):
        match = _IN_TEXT.search(text)
        if match:
            return said("tpm_version", match[1] or match[2])
    return listing.said("tpm_version", f"{folder}/tpm_version_major", str)


def _maker(caps: str) -> str | None:
    """Four letters as a number, such as 0x49465800 for IFX (TCG Vendor ID Registry)."""
    code = _after("Manufacturer", caps) or ""
    if not re.fullmatch(r"0x[0-9a-fA-F]{8}", code):
        return None
    letters = bytes.fromhex(code[2:]).rstrip(b"\0 ")
    return letters.decode() if letters and all(32 < byte < 127 for byte in letters) else code.lower()


def _after(name: str, caps: str) -> str | None:
    match = re.search(rf"^{name}: *(\S+)$", caps, re.MULTILINE)
    return match[1] if match else None
