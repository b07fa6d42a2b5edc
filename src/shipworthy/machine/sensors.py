"""Which sensors a machine has, and one row of their values at a time."""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.machine.capture.files import read_file
from shipworthy.machine.capture.sensors import capture
from shipworthy.machine.parse.sensors.source import (
    STAT,
    clock_mhz,
    columns,
    cpu_times,
    fan_rpm,
    power_w,
    temperature_c,
)
from shipworthy.machine.root import Root
from shipworthy.model.runlog import Column
from shipworthy.model.time import Clock, SystemClock

_MOST_VALUE_BYTES = 4096


def list_columns(root: Root) -> tuple[Column, ...]:
    """Return a column for each sensor that the machine has: temperatures, fans, power, clocks, utilisation,
    counters of throttling. A sensor that is there and gives nothing has its column all the same."""
    return columns(tuple(capture(root)))


class Sampler:
    """Reads a row of the columns. It keeps what it needs to turn counters into rates: power and utilisation
    are means since the sample before, and None in the first."""

    def __init__(self, root: Root, columns: tuple[Column, ...], clock: Clock | None = None) -> None:
        self._root, self._columns = root, columns
        self._clock = clock if clock is not None else SystemClock()
        self._energies: dict[str, tuple[int, float]] = {}
        self._ranges: dict[str, int | None] = {}
        self._busy: dict[int, tuple[int, int]] = {}
        self._readers = [self._reader(column) for column in columns]

    def sample(self) -> tuple[float | None, ...]:
        """Return a value for each column; None for one that gave nothing or what cannot be so."""
        before, self._before = self._busy, self._busy
        if any(column.source == STAT for column in self._columns):
            self._busy = cpu_times(read_file(self._root, STAT).data)
        self._before = before
        return tuple(reader() for reader in self._readers)

    def _text(self, source: str) -> str:
        return read_file(self._root, source, _MOST_VALUE_BYTES).data.decode("ascii", "replace").strip()

    def _reader(self, column: Column) -> Callable[[], float | None]:
        source = column.source
        if column.quantity == "utilisation":
            cpu = int(column.place.rpartition(":")[2])
            return lambda: self._utilisation_ratio(cpu)
        if source.endswith("/energy_uj"):
            return lambda: self._mean_power_w(source)
        if column.quantity == "clock":
            per_mhz = 1_000_000 if "/hwmon/" in source else 1_000
            return lambda: clock_mhz(self._text(source), per_mhz)
        meaning = {"temperature": temperature_c, "fan": fan_rpm, "power": power_w}.get(
            column.quantity, _count
        )
        return lambda: meaning(self._text(source))

    def _utilisation_ratio(self, cpu: int) -> float | None:
        before, now = self._before.get(cpu), self._busy.get(cpu)
        if before is None or now is None or now[1] <= before[1]:
            return None
        return round(min(max((now[0] - before[0]) / (now[1] - before[1]), 0.0), 1.0), 4)

    def _mean_power_w(self, source: str) -> float | None:
        """Energy since the sample before over the time since then; the counter wraps at its range."""
        now_s, text = self._clock.monotonic_s(), self._text(source)
        if not text.isdecimal():
            self._energies.pop(source, None)
            return None
        energy, before = int(text), self._energies.get(source)
        self._energies[source] = (energy, now_s)
        if before is None or now_s <= before[1]:
            return None
        used = energy - before[0]
        if used < 0:
            wrap = self._range(source)
            if wrap is None:
                return None
            used += wrap
        return power_w(str(round(used / (now_s - before[1]))))

    def _range(self, source: str) -> int | None:
        if source not in self._ranges:
            text = self._text(source.replace("energy_uj", "max_energy_range_uj"))
            self._ranges[source] = int(text) if text.isdecimal() else None
        return self._ranges[source]


def _count(text: str) -> float | None:
    return float(text) if text.isdecimal() else None
