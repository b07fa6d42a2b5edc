"""What a reading tells of memory as it was sold: rates and totals, and None where it does not tell."""

from __future__ import annotations

from shipworthy.model.facts import Part
from shipworthy.words.memory_codes import read_memory_code
from shipworthy.words.speeds import same_rate

_GIB = 2**30


def sold_rate(module: Part) -> int | None:
    """Return the rate that a module runs at, in MT/s; None where it was made for another one."""
    speed = module.number("configured_speed_mt_s")
    return None if not speed or _is_made_for_another(module, speed) else int(speed)


def _is_made_for_another(module: Part, running_mt_s: int | float) -> bool:
    """Whether the part number says another speed than the one it runs at: that is then not what was sold."""
    code = read_memory_code(module.text("part_number"))
    made_for = None if code is None else code.speed_mt_s
    return made_for is not None and not same_rate(made_for, running_mt_s)


def counted_total(real_bytes: int | float | None) -> int | None:
    """Return what a kernel counts as fitted, if that is whole GiB but for a little (some boards lose a MiB of
    each module); what it counts can have holes in it, and then is no such number."""
    whole = round((real_bytes or 0) / _GIB) * _GIB
    return whole if real_bytes and abs(whole - real_bytes) <= whole >> 8 else None


def likely_total(usable_bytes: int | float | None) -> int | None:
    """Return the one total that lacks at most 2 GiB and a thirty-second (see `compare.usable`); None where it
    is not the only one. Below 4 GiB what firmware and kernel take is too large a share to tell a total by.

    Totals are of equal modules, or of two sizes of which one is at most four times the other.
    """
    if usable_bytes is None or usable_bytes < 4 * _GIB:
        return None
    sizes = [1 << power for power in range(12)]
    totals = {one + other for one in (0, *sizes) for other in sizes if other // 4 <= one <= other or not one}
    fits = [
        total * _GIB for total in totals if 0 <= total * _GIB - usable_bytes <= 2 * _GIB + total * _GIB // 32
    ]
    return fits[0] if len(fits) == 1 else None
