"""When a load works and when it rests, by a clock that all processes share."""

from __future__ import annotations

SLICES_HZ = 10.0
"""How often a load of lesser intensity begins to work where its plan names no frequency."""
SHORTEST_BLOCK_S = 0.002
BLOCKS_A_PULSE = 4


class Rhythm:
    """On for `intensity` of each period, then off. Every core changes at the same moment, since the phase is
    that of the monotonic clock: that is what makes a load step for the regulators of a supply."""

    def __init__(self, intensity: float, pulse_hz: float) -> None:
        self._share = intensity
        self._period_s = 0.0 if intensity >= 1 else 1 / (pulse_hz or SLICES_HZ)

    def rest_s(self, now_s: float) -> float:
        """Return for how long to rest from now on; 0 to work."""
        if not self._period_s:
            return 0.0
        within_s = now_s % self._period_s
        return 0.0 if within_s < self._share * self._period_s else self._period_s - within_s

    def block_s(self, usual_s: float) -> float:
        """Return how long a block may last so that a pulse is made of some, and ends in time."""
        if not self._period_s:
            return usual_s
        return min(usual_s, max(SHORTEST_BLOCK_S, self._share * self._period_s / BLOCKS_A_PULSE))
