"""Build SMBIOS structures and tables by hand, from DSP0134's layout and not from our decoder's."""

from __future__ import annotations

import struct


def structure(kind: int, handle: int, area: bytes, *strings: str) -> bytes:
    """Return a structure: header, formatted area behind it, strings, and the double NUL at the end."""
    head = bytes([kind, 4 + len(area)]) + struct.pack("<H", handle)
    return head + area + (b"".join(s.encode() + b"\0" for s in strings) or b"\0") + b"\0"


def end(handle: int = 0x7FFF) -> bytes:
    return structure(127, handle, b"")


def module(
    handle: int, size: int, *strings: str, speed: int = 4800, extended: int = 0, kind: int = 0x22
) -> bytes:
    """Return a type 17 of 0x5C bytes. strings: locator, bank, maker, serial, asset, part number."""
    area = struct.pack("<HHHHH", 0x10, 0xFFFE, 64, 64, size)
    area += bytes([9, 0, 1, 2, kind]) + struct.pack("<HH", 0x80, speed) + bytes([3, 4, 5, 6, 1])
    area += struct.pack("<IH", extended, speed) + struct.pack("<HHH", 1100, 1100, 1100)
    area += bytes(0x54 - 0x28) + struct.pack("<II", 0, 0)
    return structure(17, handle, area, *strings)


def array(handle: int = 0x10, slots: int = 2, use: int = 3) -> bytes:
    return structure(
        16, handle, bytes([3, use, 3]) + struct.pack("<IHHQ", 0x80000000, 0xFFFE, slots, 192 << 30)
    )


def entry_point_64(table: bytes, version: tuple[int, int] = (3, 6)) -> bytes:
    """Return the 24 bytes of `_SM3_` for a table at 32."""
    raw = bytearray(b"_SM3_\0\x18" + bytes([*version, 0, 1, 0]) + struct.pack("<IQ", len(table), 32))
    raw[5] = -sum(raw) % 256
    return bytes(raw)
