"""EDID base block to facts: a display's maker, name, serial, size and preferred timing.

Standard: VESA E-EDID 1.3 and 1.4, base block of 128 bytes (offsets as in the project's check values,
display.md, confirmed there with edid-decode).
"""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.machine.listing import said
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

HEADER = b"\x00\xff\xff\xff\xff\xff\xff\x00"
BLOCK_BYTES = 128
_CONTROLS = bytes(range(32))
SERIAL_TEXT, NAME_TEXT = 0xFF, 0xFC
DISPLAY_NAMES = (
    "maker",
    "model",
    "serial",
    "product_code",
    "manufactured",
    "edid_version",
    "width_px",
    "height_px",
    "refresh_hz",
    "width_mm",
    "height_mm",
    "digital",
)


@dataclass(frozen=True, slots=True)
class Timing:
    """A detailed timing: pixels, vertical rate in Hz, picture size in mm (0: not told)."""

    width_px: int
    height_px: int
    refresh_hz: float
    width_mm: int
    height_mm: int


def is_edid(data: bytes) -> bool:
    """Return whether the bytes begin with a whole base block by length and header."""
    return len(data) >= BLOCK_BYTES and data[:8] == HEADER


def sum_holds(data: bytes) -> bool:
    """Return whether the 128 bytes of the base block sum to 0 modulo 256."""
    return sum(data[:BLOCK_BYTES]) % 256 == 0


def maker_id(data: bytes) -> str | Absent:
    """Return the three letters of the maker's id (bytes 8 and 9, big-endian, five bits a letter, A is 1)."""
    word = data[8] << 8 | data[9]
    letters = [word >> shift & 0x1F for shift in (10, 5, 0)]
    if word & 0x8000 or not all(1 <= letter <= 26 for letter in letters):
        return Absent.IMPLAUSIBLE
    return "".join(chr(64 + letter) for letter in letters)


def detailed_timing(block: bytes) -> Timing | None:
    """Return what 18 bytes say if they are a timing (pixel clock not 0), with its vertical rate.

    Rate = pixel clock / (total width x total height). Of an interlaced timing the lines are those of a
    field, which has half a line more, and the rate is that of fields.
    """
    clock_hz = int.from_bytes(block[0:2], "little") * 10_000
    width = block[2] | (block[4] & 0xF0) << 4
    height = block[5] | (block[7] & 0xF0) << 4
    total_width = width + (block[3] | (block[4] & 0x0F) << 8)
    total_height = height + (block[6] | (block[7] & 0x0F) << 8)
    if not clock_hz or not width or not height:
        return None
    interlaced = bool(block[17] & 0x80)
    return Timing(
        width_px=width,
        height_px=height * 2 if interlaced else height,
        refresh_hz=round(clock_hz / (total_width * (total_height + 0.5 * interlaced)), 3),
        width_mm=block[12] | (block[14] & 0xF0) << 4,
        height_mm=block[13] | (block[14] & 0x0F) << 8,
    )


def descriptor_text(data: bytes, tag: int) -> str | Absent:
    """Return the text of the first descriptor with that tag: up to 13 bytes, ended by a line feed."""
    for at in (54, 72, 90, 108):
        block = data[at : at + 18]
        if block[:3] == b"\0\0\0" and block[3] == tag:
            text = block[5:18].split(b"\n")[0].translate(None, _CONTROLS).decode("cp437").strip()
            return text if text and not is_placeholder(text) else Absent.NOT_OFFERED
    return Absent.NOT_OFFERED


def serial(data: bytes) -> str | Absent:
    """Return the serial as text, else the 32-bit number; 0, 1 and repeated 01 mean none (common practice)."""
    text = descriptor_text(data, SERIAL_TEXT)
    if not isinstance(text, Absent):
        return text
    number = int.from_bytes(data[12:16], "little")
    return Absent.NOT_OFFERED if number in (0, 1, 0x01010101, 0xFFFFFFFF) else str(number)


def manufactured(data: bytes) -> str | Absent:
    """Return `2024-W20`, `2024`, or `model year 2024` (week 0xFF). Weeks 0 and from 54 tell none."""
    week, year = data[16], data[17] + 1990
    if data[17] == 0:
        return Absent.NOT_OFFERED
    if week == 0xFF:
        return f"model year {year}"
    return f"{year}-W{week:02d}" if 1 <= week <= 53 else str(year)


def display_facts(data: bytes) -> tuple[Said, ...]:
    """Return a display's fields; all implausible where header, length or checksum do not hold."""
    if not is_edid(data) or not sum_holds(data):
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in DISPLAY_NAMES)
    timing = detailed_timing(data[54:72])
    values = (
        maker_id(data),
        descriptor_text(data, NAME_TEXT),
        serial(data),
        f"0x{int.from_bytes(data[10:12], 'little'):04X}",
        manufactured(data),
        f"{data[18]}.{data[19]}",
        timing.width_px if timing else Absent.NOT_OFFERED,
        timing.height_px if timing else Absent.NOT_OFFERED,
        timing.refresh_hz if timing else Absent.NOT_OFFERED,
        *_size_mm(data, timing),
        bool(data[20] & 0x80),
    )
    return tuple(said(name, value) for name, value in zip(DISPLAY_NAMES, values, strict=True))


def _size_mm(data: bytes, timing: Timing | None) -> tuple[int | Absent, int | Absent]:
    """The timing's size is to the millimetre; bytes 21 and 22 are cm, an aspect ratio if one is 0."""
    if timing is not None and timing.width_mm and timing.height_mm:
        return timing.width_mm, timing.height_mm
    if data[21] and data[22]:
        return data[21] * 10, data[22] * 10
    return Absent.NOT_OFFERED, Absent.NOT_OFFERED
