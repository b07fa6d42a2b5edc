"""When the loads are idled because a required sensor is silent, and when they go on. Pure."""

from __future__ import annotations

from enum import Enum

from shipworthy.stress.silence import SILENT_S

BACK_WITHIN_S = 60.0
SPEAKS_S = 1.0  # a sensor that gave something so short a time ago is back
FORGIVEN_SHARE = 0.1  # of the time at work counts against the time that stood still: 1 min in 10


class Act(Enum):
    """What to do with the loads now."""

    NOTHING = "nothing"
    PAUSE = "pause"
    RESUME = "resume"
    STOP = "stop"


class Pausing:
    """Silent for 5 s: pause. Back within 60 s: resume. Else: stop. Times in s of one monotonic clock.

    A sensor that comes and goes may not keep loads and guard busy for ever: pauses that follow one another
    add up, and time at work in between is only slowly forgiven.
    """

    def __init__(self, silent_s: float = SILENT_S, back_within_s: float = BACK_WITHIN_S) -> None:
        self._silent_s, self.back_within_s = silent_s, back_within_s
        self._since_s: float | None = None
        self._owed_s, self._ended_s = 0.0, 0.0

    @property
    def paused(self) -> bool:
        return self._since_s is not None

    def paused_s(self, now_s: float) -> float:
        """Return for how long the loads have stood still; 0 if they do not."""
        return 0.0 if self._since_s is None else now_s - self._since_s

    def end(self, now_s: float) -> None:
        self._owed_s = self.stood_still_s(now_s)
        self._since_s, self._ended_s = None, now_s

    def stood_still_s(self, now_s: float) -> float:
        """Return for how long loads have stood still by now, less what is forgiven."""
        at_work_s = (now_s if self._since_s is None else self._since_s) - self._ended_s
        return max(0.0, self._owed_s - FORGIVEN_SHARE * at_work_s) + self.paused_s(now_s)

    def act(self, silent_s: float, now_s: float) -> Act:
        """Say what follows from the longest silence of a required part. After RESUME `end` is called, when
        the loads have been told for how long they stood still."""
        if self._since_s is None:
            if silent_s < self._silent_s:
                return Act.NOTHING
            self._since_s = now_s
            return Act.PAUSE
        if silent_s < SPEAKS_S:
            return Act.RESUME
        return Act.STOP if self.stood_still_s(now_s) >= self.back_within_s else Act.NOTHING
