"""The sampler on a recorded tree under full load: one JSON object on standard output.

    python bench/sampler.py [--channels 200] [--seconds 60] [--hz 4] [--no-load] [--moving]

The tree is written for this: chips of twelve channels each, processors with clock, utilisation and a counter
of throttling, an energy counter. With --moving, a process of its own replaces a quarter of the temperatures'
files between any two samples, as the simulated unit does: each has to be opened anew. Products of numpy, a
process each, are pinned on all processors but the last, which is left to the sampler. `core_ratio` is the
processor time of all of the sampler's threads (reading, composing, encoding and writing the rows) over wall
time; `late_ms` are quantiles of how long after its beat a sample was taken.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from shipworthy.machine.root import Root
from shipworthy.machine.sensors import devices, list_columns
from shipworthy.model.base import encode
from shipworthy.model.runlog import LogLine, Row
from shipworthy.model.time import SystemClock
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.sampling import Sampling

PER_CHIP, PER_CPU = 12, 3
LOAD = """
import os, sys
os.environ["OPENBLAS_NUM_THREADS"] = "1"
os.sched_setaffinity(0, {int(sys.argv[1])}); os.nice(5)
import numpy
a = numpy.random.default_rng(1).random((1024, 1024))
while True: a @ a
"""
MOVER = """
import os, pathlib, random, sys, time
files = list(pathlib.Path(sys.argv[1]).glob("sys/devices/platform/*/hwmon/*/temp*_input"))
while time.sleep(0.25) is None:
    for file in random.sample(files, len(files) // 4):
        new = file.with_name("new")
        new.write_text(f"{random.randrange(40_000, 60_000)}\\n")
        new.rename(file)
"""


def write(path: Path, text: object) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{text}\n")


def build(folder: Path, channels: int) -> None:
    """Write a tree with about so many channels: half of them in chips, half of processors."""
    cpus = channels // 2 // PER_CPU
    for cpu in range(cpus):
        at = folder / f"sys/devices/system/cpu/cpu{cpu}"
        write(at / "topology/physical_package_id", 0)
        write(at / "cpufreq/scaling_cur_freq", 3_600_000)
        write(at / "thermal_throttle/core_throttle_count", 0)
    write(folder / "proc/stat", "\n".join(f"cpu{n} 10 0 0 10 0 0 0 0 0 0" for n in range(cpus)))
    write(folder / "sys/class/powercap/intel-rapl:0/name", "package-0")
    write(folder / "sys/class/powercap/intel-rapl:0/energy_uj", 1)
    left = channels - cpus * PER_CPU - 1
    for chip in range(-(-left // PER_CHIP)):
        at = folder / f"sys/devices/platform/chip.{chip}/hwmon/hwmon{chip}"
        write(at / "name", "tarn")
        for number in range(1, min(PER_CHIP, left - chip * PER_CHIP) + 1):
            write(at / f"temp{number}_input", 45_000 + number)
        (at / "device").symlink_to("../..")
        link = folder / f"sys/class/hwmon/hwmon{chip}"
        link.parent.mkdir(parents=True, exist_ok=True)
        link.symlink_to(os.path.relpath(at, link.parent))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--channels", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--hz", type=float, default=4.0)
    parser.add_argument("--no-load", action="store_true")
    parser.add_argument("--moving", action="store_true")
    asked = parser.parse_args()
    *loaded, left = sorted(os.sched_getaffinity(0))
    loads = [] if asked.no_load else [subprocess.Popen([sys.executable, "-c", LOAD, str(n)]) for n in loaded]
    os.sched_setaffinity(0, {left})
    try:
        with tempfile.TemporaryDirectory() as name:
            time.sleep(2.0)
            print(json.dumps(measure(Path(name), asked), indent=2))
    finally:
        for load in loads:
            load.kill()


def measure(folder: Path, asked: argparse.Namespace) -> dict[str, object]:
    build(folder, asked.channels)
    hz = asked.hz
    root = Root(folder)
    columns = list_columns(root)
    times: list[float] = []
    empty = 0
    movers = [subprocess.Popen([sys.executable, "-c", MOVER, str(folder)])] if asked.moving else []
    for mover in movers:
        os.sched_setaffinity(mover.pid, range(os.cpu_count() or 1))

    with (folder / "log").open("wb", buffering=0) as file:

        def keep(line: LogLine) -> None:
            nonlocal empty
            file.write(encode(line) + b"\n")
            if isinstance(line, Row):
                times.append(line.t_s)
                empty += any(value is None for value in line.v[-PER_CHIP:])

        log = SegmentLog(keep, SystemClock())
        before, began_s = used_s(), time.monotonic()
        with Sampling(columns, devices(root, columns), hz, log):
            time.sleep(asked.seconds)
        took_s, cpu_s = time.monotonic() - began_s, used_s() - before
    for mover in movers:
        mover.kill()
        mover.wait()
    beats = [round((t_s - times[0]) * hz) / hz + times[0] for t_s in times]
    late = sorted(abs(t_s - beat_s) * 1000 for t_s, beat_s in zip(times, beats, strict=True))
    return {
        "channels": len(columns),
        "hz": hz,
        "rows": len(times),
        "rows_expected": round(took_s * hz),
        "rows_incomplete": empty,
        "core_ratio": round(cpu_s / took_s, 5),
        "within_50_ms_ratio": round(sum(ms <= 50 for ms in late) / max(len(late), int(took_s * hz)), 4),
        "late_ms": {"median": round(statistics.median(late), 2), "worst": round(late[-1], 2)},
    }


def used_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
