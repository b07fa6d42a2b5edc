"""The run log of one segment: who writes a line, and when it was so."""

from __future__ import annotations

import threading
from collections.abc import Callable

from shipworthy.model.base import Scalar, Value, values
from shipworthy.model.runlog import Event, LogLine
from shipworthy.model.time import Clock


class SegmentLog:
    """Lines from several threads, one at a time. Times are monotonic seconds since the segment's start."""

    def __init__(self, write: Callable[[LogLine], None], clock: Clock) -> None:
        self._write, self._clock = write, clock
        self._lock = threading.Lock()
        self._start_s = clock.monotonic_s()
        self._finished = False

    def t_s(self) -> float:
        return round(self._clock.monotonic_s() - self._start_s, 3)

    def write(self, line: LogLine) -> None:
        """Write a line whose time was taken before: a row. Lines of one kind stay in order of time."""
        with self._lock:
            if not self._finished:
                self._write(line)

    def write_now(self, make: Callable[[float], LogLine]) -> None:
        """Write a line that carries the time at which it is written."""
        with self._lock:
            if not self._finished:
                self._write(make(self.t_s()))

    def finish(self, make: Callable[[float], LogLine]) -> None:
        """Write the last line. A sampler that was stuck in a sensor until now writes nothing after it."""
        with self._lock:
            self._write(make(self.t_s()))
            self._finished = True

    def event(self, code: str, named: tuple[Value, ...] = (), **more: Scalar) -> None:
        self.write_now(lambda t_s: Event(t_s=t_s, code=code, values=named + values(**more)))
