"""Products of matrices beside the bare library, on all cores: one JSON object on standard output.

    python bench/loads_matrix.py [--pairs 9] [--stretch 4.0] [--rows matrix]

A process for each core, pinned, as in a burn-in. Each alternates a product as the load does it (change of
operands, digest, proof in its turn) with the same library's bare product of the same size, over and over; a
pair is some seconds of both, and as many rounds as there are cores, so that the proof has its share. The
sums of all cores are compared, and the median pair is told. `overhead`: share of the load's process time
that was no product. `process_time_ratio`: the same comparison by processor time, the cores' mean of their
median pairs, which other programs on a shared machine disturb less. The first row is of size 4096 or what
memory allows, the others of the load's usual size.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
import time
from typing import Any

from shipworthy.machine.root import LIVE
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.matrix import DEFAULT_SIZE, LOAD, MatrixWork
from shipworthy.stress.loads.matrix_size import size_for_memory
from shipworthy.stress.protocol import Block, Ground, Job

LARGE = 4096


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--stretch", type=float, default=4.0, help="seconds of each side of a pair, at least")
    parser.add_argument("--rows", nargs="+", default=list(_requests()), choices=list(_requests()))
    parser.add_argument("--child", nargs=3, metavar=("CPU", "PEERS", "ROW"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        number, peers, row = asked.child
        print(json.dumps(_work(int(number), int(peers), _requests()[row], asked.pairs, asked.stretch)))
    else:
        print(json.dumps(rows(asked.pairs, asked.stretch, tuple(asked.rows)), indent=2))


def rows(pairs: int, stretch_s: float, names: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return the row of each size and kind of number, or of those named."""
    return {row: _row(row, pairs, stretch_s) for row in names or _requests()}


def _requests() -> dict[str, LoadRequest]:
    told = os.environ.get("BENCH_MATRIX_SIZE")  # chosen once, by the parent
    cores, available_bytes = len(resources.usable_cpus()), resources.available_memory_bytes()
    size = int(told) if told else size_for_memory(cores, available_bytes, LARGE)
    return {
        "matrix": LoadRequest(load="matrix", size=size),
        f"matrix {DEFAULT_SIZE}": LoadRequest(load="matrix", size=DEFAULT_SIZE),
        f"matrix {DEFAULT_SIZE} float32": LoadRequest(load="matrix", size=DEFAULT_SIZE, variant="float32"),
    }


def _row(row: str, pairs: int, stretch_s: float) -> dict[str, Any]:
    request = _requests()[row]
    targets = LOAD.targets(request, Ground(work_folders=("",)), LIVE)
    options = ["--pairs", str(pairs), "--stretch", str(stretch_s)]
    children = [
        subprocess.Popen(
            [sys.executable, __file__, *options, "--child", str(number), str(len(targets)), row],
            env=os.environ
            | {v.name: str(v.value) for v in target.environment}
            | {"BENCH_MATRIX_SIZE": str(_requests()["matrix"].size)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for number, target in enumerate(targets)
    ]
    for child in children:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
    for child in children:
        assert child.stdin is not None
        child.stdin.write("go\n")
        child.stdin.flush()
    told = [json.loads(child.communicate()[0]) for child in children]
    summed = [
        (sum(one["rates"][pair] for one in told), sum(one["limits"][pair] for one in told))
        for pair in range(pairs)
    ]
    overheads = [one["overhead"] for one in told]
    return _median_pair(summed) | {
        "overhead": round(statistics.mean(overheads), 4),
        "process_time_ratio": round(statistics.mean(one["cpu_ratio"] for one in told), 4),
        "size": request.size,
        "cores": len(targets),
        "library": told[0]["library"],
    }


def _work(number: int, peers: int, request: LoadRequest, pairs: int, stretch_s: float) -> dict[str, Any]:
    os.sched_setaffinity(0, {resources.usable_cpus()[number]})
    work = LOAD.open(_job(number, peers, request))
    blocks = _blocks_a_side(work, peers, stretch_s)
    print("ready", flush=True)
    sys.stdin.readline()
    work.overhead_s = work.all_s = 0.0
    rates, limits, cpu = [], [], []
    for _ in range(pairs):
        checked, bare, checked_cpu_s, bare_cpu_s = [], [], 0.0, 0.0
        for _ in range(blocks):
            began_s = time.process_time()
            checked.append(work.block())
            between_s = time.process_time()
            bare.append(work.bare_block())
            checked_cpu_s += between_s - began_s
            bare_cpu_s += time.process_time() - between_s
        rates.append(_rate(checked))
        limits.append(_rate(bare))
        cpu.append(bare_cpu_s / checked_cpu_s)
    return {
        "rates": rates,
        "limits": limits,
        "cpu_ratio": statistics.median(cpu),
        "overhead": work.overhead_s / work.all_s,
        "library": work.kernel,
    }


def _job(number: int, peers: int, request: LoadRequest) -> Job:
    return Job(
        step="bench",
        load="matrix",
        target=f"cpu:{number}",
        request=request,
        seed=int(time.time()) // 86_400,  # other operands every day
        work_folder="",
        memory_reserve_bytes=0,
        disk_reserve_bytes=0,
        peers=peers,
        number=number,
    )


def _blocks_a_side(work: MatrixWork, peers: int, stretch_s: float) -> int:
    """Return how many products take that long; every core proves as many of them as any other."""
    whole_rounds = peers * work.products if peers > 1 else 2
    return whole_rounds * math.ceil(stretch_s / work.bare_block().seconds / whole_rounds)


def _rate(blocks: list[Block]) -> float:
    assert not any(block.wrong for block in blocks), "a wrong result: this machine is not sound"
    return sum(block.work for block in blocks) / sum(block.seconds for block in blocks)


def _median_pair(pairs: list[tuple[float, float]]) -> dict[str, Any]:
    rate, limit = sorted(pairs, key=lambda pair: pair[0] / pair[1])[len(pairs) // 2]
    ratios = [round(one / other, 3) for one, other in pairs]
    return {
        "rate": round(rate),
        "limit": round(limit),
        "ratio": round(rate / limit, 3),
        "unit": LOAD.about.unit_of_work + " a second",
        "ratios": ratios,
        "spread": round(statistics.pstdev(ratios), 3),
    }


if __name__ == "__main__":
    main()
