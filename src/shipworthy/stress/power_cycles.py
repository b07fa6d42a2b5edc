"""Power cycles: announced in the log before they happen, and looked for afterwards (ADR 0026).

The kernel's id of a start tells that a machine has restarted, not how. Whether power was gone is known to the
drives: each counts how often it was given power (NVMe 2.0 base specification, log page 02h, "Power Cycles";
ATA attribute 12). Some boards cut the drives' power on a warm restart too (from memory), so that the count is
recorded and proves nothing by itself.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from shipworthy.model.base import Scalar, values
from shipworthy.model.plan import PlanStep
from shipworthy.model.progress import Progress, Sink, progress
from shipworthy.model.reading import Configuration
from shipworthy.model.runlog import Columns, Event, LogLine, Start, Stop
from shipworthy.model.time import Clock, Moment
from shipworthy.model.words import Ending, PowerCycle
from shipworthy.stress.log import SegmentLog

SLEPT_LEAST_S = 2.0
"""By which CLOCK_BOOTTIME has to run ahead of CLOCK_MONOTONIC: less is what reading both may be apart."""
ANNOUNCED, RETURNED, MISSING, COUNTED = (
    "power.announced",
    "power.returned",
    "power.missing",
    "drive.power-cycles",
)
DO = {
    PowerCycle.COLD_START: "power.do-cold-start",
    PowerCycle.WARM_RESTART: "power.do-warm-restart",
    PowerCycle.SLEEP: "power.do-sleep",
}


@dataclass(frozen=True)
class DriveCount:
    """How often a drive was given power, and how often power went without a word. None: it does not say."""

    place: str
    serial: str
    power_cycles: int | None
    unsafe_shutdowns: int | None

    @property
    def key(self) -> str:
        return self.serial or self.place


@dataclass(frozen=True)
class Awaited:
    """A restart that the log announces and has not seen. before: when the announcing segment ended.

    told: whether the run had ended to wait for it; else the announcement is the last that was written.
    """

    step: str
    power: PowerCycle
    before: Moment
    configuration: Configuration
    drives: tuple[DriveCount, ...]
    told: bool


@dataclass(frozen=True)
class Surroundings:
    """What the engine is given for power cycles. sync: returns when all that was written is on the disk."""

    sync: Callable[[], None] = lambda: None
    read_drives: Callable[[], tuple[DriveCount, ...]] = tuple
    awaited: Awaited | None = None


BARE = Surroundings()


def restarted(before: Moment, after: Moment) -> bool:
    """Whether the machine has started anew between two moments.

    Where the kernel gives its starts no id, only a monotonic clock that has gone back shows it.
    """
    if before.boot_id is not None and after.boot_id is not None:
        return before.boot_id != after.boot_id
    return after.monotonic_s < before.monotonic_s


def asleep_s() -> float:
    """Return for how many seconds the machine was suspended since it started (clock_gettime(2))."""
    return time.clock_gettime(time.CLOCK_BOOTTIME) - time.clock_gettime(time.CLOCK_MONOTONIC)


def wait_for_sleep(
    log: SegmentLog, before_s: float, seconds: float, hear: Callable[[], object], stop: threading.Event
) -> float | None:
    """Return for how long the machine slept, once it has; None if it did not in these seconds.

    before_s: what `asleep_s` said before the sleep was announced: it may have come at once.
    """
    asked_s = log.t_s()
    while log.t_s() - asked_s < seconds and not stop.is_set():
        hear()
        slept_s = asleep_s() - before_s
        if slept_s >= SLEPT_LEAST_S:
            return slept_s
    return None


def what_to_do(step: PlanStep) -> Progress:
    """Return what the person is told to do for a power cycle."""
    assert step.power is not None
    return progress(DO[step.power], step=step.step, within_s=step.seconds)


@dataclass
class PowerSteps:
    """The power cycles of one segment.

    began: the segment's start. hear: hears guard and stop meanwhile. see: reads the configuration and writes
    how it differs from the one given (None: from the segment's start).
    """

    log: SegmentLog
    show: Sink
    clock: Clock
    began: Moment
    around: Surroundings
    hear: Callable[[], object]
    see: Callable[[PlanStep, Configuration | None], None]
    stop: threading.Event

    def take_up(self, index: int, at: Sequence[PlanStep]) -> bool:
        """Look for the restart that was announced; return whether the step (`at`, if one is left) is done."""
        awaited = self.around.awaited
        if awaited is None or not at or at[0].step != awaited.step:
            return False
        if not restarted(awaited.before, self.began):
            if awaited.told:
                self._tell(MISSING, step=awaited.step, power=awaited.power.value)
            return False
        drives = self.around.read_drives()
        away_s = (self.began.utc - awaited.before.utc).total_seconds()
        cycled = power_cycled(awaited.drives, drives)
        self._tell_returned(at[0], awaited.before.boot_id, self.began.boot_id, away_s, cycled)
        self._count(at[0], drives)
        self.see(at[0], awaited.configuration)
        self.log.event("step.ended", values(step=awaited.step, index=index))
        return True

    def run(self, index: int, step: PlanStep) -> str:
        """Announce a power cycle, on the disk when this goes on. A sleep is waited for; a restart ends the
        segment. Return why the steps end here; empty if they go on."""
        assert step.power is not None
        named, boot_id = values(step=step.step, index=index), self.clock.now().boot_id
        before_s = asleep_s()
        self.log.event("step.began", named, seconds_s=step.seconds)
        self._count(step, self.around.read_drives())
        self.log.event(ANNOUNCED, values(step=step.step, power=step.power.value, boot_id=boot_id or ""))
        self.around.sync()
        if step.power is not PowerCycle.SLEEP:
            return ANNOUNCED
        self.show(what_to_do(step))
        slept_s = wait_for_sleep(self.log, before_s, step.seconds, self.hear, self.stop)
        if slept_s is not None:
            self._tell_returned(step, boot_id, self.clock.now().boot_id, slept_s, "unknown")
        elif self.stop.is_set():
            self.log.event("step.cut-short", named, why="person")
            return "person"
        else:
            self._tell(MISSING, step=step.step, power=step.power.value)
        self.see(step, None)
        self.log.event("step.ended", named)
        return ""

    def _tell_returned(
        self, step: PlanStep, before: str | None, after: str | None, away_s: float, cycled: str
    ) -> None:
        assert step.power is not None
        self._tell(
            RETURNED,
            step=step.step,
            power=step.power.value,
            boot_id_before=before or "",
            boot_id=after or "",
            away_s=round(away_s, 1),
            drives_power_cycled=cycled,
        )

    def _tell(self, code: str, **named: Scalar) -> None:
        """Write an event down, and show it."""
        self.log.event(code, values(**named))
        self.show(progress(code, **named))

    def _count(self, step: PlanStep, drives: Iterable[DriveCount]) -> None:
        for drive in drives:
            if drive.power_cycles is not None:
                named = values(
                    step=step.step, place=drive.place, serial=drive.serial, power_cycles=drive.power_cycles
                )
                if drive.unsafe_shutdowns is not None:
                    named += values(unsafe_shutdowns=drive.unsafe_shutdowns)
                self.log.event(COUNTED, named)


def power_cycled(before: Iterable[DriveCount], after: Iterable[DriveCount]) -> str:
    """Say whether the drives that were counted both times had lost power: yes, no, some, or unknown."""
    was = {drive.key: drive.power_cycles for drive in before}
    rose = {
        drive.power_cycles > counted
        for drive in after
        if drive.power_cycles is not None and (counted := was.get(drive.key)) is not None
    }
    if not rose:
        return "unknown"
    return "some" if len(rose) == 2 else "yes" if True in rose else "no"


def awaited_in(segments: Iterable[tuple[LogLine, ...]]) -> Awaited | None:
    """Return the restart that a run's segments announce and have not seen; None if none is open.

    A sleep is never awaited: the engine that announced it waits for it, and one that did not live to see the
    end of it shows an unannounced restart.
    """
    found: Awaited | None = None
    for lines in segments:
        counted: list[DriveCount] = []
        for line in lines:
            if not isinstance(line, Event):
                continue
            said: dict[str, Any] = {value.name: value.value for value in line.values}
            if line.code == COUNTED:
                counted.append(_counted(said))
            elif line.code == ANNOUNCED and said["power"] != PowerCycle.SLEEP.value:
                found = _awaited(lines, said, counted)
                counted = []
            elif line.code in (RETURNED, "step.ended") and found and said.get("step") == found.step:
                found = None
    return found


def _counted(said: dict[str, Any]) -> DriveCount:
    return DriveCount(said["place"], said["serial"], said["power_cycles"], said.get("unsafe_shutdowns"))


def _awaited(lines: tuple[LogLine, ...], said: dict[str, Any], counted: list[DriveCount]) -> Awaited | None:
    start, last = lines[0], lines[-1]
    if not isinstance(start, Start):
        return None
    return Awaited(
        step=said["step"],
        power=PowerCycle(said["power"]),
        before=last_moment(lines),
        configuration=start.configuration,
        drives=tuple(counted),
        told=isinstance(last, Stop) and last.ending is Ending.AWAITING_POWER,
    )


def last_moment(lines: tuple[LogLine, ...]) -> Moment:
    """Return the moment of a segment's last line.

    Without a stop line it is that of the start and the monotonic seconds since, so that a wall clock that was
    set meanwhile bends nothing.
    """
    start, last = lines[0], lines[-1]
    assert isinstance(start, Start), "only a segment that has its first line has a time"
    if isinstance(last, Stop):
        return last.at
    t_s = max((line.t_s for line in lines if not isinstance(line, Start | Columns)), default=0.0)
    return Moment(
        utc=start.at.utc + timedelta(seconds=t_s),
        boot_id=start.at.boot_id,
        monotonic_s=start.at.monotonic_s + t_s,
        clock_synchronised=start.at.clock_synchronised,
    )
