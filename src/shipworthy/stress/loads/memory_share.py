"""How much memory a load takes, and when it has to give some back: early enough never to be killed."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.pages import Pages, round_down

LEAST_BYTES = 32 * 2**20  # less lies in the caches of many processors, and tests those
LEAST_RESERVE_BYTES = 64 * 2**20  # never less is left to others, whatever the plan says
POPULATE_BYTES = 128 * 2**20  # between two looks at how much memory is left
PRESSURE_PERCENT = 10.0
"""Of the last 10 s, waited for memory by any task: more means that others go short (our choice; a system's
own keepers are often set to act at 50 or 60: from memory)."""
PRESSURE_REST_S = 15.0
"""After giving back because of pressure, as its average needs 10 s to fall."""


def reserve_bytes(plan_reserve_bytes: int) -> int:
    return max(plan_reserve_bytes, LEAST_RESERVE_BYTES)


def wanted_bytes(request: LoadRequest, available_bytes: int, reserve_bytes: int) -> int:
    """Return how much memory to test: the plan's share of what is free, its cap, and never the reserve."""
    share_bytes = int(request.memory_share * available_bytes)
    cap_bytes = request.memory_cap_bytes or share_bytes
    return round_down(max(0, min(share_bytes, cap_bytes, available_bytes - reserve_bytes)))


class Strain:
    """Whether others need memory: what is free, and how long tasks wait for it."""

    def __init__(self, reserve_bytes: int, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._reserve_bytes, self._monotonic_s = reserve_bytes, monotonic_s
        self._look_again_s = float("-inf")

    def short(self, more_bytes: int = 0) -> bool:
        """Whether less than the reserve would be free with so much more taken."""
        return resources.available_memory_bytes() < self._reserve_bytes + more_bytes

    def pressed(self) -> bool:
        """Whether tasks wait for memory; not asked again for a while after it was so."""
        if self._monotonic_s() < self._look_again_s:
            return False
        if resources.memory_pressure_percent() < PRESSURE_PERCENT:
            return False
        self._look_again_s = self._monotonic_s() + PRESSURE_REST_S
        return True


def taken(request: LoadRequest, plan_reserve_bytes: int) -> tuple[Pages, str]:
    """Map, lock and fill the memory to test; return it and why it was not locked, if so.

    Raises Trouble where too little is free, or the system refuses the map.
    """
    keep_bytes = reserve_bytes(plan_reserve_bytes)
    available_bytes = resources.available_memory_bytes()
    size_bytes = wanted_bytes(request, available_bytes, keep_bytes)
    if size_bytes < LEAST_BYTES:
        mend = "Close what uses memory, or lower the plan's reserve."
        raise Trouble(f"only {available_bytes >> 20} MiB of memory are free", "the load march", mend)
    try:
        pages = Pages(size_bytes)
    except (OSError, MemoryError) as error:
        mend = "Lower the plan's memory share or its cap."
        raise Trouble(f"{size_bytes >> 20} MiB of memory are refused", "the load march", mend) from error
    return pages, _filled(pages, Strain(keep_bytes))


def _filled(pages: Pages, strain: Strain) -> str:
    """Take the pages piece by piece, and stop where others begin to lack memory; return why not locked."""
    refused = ""
    for begin, size in _pieces(pages.size_bytes):
        if begin >= LEAST_BYTES and (strain.short(size) or strain.pressed()):
            pages.give_back(begin)
            break
        refused = refused or pages.lock(begin, size)
        if refused:
            pages.touch(begin, size)
    return refused


def _pieces(size_bytes: int) -> Iterator[tuple[int, int]]:
    for begin in range(0, size_bytes, POPULATE_BYTES):
        yield begin, min(POPULATE_BYTES, size_bytes - begin)
