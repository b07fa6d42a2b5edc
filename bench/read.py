"""How long a full reading of this machine takes, with its raw files kept in memory: median of several runs.

    python bench/read.py [--runs N] [--from FOLDER]

Prints one JSON object. The goal is under 0.5 s once the interpreter is up; `import_s` is what the first
reading in a process pays on top. configuration_s: the quick reading around each burn-in step. sample_s:
one row of all sensors. children: processes that one full reading started, by the interpreter's audit events,
of which three are the most; numpy: whether anything imported it, which nothing should. Exit code 1 where one
of the two does not hold; time is only shown, as machines are shared.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

GOAL_S, MOST_CHILDREN = 0.5, 3
STARTS = frozenset(("subprocess.Popen", "os.posix_spawn", "os.fork", "os.forkpty", "os.exec", "os.system"))
"""Audit events of a new process. `subprocess` raises its own before it forks, which raises none."""

started: list[str] = []


def watch(event: str, arguments: tuple[object, ...]) -> None:
    """Keep the event and what is started, of those that start a process."""
    if event in STARTS:
        started.append(f"{event} {arguments[0]!r}" if arguments else event)


def median_s(runs: int, work: Callable[[], object]) -> tuple[float, float]:
    """Return the median and the longest of the runs, in seconds."""
    times: list[float] = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return statistics.median(times), max(times)


def main() -> int:
    """Return 0 if a reading starts few processes and has no numpy."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--from", dest="folder", type=Path, default=Path("/"))
    arguments = parser.parse_args()

    began = time.perf_counter()
    from shipworthy.machine.reading import read_configuration, take_reading
    from shipworthy.machine.root import Root
    from shipworthy.machine.sensors import Sampler, list_columns
    from shipworthy.model.time import SystemClock

    import_s = time.perf_counter() - began
    root, clock = Root(arguments.folder), SystemClock()
    sys.addaudithook(watch)
    kept: dict[str, bytes] = {}
    began = time.perf_counter()
    reading = take_reading(root, kept.__setitem__, nonce=None, clock=clock)
    first_s = time.perf_counter() - began
    children = list(started)
    median, longest = median_s(
        arguments.runs, lambda: take_reading(root, kept.__setitem__, nonce=None, clock=clock)
    )
    configuration, _ = median_s(arguments.runs, lambda: read_configuration(root, clock))
    columns = list_columns(root)
    sample, _ = median_s(arguments.runs, Sampler(root, columns).sample)
    print(
        json.dumps(
            {
                "what": "read",
                "runs": arguments.runs,
                "import_s": round(import_s, 4),
                "first_s": round(first_s, 4),
                "median_s": round(median, 4),
                "longest_s": round(longest, 4),
                "configuration_s": round(configuration, 4),
                "sample_s": round(sample, 5),
                "columns": len(columns),
                "sources": len(reading.sources),
                "parts": len(reading.parts),
                "raw_bytes": sum(len(data) for name, data in kept.items() if name.startswith("raw/")),
                "children": children,
                "numpy": "numpy" in sys.modules,
                "goal_s": GOAL_S,
            }
        )
    )
    return 1 if len(children) > MOST_CHILDREN or "numpy" in sys.modules else 0


if __name__ == "__main__":
    sys.exit(main())
