"""How long a full reading of this machine takes, with its raw files kept in memory: median of several runs.

    python bench/read.py [--runs N] [--from FOLDER]

Prints one JSON object. The goal is under 1 s once the interpreter is up; `import_s` is what the first
reading in a process pays on top. configuration_s: the quick reading around each burn-in step. sample_s:
one row of all sensors.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Callable
from pathlib import Path


def median_s(runs: int, work: Callable[[], object]) -> tuple[float, float]:
    """Return the median and the longest of the runs, in seconds."""
    times: list[float] = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return statistics.median(times), max(times)


def main() -> None:
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
    kept: dict[str, bytes] = {}
    began = time.perf_counter()
    reading = take_reading(root, kept.__setitem__, nonce=None, clock=clock)
    first_s = time.perf_counter() - began
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
                "goal_s": 1.0,
            }
        )
    )


if __name__ == "__main__":
    main()
