"""Video timings of an EDID in all their forms: detailed, standard, established, CVT codes, numbered ones.

Standards: VESA E-EDID 1.4 sections 3.8 to 3.10, CTA-861 (detailed timings of an extension are the same 18
bytes), VESA DisplayID 1.3 and 2.0 (from memory, compared with edid-decode's figures).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from shipworthy.machine.parse.edid.tables import (
    ESTABLISHED,
    ESTABLISHED_III,
    TableRow,
    dmt_of_standard,
    dmts,
    others,
    rate_hz,
    vics,
)

LEAST_CLOCK_HZ = 10_000_000


@dataclass(frozen=True, slots=True)
class Timing:
    """One timing. refresh_hz: the vertical rate, of fields where interlaced. Sizes in mm: 0 if not told.

    clock_hz is 0 where only pixels and a nominal rate are named. origin: which form and which one of it.
    """

    origin: str
    width_px: int
    height_px: int
    refresh_hz: float
    clock_hz: int = 0
    h_blank: int = 0
    v_blank: float = 0
    h_front: int = 0
    h_sync: int = 0
    v_front: int = 0
    v_sync: int = 0
    h_border: int = 0
    v_border: int = 0
    interlaced: bool = False
    width_mm: int = 0
    height_mm: int = 0
    preferred: bool = False
    native: bool = False

    def text(self) -> str:
        """Return the timing in one line for people."""
        pieces = [
            f"{self.width_px} x {self.height_px}{'i' if self.interlaced else ''} {self.refresh_hz:g} Hz"
        ]
        if self.clock_hz:
            pieces.append(f"{self.clock_hz / 1e6:.8g} MHz, blanking {self.h_blank} x {self.v_blank:g}")
        if self.h_border or self.v_border:
            pieces.append(f"border {self.h_border} x {self.v_border}")
        if self.width_mm and self.height_mm:
            pieces.append(f"{self.width_mm} x {self.height_mm} mm")
        pieces += [word for word, said in (("preferred", self.preferred), ("native", self.native)) if said]
        return ", ".join(pieces)


def detailed_timing(block: bytes, origin: str = "detailed") -> Timing | None:
    """Return what 18 bytes say if they are a timing: width and height not 0, a clock of 10 MHz or more.

    No display has a slower one; filler such as 01 01 01 would read as one. Blanking has the borders in it. Of
    an interlaced timing the lines are those of a field, which has half a line more.
    """
    if len(block) < 18:
        return None
    width = block[2] | (block[4] & 0xF0) << 4
    height = block[5] | (block[7] & 0xF0) << 4
    clock_hz = int.from_bytes(block[0:2], "little") * 10_000
    if clock_hz < LEAST_CLOCK_HZ or not width or not height:
        return None
    interlaced = bool(block[17] & 0x80)
    h_blank = block[3] | (block[4] & 0x0F) << 8
    v_blank = block[6] | (block[7] & 0x0F) << 8
    lines = height + v_blank + 0.5 * interlaced
    return Timing(
        origin=origin,
        width_px=width,
        height_px=height * 2 if interlaced else height,
        refresh_hz=round(clock_hz / ((width + h_blank) * lines), 3),
        clock_hz=clock_hz,
        h_blank=h_blank,
        v_blank=v_blank + 0.5 * interlaced,
        h_front=block[8] | (block[11] & 0xC0) << 2,
        h_sync=block[9] | (block[11] & 0x30) << 4,
        v_front=block[10] >> 4 | (block[11] & 0x0C) << 2,
        v_sync=block[10] & 0x0F | (block[11] & 0x03) << 4,
        h_border=block[15],
        v_border=block[16],
        interlaced=interlaced,
        width_mm=block[12] | (block[14] & 0xF0) << 4,
        height_mm=block[13] | (block[14] & 0x0F) << 8,
    )


@lru_cache(maxsize=1024)
def of_row(origin: str, row: TableRow, native: bool = False) -> Timing:
    """Return a numbered timing."""
    lines = row.height_px // 2 if row.interlaced else row.height_px
    return Timing(
        origin=origin,
        width_px=row.width_px,
        height_px=row.height_px,
        refresh_hz=round(rate_hz(row), 3),
        clock_hz=row.clock_khz * 1000,
        h_blank=row.h_total - row.width_px,
        v_blank=row.v_total - lines,
        interlaced=row.interlaced,
        native=native,
    )


@lru_cache(maxsize=1024)
def of_vic(vic: int, native: bool = False, origin: str = "VIC") -> Timing | None:
    """Return the timing of a VIC; None where CTA-861 has none, or one that our table has not."""
    row = vics().get(vic)
    return of_row(f"{origin} {vic}", row, native) if row else None


@lru_cache(maxsize=256)
def of_dmt(number: int, origin: str = "") -> Timing | None:
    """Return the timing of a DMT number; None where VESA has none."""
    row = dmts().get(number)
    return of_row(f"{origin}DMT 0x{number:02x}", row) if row else None


def established(data: bytes) -> list[Timing]:
    """Return the timings of bytes 35, 36 and 37."""
    found: list[Timing] = []
    for byte, names in zip(data[:3], ESTABLISHED, strict=False):
        for bit, name in enumerate(names):
            if byte >> 7 - bit & 1:
                if isinstance(name, int):
                    found.append(of_row(f"established DMT 0x{name:02x}", dmts()[name]))
                else:
                    found.append(of_row(f"established {name}", others()[name]))
    return found


def established_iii(data: bytes) -> list[Timing]:
    """Return the timings of six bytes of a descriptor with tag F7."""
    found: list[Timing] = []
    for byte, numbers in zip(data[:6], ESTABLISHED_III, strict=False):
        for bit, number in enumerate(numbers):
            if byte >> 7 - bit & 1:
                found.append(of_row(f"established DMT 0x{number:02x}", dmts()[number]))
    return found


_SLIP = b"\x61\x4c"  # 72 Hz by the rule, but VESA's DMT prints it for 1024 x 768 at 70 Hz, and makers follow
_ASPECTS = ((16, 10), (4, 3), (5, 4), (16, 9))


def standard_timing(pair: bytes, revision: int = 4) -> Timing | None:
    """Return the timing of two bytes; None if they name none (0x01 0x01; a first byte of 0 is none either).

    Before EDID 1.3 the first aspect was 1:1.
    """
    if len(pair) < 2 or pair[0] <= 1:
        return None
    width, rate = (pair[0] + 31) * 8, (pair[1] & 0x3F) + 60
    across, down = (1, 1) if revision < 3 and not pair[1] >> 6 else _ASPECTS[pair[1] >> 6]
    height = width * down // across
    number = 0x11 if pair[:2] == _SLIP else dmt_of_standard(width, height, rate)
    if number is not None:
        return of_row(f"standard DMT 0x{number:02x}", dmts()[number])
    return Timing("standard", width, height, float(rate))


def standards(data: bytes, revision: int = 4) -> list[Timing]:
    """Return the standard timings of pairs of bytes."""
    pairs = (data[at : at + 2] for at in range(0, len(data) - 1, 2))
    return [timing for pair in pairs if (timing := standard_timing(pair, revision)) is not None]


_CVT_ASPECTS = ((4, 3), (16, 9), (16, 10), (15, 9))
_CVT_RATES = ((0x10, 50), (0x08, 60), (0x04, 75), (0x02, 85), (0x01, 60))


def cvt_code(code: bytes) -> list[Timing]:
    """Return the timings of three bytes of a CVT code (tag F8): pixels and nominal rates, no clock."""
    if len(code) < 3 or not any(code):
        return []
    height = ((code[0] | (code[1] & 0xF0) << 4) + 1) * 2
    across, down = _CVT_ASPECTS[code[1] >> 2 & 3]
    width = height * across // down // 8 * 8
    preferred = (50, 60, 75, 85)[code[2] >> 5 & 3]
    found = [
        Timing("CVT reduced blanking" if bit == 1 else "CVT", width, height, float(rate))
        for bit, rate in _CVT_RATES
        if code[2] & bit
    ]
    first = next((t for t in found if t.refresh_hz == preferred), None)
    return [replace(t, preferred=t is first) for t in found]
