"""Write the 128 bytes of a display's EDID.

Layout: VESA Enhanced EDID 1.4, base block; a detailed timing is 18 bytes (section 3.10.2).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

_SRGB = bytes.fromhex("ee91a3544c99260f5054")  # the primaries and white of IEC 61966-2-1


@dataclass(frozen=True)
class Timing:
    """One video mode. Clock in 10 kHz steps; pixels and lines; image size in mm."""

    clock_10khz: int
    width_px: int
    blank_px: int
    front_px: int
    sync_px: int
    height_px: int
    blank_lines: int
    front_lines: int
    sync_lines: int
    width_mm: int
    height_mm: int


@dataclass(frozen=True)
class Screen:
    """What a display says that it is. maker: a three-letter PNP id. name and serial: at most 13 letters."""

    maker: str
    product: int
    name: str
    serial: str
    week: int
    year: int
    timing: Timing


def edid(screen: Screen) -> bytes:
    """Return the base block: digital, 8 bits a colour, DisplayPort; all bytes sum to 0 mod 256."""
    letters = [ord(letter) - ord("A") + 1 for letter in screen.maker]
    block = bytes.fromhex("00ffffffffffff00")
    block += struct.pack(">H", letters[0] << 10 | letters[1] << 5 | letters[2])
    block += struct.pack("<HI", screen.product, 0)  # the serial stands as text below
    block += bytes([screen.week, screen.year - 1990, 1, 4])
    block += bytes([0xA5, screen.timing.width_mm // 10, screen.timing.height_mm // 10, 120])
    block += b"\x26"  # active off; RGB 4:4:4 only; sRGB is its own space; the preferred timing is native
    block += _SRGB + bytes(3) + b"\x01\x01" * 8
    block += detailed_timing(screen.timing)
    block += _text_descriptor(0xFF, screen.serial) + _text_descriptor(0xFC, screen.name)
    block += b"\0\0\0\x10" + bytes(14)  # a descriptor with nothing to say
    block += b"\0"  # no extension
    return block + bytes([-sum(block) % 256])


def detailed_timing(t: Timing) -> bytes:
    """Return the 18 bytes of a progressive mode with separate syncs, horizontal positive."""
    return struct.pack(
        "<H16B",
        t.clock_10khz,
        t.width_px & 0xFF,
        t.blank_px & 0xFF,
        t.width_px >> 8 << 4 | t.blank_px >> 8,
        t.height_px & 0xFF,
        t.blank_lines & 0xFF,
        t.height_px >> 8 << 4 | t.blank_lines >> 8,
        t.front_px & 0xFF,
        t.sync_px & 0xFF,
        (t.front_lines & 0xF) << 4 | t.sync_lines & 0xF,
        t.front_px >> 8 << 6 | t.sync_px >> 8 << 4 | t.front_lines >> 4 << 2 | t.sync_lines >> 4,
        t.width_mm & 0xFF,
        t.height_mm & 0xFF,
        t.width_mm >> 8 << 4 | t.height_mm >> 8,
        0,
        0,
        0x1A,
    )


def _text_descriptor(tag: int, text: str) -> bytes:
    raw = text.encode("ascii")
    if len(raw) > 13:
        raise ValueError(f"{text!r} is longer than the 13 bytes of a descriptor")
    return bytes([0, 0, 0, tag, 0]) + (raw if len(raw) == 13 else (raw + b"\n").ljust(13))
