"""What this machine's graphics cards tell while they are sampled: one JSON object on standard output.

    python bench/graphics.py [--seconds 30]

For a real card, idle or under a load of somebody else's: nothing here loads it. Of each column the lowest,
median and highest value and the share of the samples that have one; of NVIDIA's stream the time between two
lines and what the tool costs; `required` are the places that the guard stops for when they fall silent.
`critical_c` is listed before and after: where a card tells margins instead of limits it is computed of them,
and should not move with the heat.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import sys
import time
from itertools import pairwise

from shipworthy.machine.root import LIVE
from shipworthy.machine.sensors import devices, list_columns, measured_part
from shipworthy.machine.sensors_graphics import NvidiaCard, is_drm, is_nvidia
from shipworthy.model.runlog import Column, LogLine, Row
from shipworthy.model.time import SystemClock
from shipworthy.model.words import PartKind
from shipworthy.stress.limits import temperature_columns
from shipworthy.stress.log import SegmentLog
from shipworthy.stress.sampling import Sampling
from shipworthy.stress.watch import required_of

HZ = 4.0


def main() -> int:
    """Return 0 if a graphics card gave anything."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seconds", type=float, default=30.0)
    seconds = parser.parse_args().seconds
    began_s = time.monotonic()
    columns = graphics()
    listed_s = time.monotonic() - began_s
    before = {column.place: column.critical for column in temperature_columns(columns)}
    rows, taken_s, used = sampled(columns, seconds)
    steps = [later - earlier for earlier, later in pairwise(taken_s)]
    temperatures = temperature_columns(list_columns(LIVE))
    groups = required_of(LIVE, temperatures)
    print(
        json.dumps(
            {
                "listed_s": round(listed_s, 3),
                "rows": len(rows),
                "columns": [told(column, [row[at] for row in rows]) for at, column in enumerate(columns)],
                "lines": len(taken_s),
                "between_lines_s": {
                    "median": round(statistics.median(steps), 3) if steps else None,
                    "worst": round(max(steps), 3) if steps else None,
                },
                **used,
                "required": [temperatures[group[0]].place for group in groups],
                "critical_c": {"before": before, "after": {c.place: c.critical for c in temperatures}},
            },
            indent=2,
        )
    )
    return 0 if any(value is not None for row in rows for value in row) else 1


def graphics() -> tuple[Column, ...]:
    """Return the columns of graphics cards, their hwmon chips' among them."""
    listed = list_columns(LIVE)
    return tuple(c for c in listed if is_nvidia(c) or is_drm(c) or is_graphics_chip(c))


def is_graphics_chip(column: Column) -> bool:
    """Return whether a column is of an hwmon chip that sits in a graphics card."""
    return "/hwmon/" in column.source and measured_part(LIVE, column) is PartKind.GRAPHICS


def sampled(
    columns: tuple[Column, ...], seconds: float
) -> tuple[list[tuple[float | None, ...]], list[float], dict[str, float]]:
    """Return the rows, when lines of NVIDIA's first card came, and what both processes used of a core."""
    lines: list[LogLine] = []
    found = devices(LIVE, columns)
    card = next((device for device in found if isinstance(device, NvidiaCard)), None)
    taken_s: list[float] = []
    before, began_s = used_s(), time.monotonic()
    with Sampling(columns, found, HZ, SegmentLog(lines.append, SystemClock())) as sampling:
        while time.monotonic() - began_s < seconds:
            if card is not None and card.taken_s and card.taken_s not in taken_s[-1:]:
                taken_s.append(card.taken_s)
            time.sleep(0.02)
        sampling.check()
        own_s = used_s()[0] - before[0]
    time.sleep(1.0)  # the tool is waited for, and counts then
    took_s = time.monotonic() - began_s
    used = {
        "sampler_core_ratio": round(own_s / took_s, 5),
        "tool_core_ratio": round((used_s()[1] - before[1]) / took_s, 5),
    }
    return [line.v for line in lines if isinstance(line, Row)], taken_s, used


def used_s() -> tuple[float, float]:
    """Return the processor time of this process and of its children that have ended."""
    of = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return of[0].ru_utime + of[0].ru_stime, of[1].ru_utime + of[1].ru_stime


def told(column: Column, values: list[float | None]) -> dict[str, object]:
    given = [value for value in values if value is not None]
    return {
        "column": f"{column.quantity} {column.place} {column.channel}",
        "given_ratio": round(len(given) / max(len(values), 1), 3),
        "lowest": min(given, default=None),
        "median": statistics.median(given) if given else None,
        "highest": max(given, default=None),
    }


if __name__ == "__main__":
    sys.exit(main())
