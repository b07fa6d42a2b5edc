"""The sampler: a thread that takes a row at a steady beat, whatever else happens."""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress

from shipworthy.model.runlog import Column, Row
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.readers import Device, Readers
from shipworthy.stress.silence import Silences, events_of

LEAVE_S = 2.0
NICE = -5  # before the loads and this process's other threads, where the account may


class Sampling:
    """Rows at `hz` from threads of its own, until it is left. What it failed on is raised by `check`.

    Devices are read side by side (`readers`), so that a slow one delays no other, and rows are written by
    another thread than the one that keeps the beat, as a disk under load may keep a writer waiting. sleeps:
    whether the part at a place sleeps, so that its silence is none.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        devices: Sequence[Device],
        hz: float,
        log: SegmentLog,
        sleeps: Callable[[str], bool] = lambda _: False,
    ) -> None:
        self._columns, self._log, self._sleeps = tuple(columns), log, sleeps
        self._interval_s = 1 / hz
        self._readers = Readers(devices, self._interval_s, on_start=come_first)
        self._silences = Silences(self._columns)
        self._leave = threading.Event()
        self._row: tuple[float | None, ...] = (None,) * len(self._columns)
        self._failure: BaseException | None = None
        self._taken: queue.SimpleQueue[Row | None] = queue.SimpleQueue()
        self._beat = threading.Thread(target=self._follow, name="sampler", daemon=True)
        self._writer = threading.Thread(target=self._write, name="rows", daemon=True)

    def __enter__(self) -> Sampling:
        self._writer.start()
        self._beat.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._leave.set()
        self._beat.join(timeout=LEAVE_S)
        self._readers.leave()
        self._taken.put(None)
        self._writer.join(timeout=LEAVE_S)

    def check(self) -> None:
        """Raise what stopped the sampler, if anything did."""
        if self._failure is not None:
            raise self._failure

    def latest(self) -> tuple[tuple[Column, float | None], ...]:
        """Return the last row, each value beside what it is of."""
        return tuple(zip(self._columns, self._row, strict=True))

    def _follow(self) -> None:
        try:
            come_first()
            due_s = self._log.t_s()
            while not self._leave.is_set():
                t_s = self._log.t_s()
                self._row = self._readers.row()
                self._taken.put(Row(t_s=t_s, v=self._row))
                due_s = next_beat_s(due_s, self._log.t_s(), self._interval_s)
                self._leave.wait(due_s - self._log.t_s())
        except BaseException as failure:  # carried to the engine's thread, which ends the run
            self._failure = failure

    def _write(self) -> None:
        try:
            while (row := self._taken.get()) is not None:
                self._log.write(row)
                turns = self._silences.look(row.v, row.t_s)
                for code, named in events_of(
                    [t for t in turns if t.back or not self._sleeps(t.column.place)]
                ):
                    self._log.event(code, named)
        except BaseException as failure:
            self._failure = failure


def come_first() -> None:
    """Ask for this thread to come before others; an ordinary account is refused, and the loads are behind it
    all the same (setpriority(2): of one thread, on Linux)."""
    with suppress(OSError):
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICE)


def next_beat_s(due_s: float, now_s: float, interval_s: float) -> float:
    """Return when the next sample is due: on the beat, leaving out beats that are already past."""
    missed = max(0, int((now_s - due_s) / interval_s))
    return due_s + (missed + 1) * interval_s
