"""Numbers of sensors that cannot be so, and why; and sensors that do not move while everything else does."""

from __future__ import annotations

import math
from collections.abc import Sequence

LOWEST_C, HIGHEST_C = -40.0, 150.0

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


def looks_frozen(
    values: Sequence[float | None],
    load: Sequence[float | None],
    *,
    least_samples: int = 30,
    least_change: float = 0.5,
) -> bool:
    """Return whether a sensor never moved while the load beside it did.

    load: the share of the time that the part which the sensor belongs to was busy, sampled together with
    the values. Samples of which one is missing do not count. It is True only if all values are the very same
    number, and there are at least `least_samples` in a row both below and above, by `least_change` apart.

    It is a reason to look, no proof: ask it of sensors of the part under load only. The air in a case, or a
    chip that counts whole degrees behind a good cooler, may stand still rightly; so may a fan without a
    control.
    """
    pairs = [(v, at) for v, at in zip(values, load, strict=True) if v is not None and at is not None]
    if len({value for value, _ in pairs}) != 1:
        return False
    loads = [at for _, at in pairs]
    if len(loads) < 2 * least_samples:
        return False
    means = [sum(loads[i : i + least_samples]) / least_samples for i in range(len(loads) - least_samples + 1)]
    return max(means) - min(means) >= least_change
