"""Analysis of a long run log: 4 Hz, 60 columns. Prints JSON: seconds and peak memory for logs of some hours.

Reading (bytes to records) and analysis are told apart; linear is shown by seconds an hour of log. Reading
many lines at once stands beside reading each by itself, by turns on the same piece of the log; the ratio is
that of the median pair.
Run: python bench/analyse.py [hours ...]
"""

from __future__ import annotations

import json
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from shipworthy.analysis import Segment, analyse
from shipworthy.model.base import decode, encode, values
from shipworthy.model.orders import Order
from shipworthy.model.plan import LoadRequest, Plan, PlanStep
from shipworthy.model.reading import Configuration, Reading, Tool
from shipworthy.model.runlog import Column, Columns, Event, LogLine, Report, Row, Start, Stop, read_log
from shipworthy.model.time import Moment
from shipworthy.model.words import Ending, Unit

HZ, CPUS = 4.0, 16
PIECE_BYTES = 4_000_000
KINDS = (
    ("temperature", Unit.CELSIUS, 20, 60.0),
    ("utilisation", Unit.RATIO, CPUS, 1.0),
    ("clock", Unit.MEGAHERTZ, CPUS, 4200.0),
    ("fan", Unit.RPM, 6, 1100.0),
    ("power", Unit.WATTS, 2, 120.0),
)
TOOL = Tool(name="shipworthy", version="0")
CONFIGURATION = Configuration.of({"firmware/version": "F7"})


def at(seconds: float) -> Moment:
    utc = datetime(2026, 3, 2, tzinfo=UTC)
    return Moment(utc=utc, boot_id="one", monotonic_s=seconds, clock_synchronised=True)


def lines(hours: float) -> list[LogLine]:
    chance, end_s = random.Random(1), hours * 3600
    columns = tuple(
        Column(quantity=q, place=f"{q}:{n}", channel=f"{q}{n}", label=f"cpu {n}", unit=u, source="x")
        for q, u, count, _ in KINDS
        for n in range(count)
    )
    typical = [value for *_, count, value in KINDS for _ in range(count)]
    step = values(step="everything", index=0)
    found: list[LogLine] = [
        Start(
            run_id="run", segment=1, nonce="n", at=at(0.0), seed=1, tool=TOOL, simulated=False,
            plan_digest="sha512:" + "0" * 128, configuration=CONFIGURATION,
        ),
        Columns(columns=columns),
        Event(t_s=0.0, code="step.began", values=step),
        Event(t_s=0.0, code="step.under-load", values=step),
    ]  # fmt: skip
    for n in range(int(end_s * HZ)):
        found.append(
            Row(t_s=n / HZ, v=tuple(round(value * chance.uniform(0.97, 1.0), 3) for value in typical))
        )
        if n % 4 == 0:
            found += [
                Report(
                    t_s=n / HZ, step="everything", load="matrix", target=f"cpu:{cpu}", work=1e9,
                    unit_of_work="floating-point operations", seconds=1.0, checks=9, wrong=0,
                )
                for cpu in range(CPUS)
            ]  # fmt: skip
    found.append(Event(t_s=end_s, code="step.ended", values=step))
    found.append(Stop(at=at(end_s), t_s=end_s, ending=Ending.COMPLETED))
    return found


def faster_than_one_by_one(data: bytes, pairs: int = 5) -> float:
    """Return how many times as long it takes to read each line by itself, by the same strict rules."""
    kind: Any = LogLine

    def one_by_one() -> list[LogLine]:
        return [decode(line, kind, f"log, line {n}") for n, line in enumerate(data.split(b"\n")[:-1], 1)]

    def took(read: Callable[[], object]) -> float:
        began = time.perf_counter()
        read()
        return time.perf_counter() - began

    assert read_log(data, "log")[0] == one_by_one()
    ratios = [took(one_by_one) / took(lambda: read_log(data, "log")) for _ in range(pairs)]
    return round(statistics.median(ratios), 2)


def measure(hours: float, path: Path) -> dict[str, float]:
    data = path.read_bytes()
    faster = faster_than_one_by_one(data[: data.rindex(b"\n", 0, PIECE_BYTES) + 1])
    log_mb = round(len(data) / 1e6, 1)
    began = time.perf_counter()
    read, _ = read_log(data, "log")
    del data
    read_s = time.perf_counter() - began
    before_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    seconds = min(hours * 3600, 86_400.0)
    plan = Plan(
        plan_id="p",
        steps=(PlanStep(step="everything", seconds=seconds, loads=(LoadRequest(load="matrix"),)),),
    )
    reading = Reading(
        reading_id="r", nonce="n", taken=at(0), took_s=0.1, simulated=False, tool=TOOL, sources=(), parts=(),
        ports=(), configuration=CONFIGURATION,
    )  # fmt: skip
    order = Order(order_id="KD-1", shop="Kestrel Desk", units=("KD-1-1",), lines=())
    began = time.perf_counter()
    analysis = analyse(
        plan, [Segment(file="burn-in/log-001.jsonl", lines=tuple(read))], order, (), reading, ()
    )
    analyse_s = time.perf_counter() - began
    assert analysis.spans
    after_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {
        "hours": hours,
        "log_mb": log_mb,
        "read_s": round(read_s, 2),
        "read_one_by_one_ratio": faster,
        "analyse_s": round(analyse_s, 2),
        "analyse_s_an_hour": round(analyse_s / hours, 4),
        "analyse_more_mib": round((after_kib - before_kib) / 1024),
        "peak_mib": round(after_kib / 1024),
    }


def make(hours: float, path: Path) -> None:
    with path.open("wb") as file:
        file.writelines(encode(line) + b"\n" for line in lines(hours))


def main() -> None:
    """Make and measure each log in processes of their own: the peak of one must not hide that of another."""
    if sys.argv[1:2] == ["--make"]:
        make(float(sys.argv[2]), Path(sys.argv[3]))
    elif sys.argv[1:2] == ["--one"]:
        print(json.dumps(measure(float(sys.argv[2]), Path(sys.argv[3]))))
    else:
        with tempfile.TemporaryDirectory() as folder:
            path = f"{folder}/log-001.jsonl"
            for hours in sys.argv[1:] or ["1", "8", "24"]:
                for task in ("--make", "--one"):
                    subprocess.run([sys.executable, __file__, task, hours, path], check=True)


if __name__ == "__main__":
    main()
