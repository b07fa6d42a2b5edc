"""Each load beside its limit, in alternating stretches of time: one JSON object on standard output.

    python bench/loads.py [--pairs 9] [--stretch 2.0] [--loads matrix march storage]

All processes of a load work by one clock: stretch 0 checks its results, stretch 1 is the bare limit, and so
on; a pair is two neighbours. The pair with the median ratio is printed, so that a shared host disturbs
both sides of it alike. Storage is told apart into writing and reading.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from shipworthy.machine.root import LIVE
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.storage import COMPARED, WRITTEN, StorageWork
from shipworthy.stress.protocol import Block, Ground, Job
from shipworthy.stress.registry import find_load

GIB = 2**30
REQUESTS = {
    "matrix": LoadRequest(load="matrix"),
    "march": LoadRequest(load="march", memory_share=0.5, memory_cap_bytes=2 * GIB),
    "storage": LoadRequest(load="storage", write_budget_bytes=GIB),
}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--stretch", type=float, default=2.0, help="seconds of each stretch")
    parser.add_argument("--loads", nargs="+", default=list(REQUESTS), choices=list(REQUESTS))
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()))
    parser.add_argument("--child", nargs=2, metavar=("LOAD", "TARGET"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        load, target = asked.child
        print(json.dumps(_work(_job(load, target, asked.folder), asked.pairs, asked.stretch)))
        return
    found: dict[str, Any] = {}
    for load in asked.loads:
        found |= _storage(asked) if load == "storage" else {load: _pairs(load, asked)}
    print(json.dumps(found, indent=2))


def _job(load: str, target: str, folder: Path) -> Job:
    return Job(
        step="bench",
        load=load,
        target=target,
        request=REQUESTS[load],
        seed=1,
        work_folder=str(folder),
        memory_reserve_bytes=512 * 2**20,
        disk_reserve_bytes=GIB,
    )


def _pairs(name: str, asked: argparse.Namespace) -> dict[str, Any]:
    """Run a load's processes side by side and return the median pair."""
    load = find_load(name).load
    options = ["--pairs", str(asked.pairs), "--stretch", str(asked.stretch), "--folder", str(asked.folder)]
    children = [
        subprocess.Popen(
            [sys.executable, __file__, *options, "--child", name, target.name],
            env=os.environ | {v.name: str(v.value) for v in target.environment},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for target in load.targets(REQUESTS[name], Ground(work_folders=(str(asked.folder),)), LIVE)
    ]
    for child in children:
        assert child.stdout is not None
        child.stdout.readline()  # it is ready
    begin_s = time.monotonic() + 0.5
    for child in children:
        assert child.stdin is not None
        child.stdin.write(f"{begin_s!r}\n")
        child.stdin.flush()
    rates = [json.loads(child.communicate()[0]) for child in children]
    summed = [[sum(side) for side in zip(*pair, strict=True)] for pair in zip(*rates, strict=True)]
    return _median_pair(summed, load.about.unit_of_work + " a second")


def _work(job: Job, pairs: int, stretch_s: float) -> list[tuple[float, float]]:
    """Return (rate, limit) of each pair, in units a second, of one process."""
    if job.target.startswith("cpu:"):
        os.sched_setaffinity(0, {int(job.target.removeprefix("cpu:"))})
    work = find_load(job.load).load.open(job)
    print("ready", flush=True)
    begin_s = float(sys.stdin.readline())
    rates = []
    for pair in range(pairs):
        begin = begin_s + 2 * pair * stretch_s
        time.sleep(max(0.0, begin - time.monotonic()))
        checked = _stretch(work, work.block, begin + stretch_s)
        time.sleep(max(0.0, begin + stretch_s - time.monotonic()))
        bare = _stretch(work, work.bare_block, begin + 2 * stretch_s)
        rates.append((_rate(checked), _rate(bare)))
    work.close()
    return rates


def _stretch(work: Any, block: Any, until_s: float) -> list[Block]:
    """Do blocks until the time is over; a load that can only be bare between two rounds is brought there."""
    done: list[Block] = []
    while time.monotonic() < until_s or not done:
        if (one := block()) is not None:
            done.append(one)
        else:
            work.block()
    return done


def _rate(blocks: list[Block]) -> float:
    assert not any(block.wrong for block in blocks), "a wrong result: this machine is not sound"
    return sum(block.work for block in blocks) / sum(block.seconds for block in blocks)


def _storage(asked: argparse.Namespace) -> dict[str, Any]:
    """Pairs of whole passes over the file: written and then read, each beside the same bare transfers."""
    writing, reading = [], []
    for _ in range(asked.pairs):
        work = find_load("storage").load.open(_job("storage", "storage", asked.folder))
        assert isinstance(work, StorageWork)
        bare = [work.bare_block()]
        checked = []
        while work.writing:
            checked.append(work.block())
        writing.append((_rate(checked), _rate([block for block in bare if block])))
        checked, bare = [], []
        until_s = time.monotonic() + 2 * asked.stretch
        while time.monotonic() < until_s:
            checked.append(work.block())
            while sum(b.seconds for b in bare if b) < sum(c.seconds for c in checked):
                bare.append(work.bare_block())
        reading.append((_rate(checked), _rate([block for block in bare if block])))
        work.close()
    return {
        "storage write": _median_pair(writing, WRITTEN + " a second"),
        "storage read": _median_pair(reading, COMPARED + " a second"),
    }


def _median_pair(pairs: Any, unit: str) -> dict[str, Any]:
    ordered = sorted(pairs, key=lambda pair: pair[0] / pair[1])
    rate, limit = ordered[len(ordered) // 2]
    ratios = [round(r / b, 3) for r, b in pairs]
    return {
        "rate": rate,
        "limit": limit,
        "ratio": round(rate / limit, 3),
        "unit": unit,
        "ratios": ratios,
        "spread": round(statistics.pstdev(ratios), 3),
    }


if __name__ == "__main__":
    main()
