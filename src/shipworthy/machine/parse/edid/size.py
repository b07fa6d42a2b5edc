"""How large a display's picture is, where its two statements disagree.

Bytes 21 and 22 of the base block are cm; the preferred timing has mm. In 158 of 953 real displays
(linuxhw/EDID, CC BY 4.0) they differ by more than 15 mm. Where the name there tells the diagonal, the cm are
right in 52 and the mm in 4: televisions and lesser brands leave the panel maker's example in the timing
(708 x 398, 1600 x 900, 1872 x 1053 mm). In some the cm are of another shape than the pixels, and the mm are
right then.
"""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.machine.parse.edid.timing import Timing

NEAR_MM = 15  # cm are rounded, by some makers upwards
NEAR_SHAPE = 0.06
_SHAPES = ((16, 9), (16, 10), (4, 3), (5, 4))  # an aspect ratio that stands where mm or cm belong


@dataclass(frozen=True, slots=True)
class Size:
    """Picture size in mm, 0 where not told. disagreement: both statements, where they cannot both be true."""

    width_mm: int = 0
    height_mm: int = 0
    disagreement: str = ""


def size_mm(data: bytes, timing: Timing | None) -> Size:
    """Return the size that is believed: the timing's where both agree or only it tells, else as above."""
    told = _told(timing)
    rough = (data[21] * 10, data[22] * 10) if data[21] and data[22] else (0, 0)
    if timing is None or not all(told):
        empty = timing is not None and timing.width_mm and (data[21], data[22]) in _SHAPES
        return Size() if empty else Size(*rough)
    if not all(rough) or all(abs(a - b) <= NEAR_MM for a, b in zip(told, rough, strict=True)):
        return Size(*told)
    text = f"{told[0]} x {told[1]} mm in the first timing, {data[21]} x {data[22]} cm in the base block"
    trust_timing = (data[21], data[22]) in _SHAPES or (_fits(told, timing) and not _fits(rough, timing))
    return Size(*(told if trust_timing else rough), disagreement=text)


def _told(timing: Timing | None) -> tuple[int, int]:
    """The timing's mm, unless they are an aspect ratio or the count of pixels."""
    if timing is None:
        return 0, 0
    told = (timing.width_mm, timing.height_mm)
    return (0, 0) if told in (*_SHAPES, (timing.width_px, timing.height_px)) else told


def _fits(size: tuple[int, int], timing: Timing) -> bool:
    """Whether a size has the shape of the timing's pixels."""
    shape = timing.width_px * size[1] / (timing.height_px * size[0])
    return abs(shape - 1) < NEAR_SHAPE
