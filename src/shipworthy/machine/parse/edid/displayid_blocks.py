"""What the blocks of a DisplayID section say of a display: product, pixels, timings, tiles, interface, rates.

Standards: VESA DisplayID 1.3 and 2.0 (from memory; compared with edid-decode over real displays, which have
few kinds of blocks: those that no display has shown are given as they stand by the layout).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from shipworthy.machine.parse.edid.base import text_of
from shipworthy.machine.parse.edid.cta861 import read_collection
from shipworthy.machine.parse.edid.cta861_vendor import oui_text
from shipworthy.machine.parse.edid.displayid_timing import type_1_or_7, type_2, type_3, type_9, type_10
from shipworthy.machine.parse.edid.found import Found, flags, number
from shipworthy.machine.parse.edid.tables import HDMI_VICS, vics
from shipworthy.machine.parse.edid.timing import Timing, of_dmt, of_row, of_vic
from shipworthy.model.base import Scalar
from shipworthy.model.words import RemarkKind

_INTERFACES = (
    "analogue",
    "LVDS",
    "TMDS",
    "RSDS",
    "DVI",
    "DVI-I analogue",
    "DVI-I digital",
    "HDMI",
    "HDMI-b",
    "MDDI",
    "DisplayPort",
    "proprietary",
)
_BITS = ("6", "8", "10", "12", "14", "16")


def _product(found: Found, payload: bytes, at: int, revision: int, modern: bool) -> None:
    """Maker as three letters (1.x) or an OUI (2.x), product, serial, week and year, name."""
    vendor = payload[:3]
    maker = oui_text(int.from_bytes(vendor, "big")) if modern else vendor.decode("ascii", "replace")
    week, year = payload[9], payload[10] + 2000
    pairs: list[tuple[str, Scalar]] = [
        ("maker", maker),
        ("product code", f"0x{number(payload[3:5]):04X}"),
        ("serial number", number(payload[5:9])),
        ("model year", year) if week == 0xFF else ("made", f"week {week} of {year}" if week else str(year)),
        ("name", text_of(payload[12 : 12 + payload[11]])),
    ]
    found.section("DisplayID product", at, tuple(pairs))
    found.claim("displayid_name", text_of(payload[12 : 12 + payload[11]]) or None)


def _parameters(found: Found, payload: bytes, at: int, revision: int) -> None:
    """DisplayID 1.x: size in 0.1 mm, native pixels, gamma, aspect, bits per colour."""
    pairs = _native(found, payload, 0.1)
    if payload[9] != 0xFF:
        pairs.append(("gamma", round(payload[9] / 100 + 1, 2)))
    pairs.append(("aspect ratio", round(payload[10] / 100 + 1, 2)))
    native_bits = (payload[11] & 0x0F) + 1
    pairs += [("bits per colour native", native_bits), ("bits per colour", (payload[11] >> 4) + 1)]
    found.claim("bits_per_colour", native_bits)
    found.section("DisplayID display parameters", at, tuple(pairs))


def _parameters_2(found: Found, payload: bytes, at: int, revision: int) -> None:
    """DisplayID 2.x: the same, sizes in mm where bit 7 of the revision is set."""
    pairs = _native(found, payload, 1.0 if revision & 0x80 else 0.1)
    depth = payload[27] & 7
    if 1 <= depth <= 6:
        found.claim("bits_per_colour", 4 + 2 * depth)
        pairs.append(("bits per colour native", 4 + 2 * depth))
    if payload[28] != 0xFF:
        pairs.append(("gamma", round(payload[28] / 100 + 1, 2)))
    found.section("DisplayID display parameters", at, tuple(pairs))


def _native(found: Found, payload: bytes, unit_mm: float) -> list[tuple[str, Scalar]]:
    width, height, across, down = (number(payload[at : at + 2]) for at in (0, 2, 4, 6))
    if width and height:
        found.claim("displayid_width_mm", round(width * unit_mm))
        found.claim("displayid_height_mm", round(height * unit_mm))
    if across and down:
        found.claim("native_width_px", across)
        found.claim("native_height_px", down)
    return [
        ("width mm", round(width * unit_mm, 1)),
        ("height mm", round(height * unit_mm, 1)),
        ("native pixels", f"{across} x {down}"),
    ]


def _timings(
    found: Found,
    payload: bytes,
    at: int,
    revision: int,
    size: int,
    reader: Callable[[bytes], Timing | None],
    title: str,
) -> None:
    if len(payload) % size:
        found.fault(RemarkKind.BAD_LENGTH, f"{title} in {len(payload)} bytes", at)
    starts = range(0, len(payload) - size + 1, size)
    found.add(title, at, [t for s in starts if (t := reader(payload[s : s + size])) is not None])


def _types_10(found: Found, payload: bytes, at: int, revision: int) -> None:
    size = 6 + (revision >> 4 & 7)
    _timings(found, payload, at, revision, size, type_10, "DisplayID type X timing")


def _numbered(found: Found, payload: bytes, at: int, revision: int) -> None:
    """Type IV and VIII: codes of a byte, or of two where bit 3 of VIII's revision is set; of which list: bits
    7 and 6 of the revision, 0 DMT, 1 VIC, 2 HDMI's VIC."""
    size = 2 if revision & 8 else 1
    codes = [number(payload[s : s + size]) for s in range(0, len(payload) - size + 1, size)]
    of = (of_dmt, of_vic, _of_hdmi_vic)[revision >> 6] if revision >> 6 < 3 else None
    timings = [t for code in codes if of is not None and (t := of(code)) is not None]
    if len(timings) < len(codes):
        found.fault(RemarkKind.BAD_VALUE, "a reserved timing code", at)
    found.add("DisplayID numbered timing", at, timings)


def _of_hdmi_vic(code: int) -> Timing | None:
    return of_row(f"HDMI VIC {code}", vics()[HDMI_VICS[code]]) if code in HDMI_VICS else None


def _bitmap(found: Found, payload: bytes, at: int, revision: int, of: Callable[[int], Timing | None]) -> None:
    """A bit for each number from 1 up."""
    bits = number(payload)
    numbers = [index + 1 for index in range(len(payload) * 8) if bits >> index & 1]
    found.add("DisplayID numbered timing", at, [t for n in numbers if (t := of(n)) is not None])


def _tiles(found: Found, payload: bytes, at: int, revision: int, modern: bool) -> None:
    """Tiles across and down, which of them this is, and its pixels."""
    counts, place, high = payload[1], payload[2], payload[3]
    across = (counts >> 4 | (high >> 6 & 3) << 4) + 1
    down = (counts & 15 | (high >> 4 & 3) << 4) + 1
    column = place >> 4 | (high >> 2 & 3) << 4
    row = place & 15 | (high & 3) << 4
    width, height = number(payload[4:6]) + 1, number(payload[6:8]) + 1
    vendor = payload[13:16]
    maker = oui_text(int.from_bytes(vendor, "big")) if modern else vendor.decode("ascii", "replace")
    found.section(
        "DisplayID tiled topology",
        at,
        (
            ("tiles", f"{across} x {down}"),
            ("this tile", f"column {column}, row {row}"),
            ("tile pixels", f"{width} x {height}"),
            ("one enclosure", bool(payload[0] & 0x80)),
            ("maker", maker),
            ("product code", f"0x{number(payload[16:18]):04X}"),
            ("serial number", number(payload[18:22])),
        ),
    )
    if column >= across or row >= down:
        found.fault(RemarkKind.BAD_REFERENCE, f"tile {column}, {row} of {across} x {down}", at)
        return
    found.claim("tiles", f"{across} x {down}")
    found.claim("tile", f"column {column + 1}, row {row + 1}")


def _interface(found: Found, payload: bytes, at: int, revision: int) -> None:
    kind = payload[0] >> 4
    name = _INTERFACES[kind] if kind < len(_INTERFACES) else f"reserved {kind}"
    found.section(
        "DisplayID interface",
        at,
        (
            ("interface", name),
            ("RGB bits", flags(payload[2], _BITS)),
            ("YCbCr 4:4:4 bits", flags(payload[3], _BITS)),
        ),
    )
    found.claim("interface", name if kind < len(_INTERFACES) else None)


def _interface_features(found: Found, payload: bytes, at: int, revision: int) -> None:
    names = ("RGB bits", "YCbCr 4:4:4 bits", "YCbCr 4:2:2 bits", "YCbCr 4:2:0 bits")
    pairs = [(name, flags(payload[i], _BITS)) for i, name in enumerate(names)]
    found.section("DisplayID interface features", at, tuple(pairs))


def _dynamic_range(found: Found, payload: bytes, at: int, revision: int) -> None:
    """Pixel clocks in kHz, and the vertical rates between which the display follows."""
    most = payload[7] | ((payload[8] & 3) << 8 if revision & 7 else 0)
    found.section(
        "DisplayID dynamic range",
        at,
        (
            ("least pixel clock kHz", number(payload[0:3]) + 1),
            ("most pixel clock kHz", number(payload[3:6]) + 1),
            ("vertical Hz", f"{payload[6]}-{most}"),
            ("seamless", bool(payload[8] & 0x80)),
        ),
    )
    if payload[8] & 0x80 and 0 < payload[6] < most:
        _vrr(found, payload[6], most, "DisplayID")


def _adaptive_sync(found: Found, payload: bytes, at: int, revision: int) -> None:
    """Descriptors of 6 bytes (more by the revision's bits 6 to 4): least and most vertical rate."""
    size = 6 + (revision >> 4 & 7)
    for start in range(0, len(payload) - size + 1, size):
        piece = payload[start : start + size]
        least, most = piece[2], 1 + piece[3] + ((piece[4] & 3) << 8)
        found.section("DisplayID adaptive sync", at, (("least Hz", least), ("most Hz", most)))
        if 0 < least < most:
            _vrr(found, least, most, "adaptive sync")


def _vrr(found: Found, least: int, most: int, by: str) -> None:
    if "vrr_min_hz" not in found.claims:
        found.claim("vrr_min_hz", least)
        found.claim("vrr_max_hz", most)
        found.claim("vrr_source", by)


def _text(found: Found, payload: bytes, at: int, revision: int) -> None:
    found.section("DisplayID text", at, (("text", text_of(payload)),))


def _cta(found: Found, payload: bytes, at: int, revision: int) -> None:
    read_collection(found, payload, at + 3)


Reader = Callable[[Found, bytes, int, int], None]
READERS: dict[int, tuple[int, Reader]] = {
    0x00: (12, partial(_product, modern=False)),
    0x01: (12, _parameters),
    0x03: (
        20,
        partial(_timings, size=20, reader=partial(type_1_or_7, kind=1), title="DisplayID type I timing"),
    ),
    0x04: (11, partial(_timings, size=11, reader=type_2, title="DisplayID type II timing")),
    0x05: (3, partial(_timings, size=3, reader=type_3, title="DisplayID type III timing")),
    0x06: (1, _numbered),
    0x07: (1, partial(_bitmap, of=of_dmt)),
    0x08: (1, partial(_bitmap, of=of_vic)),
    0x0A: (1, _text),
    0x0B: (1, _text),
    0x0F: (4, _interface),
    0x12: (22, partial(_tiles, modern=False)),
    0x20: (12, partial(_product, modern=True)),
    0x21: (29, _parameters_2),
    0x22: (
        20,
        partial(_timings, size=20, reader=partial(type_1_or_7, kind=7), title="DisplayID type VII timing"),
    ),
    0x23: (1, _numbered),
    0x24: (6, partial(_timings, size=6, reader=type_9, title="DisplayID type IX timing")),
    0x25: (9, _dynamic_range),
    0x26: (4, _interface_features),
    0x28: (22, partial(_tiles, modern=True)),
    0x2A: (6, _types_10),
    0x2B: (6, _adaptive_sync),
    0x81: (1, _cta),
}
"""By tag: the least bytes that such a block has, and what reads it."""
