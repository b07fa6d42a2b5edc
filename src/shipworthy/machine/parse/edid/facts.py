"""Facts about a display from its EDID. Only good blocks speak: see `edid`.

Standards: VESA E-EDID 1.3 and 1.4, CTA-861, DisplayID. What firmware and makers leave where a serial or a
name belongs is silence (common practice, `placeholders`).
"""

from __future__ import annotations

import math
import re

from shipworthy.machine.listing import said
from shipworthy.machine.parse.edid.base import (
    FREE_TEXT,
    LAST_YEAR,
    NAME_TEXT,
    SERIAL_TEXT,
    descriptor_texts,
)
from shipworthy.machine.parse.edid.blocks import BLOCK_BYTES, HEADER, Edid, read_edid
from shipworthy.machine.parse.edid.found import letters, number
from shipworthy.machine.parse.edid.size import Size, size_mm
from shipworthy.machine.parse.edid.timing import Timing
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

_NO_SERIALS = (0, 1, 0x01010101, 0xFFFFFFFF)  # common practice: such numbers stand in many displays
_NO_SERIAL_TEXTS = re.compile(r"0{4,}10*|([0-9])\1{3,}|1234567890[0-9]*")
"""Texts of several different displays each, out of 953 (linuxhw/EDID, CC BY 4.0): `0000000000001` of ten,
`1234567890123` of three, `6666` of three, `0000000001`, `000000010000` and `8888` of two."""


def maker_id(data: bytes) -> str | Absent:
    """Return the three letters of the maker's id (bytes 8 and 9, big-endian, five bits a letter, A is 1)."""
    return letters(data[8] << 8 | data[9]) or Absent.IMPLAUSIBLE


def says_nothing(text: str, tag: int) -> bool:
    """Return whether a text stands where a value should be: no text, or filler."""
    return is_placeholder(text) or (tag == SERIAL_TEXT and bool(_NO_SERIAL_TEXTS.fullmatch(text)))


def _text(data: bytes, tag: int) -> str | Absent:
    """The first text with that tag that says something."""
    for text in descriptor_texts(data, tag):
        if not says_nothing(text, tag):
            return text
    return Absent.NOT_OFFERED


def _model(edid: Edid) -> str | Absent:
    """The name of the base block, else that of a DisplayID product."""
    text = _text(edid.data, NAME_TEXT)
    other = edid.claim("displayid_name") if isinstance(text, Absent) else None
    return other if isinstance(other, str) and not is_placeholder(other) else text


def _size(edid: Edid, timing: Timing | None) -> Size:
    """The size by the base block, else that of DisplayID's parameters."""
    size = size_mm(edid.data, timing)
    width, height = edid.claim("displayid_width_mm"), edid.claim("displayid_height_mm")
    if not size.width_mm and isinstance(width, int) and isinstance(height, int):
        return Size(width, height)
    return size


def _serial_number(data: bytes) -> str | Absent:
    value = number(data[12:16])
    return Absent.NOT_OFFERED if value in _NO_SERIALS else str(value)


def _serial(data: bytes) -> str | Absent:
    """The serial as text, else the 32-bit number."""
    text = _text(data, SERIAL_TEXT)
    return _serial_number(data) if isinstance(text, Absent) else text


def _manufactured(data: bytes) -> str | Absent:
    """`2024-W20` or `2024`; weeks 0 and from 54 tell none. A model year (week 0xFF) is another field."""
    week, year = data[16], data[17] + 1990
    if not data[17] or week == 0xFF:
        return Absent.NOT_OFFERED
    if year > LAST_YEAR:
        return Absent.IMPLAUSIBLE
    return f"{year}-W{week:02d}" if 1 <= week <= 53 else str(year)


def _model_year(data: bytes) -> int | Absent:
    year = data[17] + 1990
    if data[16] != 0xFF or not data[17]:
        return Absent.NOT_OFFERED
    return year if year <= LAST_YEAR else Absent.IMPLAUSIBLE


def highest_refresh_hz(edid: Edid, preferred: Timing | None) -> float | None:
    """Return the highest vertical rate at the preferred timing's pixels, of all timings that are progressive.

    A rate without a clock is nominal (60 for 59.95), so it counts only where no timing comes near it.
    """
    if preferred is None:
        return None
    size = (preferred.width_px, preferred.height_px)
    same = [t for t in edid.timings() if (t.width_px, t.height_px) == size and not t.interlaced]
    exact = max((t.refresh_hz for t in same if t.clock_hz), default=0.0)
    nominal = max((t.refresh_hz for t in same if not t.clock_hz), default=0.0)
    return max(exact, nominal if nominal > exact + 1 else 0.0) or None


def _hdr(edid: Edid) -> str | None:
    curves = edid.claim("hdr")
    words = [curves] if isinstance(curves, str) else []
    words += ["Dolby Vision"] if edid.claim("dolby_vision") else []
    words += ["HDR10+"] if edid.claim("hdr10_plus") else []
    return ", ".join(words) or None


def _interface(edid: Edid) -> str | None:
    """What the base block says; else HDMI, where a block of HDMI's stands."""
    told = edid.claim("interface")
    return str(told) if told is not None else "HDMI" if edid.claim("hdmi") else None


def display_facts(data: bytes) -> tuple[Said, ...]:
    """Return a display's fields; all implausible where header, length or checksum of the base block fail."""
    return facts_of(read_edid(data))


def facts_of(edid: Edid) -> tuple[Said, ...]:
    """Return the same of an EDID that is taken apart."""
    if not edid.trusted:
        return tuple(said(field.name, Absent.IMPLAUSIBLE) for field in _facts(read_edid(_SILENT)))
    return _facts(edid)


def absent_facts(why: Absent) -> tuple[Said, ...]:
    """Return the fields of a display that gives no EDID."""
    return tuple(said(field.name, why) for field in _facts(read_edid(_SILENT)))


_SILENT = HEADER + bytes(BLOCK_BYTES - 9) + bytes((-sum(HEADER) % 256,))


def _facts(edid: Edid) -> tuple[Said, ...]:
    timing = edid.preferred()
    size = _size(edid, timing)
    return _identity(edid) + _picture(edid, timing, size) + _extras(edid)


def _identity(edid: Edid) -> tuple[Said, ...]:
    data = edid.data
    return (
        said("maker", maker_id(data)),
        said("maker_code", maker_id(data)),
        said("model", _model(edid)),
        said("serial", _serial(data)),
        said("serial_number", _serial_number(data)),
        said("product_code", f"0x{number(data[10:12]):04X}"),
        said("manufactured", _manufactured(data)),
        said("model_year", _model_year(data)),
        said("edid_version", f"{data[18]}.{data[19]}"),
        said("text", _text(data, FREE_TEXT)),
    )


def _picture(edid: Edid, timing: Timing | None, size: Size) -> tuple[Said, ...]:
    diagonal = math.hypot(size.width_mm, size.height_mm) / 25.4
    return (
        said("width_px", timing.width_px if timing else None),
        said("height_px", timing.height_px if timing else None),
        said("refresh_hz", timing.refresh_hz if timing else None),
        said("max_refresh_hz", highest_refresh_hz(edid, timing)),
        said("width_mm", size.width_mm or None),
        said("height_mm", size.height_mm or None),
        said("diagonal_inch", round(diagonal, 1) or None),
        said("digital", bool(edid.data[20] & 0x80)),
        said("interface", _interface(edid)),
    )


def _extras(edid: Edid) -> tuple[Said, ...]:
    """What blocks may say. Where one of them is spoiled or missing, its silence is no silence."""
    lost = edid.data[126] + 1 > len(edid.blocks)
    spoiled = not all(edid.sound[: edid.believed])
    why = Absent.NOT_READABLE if lost else Absent.IMPLAUSIBLE if spoiled else Absent.NOT_OFFERED

    def told(value: Scalar | None) -> Scalar | Absent:
        return why if value is None else value

    return (
        said("bits_per_colour", told(edid.claim("bits_per_colour"))),
        said("range_min_hz", edid.claim("range_min_hz")),
        said("range_max_hz", edid.claim("range_max_hz")),
        said("range_max_khz", edid.claim("range_max_khz")),
        said("pixel_clock_max_mhz", edid.claim("pixel_clock_max_mhz")),
        said("vrr_min_hz", told(edid.claim("vrr_min_hz"))),
        said("vrr_max_hz", told(edid.claim("vrr_max_hz"))),
        said("vrr_source", told(edid.claim("vrr_source"))),
        said("hdr", told(_hdr(edid))),
        said("luminance_max_cd_m2", told(edid.claim("luminance_max_cd_m2"))),
        said("audio", told(edid.claim("audio"))),
        said("tiles", told(edid.claim("tiles"))),
        said("tile", told(edid.claim("tile"))),
        said("native_width_px", told(edid.claim("native_width_px"))),
        said("native_height_px", told(edid.claim("native_height_px"))),
    )
