"""Numbers and units as people read them. Records keep base units; this is the one place that rounds."""

from __future__ import annotations

from shipworthy.model.base import Scalar
from shipworthy.model.words import Absent, Unit

_SUFFIX_UNITS = {
    "_bytes": Unit.BYTES,
    "_c": Unit.CELSIUS,
    "_s": Unit.SECONDS,
    "_h": Unit.HOURS,
    "_hours": Unit.HOURS,
    "_rpm": Unit.RPM,
    "_w": Unit.WATTS,
    "_mt_s": Unit.MEGATRANSFERS,
    "_mbit_s": Unit.MEGABITS,
    "_ratio": Unit.RATIO,
}

_ABSENT = {Absent.NOT_OFFERED.value: "not told", Absent.NOT_ASKED.value: "told by no source here"}
"""Words of records for why a value is not there, as they read behind `is`, in brackets and behind a colon."""


def unit_of_name(name: str) -> Unit:
    """Return the unit that the ending of a value's name tells; NONE if it tells none."""
    known = [suffix for suffix in _SUFFIX_UNITS if name.endswith(suffix)]
    return _SUFFIX_UNITS[max(known, key=len)] if known else Unit.NONE


def quantity_text(value: Scalar | None, unit: Unit, *, binary: bool = False) -> str:
    """Return a value with its unit for people. binary: sizes in powers of 1024 (memory), else of 1000.

    IEC 80000-13: 1 GiB is 2^30 bytes, 1 GB is 10^9 bytes.
    """
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if unit is Unit.BYTES:
        return _size_text(value, binary)
    if unit is Unit.SECONDS:
        return _duration_text(value)
    if unit is Unit.CELSIUS:
        return f"{_short(value)} °C"
    if unit is Unit.RATIO:
        return f"{_short(value * 100)} %"
    if unit in (Unit.NONE, Unit.TEXT, Unit.COUNT):
        return _short(value)
    return f"{_short(value)} {unit.value}"


def scalar_text(name: str, value: Scalar) -> str:
    """Return a named value for people, its unit read from the name (`written_bytes`, `highest_c`)."""
    if isinstance(value, str):
        return _ABSENT.get(value, value)
    return quantity_text(value, unit_of_name(name))


def line_text(line: str) -> str:
    """Return what something is said of: an order line by its id, or, without one, the unit."""
    return f"line {line}" if line else "the unit"


def _short(value: float) -> str:
    return f"{value:,.0f}" if float(value).is_integer() else f"{value:,.1f}"


def _size_text(size_bytes: float, binary: bool) -> str:
    base, names = (
        (1024, ("B", "KiB", "MiB", "GiB", "TiB")) if binary else (1000, ("B", "kB", "MB", "GB", "TB"))
    )
    size, step = float(size_bytes), 0
    while abs(size) >= base and step < len(names) - 1:
        size, step = size / base, step + 1
    text = f"{size:.2f}".rstrip("0").rstrip(".") if step else f"{size:.0f}"
    return f"{text} {names[step]}"


def _duration_text(seconds: float) -> str:
    if seconds < 10:
        return f"{seconds:.2f}".rstrip("0").rstrip(".") + " s"
    if seconds < 60:
        return f"{_short(round(seconds, 1))} s"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{hours} h"] * bool(hours) + [f"{minutes} min"] * bool(minutes) + [f"{rest} s"] * bool(rest)
    return " ".join(parts)
