"""Whose temperature a sensor gives, by the names that the kernel's drivers give their chips and channels."""

from __future__ import annotations

import re

from shipworthy.model.words import PartKind

PROCESSOR_SENSOR = re.compile(
    r"coretemp|k10temp|zenpower|x86_pkg_temp|cpu|package id|\bcore \d|\btctl|\btdie|processor", re.IGNORECASE
)
"""How the kernel's drivers name a processor's temperature (their places and labels; common practice)."""

_PROCESSOR_DRIVERS = re.compile(
    r"coretemp|k8temp|k10temp|zenpower|via_cputemp|x86_pkg_temp|cpu[-_]?thermal\d*|peci_cputemp\.?.*"
)
_GRAPHICS_DRIVERS = re.compile(r"amdgpu|radeon|nouveau|i915|xe|gpu[-_]?thermal\d*")
"""Names of hwmon chips and types of thermal zones: the kernel's Documentation/hwmon and drivers/gpu (from
memory)."""


def is_of_processor(place: str, label: str) -> bool:
    """Return whether a temperature is a processor's, by where it is wired and what its driver calls it."""
    return PROCESSOR_SENSOR.search(f"{place} {label}") is not None


def part_of_driver(driver: str) -> PartKind | None:
    """Return the part that the chip of that driver measures from within: processor, graphics, or None.

    A board's chip has inputs that are called after the processor too (`CPUTIN`); they hang on the board, are
    often not wired, and are not meant here.
    """
    if _PROCESSOR_DRIVERS.fullmatch(driver):
        return PartKind.PROCESSOR
    return PartKind.GRAPHICS if _GRAPHICS_DRIVERS.fullmatch(driver) else None
