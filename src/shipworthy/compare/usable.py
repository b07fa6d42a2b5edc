"""What a total of memory can be, where only the kernel's share of it is known.

`MemTotal` is what was fitted less what firmware and kernel keep: page structures (64 bytes of every 4 KiB,
1.6 %), tables, and the memory that a processor's own graphics takes, 2 GiB by default on some boards. On
704 machines whose modules and kernel logs are both known (reference data, bsd-joined-machines: another
kernel, which keeps more) the share was 0.6 GiB in the middle, 2.3 GiB for 95 and 3.5 GiB for 99 in 100.
So a total fits if what is kept is at most 2 GiB and a thirty-second of it, and no other total that modules
can make fits as well. It cannot be if more is usable than was sold, or if a quarter or more is gone (one
module of four) and that is more than may be kept. Where the modules are known, one of them is enough: one of
eight is an eighth.
"""

from __future__ import annotations

from enum import Enum

_GIB = 2**30
_MODULE_GIB = (1, 2, 4, 8, 12, 16, 24, 32, 48, 64, 128)
_MODULE_COUNTS = (1, 2, 3, 4, 6, 8)
_TOTALS = frozenset(size * count * _GIB for size in _MODULE_GIB for count in _MODULE_COUNTS)
_GONE = 0.75
_COUNTED_SHARE = (
    64  # of 733 machines (bsd-joined-machines) 671 count just their modules, 38 a 64th less or more
)


class Fit(Enum):
    FITS = "fits"
    OPEN = "open"
    CANNOT_BE = "cannot be"


def fits_usable(sold_bytes: int, usable_bytes: int, counted_bytes: int | None = None) -> Fit:
    """Return whether so much sold memory can leave so much for the system to use.

    counted_bytes: what a kernel counts as fitted, where it says (`real_bytes`; FreeBSD's is mostly the sum of
    the firmware's table): never less than is fitted, but for a few MiB, and more where there are holes in it.
    If it counts what was sold, and two thirds of that can be used, then that is fitted, though what can be
    used may leave several totals possible.
    """
    if usable_bytes > sold_bytes:
        return Fit.CANNOT_BE
    if counted_bytes is not None:
        slack = sold_bytes // _COUNTED_SHARE
        if counted_bytes < sold_bytes - slack:
            return Fit.CANNOT_BE
        if counted_bytes <= sold_bytes + slack and usable_bytes > sold_bytes * 2 // 3:
            return Fit.FITS
    if much_is_unusable(sold_bytes, usable_bytes):
        return Fit.CANNOT_BE
    alone = totals_that_fit(usable_bytes) <= {sold_bytes}
    return Fit.FITS if alone and _may_be(sold_bytes, usable_bytes) else Fit.OPEN


def totals_that_fit(usable_bytes: int) -> frozenset[int]:
    """Return every total of equal modules that can leave so much to use."""
    return frozenset(total for total in _TOTALS if _may_be(total, usable_bytes))


def much_is_unusable(fitted_bytes: int, usable_bytes: int, least_module_bytes: int | None = None) -> bool:
    """Return whether a module or a quarter of the fitted memory is gone, and more than firmware may keep."""
    most = fitted_bytes * _GONE
    if least_module_bytes is not None:
        most = max(most, fitted_bytes - least_module_bytes)
    return usable_bytes <= most and not _may_be(fitted_bytes, usable_bytes)


def _may_be(total_bytes: int, usable_bytes: int) -> bool:
    return total_bytes - 2 * _GIB - total_bytes // 32 <= usable_bytes <= total_bytes
