"""Moments and clocks. A clock is handed in; nothing in the rooms asks the system for the time."""

from __future__ import annotations

import os
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated, Protocol

import msgspec

from shipworthy.model.base import Record

Utc = Annotated[datetime, msgspec.Meta(tz=True)]


class Moment(Record):
    """When something was so.

    utc: wall time in UTC, to the millisecond. boot_id: the kernel's id of this start, or None where no
    such id exists. monotonic_s: seconds of the kernel's clock that never jumps; durations come from
    it. clock_synchronised: whether the wall clock was disciplined; None where nobody says (a new
    board's clock is often wrong).
    """

    utc: Utc
    boot_id: str | None
    monotonic_s: float
    clock_synchronised: bool | None


def same_start(one: Moment, other: Moment) -> bool:
    """Return whether two moments are of one start of a machine, whose clock that never jumps orders them."""
    return one.boot_id is not None and one.boot_id == other.boot_id


def no_later(one: Moment, other: Moment) -> bool:
    """Return whether one came no later: in one start by the clock that never jumps, else by wall clocks."""
    if same_start(one, other):
        return one.monotonic_s <= other.monotonic_s
    return one.utc <= other.utc


class Clock(Protocol):
    """What the rooms may ask of time."""

    def now(self) -> Moment: ...

    def monotonic_s(self) -> float: ...

    def sleep_s(self, seconds: float) -> None: ...


class SystemClock:
    """The machine's own clock."""

    def __init__(self, proc: Path = Path("/proc")) -> None:
        self._boot_id = _text_or_none(proc / "sys/kernel/random/boot_id")

    def now(self) -> Moment:
        utc = datetime.now(UTC)
        return Moment(
            utc=utc.replace(microsecond=utc.microsecond // 1000 * 1000),
            boot_id=self._boot_id,
            monotonic_s=round(self.monotonic_s(), 6),
            clock_synchronised=_clock_synchronised(),
        )

    def monotonic_s(self) -> float:
        return time.monotonic()

    def sleep_s(self, seconds: float) -> None:
        time.sleep(seconds)


class PretendClock:
    """For tests: the same methods, and sleeping costs nothing."""

    def __init__(
        self, start: datetime = datetime(2026, 3, 2, 8, 0, tzinfo=UTC), boot_id: str = "pretend"
    ) -> None:
        self._start, self._boot_id, self._elapsed_s = start, boot_id, 0.0

    def now(self) -> Moment:
        utc = self._start + timedelta(seconds=self._elapsed_s)
        return Moment(utc=utc, boot_id=self._boot_id, monotonic_s=self._elapsed_s, clock_synchronised=True)

    def monotonic_s(self) -> float:
        return self._elapsed_s

    def sleep_s(self, seconds: float) -> None:
        self._elapsed_s += seconds


def uuid7(clock: Clock, random_bytes: Callable[[int], bytes] = os.urandom) -> str:
    """Return a UUID version 7: 48 bits of milliseconds, then random bits (RFC 9562, section 5.7)."""
    milliseconds = int(clock.now().utc.timestamp() * 1000)
    raw = bytearray(milliseconds.to_bytes(6, "big") + random_bytes(10))
    raw[6] = raw[6] & 0x0F | 0x70
    raw[8] = raw[8] & 0x3F | 0x80
    return str(uuid.UUID(bytes=bytes(raw)))


def _text_or_none(path: Path) -> str | None:
    try:
        return path.read_text("ascii").strip()
    except OSError:
        return None


def _clock_synchronised() -> bool | None:
    """Ask the kernel's clock discipline: adjtimex(2) returns TIME_ERROR (5) while unsynchronised."""
    import ctypes

    libc = ctypes.CDLL(None, use_errno=True)
    if not hasattr(libc, "adjtimex"):
        return None
    answer = libc.adjtimex(ctypes.create_string_buffer(256))  # modes = 0: only ask
    return None if answer < 0 else answer != 5
