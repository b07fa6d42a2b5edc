"""The storage load beside fio with direct transfers, in alternating pairs: one JSON object printed.

    python bench/loads_storage.py [--pairs 9] [--folder DIR] [--seconds 2]

fio (the reference; version 3 or newer) works on the very same file, which it opens by our descriptor, with
the same size of a block and as many under way: 1 MiB and 4 for passes, 4 KiB and 32 for random reads. Which
of the two goes first alternates. The pair with the median ratio is printed, with all ratios and their spread.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.storage import COMPARED, LOAD, PIECE_BYTES, RANDOM, WRITTEN, StorageWork
from shipworthy.stress.loads.storage_random import DEPTH as RANDOM_DEPTH
from shipworthy.stress.loads.storage_transfers import DEPTH
from shipworthy.stress.protocol import Job

GIB = 2**30
REST_S = 0.5  # before ours, as the drive rests while fio starts
Pair = tuple[float, float]


def storage_beside_fio(folder: Path, pairs: int = 9, seconds: float = 2.0) -> dict[str, dict[str, Any]]:
    """Return the median pair of writing, of verified reading, and of random reads bare and verified."""
    job = Job(
        step="bench",
        load="storage",
        target="storage",
        request=LoadRequest(load="storage", write_budget_bytes=GIB + 32 * PIECE_BYTES),
        seed=1,
        work_folder=str(folder),
        memory_reserve_bytes=0,
        disk_reserve_bytes=GIB,
    )
    work = LOAD.open(job)
    assert isinstance(work, StorageWork)
    try:
        _write(work)  # both write over blocks that are there already, as fio lays its file out first
        _fio(work, "write", PIECE_BYTES, DEPTH, seconds=0)
        passes = {
            "storage write": (lambda: _write(work), ("write", PIECE_BYTES, DEPTH, 0.0), WRITTEN),
            "storage read": (lambda: _read(work), ("read", PIECE_BYTES, DEPTH, 0.0), COMPARED),
            "random reads": (lambda: _random(work, seconds, False), _random_fio(seconds), "blocks read"),
            "random reads verified": (lambda: _random(work, seconds, True), _random_fio(seconds), RANDOM),
        }
        return {
            name: _median_pair([_pair(work, ours, theirs, n) for n in range(pairs)], f"{unit} a second")
            for name, (ours, theirs, unit) in passes.items()
        }
    finally:
        work.close()


def _random_fio(seconds: float) -> tuple[str, int, int, float]:
    return ("randread", 4096, RANDOM_DEPTH, seconds)


def _pair(
    work: StorageWork, ours: Callable[[], float], theirs: tuple[str, int, int, float], number: int
) -> Pair:
    if theirs[0] != "write":
        _write(work)  # the file holds our pattern
    if number % 2:
        limit = _fio(work, *theirs)
        time.sleep(REST_S)
        return ours(), limit
    time.sleep(REST_S)
    rate = ours()
    return rate, _fio(work, *theirs)


def _write(work: StorageWork) -> float:
    began_s = time.perf_counter()
    done = work.span.write(0, time.monotonic() + 600)
    assert done.units == work.span.pieces and not done.wrong
    return work.size_bytes / (time.perf_counter() - began_s)


def _read(work: StorageWork) -> float:
    began_s = time.perf_counter()
    done = work.span.read(0, time.monotonic() + 600)
    assert done.units == work.span.pieces and not done.wrong, "a wrong result: this machine is not sound"
    return work.size_bytes / (time.perf_counter() - began_s)


def _random(work: StorageWork, seconds: float, compare: bool) -> float:
    began_s = time.perf_counter()
    done = work.span.read_at_random(time.monotonic() + seconds, compare)
    assert not done.wrong, "a wrong result: this machine is not sound"
    return done.units / (time.perf_counter() - began_s)


def _fio(work: StorageWork, kind: str, block_bytes: int, depth: int, seconds: float) -> float:
    """Return bytes, or blocks of 4 KiB, a second."""
    command = [
        "fio",
        "--name=pair",
        f"--filename=/proc/{os.getpid()}/fd/{work.descriptor}",
        f"--size={work.size_bytes}",
        "--direct=1",
        "--ioengine=io_uring",
        "--fallocate=none",
        "--overwrite=1",
        f"--iodepth={depth}",
        f"--bs={block_bytes}",
        f"--rw={kind}",
        "--output-format=json",
    ]
    if seconds:
        command += ["--time_based", f"--runtime={seconds}"]
    told = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)["jobs"][0]
    side = told["write" if kind == "write" else "read"]
    return float(side["iops"] if kind == "randread" else side["bw_bytes"])


def _median_pair(pairs: list[Pair], unit: str) -> dict[str, Any]:
    ordered = sorted(pairs, key=lambda pair: pair[0] / pair[1])
    rate, limit = ordered[len(ordered) // 2]
    ratios = [round(ours / theirs, 3) for ours, theirs in pairs]
    return {
        "rate": rate,
        "limit": limit,
        "ratio": round(rate / limit, 3),
        "unit": unit,
        "ratios": ratios,
        "spread": round(statistics.pstdev(ratios), 3),
    }


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--seconds", type=float, default=2.0, help="of each stretch of random reads")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()))
    asked = parser.parse_args()
    print(json.dumps(storage_beside_fio(asked.folder, asked.pairs, asked.seconds), indent=2))


if __name__ == "__main__":
    main()
