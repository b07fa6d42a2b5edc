"""Values of facts as they are told: with their unit, as the field's name ends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import msgspec

from shipworthy.model.catalogue import M2Place, SlotPlace
from shipworthy.words.sizes import Base, size_text

_UNITS = {
    "_mm": "mm",
    "_w": "W",
    ".watts": "W",
    ".volts": "V",
    "_mt_s": "MT/s",
    "_mbit_s": "Mbit/s",
    "_kg": "kg",
}
_UNITS |= {"current_a": "A", "header_a": "A", "_12v_a": "A"}  # `front_usb_a` is no current


def fact_text(name: str, value: Any) -> str:
    """Return a fact's value for people: `360 mm`, `8-pin, 8-pin`, `yes`."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        if name.endswith("_bytes") and math.isfinite(value):
            base = Base.DECIMAL if name.startswith("storage.") else Base.BINARY
            return size_text(int(value), base)
        unit = next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")
        return f"{value:,.6g} {unit}".rstrip()
    if isinstance(value, M2Place):
        return _m2_place(value)
    if isinstance(value, SlotPlace):
        lanes = "" if value.lanes is None else f"x{value.lanes}"
        return " ".join(filter(None, (value.generation and f"PCIe {value.generation}", lanes))) or "not told"
    if isinstance(value, msgspec.Struct):
        told = (getattr(value, field) for field in value.__struct_fields__)
        return " ".join(fact_text("", each) for each in told if each not in (None, "", ()))
    if isinstance(value, Sequence) and not isinstance(value, str):
        between = "; " if any(isinstance(each, msgspec.Struct) for each in value) else ", "
        return between.join(_counted([fact_text(name, each) for each in value])) or "none"
    return str(value)


def _m2_place(place: M2Place) -> str:
    """Return a place as `PCIe 4.0 x4, SATA, key M, 42/60/80 mm`; what it switches off stands behind."""
    told = (
        place.interface,
        place.key and f"key {place.key}",
        place.lengths and f"{'/'.join(map(str, place.lengths))} mm",
        place.shares_with and f"switches {', '.join(place.shares_with)} off",
    )
    return ", ".join(map(str, filter(None, told))) or "not told"


def _counted(texts: list[str]) -> list[str]:
    """Return each text once, with how often it stands there."""
    return [
        text if texts.count(text) == 1 else f"{texts.count(text)} x {text}" for text in dict.fromkeys(texts)
    ]
