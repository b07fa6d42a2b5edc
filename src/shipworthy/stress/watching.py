"""Threads beside the sampler that wait for signs of a fault: kernel's log, error counters, drives' health.

None of them is waited for by the engine or the guard. A drive that hangs keeps its own thread only.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from shipworthy.machine.counters import list_counters
from shipworthy.machine.health import DriveHealthReader
from shipworthy.machine.root import Root
from shipworthy.stress.counters import Rises
from shipworthy.stress.health import HealthChanges
from shipworthy.stress.kernel_watch import KMSG, KernelLog, events_of
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.wire import short

COUNTERS_S = 2.0
KERNEL_S = 1.0
HEALTH_S = 60.0  # asking more often would disturb a drive under load
LAST_S = 10.0  # for the last look at the end; a drive that does not answer is not waited for longer

Look = Callable[[bool], None]


class Watching:
    """Watches from `with` to its end, where each looks for the last time. Failures are raised by `check`."""

    def __init__(self, root: Root, log: SegmentLog, kernel_log: str | None = None) -> None:
        """kernel_log: the device to read it from; None for the kernel's own where the machine is live."""
        self._root, self._log = root, log
        self._kmsg = kernel_log or (KMSG if root.live else None)
        self._leave = threading.Event()
        self._failure: BaseException | None = None
        self._threads = [
            threading.Thread(target=self._follow, args=(make, interval_s), name=name, daemon=True)
            for name, make, interval_s in (
                ("kernel log", self._kernel, KERNEL_S),
                ("counters", self._counters, COUNTERS_S),
                ("drive health", self._health, HEALTH_S),
            )
        ]

    def __enter__(self) -> Watching:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._leave.set()
        until_s = time.monotonic() + LAST_S
        for thread in self._threads:
            thread.join(max(0.0, until_s - time.monotonic()))

    def check(self) -> None:
        """Raise what a watcher failed on, if one did: a fault of ours, or a log that cannot be written."""
        if self._failure is not None:
            raise self._failure

    def _follow(self, make: Callable[[], Look | None], interval_s: float) -> None:
        try:
            look = make()
            if look is None:
                return
            look(False)
            while not self._leave.wait(interval_s):
                look(False)
            look(True)
        except BaseException as failure:
            self._failure = failure

    def _kernel(self) -> Look | None:
        if self._kmsg is None:
            return None  # a recorded or pretend machine has no kernel that speaks
        try:
            kernel = KernelLog(self._kmsg)
        except OSError as error:
            self._log.event("kernel.not-read", why=short(error.strerror))
            return None

        def look(_last: bool) -> None:
            for named in events_of(self._root, kernel.heard()):
                self._log.event("kernel.error", named)

        return look

    def _counters(self) -> Look:
        counters, rises = list_counters(self._root), Rises()

        def look(last: bool) -> None:
            counts = {(counter.name, counter.place): counter.read() for counter in counters}
            for named in rises.look(counts, time.monotonic(), last=last):
                self._log.event("counter.rose", named)

        return look

    def _health(self) -> Look:
        reader, changes = DriveHealthReader(self._root), HealthChanges()

        def look(_last: bool) -> None:
            for code, named in changes.look(reader.read()):
                self._log.event(code, named)

        return look
