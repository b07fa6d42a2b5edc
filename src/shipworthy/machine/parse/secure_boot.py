"""Whether the firmware lets only signed code start, and what the kernel made of it.

Standard: UEFI 2.10, 3.3 (global variables) and 32.3 (Secure Boot modes), from memory. efivarfs puts four
bytes of attributes before a variable's value (Documentation/filesystems/efivarfs.rst). MokSBStateRT is
shim's: 1 where the machine's owner told it to check nothing, though Secure Boot is on.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.raw import remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind

EFI = "/sys/firmware/efi"
GLOBAL = "8be4df61-93ca-11d2-aa0d-00e098032b8c"
SHIM = "605dab50-e046-4300-abb6-3dd810dd8b23"
LOCKDOWN = "/sys/kernel/security/lockdown"
ATTRIBUTE_BYTES = 4
VARIABLES = tuple(f"{name}-{GLOBAL}" for name in ("BootCurrent", "SecureBoot", "SetupMode", "PK"))
"""One of them is there in any firmware that has booted (a kernel started directly has no BootCurrent)."""


def fields(listing: Listing, mode: str | None, source: str, remarks: list[Remark]) -> tuple[Said, ...]:
    """Return what is known of Secure Boot. A legacy firmware has none: that is not fitted, not off."""
    if mode != "UEFI":
        nothing = Absent.NOT_FITTED if mode == "legacy" else Absent.NOT_OFFERED
        return (said("secure_boot", nothing), said("setup_mode", nothing))
    return (
        said("secure_boot", _flag(listing, f"SecureBoot-{GLOBAL}", source, remarks)),
        said("setup_mode", _flag(listing, f"SetupMode-{GLOBAL}", source, remarks)),
        said("platform_key", _platform_key(listing)),
        said("shim_validation", _shim(listing, source, remarks)),
        listing.said("uefi_bits", f"{EFI}/fw_platform_size", _width),
    )


def kernel_sighting(listing: Listing, source: str) -> tuple[Sighting, ...]:
    """Return how far the kernel has locked itself; no sighting where it was not asked for."""
    if listing.row(LOCKDOWN) is None:
        return ()
    word = (listing.said("lockdown", LOCKDOWN, _lockdown),)
    return (Sighting(kind=PartKind.KERNEL, place="kernel", source=source, said=word),)


def _variable(listing: Listing, name: str) -> bytes | Absent:
    """Return a variable with its attributes. Where none at all can be had, they are there and cannot be
    reached: no file system of them is mounted."""
    path = f"{EFI}/efivars/{name}"
    row = listing.row(path)
    if row is None:
        return Absent.NOT_ASKED
    if row.outcome is SourceOutcome.READ:
        return listing.data(path)
    if row.outcome in (SourceOutcome.REFUSED, SourceOutcome.FAILED):
        return Absent.NOT_READABLE
    rows = [listing.row(f"{EFI}/efivars/{one}") for one in VARIABLES]
    reached = any(one is not None and one.outcome is not SourceOutcome.ABSENT for one in rows)
    return Absent.NOT_OFFERED if reached else Absent.NOT_READABLE


def _flag(listing: Listing, name: str, source: str, remarks: list[Remark]) -> bool | Absent:
    data = _variable(listing, name)
    if isinstance(data, Absent):
        return data
    where = name.partition("-")[0]
    if len(data) != ATTRIBUTE_BYTES + 1:
        detail = f"{len(data)} bytes"
        remarks.append(remark(source, RemarkKind.BAD_LENGTH, where, detail))
        return Absent.IMPLAUSIBLE
    value = data[ATTRIBUTE_BYTES]
    if value > 1:
        remarks.append(remark(source, RemarkKind.BAD_VALUE, where, str(value)))
        return Absent.IMPLAUSIBLE
    return value == 1


def _platform_key(listing: Listing) -> bool | Absent:
    """A firmware without a key has no such variable at all."""
    data = _variable(listing, f"PK-{GLOBAL}")
    if isinstance(data, Absent):
        return False if data is Absent.NOT_OFFERED else data
    return len(data) > ATTRIBUTE_BYTES


def _shim(listing: Listing, source: str, remarks: list[Remark]) -> bool | Absent:
    """Whether shim checks what it starts; not offered where no shim did."""
    off = _flag(listing, f"MokSBStateRT-{SHIM}", source, remarks)
    return off if isinstance(off, Absent) else not off


def _width(text: str) -> int | Absent:
    return int(text) if text in ("32", "64") else Absent.IMPLAUSIBLE


def _lockdown(text: str) -> str | Absent:
    """The state in use stands in brackets: `none [integrity] confidentiality`."""
    match = re.search(r"\[(none|integrity|confidentiality)\]", text)
    return match[1] if match else Absent.IMPLAUSIBLE
