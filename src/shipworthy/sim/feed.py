"""Move the unit's sensors while a run is on: the heat of the real loads, felt by an invented cooler.

Five times a second the feed reads how busy the host's lent CPUs were, and how much its drive moved, lets
the thermal model go on by the time that has passed, and writes the unit's sensor files. A file is
replaced by rename, so that a reader finds the old value or the new one and never half of one; a reader
has to open it each time, as everything does that reads sysfs by path.
"""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from shipworthy.machine.root import LIVE, SIMULATED_MARK, Root
from shipworthy.model.base import Trouble, read_bytes, read_record
from shipworthy.model.time import Clock, SystemClock
from shipworthy.sim import chips, pci, thermal
from shipworthy.sim.cpu import frequency_file, stat_text
from shipworthy.sim.parts import Fault, Processor, fitted
from shipworthy.sim.thermal import Activity, Heat
from shipworthy.sim.unit import USABLE_KIB, Mark, memory_text

BEATS_HZ = 5.0
_PULSES_A_BEAT = 5  # a sampler makes power from two counts of energy, so that counter must move finely
_SECTOR_BYTES = 512  # the unit of /proc/diskstats, whatever the drive's own sectors are
_LONGEST_STEP_S, _MOST_STEPS = 0.25, 400
_BUSY_FOR_FULL_CLOCK = 0.2
_HELD_BACK_KIB = 700_000
_WARM_C = 45.0  # of the processor, which rests at 38: then the case is warm, and a poor contact fails
_FRESH = "/.feed-value"  # beside the tree's folders: no reader lists it there


@dataclass(frozen=True)
class HostUse:
    """What the host has counted so far.

    busy and total: jiffies of each lent CPU (proc_stat(5)), idle, iowait and stolen time not busy. rows:
    its lines as they were. drive_bytes: moved by the drive since boot; None where it has no such device.
    """

    busy: tuple[int, ...]
    total: tuple[int, ...]
    rows: tuple[tuple[int, ...], ...]
    drive_bytes: int | None


class Feed:
    """The sensors' mover, as a context manager: `with Feed(root): …` runs it in a thread of its own.

    host: the machine whose CPUs, memory and disk are lent to the unit. Raises Trouble on entry if the
    folder is not a simulated unit or a lent CPU is gone, and on exit if the feed broke down meanwhile,
    since what was sampled after that did not move.
    """

    def __init__(self, root: Root, *, clock: Clock | None = None, host: Root = LIVE) -> None:
        self._root, self._host = root, host
        self._clock: Clock = clock or SystemClock()
        self._mark = read_record(root.path(SIMULATED_MARK), Mark)
        self._processor = fitted(frozenset(self._mark.faults)).processor
        self._heat = thermal.at_rest(len(self._mark.cpus))
        self._energy_uj = float(read_bytes(root.path(chips.ENERGY_FILE)))
        self._written: dict[str, str] = {}
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="simulated-unit-feed", daemon=True)
        self._broken: Exception | None = None
        self._activity = Activity((0.0,) * len(self._mark.cpus))
        self._last_s = self._counted_s = self._clock.monotonic_s()
        self._last_use = self._host_use()

    def __enter__(self) -> Self:
        self.beat()
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join()
        self._root.path(_FRESH).unlink(missing_ok=True)  # left over only where a write broke off
        if self._broken is not None and error is None:
            raise Trouble(
                f"the simulated unit's sensors stopped moving: {self._broken}",
                self._root.folder,
                "Leave its folder alone while it runs, and run it again.",
            ) from self._broken

    def beat(self) -> None:
        """Let the model catch up with the time that has passed, and write all that it moves."""
        now_s, use = self._clock.monotonic_s(), self._host_use()
        passed_s = now_s - self._last_s
        self._activity = activity_between(self._last_use, use, passed_s)
        steps = min(max(math.ceil(passed_s / _LONGEST_STEP_S), 1), _MOST_STEPS)
        for _ in range(steps):
            self._heat = thermal.step(self._heat, self._activity, passed_s / steps)
        self._last_s, self._last_use = now_s, use
        self.pulse()
        values = sensor_texts(self._heat) | clock_texts(self._processor, self._mark.cpus, self._activity)
        values |= {"/proc/stat": stat_text(self._mark.cpus, use.rows), "/proc/meminfo": self._memory()}
        if Fault.LINK_SLOW in self._mark.faults:
            values |= pci.drive_link_texts(whole=self._heat.package_c < _WARM_C)
        for locator, text in values.items():
            self._replace(locator, text)

    def pulse(self) -> None:
        """Count the energy drawn since the last pulse, by the activity last seen. It never runs back."""
        now_s = self._clock.monotonic_s()
        self._energy_uj += thermal.package_power_w(self._activity) * (now_s - self._counted_s) * 1e6
        self._counted_s = now_s
        self._replace(chips.ENERGY_FILE, f"{round(self._energy_uj) % chips.ENERGY_RANGE_UJ}\n")

    def _run(self) -> None:
        pulses = 0
        try:
            while not self._stop.wait(1 / BEATS_HZ / _PULSES_A_BEAT):
                pulses += 1
                if pulses % _PULSES_A_BEAT:
                    self.pulse()
                else:
                    self.beat()
        except Exception as error:
            self._broken = error

    def _host_use(self) -> HostUse:
        stat = _host_text(self._host, "/proc/stat")
        disks = _host_text(self._host, "/proc/diskstats", needed=False)
        return parse_use(stat, disks, self._mark.cpus, self._mark.device)

    def _memory(self) -> str:
        """Loads fill the host's memory, so the unit never claims to have more free than the host has."""
        rows = dict(row.split(":", 1) for row in _host_text(self._host, "/proc/meminfo").splitlines())
        host_kib = int(rows["MemAvailable"].split()[0])
        return memory_text(available_kib=min(host_kib, USABLE_KIB - _HELD_BACK_KIB))

    def _replace(self, locator: str, text: str) -> None:
        if self._written.get(locator) == text:
            return
        fresh = self._root.path(_FRESH)
        fresh.write_text(text, "ascii")
        fresh.replace(self._root.path(locator))
        self._written[locator] = text


def parse_use(stat: str, diskstats: str, cpus: tuple[int, ...], device: str) -> HostUse:
    """Return the counters of those CPUs and that device (`major:minor`).

    Source: proc_stat(5), the kernel's admin-guide/iostats (sectors of 512 bytes). Trouble if a CPU is
    not there.
    """
    rows = {fields[0]: fields[1:] for line in stat.splitlines() if (fields := line.split())}
    counted = []
    for cpu in cpus:
        if f"cpu{cpu}" not in rows:
            raise Trouble(
                f"CPU {cpu}, lent to the simulated unit, is not online", "/proc/stat", "Build the unit anew."
            )
        counted.append(tuple(int(field) for field in rows[f"cpu{cpu}"]))
    return HostUse(
        busy=tuple(sum(row[:3]) + sum(row[5:7]) for row in counted),
        total=tuple(sum(row[:8]) for row in counted),  # guest time is part of user time
        rows=tuple(counted),
        drive_bytes=_moved_bytes(diskstats, device),
    )


def _moved_bytes(diskstats: str, device: str) -> int | None:
    for line in diskstats.splitlines():
        fields = line.split()
        if len(fields) >= 10 and f"{fields[0]}:{fields[1]}" == device:
            return (int(fields[5]) + int(fields[9])) * _SECTOR_BYTES
    return None


def activity_between(before: HostUse, after: HostUse, passed_s: float) -> Activity:
    """Return what went on between two counts; a core whose count did not move was idle."""
    cores = tuple(
        min(max((after.busy[i] - before.busy[i]) / total, 0.0), 1.0)
        if (total := after.total[i] - before.total[i]) > 0
        else 0.0
        for i in range(len(after.busy))
    )
    if before.drive_bytes is None or after.drive_bytes is None or passed_s <= 0:
        return Activity(cores)
    return Activity(cores, max(after.drive_bytes - before.drive_bytes, 0) / passed_s)


def sensor_texts(heat: Heat) -> dict[str, str]:
    """Return what the chips' files show. coretemp and nvme give whole degrees (nvme of the kelvin scale)."""
    values = {
        f"{chips.PROCESSOR_CHIP}/temp1_input": round(heat.package_c) * 1000,
        f"{chips.DRIVE_CHIP}/temp1_input": round(heat.drive_c + 273.15) * 1000 - 273_150,
        f"{chips.BOARD_CHIP}/temp1_input": round(heat.board_c * 2) * 500,
        f"{chips.BOARD_CHIP}/fan1_input": round(heat.cpu_fan_rpm),
        f"{chips.BOARD_CHIP}/fan2_input": round(heat.case_fan_rpm),
    }
    for core, temperature_c in enumerate(heat.cores_c):
        locator = f"{chips.PROCESSOR_CHIP}/{chips.core_channel(core)}_input"
        values[locator] = round(temperature_c) * 1000
    return {locator: f"{value}\n" for locator, value in values.items()}


def clock_texts(processor: Processor, cpus: tuple[int, ...], activity: Activity) -> dict[str, str]:
    """Return each CPU's clock in kHz: lowest when idle, the all-core clock from a fifth of its time on."""
    texts = {}
    for cpu, use in zip(cpus, activity.cores, strict=True):
        share = min(use / _BUSY_FOR_FULL_CLOCK, 1.0)
        mhz = processor.min_mhz + share * (processor.all_core_mhz - processor.min_mhz)
        texts[frequency_file(cpu)] = f"{round(mhz) * 1000}\n"
    return texts


def _host_text(host: Root, locator: str, *, needed: bool = True) -> str:
    try:
        return host.path(locator).read_text("ascii")
    except OSError as error:
        if not needed:
            return ""
        raise Trouble(
            f"the simulated unit needs the host's {locator}: {error.strerror}", locator, "Run it on Linux."
        ) from error
