"""The guard's eyes: a thread that reads temperatures, so that a slow sensor never holds up the guard."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from typing import Protocol

from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column
from shipworthy.stress.limits import Crossing, first_crossing

INTERVAL_S = 0.2
CONFIRM = 2  # readings in a row, so that one garbled reading stops nothing
SILENT_S = 5.0


class Samples(Protocol):
    """What `machine.sensors.Sampler` offers."""

    def sample(self) -> tuple[float | None, ...]: ...


class Watch:
    """Follow temperatures against their limits. Two readings in a row over a limit are a crossing."""

    def __init__(self, columns: Sequence[Column], sampler: Samples, limits: Sequence[Limit]) -> None:
        self._columns, self._sampler, self._limits = tuple(columns), sampler, tuple(limits)
        self._lock = threading.Lock()
        self._crossing: Crossing | None = None
        self._over = 0
        self._seen_s: float | None = None  # when a temperature last came; None: never yet

    def start(self) -> None:
        threading.Thread(target=self._follow, name="temperatures", daemon=True).start()

    def crossing(self) -> Crossing | None:
        with self._lock:
            return self._crossing

    def silent_s(self, now_s: float) -> float:
        """Return for how long no temperature at all has come, in s; 0 if none ever came."""
        with self._lock:
            return 0.0 if self._seen_s is None else now_s - self._seen_s

    def look(self, now_s: float) -> None:
        """Take one reading and draw conclusions from it."""
        row = self._sampler.sample()
        found = first_crossing(self._columns, row, self._limits)
        with self._lock:
            if any(value is not None for value in row):
                self._seen_s = now_s
            self._over = self._over + 1 if found else 0
            self._crossing = found if self._over >= CONFIRM else None

    def _follow(self) -> None:
        while True:
            began_s = time.monotonic()
            self.look(began_s)
            time.sleep(max(0.02, INTERVAL_S - (time.monotonic() - began_s)))
