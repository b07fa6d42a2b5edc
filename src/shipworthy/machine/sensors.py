"""Which sensors a machine has, and their values: by device, or one row of them all."""

from __future__ import annotations

import re
from collections.abc import Callable

from shipworthy.machine.capture.files import read_file
from shipworthy.machine.capture.nvidia_stream import NvidiaStream, tool_of
from shipworthy.machine.capture.sensors import capture
from shipworthy.machine.capture.value_file import ValueFile
from shipworthy.machine.parse.sensors.drivers import part_of_driver
from shipworthy.machine.parse.sensors.nvidia import TOOL as NVIDIA_SMI
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
from shipworthy.machine.sensors_graphics import (
    NvidiaCard,
    drm_reader,
    graphics_columns,
    is_drm,
    is_nvidia,
)
from shipworthy.machine.sensors_links import function_of, is_link, link_columns, link_reader
from shipworthy.machine.sensors_readers import Plain, Values
from shipworthy.model.runlog import Column
from shipworthy.model.time import Clock, SystemClock
from shipworthy.model.words import PartKind

MOST_KEPT_OPEN = 384
"""Descriptors kept between samples; files beyond are opened each time. Common practice: 1024 a process."""
_MOST_STAT_BYTES = 256 << 10
_DEVICE = re.compile(
    r"(/sys/class/(?:drm|hwmon|thermal|powercap)/[^/:]+)|/sys/devices/system/cpu/cpu\d+/(\w+)/"
)


def list_columns(root: Root) -> tuple[Column, ...]:
    """Return a column for each sensor that the machine has: temperatures, fans, power, clocks, utilisation,
    counters of throttling, whether a graphics card is slowed down, and the links of cards and NVMe drives. A
    sensor that is there and gives nothing has its column all the same. Of NVIDIA's cards those of a live
    machine only: their tool is asked.
    """
    return (*columns(tuple(capture(root))), *graphics_columns(root), *link_columns(root))


def measured_part(root: Root, column: Column) -> PartKind | None:
    """Return the part whose own sensor a temperature is: processor or graphics; None for all others."""
    if is_nvidia(column):
        return PartKind.GRAPHICS
    folder = column.source.rpartition("/")[0]
    name = "type" if "/thermal/" in column.source else "name"
    for path in (f"{folder}/{name}", f"{folder}/device/{name}"):
        driver = read_file(root, path).data.decode("ascii", "replace").strip()
        if driver:
            return part_of_driver(driver)
    return None


def device_of(column: Column) -> str:
    """Return what answers for a column: the chip, the card, the zone, /proc/stat, all clocks, the end of a
    link. What keeps one column of it waiting keeps all of them."""
    if is_nvidia(column):
        return f"{NVIDIA_SMI} {column.place}"
    if is_link(column):
        return function_of(column)
    match = _DEVICE.match(column.source)
    return (match[1] or match[2]) if match else column.source


class Device:
    """The columns of one device, read one after the other by one thread at a time."""

    def __init__(self, name: str, at: tuple[int, ...], readers: tuple[Callable[[], Values], ...]) -> None:
        self.name = name
        self.at = at  # where its columns stand in the row
        self._readers = readers

    def read(self) -> Values:
        """Return a value for each column; None for one that gave nothing or what cannot be so."""
        return tuple(value for reader in self._readers for value in reader())


def devices(
    root: Root, columns: tuple[Column, ...], clock: Clock | None = None
) -> tuple[Device | NvidiaCard, ...]:
    """Return the columns by device. Every column belongs to exactly one."""
    clock = clock if clock is not None else SystemClock()
    groups: dict[str, list[int]] = {}
    for at, column in enumerate(columns):
        groups.setdefault(device_of(column), []).append(at)
    tool = tool_of(root) if any(map(is_nvidia, columns)) else None
    stream = NvidiaStream(tool, clock.monotonic_s) if tool is not None else None
    return tuple(_device(root, name, at, columns, clock, stream) for name, at in groups.items())


def _device(
    root: Root,
    name: str,
    at: list[int],
    columns: tuple[Column, ...],
    clock: Clock,
    stream: NvidiaStream | None,
) -> Device | NvidiaCard:
    own = [columns[i] for i in at]
    if is_nvidia(own[0]) and stream is not None:
        return NvidiaCard(name, tuple(at), own, stream)
    if name == STAT:
        return Device(name, tuple(at), (_Utilisation(root, own),))
    if is_link(own[0]):
        return Device(name, tuple(at), (link_reader(root, own, keep=at[-1] < MOST_KEPT_OPEN),))
    if is_drm(own[0]):
        return Device(name, tuple(at), (drm_reader(root, own, keep=at[-1] < MOST_KEPT_OPEN),))
    readers = tuple(_reader(root, columns[i], clock, keep=i < MOST_KEPT_OPEN) for i in at)
    return Device(name, tuple(at), readers)


class Sampler:
    """Reads a row of the columns, one device after the other. It keeps what it needs to turn counters into
    rates: power and utilisation are means since the sample before, and None in the first."""

    def __init__(self, root: Root, columns: tuple[Column, ...], clock: Clock | None = None) -> None:
        self._width, self._devices = len(columns), devices(root, columns, clock)

    def sample(self) -> Values:
        """Return a value for each column; None for one that gave nothing or what cannot be so."""
        row: list[float | None] = [None] * self._width
        for device in self._devices:
            for at, value in zip(device.at, device.read(), strict=True):
                row[at] = value
        return tuple(row)


def _reader(root: Root, column: Column, clock: Clock, *, keep: bool) -> Callable[[], Values]:
    file = ValueFile(root, column.source, keep=keep)
    if column.source.endswith("/energy_uj"):
        return _MeanPower(root, column.source, file, clock)
    if column.quantity == "clock":
        per_mhz = 1_000_000 if "/hwmon/" in column.source else 1_000
        return Plain(file, lambda text: clock_mhz(text, per_mhz))
    meaning = {"temperature": temperature_c, "fan": fan_rpm, "power": power_w}.get(column.quantity, _count)
    return Plain(file, meaning)


class _Utilisation:
    """The share of the time in which each processor was busy since the sample before."""

    def __init__(self, root: Root, columns: list[Column]) -> None:
        self._file = ValueFile(root, STAT, most_bytes=_MOST_STAT_BYTES)
        self._cpus = [int(column.place.rpartition(":")[2]) for column in columns]
        self._busy: dict[int, tuple[int, int]] = {}

    def __call__(self) -> Values:
        before, self._busy = self._busy, cpu_times(self._file.data().partition(b"\nintr ")[0])
        return tuple(_share(before.get(cpu), self._busy.get(cpu)) for cpu in self._cpus)


def _share(before: tuple[int, int] | None, now: tuple[int, int] | None) -> float | None:
    if before is None or now is None or now[1] <= before[1]:
        return None
    return round(min(max((now[0] - before[0]) / (now[1] - before[1]), 0.0), 1.0), 4)


class _MeanPower:
    """Energy since the sample before over the time since then; the counter wraps at its range."""

    def __init__(self, root: Root, source: str, file: ValueFile, clock: Clock) -> None:
        self._file, self._clock = file, clock
        self._range_file = ValueFile(root, source.replace("energy_uj", "max_energy_range_uj"), keep=False)
        self._before: tuple[int, float] | None = None
        self._range: int | None = None

    def __call__(self) -> Values:
        now_s, text = self._clock.monotonic_s(), self._file.text()
        if not text.isdecimal():
            self._before = None
            return (None,)
        before, self._before = self._before, (int(text), now_s)
        if before is None or now_s <= before[1]:
            return (None,)
        used = self._before[0] - before[0]
        if used < 0:
            wrap = self._wraps_at()
            if wrap is None:
                return (None,)
            used += wrap
        return (power_w(str(round(used / (now_s - before[1])))),)

    def _wraps_at(self) -> int | None:
        if self._range is None:
            text = self._range_file.text()
            self._range = int(text) if text.isdecimal() else None
        return self._range


def _count(text: str) -> float | None:
    return float(text) if text.isdecimal() else None
