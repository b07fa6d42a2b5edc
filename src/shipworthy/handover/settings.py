"""Keys and values of a configuration in words: `memory module/DIMM_A2/BANK 1/configured_speed_mt_s`."""

from __future__ import annotations

from shipworthy.handover.phrases import say
from shipworthy.messages import known_codes, quantity_text
from shipworthy.messages.text import unit_of_name
from shipworthy.model.base import Scalar

_IDS, _LINK = "pci", "link"


def setting_text(key: str) -> str:
    """Return what a key stands for: the part or its place, and what of it. A word that has no sentence (of a
    record of another version) is shown as it is."""
    kind, _, rest = key.partition("/")
    if kind == _IDS:
        return say("colon", what=rest, text=_field_text("ids"))
    place, _, field = rest.rpartition("/")
    of = place if kind == _LINK else f"{kind} {place}".rstrip()
    return say("colon", what=of, text=_field_text(field)) if field else kind


def value_text(key: str, value: Scalar | None) -> str:
    """Return a value with its unit; what the kernel has one word for in words of ours."""
    if value is None:
        return say("none")
    code = f"setting.{key.rpartition('/')[2]}.{value}"
    if f"handover.{code}" in known_codes():
        return say(code)
    return quantity_text(value, unit_of_name(key), binary=key.startswith("memory"))


def _field_text(field: str) -> str:
    return (
        say(f"setting.{field}") if f"handover.setting.{field}" in known_codes() else field.replace("_", " ")
    )
