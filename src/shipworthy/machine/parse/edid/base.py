"""The base block of an EDID: maker, product, date, input, size, colour, timings and the four descriptors.

Standards: VESA E-EDID 1.3 and 1.4 (offsets as in the project's check values, display.md, confirmed there
with edid-decode; the rest from memory and compared with edid-decode over real displays).
"""

from __future__ import annotations

from dataclasses import replace

from shipworthy.machine.parse.edid.found import Found, Pairs, flags, letters, number
from shipworthy.machine.parse.edid.timing import (
    Timing,
    cvt_code,
    detailed_timing,
    established,
    established_iii,
    standards,
)
from shipworthy.model.base import Scalar
from shipworthy.model.words import RemarkKind

DESCRIPTORS = (54, 72, 90, 108)
SERIAL_TEXT, FREE_TEXT, RANGE_LIMITS, NAME_TEXT = 0xFF, 0xFE, 0xFD, 0xFC
LAST_YEAR = 2040  # a later year is a slip: 2047 was seen (linuxhw/EDID)

_CONTROLS = bytes(range(32)) + b"\x7f"
_DEPTHS = ("not told", "6", "8", "10", "12", "14", "16", "reserved")
_INTERFACES = ("not told", "DVI", "HDMI-a", "HDMI-b", "MDDI", "DisplayPort")
_CONNECTORS = {1: "DVI", 2: "HDMI", 3: "HDMI", 4: "MDDI", 5: "DisplayPort"}
_LEVELS = ("0.700 : 0.300", "0.714 : 0.286", "1.000 : 0.400", "0.700 : 0.000")
_COLOURS = ("monochrome", "RGB", "other than RGB", "not told")
_FORMATS = ("RGB 4:4:4", "RGB 4:4:4, YCbCr 4:4:4", "RGB 4:4:4, YCbCr 4:2:2", "RGB 4:4:4, YCbCr 4:4:4, 4:2:2")
_SYNCS = ("serrated", "on green", "composite", "separate", "blank to black setup")
_POWER = ("", "", "", "", "", "active off", "suspend", "standby")


def text_of(field: bytes) -> str:
    """Return a text of up to 13 bytes, ended by a line feed. Bytes beyond ASCII stand as a space: some
    panels have 0x80 between the part number of the computer's maker and their own."""
    bare = field.split(b"\n")[0].translate(None, _CONTROLS)
    return bare.decode("ascii", "replace").replace("\ufffd", " ").strip()


def descriptor_texts(data: bytes, tag: int) -> list[str]:
    """Return the texts of the descriptors with that tag."""
    blocks = (data[at : at + 18] for at in DESCRIPTORS)
    return [text_of(b[5:18]) for b in blocks if b[:2] == b"\0\0" and len(b) == 18 and b[3] == tag]


def read_base(data: bytes) -> Found:
    """Return what a base block of 128 bytes says, whether or not its checksum holds."""
    found = Found("block 0")
    revision = data[19]
    found.section("Base block", 8, _identity(data) + _input(data, revision) + _size(data) + _features(data))
    found.section("Colour", 25, _colour(data))
    found.add("Established timings", 35, established(data[35:38]))
    found.add("Standard timings", 38, standards(data[38:54], revision))
    for index, at in enumerate(DESCRIPTORS):
        _descriptor(found, data[at : at + 18], at, first=index == 0, data=data)
    found.claim("bits_per_colour", _bits(data))
    found.claim("interface", _interface(data))
    return found


def _identity(data: bytes) -> Pairs:
    week, year = data[16], data[17] + 1990
    made = ("model year", year) if week == 0xFF else ("made", f"week {week} of {year}" if week else str(year))
    return (
        ("version", f"{data[18]}.{data[19]}"),
        ("maker", letters(data[8] << 8 | data[9]) or f"0x{data[8]:02x}{data[9]:02x}"),
        ("product code", f"0x{number(data[10:12]):04X}"),
        ("serial number", number(data[12:16])),
        made,
    )


def _input(data: bytes, revision: int) -> Pairs:
    byte = data[20]
    if not byte & 0x80:
        return (
            ("input", "analogue"),
            ("signal levels V", _LEVELS[byte >> 5 & 3]),
            ("sync", flags(byte & 0x1F, _SYNCS)),
        )
    if revision < 4:
        return (("input", "digital"), ("compatible with DFP 1", bool(byte & 1)))
    kind = byte & 0x0F
    return (
        ("input", "digital"),
        ("bits per colour", _DEPTHS[byte >> 4 & 7]),
        ("interface", _INTERFACES[kind] if kind < len(_INTERFACES) else f"reserved {kind}"),
    )


def _bits(data: bytes) -> int | None:
    """Bits per colour, which EDID 1.4 tells of digital inputs."""
    code = data[20] >> 4 & 7
    return 4 + 2 * code if data[20] & 0x80 and data[19] >= 4 and 1 <= code <= 6 else None


def _interface(data: bytes) -> str | None:
    """What the display is fed by, where it says so: EDID 1.3 knows only analogue and digital."""
    if not data[20] & 0x80:
        return "analogue"
    kind = data[20] & 0x0F
    return _CONNECTORS.get(kind) if data[19] >= 4 else None


def _size(data: bytes) -> Pairs:
    """Bytes 21 and 22 are cm; where one is 0 the other is an aspect ratio (1.4)."""
    across, down = data[21], data[22]
    if across and down:
        return (("width cm", across), ("height cm", down))
    if across or down:
        return (("aspect ratio", round((across + 99) / 100 if across else 100 / (down + 99), 2)),)
    return (("size", "not told"),)


def _features(data: bytes) -> Pairs:
    byte, modern = data[24], data[19] >= 4
    digital = bool(data[20] & 0x80)
    colours = _FORMATS if modern and digital else _COLOURS
    return (
        ("gamma", "in an extension" if data[23] == 0xFF else round(data[23] / 100 + 1, 2)),
        ("power management", flags(byte & 0xE0, _POWER)),
        ("colour formats", colours[byte >> 3 & 3]),
        ("sRGB is the default", bool(byte & 4)),
        ("first timing is native" if modern else "first timing is preferred", bool(byte & 2)),
        ("continuous frequencies" if modern else "GTF", bool(byte & 1)),
    )


def _colour(data: bytes) -> Pairs:
    """Chromaticities of ten bits: high eight in bytes 27 to 34, low two packed in bytes 25 and 26."""
    low = data[25] << 8 | data[26]
    names = ("red x", "red y", "green x", "green y", "blue x", "blue y", "white x", "white y")
    return tuple(
        (name, round((data[27 + i] << 2 | low >> 14 - 2 * i & 3) / 1024, 4)) for i, name in enumerate(names)
    )


def _descriptor(found: Found, block: bytes, at: int, first: bool, data: bytes) -> None:
    timing = detailed_timing(block)
    if timing is not None:
        preferred = first and (data[19] >= 4 or bool(data[24] & 2))
        native = preferred and data[19] >= 4 and bool(data[24] & 2)
        found.add("Detailed timing", at, [replace(timing, preferred=preferred, native=native)])
    elif block[:2] != b"\0\0":
        found.fault(RemarkKind.BAD_VALUE, f"no timing: {block.hex(' ')}", at)
    else:
        read_descriptor(found, block, at)


def read_descriptor(found: Found, block: bytes, at: int) -> None:
    """Read 18 bytes that are no timing, by their tag."""
    tag = block[3]
    if tag in (SERIAL_TEXT, FREE_TEXT, NAME_TEXT):
        title = {SERIAL_TEXT: "Serial", FREE_TEXT: "Text", NAME_TEXT: "Name"}[tag]
        found.section(title, at, (("text", text_of(block[5:18])),))
    elif tag == RANGE_LIMITS:
        _range_limits(found, block, at)
    elif tag == 0xFA:
        found.add("Standard timings", at, standards(block[5:17]))
    elif tag == 0xF8:
        codes = (block[start : start + 3] for start in range(6, 18, 3))
        found.add("CVT codes", at, [t for code in codes for t in cvt_code(code)])
    elif tag == 0xF7:
        found.add("Established timings III", at, established_iii(block[6:12]))
    elif tag == 0xFB:
        found.section("Colour points", at, _white_points(block))
    elif tag == 0xF9:
        found.section("Colour management", at, (("bytes", block[5:18].hex()),))
    elif tag not in (0x10, 0x00):
        kind = "the maker's own" if tag < 0x10 else "reserved"
        found.section(f"Descriptor 0x{tag:02x}, {kind}", at, (("bytes", block[5:18].hex()),))
        found.fault(RemarkKind.NOT_UNDERSTOOD, f"descriptor 0x{tag:02x}, {kind}", at)


def _white_points(block: bytes) -> Pairs:
    pairs: list[tuple[str, Scalar]] = []
    for start in (5, 10):
        index, low, x, y, gamma = block[start : start + 5]
        if index:
            pairs.append((f"white point {index} x", round((x << 2 | low >> 2 & 3) / 1024, 4)))
            pairs.append((f"white point {index} y", round((y << 2 | low & 3) / 1024, 4)))
            if gamma != 0xFF:
                pairs.append((f"white point {index} gamma", round(gamma / 100 + 1, 2)))
    return tuple(pairs)


_FORMULAS = {0: "default GTF", 1: "limits only", 2: "secondary GTF", 4: "CVT"}


def _range_limits(found: Found, block: bytes, at: int) -> None:
    """Byte 4 adds 255 to the most and to the least, of rate and of line rate (1.4)."""
    offset = block[4]
    least_hz = block[5] + (255 if offset & 3 == 3 else 0)
    most_hz = block[6] + (255 if offset & 2 else 0)
    least_khz = block[7] + (255 if offset >> 2 & 3 == 3 else 0)
    most_khz = block[8] + (255 if offset & 8 else 0)
    clock_mhz: float = block[9] * 10
    pairs: list[tuple[str, Scalar]] = []
    if block[10] == 4:
        clock_mhz -= (block[12] >> 2) * 0.25
        pairs = [("CVT version", f"{block[11] >> 4}.{block[11] & 15}")]
    if least_hz > most_hz or least_khz > most_khz or not most_hz:
        found.fault(RemarkKind.BAD_VALUE, f"range {least_hz}-{most_hz} Hz, {least_khz}-{most_khz} kHz", at)
    else:
        found.claim("range_min_hz", least_hz)
        found.claim("range_max_hz", most_hz)
        found.claim("range_max_khz", most_khz)
        found.claim("pixel_clock_max_mhz", clock_mhz if block[9] not in (0, 0xFF) else None)
    pairs = [
        ("vertical Hz", f"{least_hz}-{most_hz}"),
        ("horizontal kHz", f"{least_khz}-{most_khz}"),
        ("most pixel clock MHz", clock_mhz),
        ("formula", _FORMULAS.get(block[10], f"reserved {block[10]}")),
        *pairs,
    ]
    found.section("Range limits", at, tuple(pairs))


def first_timing(data: bytes) -> Timing | None:
    """Return the first detailed timing of the base block, which is the preferred one if it is sound."""
    return detailed_timing(data[DESCRIPTORS[0] : DESCRIPTORS[0] + 18])
