"""Timings of DisplayID: types I to X, each a fixed number of bytes.

Standards: VESA DisplayID 1.3 section 4 and 2.0 section 4 (from memory; types I and VII compared with
edid-decode over real displays, the others by their layout only).
"""

from __future__ import annotations

from dataclasses import replace

from shipworthy.machine.parse.edid.found import number
from shipworthy.machine.parse.edid.timing import Timing

_ASPECTS = ((1, 1), (5, 4), (4, 3), (15, 9), (16, 9), (16, 10), (64, 27), (256, 135))


def type_1_or_7(data: bytes, kind: int) -> Timing | None:
    """Return the timing of 20 bytes. Type I counts the clock in 10 kHz, VI and VII in kHz; all are less one.

    Lines are those of a frame; an interlaced one is two fields.
    """
    if len(data) < 20:
        return None
    clock_hz = (number(data[0:3]) + 1) * (10_000 if kind == 1 else 1000)
    words = [number(data[at : at + 2]) for at in range(4, 20, 2)]
    width, h_blank, h_front, h_sync, height, v_blank, v_front, v_sync = words
    interlaced = bool(data[3] & 0x10)
    lines = height + v_blank + 2
    rate = clock_hz / ((width + h_blank + 2) * lines) * (2 if interlaced else 1)
    return Timing(
        origin="type I" if kind == 1 else "type VII",
        width_px=width + 1,
        height_px=height + 1,
        refresh_hz=round(rate, 3),
        clock_hz=clock_hz,
        h_blank=h_blank + 1,
        v_blank=v_blank + 1,
        h_front=(h_front & 0x7FFF) + 1,
        h_sync=h_sync + 1,
        v_front=(v_front & 0x7FFF) + 1,
        v_sync=v_sync + 1,
        interlaced=interlaced,
        preferred=bool(data[3] & 0x80),
    )


def type_2(data: bytes) -> Timing | None:
    """Return the timing of 11 bytes: widths in units of eight pixels."""
    if len(data) < 11:
        return None
    clock_hz = (number(data[0:3]) + 1) * 10_000
    width = 8 + 8 * (data[4] | (data[5] & 1) << 8)
    h_blank = 8 + 8 * (data[5] >> 1)
    height = 1 + (data[7] | (data[8] & 0x0F) << 8)
    v_blank = 1 + data[9]
    interlaced = bool(data[3] & 0x10)
    rate = clock_hz / ((width + h_blank) * (height + v_blank)) * (2 if interlaced else 1)
    return Timing(
        origin="type II",
        width_px=width,
        height_px=height,
        refresh_hz=round(rate, 3),
        clock_hz=clock_hz,
        h_blank=h_blank,
        v_blank=v_blank,
        h_front=8 + 8 * (data[6] >> 4),
        h_sync=8 + 8 * (data[6] & 0x0F),
        v_front=1 + (data[10] >> 4),
        v_sync=1 + (data[10] & 0x0F),
        interlaced=interlaced,
        preferred=bool(data[3] & 0x80),
    )


def type_3(data: bytes) -> Timing | None:
    """Return the timing of 3 bytes by VESA's CVT: an aspect ratio and a width; pixels and nominal rate."""
    if len(data) < 3 or data[0] & 0x0F >= len(_ASPECTS):
        return None
    across, down = _ASPECTS[data[0] & 0x0F]
    width = 8 + 8 * data[1]
    timing = Timing("type III", width, width * down // across, float(1 + (data[2] & 0x7F)))
    return replace(timing, interlaced=bool(data[2] & 0x80), preferred=bool(data[0] & 0x80))


def type_9(data: bytes) -> Timing | None:
    """Return the timing of 6 bytes by VESA's CVT: pixels and nominal rate."""
    if len(data) < 6:
        return None
    rate = float(1 + data[5])
    return Timing("type IX", 1 + number(data[1:3]), 1 + number(data[3:5]), rate)


def type_10(data: bytes) -> Timing | None:
    """Return the timing of 6 or more bytes: as type IX, with two more bits of the rate in the seventh."""
    timing = type_9(data)
    if timing is None:
        return None
    more = (data[6] & 3) << 8 if len(data) > 6 else 0
    return replace(timing, origin="type X", refresh_hz=timing.refresh_hz + more)
