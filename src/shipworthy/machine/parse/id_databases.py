"""Names of makers and devices from the lists that a system has: PNP, PCI and USB ids.

Forms that are understood, told apart by what is in them:
- `pci.ids`, `usb.ids` (hwdata, pciutils, usbutils): a vendor a line as `10de  Name`, its devices below it
  after a tab; what stands after two tabs (cards, interfaces) is left out.
- `pnp.ids` (hwdata): `DEL`, a tab, the name.
- udev's `20-*.hwdb`: `pci:v000010DEd00002684*`, `usb:v046DpC52B*`, `acpi:DEL*:`, each with a line
  ` ID_VENDOR_FROM_DATABASE=Name` or ` ID_MODEL_FROM_DATABASE=Name` below.

Only the lines about what is fitted are kept of a list, as they stand, so that a reading can be made again.
No list of JEDEC's maker codes (JEP106) is installed on systems: those codes stay codes (see `jep106`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

Key = tuple[str, str]
"""Maker and device. PCI, USB: four hexadecimal digits in lower case; PNP: three letters, no device. A maker's
own name has an empty device."""

_PCI = re.compile(r"pci:v0000([0-9A-F]{4})(?:d0000([0-9A-F]{4}))?\*")
_USB = re.compile(r"usb:v([0-9A-F]{4})(?:p([0-9A-F]{4}))?\*")
_PNP = re.compile(r"acpi:([A-Z]{3})\*:")
_FROM_DATABASE = re.compile(r"\s+ID_(?:VENDOR|MODEL)_FROM_DATABASE=(.*)")
_VENDOR = re.compile(r"([0-9a-fA-F]{4})  (\S.*)")
_DEVICE = re.compile(r"\t([0-9a-fA-F]{4})  (\S.*)")
_LETTERS = re.compile(r"([A-Z]{3})\t(\S.*)")


def lines_about(data: bytes, wanted: set[Key]) -> bytes:
    """Return the lines of a list that are about the wanted, sorted by maker, with the makers' own lines."""
    if b"_FROM_DATABASE=" in data[: 1 << 16]:
        return b"".join(_database_lines(data, wanted))
    return b"".join(_list_lines(data, wanted))


def _list_lines(data: bytes, wanted: set[Key]) -> Iterator[bytes]:
    data = b"\n" + data
    for maker in sorted({maker for maker, _ in wanted if maker}):
        gap = "\t" if len(maker) == 3 else "  "
        begin = data.find(f"\n{maker}{gap}".encode()) + 1
        if not begin:
            continue
        first, *rest = data[begin : _block_end(data, begin)].splitlines(keepends=True)
        yield first
        devices = {device.encode() for vendor, device in wanted if vendor == maker and device}
        yield from (line for line in rest if line[:1] == b"\t" and line[1:5] in devices)


def _block_end(data: bytes, begin: int) -> int:
    """Return where the next line begins that does not belong to the maker whose line begins at `begin`.

    Remarks stand among the devices of some makers, and end nothing.
    """
    end = data.find(b"\n", begin)
    while end >= 0 and data[end + 1 : end + 2] in (b"\t", b"#"):
        end = data.find(b"\n", end + 1)
    return len(data) if end < 0 else end + 1


def _database_lines(data: bytes, wanted: set[Key]) -> Iterator[bytes]:
    """The match and the line below it; both forms are asked for where a key could be of either bus."""
    data = b"\n" + data
    for maker, device in sorted(wanted | {(maker, "") for maker, _ in wanted}):
        if not maker:
            continue
        for match in _matches(maker.upper(), device.upper()):
            begin = data.find(f"\n{match}\n".encode()) + 1
            if begin:
                end = data.find(b"\n", data.find(b"\n", begin) + 1)
                yield data[begin : len(data) if end < 0 else end] + b"\n"


def _matches(maker: str, device: str) -> tuple[str, ...]:
    if len(maker) == 3:
        return (f"acpi:{maker}*:",)
    pci = f"d0000{device}" if device else ""
    usb = f"p{device}" if device else ""
    return (f"pci:v0000{maker}{pci}*", f"usb:v{maker}{usb}*")


def read_names(text: str) -> dict[Key, str]:
    """Return the names that lines of any of the forms give. Lines that are of none are passed over."""
    names: dict[Key, str] = {}
    vendor, key = "", None
    for line in text.splitlines():
        if match := _PCI.fullmatch(line) or _USB.fullmatch(line) or _PNP.fullmatch(line):
            key = _key(match)
        elif (match := _FROM_DATABASE.fullmatch(line)) and key is not None:
            names.setdefault(key, match[1].strip())
        elif match := _LETTERS.fullmatch(line):
            names[match[1], ""] = match[2].strip()
        elif match := _VENDOR.fullmatch(line):
            vendor = match[1].lower()
            names[vendor, ""] = match[2].strip()
        elif vendor and (match := _DEVICE.fullmatch(line)):
            names[vendor, match[1].lower()] = match[2].strip()
        elif line and not line[0].isspace() and line[0] != "#":
            vendor = ""  # another part of the list, such as USB's classes, whose rows look alike
    return names


def _key(match: re.Match[str]) -> Key:
    if match.re is _PNP:
        return match[1], ""
    return match[1].lower(), (match[2] or "").lower()
