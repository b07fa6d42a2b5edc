"""The unit's barcode: Code 128 (ISO/IEC 15417), which any scanner of the trade reads."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

QUIET_MODULES = 10
"""Light margin on either side, in modules: ISO/IEC 15417 asks for ten (from memory)."""


@dataclass(frozen=True)
class Barcode:
    """text: what it says. width: in modules, its margins included. path: of the bars, one module high
    and one wide to the unit, as SVG path data."""

    text: str
    width: int
    path: str


def code_128(text: str) -> Barcode:
    """Return a text of ASCII characters as bars. Raises ValueError for any other text."""
    if not text or not text.isascii() or not text.isprintable():
        raise ValueError(f"Code 128 takes printable ASCII, and this is none: {text!r}")
    import numpy as np
    import zxingcpp

    drawn = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128).to_image(add_quiet_zones=False)
    bars, at = [], QUIET_MODULES
    for light, run in groupby(np.asarray(drawn)[0].tolist()):
        length = len(list(run))
        if not light:
            bars.append(f"M{at} 0h{length}v1h-{length}z")
        at += length
    return Barcode(text, at + QUIET_MODULES, "".join(bars))
