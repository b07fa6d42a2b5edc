"""Which counters of errors rose while the burn-in ran. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from shipworthy.model.base import Value, values

AGAIN_S = 30.0
"""A rise is told at once, and what follows on the same counter at most this often: a bad link counts
thousands a second, and a hot processor throttles all the time."""

Key = tuple[str, str]  # counter, place


class Rises:
    """Follows counts by counter and place. Times in s of one monotonic clock."""

    def __init__(self) -> None:
        self._told: dict[Key, tuple[int, float | None]] = {}  # the count that was told last, and when

    def look(
        self, counts: Mapping[Key, int | None], now_s: float, *, last: bool = False
    ) -> list[tuple[Value, ...]]:
        """Take all counts and return the values of an event for each rise. last: tell what is left over."""
        events = []
        for (counter, place), count in counts.items():
            if count is None:
                continue
            before, told_s = self._told.get((counter, place), (count, None))
            if count < before:
                before = count  # somebody set it to 0, or the driver was loaded anew
            if count > before and (last or told_s is None or now_s - told_s >= AGAIN_S):
                events.append(values(counter=counter, place=place, before=before, now=count))
                before, told_s = count, now_s
            self._told[counter, place] = (before, told_s)
        return events
