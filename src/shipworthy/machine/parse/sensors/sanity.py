"""Numbers of sensors that cannot be so, and why."""

from __future__ import annotations

import math

LOWEST_C, HIGHEST_C = -40.0, 150.0
HIGHEST_RPM = 30_000  # fans of 40 mm in servers reach 25 000 to 28 000 (common practice)

_NOT_WIRED = {
    -128.0: "the lowest number of a signed byte: nothing is wired to the input",
    127.0: "the highest number of a signed byte: nothing is wired to the input",
    127.5: "the highest number of nine bits: nothing is wired to the input",
    255.0: "all bits of a byte are set: nothing is wired to the input",
    -273.15: "zero kelvin: the register was never set",
    65261.85: "all bits of a register in kelvin are set: it was never set",
}
"""What chips and firmware give where there is no sensor, or no answer (common practice; 65,261.85 is FFFFh
kelvin, as the kernel turns it into degrees Celsius)."""


def implausible_temperature(value_c: float) -> str | None:
    """Return why a number is no temperature in a PC; None if it may be one."""
    if not math.isfinite(value_c):
        return "no number"
    for known, reason in _NOT_WIRED.items():
        if abs(value_c - known) < 0.0005:
            return reason
    if value_c < LOWEST_C:
        return f"below {LOWEST_C:g} degrees Celsius"
    return f"above {HIGHEST_C:g} degrees Celsius" if value_c > HIGHEST_C else None
