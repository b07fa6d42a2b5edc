"""The size on a drive's box against the bytes that it holds.

The makers agreed how many blocks a marketed size has (IDEMA LBA1-03, later SFF-8447): with blocks of
512 bytes, 97,696,368 + 1,953,504 x (GB - 50). The rule is meant for 50 GB upward.
"""

from __future__ import annotations

_GB = 10**9
_BLOCK_BYTES = 512
_FIRST_GB = 50
_BELOW = 0.001  # large drives fall short of the rule by up to 0.015 % (16 TB drives of three makers)
_ABOVE = 0.005
_FLASH_BELOW = 0.05  # eMMC, cards and sticks keep blocks to themselves: 62.5e9 bytes of 64 GB (from memory)
_SMALL = 1 - _GB / 2**30  # below 50 GB cards and sticks are sold by either count: 6.9 %


def bytes_by_rule(marketed_gb: float) -> int:
    """Return the bytes of a drive marketed as so many GB (10^9), by the rule where it applies."""
    if marketed_gb < _FIRST_GB or marketed_gb != int(marketed_gb):
        return round(marketed_gb * _GB)
    return _BLOCK_BYTES * (97_696_368 + 1_953_504 * (int(marketed_gb) - _FIRST_GB))


def marketed_gb(size_bytes: int) -> int | None:
    """Return the whole GB under which a drive of exactly so many bytes is marketed; None if by no rule."""
    for gb in (round((size_bytes / _BLOCK_BYTES - 97_696_368) / 1_953_504) + _FIRST_GB, size_bytes // _GB):
        if gb > 0 and size_bytes in (bytes_by_rule(gb), gb * _GB):
            return gb
    return None


def is_marketed_as(size_bytes: int, sold_bytes: int, *, flash: bool = False) -> bool:
    """Return whether a drive of so many bytes may be sold under that size. flash: it is an eMMC, a card, or a
    stick, which may fall short by up to 5 %.

    Tolerance: from 0.1 % below to 0.5 % above, which holds the rule, makers that give exactly GB x 10^9,
    and the largest drives. A whole number of TB may also mean so many times 1024 GB, as several makers
    sell it. Below 50 GB a size may be counted either way, in powers of 1000 or of 1024.
    """
    if _within(size_bytes, sold_bytes, _FLASH_BELOW if flash else _BELOW, _ABOVE):
        return True
    if sold_bytes < _FIRST_GB * _GB:
        return _within(size_bytes, sold_bytes, _SMALL, 2**30 / _GB - 1)
    whole_tb = sold_bytes % 10**12 == 0
    return whole_tb and _within(size_bytes, sold_bytes * 1024 // 1000, _BELOW, _ABOVE)


def _within(size_bytes: int, sold_bytes: int, below: float, above: float) -> bool:
    return sold_bytes * (1 - below) <= size_bytes <= sold_bytes * (1 + above)
