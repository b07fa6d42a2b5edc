"""The guard's eyes: temperatures against their limits, and sensors that must not fall silent."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import devices, list_columns, measured_part
from shipworthy.machine.sensors_graphics import sleeps
from shipworthy.model.plan import Limit
from shipworthy.model.runlog import Column
from shipworthy.stress import resources
from shipworthy.stress.limits import Crossing, first_crossing, limits_of, temperature_columns
from shipworthy.stress.readers import Device, Readers
from shipworthy.stress.silence import Silences

INTERVAL_S = 0.2
CONFIRM_S = 0.05  # from a reading over a limit to the one that confirms it
CONFIRM = 2  # readings of a sensor in a row, so that one garbled reading stops nothing
FIRST_S = 1.0  # in which a sensor that is there gives its first value
DOUBT_S = 1.0  # of silence, after which it is asked whether the part sleeps

Group = tuple[int, ...]


@dataclass(frozen=True)
class Silent:
    """A required part gives no temperature any more. column: the first of its sensors."""

    column: Column
    silent_s: float


class Watch:
    """What rows of temperatures mean. Takes rows from one thread, and is asked by another.

    required: groups of columns; one is silent when none of its columns that ever spoke gives a value, unless
    the part at its place `sleeps`: a graphics card that nothing uses gives none, and needs no guard.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        limits: Sequence[Limit],
        required: Sequence[Group] = (),
        sleeps: Callable[[str], bool] = lambda _: False,
    ) -> None:
        self._sleeps = sleeps
        self._columns, self._required = tuple(columns), tuple(required)
        self._lock = threading.Lock()
        self._silences = Silences(self._columns)
        self._over: dict[int, tuple[int, float]] = {}  # by column: readings over the limit, when the last
        self._crossing: Crossing | None = None
        self.hold_to(limits)

    def hold_to(self, limits: Sequence[Limit]) -> None:
        """From now on these limits hold, beside the devices' own."""
        with self._lock:
            self._limits = tuple(limits)
            bounds = [[limit.value for limit in limits_of(column, limits)] for column in self._columns]
            self._lowest = [min(values, default=float("inf")) for values in bounds]
            self._over, self._crossing = {}, None

    def crossing(self) -> Crossing | None:
        with self._lock:
            return self._crossing

    def doubtful(self) -> bool:
        """Return whether a reading was over a limit that no second one has confirmed yet."""
        with self._lock:
            return bool(self._over) and self._crossing is None

    def silent(self, now_s: float) -> Silent | None:
        """Return the required part that has been silent for longest; None if none is."""
        with self._lock:
            found = [one for group in self._required if (one := self._silent_of(group, now_s)) is not None]
        awake = [one for one in found if one.silent_s < DOUBT_S or not self._sleeps(one.column.place)]
        return max(awake, key=lambda one: one.silent_s, default=None)

    def spoke(self) -> bool:
        """Return whether any temperature has ever come."""
        with self._lock:
            return any(self._silences.spoke(at) for at in range(len(self._columns)))

    def look(self, row: Sequence[float | None], now_s: float, read_s: Sequence[float] | None = None) -> None:
        """Take a row and draw conclusions. read_s: when each value was read; None if all were just now."""
        with self._lock:
            self._silences.look(row, now_s)
            over = {
                at: self._count(at, now_s if read_s is None else read_s[at])
                for at, value in enumerate(row)
                if value is not None and value >= self._lowest[at]
            }
            self._over = over
            sure = [at for at, (count, _) in over.items() if count >= CONFIRM]
            self._crossing = first_crossing(
                [self._columns[at] for at in sure], [row[at] for at in sure], self._limits
            )

    def _count(self, at: int, read_s: float) -> tuple[int, float]:
        """A value that a slow sensor gave once and that stands in two rows is one reading."""
        count, last_s = self._over.get(at, (0, -1.0))
        return (count, last_s) if count and read_s == last_s else (count + 1, read_s)

    def _silent_of(self, group: Group, now_s: float) -> Silent | None:
        spoke = [at for at in group if self._silences.spoke(at)]
        if not spoke:
            return None
        return Silent(self._columns[spoke[0]], min(self._silences.silent_for_s(at, now_s) for at in spoke))


def required_of(root: Root, columns: Sequence[Column]) -> tuple[Group, ...]:
    """Return the temperatures without which nothing is to be loaded: a group for each processor and each
    graphics card that has its own. Where none is known as such, all together are one: the guard must see."""
    groups: dict[str, list[int]] = {}
    for at, column in enumerate(columns):
        if measured_part(root, column) is not None:
            groups.setdefault(column.place, []).append(at)
    return tuple(map(tuple, groups.values())) or ((tuple(range(len(columns))),) if columns else ())


class Eyes:
    """Threads that read temperatures, free memory and free disk space five times a second.

    Each sensor, and each of the others, may be slow or hang without keeping the rest (`readers`).
    """

    def __init__(
        self,
        root: Root,
        limits: Sequence[Limit],
        work_folders: Sequence[str],
        on_start: Callable[[], None] = lambda: None,
    ) -> None:
        self.columns = temperature_columns(list_columns(root))
        required = required_of(root, self.columns)
        self.watch = Watch(self.columns, limits, required, lambda place: sleeps(root, place))
        width = len(self.columns)
        floors = [Amount(width, lambda: float(resources.available_memory_bytes()))]
        for folder in work_folders:  # one that hangs, as a share whose server has gone, hides no other
            floors.append(Amount(width + len(floors), partial(_free_disk_bytes, folder)))
        self._width = width
        self.sensors: tuple[Device, ...] = devices(root, self.columns)
        self._readers = Readers((*self.sensors, *floors), INTERVAL_S, on_start=on_start)
        self._on_start = on_start
        self.failure: BaseException | None = None
        self.free_memory_bytes: float | None = None
        self.free_disk_bytes: float | None = None

    def open(self) -> bool:
        """Begin to look; return whether any temperature came soon."""
        threading.Thread(target=self._follow, name="temperatures", daemon=True).start()
        until_s = time.monotonic() + FIRST_S
        while self.columns and not self.watch.spoke() and time.monotonic() < until_s:
            time.sleep(0.02)
        return self.watch.spoke()

    def _follow(self) -> None:
        try:
            self._on_start()
            while True:
                began_s = time.monotonic()
                row = self._readers.row()
                self.watch.look(row[: self._width], time.monotonic(), self._readers.read_s())
                self.free_memory_bytes, *free = row[self._width :]
                self.free_disk_bytes = min((one for one in free if one is not None), default=None)
                beat_s = CONFIRM_S if self.watch.doubtful() else INTERVAL_S
                time.sleep(max(0.02, beat_s - (time.monotonic() - began_s)))
        except BaseException as failure:  # the guard ends on it, and the loads with the guard
            self.failure = failure


class Amount:
    """A number that has to be asked for like a sensor, and may hang like one (a drive that has gone)."""

    def __init__(self, at: int, ask: Callable[[], float]) -> None:
        self.at, self._ask = (at,), ask

    def read(self) -> tuple[float | None, ...]:
        return (self._ask(),)


def _free_disk_bytes(folder: str) -> float:
    try:
        return float(resources.free_disk_bytes(Path(folder)))
    except OSError:
        return 0.0  # a folder that has gone away is no place to write to
