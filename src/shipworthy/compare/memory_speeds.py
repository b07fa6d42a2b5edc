"""What is said of a module's speed, and what it means: the firmware's words depend on its table's version.

SMBIOS type 17 (DSP0134 7.18, from memory): *Speed* was the speed of the device, and is since 2.7 the most
that it can do. What it runs at has a field of its own since then, called its clock up to 3.0 and its speed
from 3.1 on. Firmware writes rates where the clock is meant, and clocks where the rate is.

Of 5,981 modules in 2,489 desktops (linuxhw/DMI) those of tables before 2.7, and no others, lack that field.
*Speed* was there below the rate of the part number in 55 of 179 modules and above it in none, at 1066 and
1240 too for modules of 1333 and 1866: it is what runs. Half of *Speed* stood in the other field in 208
modules of tables before 3.1 and in 24 of later ones.
"""

from __future__ import annotations

import re

from shipworthy.model.facts import Part
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind
from shipworthy.words.memory_codes import MemoryCode, read_memory_code
from shipworthy.words.speeds import same_rate

Version = tuple[int, int]
_OWN_FIELD: Version = (2, 7)
_YOUNGER = re.compile(r"(?:LP)?DDR[4-9]")
"""Types younger than that field: a table that has DDR4 (2014) is of no version of 2008, whatever it says."""
_NO_CLOCK: Version = (3, 1)
_MOST_MT_S = 16_000
"""Twice the fastest step of DDR5 (JESD79-5C, 8,800 MT/s) and then some: no module runs faster."""
_STEPS = {
    "DDR2": (400, 533, 667, 800, 1066),
    "DDR3": (800, 1066, 1333, 1600, 1866, 2133),
    "DDR4": (1333, 1600, 1866, 2133, 2400, 2666, 2933, 3200),
    "DDR5": (3200, 3600, 4000, 4400, 4800, 5200, 5600, 6000, 6400),
}
"""Rates without a profile (JESD79-2 to JESD79-5, from memory; DDR4 boards also go down to 1333)."""


def smbios_version(reading: Reading) -> Version | None:
    """Return the version of SMBIOS that the firmware's table follows; None where it is not told."""
    said = (part.text("smbios_version") for part in reading.of_kind(PartKind.FIRMWARE))
    match = next(filter(None, (re.fullmatch(r"(\d+)\.(\d+)", text) for text in said)), None)
    return (int(match[1]), int(match[2])) if match else None


def running_speed(module: Part, version: Version | None) -> int | float | None:
    """Return the speed that a module runs at, by the firmware; None where it does not say.

    One that no memory reaches is none (34,699 MT/s in a table).
    """
    speed = module.number("configured_speed_mt_s")
    if speed is None and version is not None and version < _OWN_FIELD and not _is_younger(module):
        speed = module.number("firmware_speed_mt_s")
    return speed if speed is not None and speed <= _MOST_MT_S else None


def speed_by_number(module: Part) -> int | None:
    """Return the speed that stands in a module's part number, by its maker's grammar."""
    code = _code(module)
    return None if code is None else code.speed_mt_s


def is_step(rate: float, module: Part) -> bool:
    """Return whether modules of this type run at a rate without a profile; yes where no type is told."""
    code = _code(module)
    kind = module.text("type").removesuffix("L")
    steps = _STEPS.get(kind) or _STEPS.get((code.type if code else None) or "")
    return steps is None or any(same_rate(rate, step) for step in steps)


def means_clock(module: Part, version: Version | None) -> bool:
    """Return whether the field of what runs means a clock by its table's version: half of the rate."""
    own_field = module.number("configured_speed_mt_s") is not None
    return own_field and version is not None and _OWN_FIELD <= version < _NO_CLOCK


def _is_younger(module: Part) -> bool:
    code = _code(module)
    kinds = (module.text("type"), (code.type if code else None) or "")
    return any(map(_YOUNGER.match, kinds))


def _code(module: Part) -> MemoryCode | None:
    return read_memory_code(module.text("part_number"))
