"""Sensors read side by side, so that one that keeps its reader waiting keeps no other.

A thread for each of a thousand sensors would cost more than the sensors do. So one thread reads all devices
in turn. When it is kept waiting by one of them, it stays with that one alone and a new thread takes over the
others; a device that answers quickly again goes back to them.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from typing import Protocol, runtime_checkable

Row = tuple[float | None, ...]

SLOW_S = 0.03  # in one device: more than any driver needs that answers from memory (measured: 0.01 to 1 ms)
WAIT_S = 0.04  # for all of them, so that a row is complete within 50 ms of its time
QUICK_AGAIN = 20  # readings in a row, until a device goes back to the common thread
FRESH_INTERVALS = 1.5  # a value older than that is none


class Device(Protocol):
    """What `machine.sensors.devices` gives. at: where its values stand in the row."""

    @property
    def at(self) -> tuple[int, ...]: ...

    def read(self) -> Row: ...


@runtime_checkable
class Streamed(Protocol):
    """A device whose values come by themselves, from a child process. taken_s: when those came that it gave
    last: asked twice in between, it gives the same ones."""

    @property
    def taken_s(self) -> float: ...

    def close(self) -> None: ...


class Readers:
    """Threads that read devices on request, and what each device last gave."""

    def __init__(
        self,
        devices: Sequence[Device],
        interval_s: float,
        monotonic_s: Callable[[], float] = time.monotonic,
        on_start: Callable[[], None] = lambda: None,
    ) -> None:
        """on_start: called in each thread as it begins, to ask for its priority."""
        self.monotonic_s, self.on_start = monotonic_s, on_start
        self._fresh_s = FRESH_INTERVALS * interval_s
        self._width = sum(len(device.at) for device in devices)
        self._given: dict[int, tuple[float, Row, float]] = {}  # when asked, values, when those were taken
        self._devices = tuple(devices)
        self._streamed = {n: device for n, device in enumerate(devices) if isinstance(device, Streamed)}
        self._busy = tuple(threading.Lock() for _ in devices)
        self._lock = threading.Lock()
        self.left = False
        self.failure: BaseException | None = None
        self._common = _Reader(self, list(range(len(devices))))
        self._apart: list[_Reader] = []

    def row(self, wait_s: float = WAIT_S) -> Row:
        """Ask all devices now, wait for them at most so long, and return what each gave, if that is fresh.

        Raises what a thread failed on, which is a fault of ours.
        """
        if self.failure is not None:
            raise self.failure
        with self._lock:
            readers = (self._common, *self._apart)
        for reader in readers:
            reader.ask()
        if not self._common.done.wait(wait_s):
            self._relieve()
        return self._row(self.monotonic_s())

    def read_s(self) -> tuple[float, ...]:
        """Return when the value of each column was taken; 0 for one that never was."""
        times = [0.0] * self._width
        for number, (_, _, taken_s) in list(self._given.items()):
            for at in self._devices[number].at:
                times[at] = taken_s
        return tuple(times)

    def kept_waiting(self) -> int:
        """Return how many devices have a thread of their own at the moment, since they are slow."""
        with self._lock:
            return len(self._apart)

    def leave(self) -> None:
        """Let threads and streams end. A thread that hangs in a device stays until the process ends."""
        self.left = True
        with self._lock:
            for reader in (self._common, *self._apart):
                reader.ask()
        for device in self._streamed.values():
            device.close()

    def _row(self, now_s: float) -> Row:
        row: list[float | None] = [None] * self._width
        for number, (asked_s, values, _) in list(self._given.items()):
            if now_s - asked_s <= self._fresh_s:
                for at, value in zip(self._devices[number].at, values, strict=True):
                    row[at] = value
        return tuple(row)

    def _relieve(self) -> None:
        """Give the others to a new thread if the common one has been with one device for too long."""
        with self._lock:
            slow, since_s = self._common.at
            if slow is None or self.monotonic_s() - since_s < SLOW_S:
                return  # there are many, and it comes along
            others = [number for number in self._common.numbers if number != slow]
            self._common.numbers = [slow]
            self._apart.append(self._common)
            self._common = _Reader(self, others)
        self._common.ask()

    def read(self, reader: _Reader, number: int) -> bool:
        """Read one device, unless another thread is with it; return whether it was quick."""
        if not self._busy[number].acquire(blocking=False):
            return False
        began_s = self.monotonic_s()
        reader.at = (number, began_s)
        try:
            values, streamed = self._devices[number].read(), self._streamed.get(number)
            self._given[number] = (began_s, values, began_s if streamed is None else streamed.taken_s)
        finally:
            reader.at = (None, began_s)
            self._busy[number].release()
        return self.monotonic_s() - began_s < SLOW_S

    def join_again(self, reader: _Reader) -> bool:
        """Put the device of a reader of its own back to the common ones; False if it is the common one."""
        with self._lock:
            if reader not in self._apart:
                return False
            self._apart.remove(reader)
            self._common.numbers += reader.numbers
            return True


class _Reader:
    """One thread: reads its devices each time it is asked."""

    def __init__(self, of: Readers, numbers: list[int]) -> None:
        self._of, self.numbers = of, numbers
        self.at: tuple[int | None, float] = (None, 0.0)  # which device it is with, since when
        self.done = threading.Event()
        self._asked = threading.Semaphore(0)
        self._quick = 0
        self._thread: threading.Thread | None = None

    def ask(self) -> None:
        """Let it read, unless it still does from the time before."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._follow, name="sensors", daemon=True)
            self._thread.start()
        elif not self.done.is_set() and not self._of.left:
            return
        self.done.clear()
        self._asked.release()

    def _follow(self) -> None:
        try:
            self._of.on_start()
            while not self._over():
                self.done.set()
        except BaseException as failure:  # carried to whoever asks for the next row
            self._of.failure = failure

    def _over(self) -> bool:
        """Wait until it is asked, read all once; return whether this thread has nothing to do any more."""
        self._asked.acquire()
        if self._of.left:
            return True
        numbers, quick = self.numbers, True
        for number in list(numbers):
            quick = self._of.read(self, number)
            if self.numbers is not numbers:
                break  # another thread took over the others while this one was kept waiting
        self._quick = self._quick + 1 if quick and len(numbers) == 1 else 0
        return self._quick >= QUICK_AGAIN and self._of.join_again(self)
