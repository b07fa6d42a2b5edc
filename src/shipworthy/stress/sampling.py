"""The sampler: a thread that writes a row at a steady beat, whatever else happens."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from shipworthy.model.runlog import Column, Row
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.watch import Samples


class Sampling:
    """Rows at `hz` from a thread of its own, until it is left. What it failed on is raised by `check`."""

    def __init__(self, columns: Sequence[Column], sampler: Samples, hz: float, log: SegmentLog) -> None:
        self._columns, self._sampler, self._log = tuple(columns), sampler, log
        self._interval_s = 1 / hz
        self._leave = threading.Event()
        self._row: tuple[float | None, ...] = (None,) * len(self._columns)
        self._failure: BaseException | None = None
        self._thread = threading.Thread(target=self._follow, name="sampler", daemon=True)

    def __enter__(self) -> Sampling:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._leave.set()
        self._thread.join(timeout=2.0)  # a sensor that blocks for ever must not keep the run

    def check(self) -> None:
        """Raise what stopped the sampler, if anything did."""
        if self._failure is not None:
            raise self._failure

    def latest(self) -> tuple[tuple[Column, float | None], ...]:
        """Return the last row, each value beside what it is of."""
        return tuple(zip(self._columns, self._row, strict=True))

    def _follow(self) -> None:
        try:
            due_s = self._log.t_s()
            while not self._leave.is_set():
                t_s = self._log.t_s()
                self._row = self._sampler.sample()
                self._log.write(Row(t_s=t_s, v=self._row))
                due_s = next_beat_s(due_s, self._log.t_s(), self._interval_s)
                self._leave.wait(due_s - self._log.t_s())
        except BaseException as failure:  # carried to the engine's thread, which ends the run
            self._failure = failure


def next_beat_s(due_s: float, now_s: float, interval_s: float) -> float:
    """Return when the next sample is due: on the beat, leaving out beats that are already past."""
    missed = max(0, int((now_s - due_s) / interval_s))
    return due_s + (missed + 1) * interval_s
