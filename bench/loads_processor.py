"""The processor's other loads beside their limits, in alternating stretches, as one JSON object.

    python bench/loads_processor.py [--pairs 9] [--stretch 2.0] [--loads arithmetic integers …]

As in bench/loads.py all processes of a load work by one clock: stretch 0 checks its results, stretch 1 is the
same work bare, and so on; a pair is two neighbours, and the pair with the median ratio is printed.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import time
from typing import Any

from shipworthy.machine.root import LIVE
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.protocol import Block, Ground, Job
from shipworthy.stress.registry import find_load

LOADS = ("arithmetic", "integers", "ciphers", "caches", "exchange")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--stretch", type=float, default=2.0, help="seconds of each stretch")
    parser.add_argument("--loads", nargs="+", default=list(LOADS), choices=LOADS)
    parser.add_argument("--child", nargs=3, metavar=("LOAD", "TARGET", "CPUS"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        load, target, cpus = asked.child
        os.sched_setaffinity(0, {int(cpu) for cpu in cpus.split(",")})
        print(json.dumps(_work(load, target, asked.pairs, asked.stretch)))
        return
    print(json.dumps({name: _pairs(name, asked) for name in asked.loads}, indent=2))


def _pairs(name: str, asked: argparse.Namespace) -> dict[str, Any]:
    """Run a load's processes side by side and return the median pair."""
    load = find_load(name).load
    options = ["--pairs", str(asked.pairs), "--stretch", str(asked.stretch)]
    children = [
        subprocess.Popen(
            [sys.executable, __file__, *options, "--child", name, t.name, ",".join(map(str, t.cpus))],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for t in load.targets(LoadRequest(load=name), Ground(work_folders=("",)), LIVE)
    ]
    if not children:
        return {"not run": "this load finds nothing to work on here"}
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


def _work(load: str, target: str, pairs: int, stretch_s: float) -> list[tuple[float, float]]:
    """Return (rate, limit) of each pair, in units a second, of one process."""
    job = Job(
        step="bench",
        load=load,
        target=target,
        request=LoadRequest(load=load),
        seed=1,
        work_folder="",
        memory_reserve_bytes=0,
        disk_reserve_bytes=0,
    )
    work = find_load(load).load.open(job)
    print("ready", flush=True)
    begin_s = float(sys.stdin.readline())
    rates = []
    for pair in range(pairs):
        begin = begin_s + 2 * pair * stretch_s
        checked = _stretch(work.block, begin, begin + stretch_s)
        bare = _stretch(work.bare_block, begin + stretch_s, begin + 2 * stretch_s)
        rates.append((_rate(checked), _rate(bare)))
    work.close()
    return rates


def _stretch(block: Any, from_s: float, until_s: float) -> list[Block]:
    time.sleep(max(0.0, from_s - time.monotonic()))
    done: list[Block] = []
    while time.monotonic() < until_s or not done:
        done.append(block())
    return done


def _rate(blocks: list[Block]) -> float:
    assert not any(block.wrong for block in blocks), "a wrong result: this machine is not sound"
    return sum(block.work for block in blocks) / sum(block.seconds for block in blocks)


def _median_pair(pairs: list[list[float]], unit: str) -> dict[str, Any]:
    rate, limit = sorted(pairs, key=lambda pair: pair[0] / pair[1])[len(pairs) // 2]
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
