"""March C− beside the C library's copy, in alternating stretches: one JSON object on standard output.

    python bench/loads_march.py [--pairs 9] [--stretch 2.0] [--gib 2] [--variant march-c-minus]

The limit is memmove between two further buffers of that size, in huge pages and filled, by as many threads,
each on its own part: 2 nominal passes of bytes. The test's nominal bytes are its operations on each word (10
for March C−). Each pair is whole rounds for a stretch of time, then copies for as long; the pair with the
median ratio is given, and the rate of every element. The buffers need three times the size.
"""

from __future__ import annotations

import argparse
import ctypes
import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.march import LOAD, MarchWork, Rates
from shipworthy.stress.loads.pages import Pages
from shipworthy.stress.protocol import Job

GIB = 2**30


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--stretch", type=float, default=2.0, help="seconds of each stretch")
    parser.add_argument("--gib", type=float, default=2.0, help="memory that is tested")
    parser.add_argument("--variant", default="")
    asked = parser.parse_args()
    found = pairs(asked.pairs, asked.stretch, size_bytes=int(asked.gib * GIB), variant=asked.variant)
    print(json.dumps({"march": found}, indent=2))


def pairs(
    count: int = 9, stretch_s: float = 2.0, size_bytes: int = 2 * GIB, variant: str = ""
) -> dict[str, Any]:
    """Return the median pair, all ratios, and bytes a second of each element."""
    work = _opened(size_bytes, variant)
    copy, give_back = _copies(size_bytes)
    found = []
    _rounds(work, 0.0)
    copy()
    work.rates = Rates()  # the first round met cold pages
    for _ in range(count):
        tested = _rounds(work, stretch_s)
        until_s, copied, took_s = time.monotonic() + stretch_s, 0.0, 0.0
        while time.monotonic() < until_s:
            seconds = copy()
            copied, took_s = copied + 2 * size_bytes, took_s + seconds
        found.append((tested, copied / took_s))
    elements = {name: round(rate) for name, rate in work.rates.by_element().items()}
    detail = {value.name: value.value for value in work.detail()}
    work.close()
    give_back()
    ratios = [round(rate / limit, 3) for rate, limit in found]
    rate, limit = sorted(found, key=lambda pair: pair[0] / pair[1])[len(found) // 2]
    return {
        "rate": round(rate),
        "limit": round(limit),
        "ratio": round(rate / limit, 3),
        "unit": LOAD.about.unit_of_work + " a second",
        "ratios": ratios,
        "spread": round(statistics.pstdev(ratios), 3),
        "elements": elements,
        "tested_bytes": detail["tested_bytes"],
        "huge_pages_bytes": detail["huge_pages_bytes"],
        "threads": detail["threads"],
    }


def _opened(size_bytes: int, variant: str) -> MarchWork:
    request = LoadRequest(load="march", variant=variant, memory_share=0.95, memory_cap_bytes=size_bytes)
    job = Job(
        step="bench",
        load="march",
        target="memory",
        request=request,
        seed=1,
        work_folder=tempfile.gettempdir(),
        memory_reserve_bytes=2 * size_bytes + GIB // 2,  # for the buffers of the copy
        disk_reserve_bytes=0,
    )
    work = LOAD.open(job)
    if work.size_bytes < size_bytes:
        sys.exit(f"only {work.size_bytes} bytes can be tested beside two buffers for the copy: ask for less")
    return work


def _rounds(work: MarchWork, stretch_s: float) -> float:
    """Do whole rounds for about so long, one at least; return nominal bytes a second, checking included."""
    done, took_s, until_s = 0.0, 0.0, time.monotonic() + stretch_s
    while not took_s or time.monotonic() < until_s:
        number = work.round
        while work.round == number:
            block = work.block()
            if block.wrong:
                sys.exit("a wrong word: this machine is not sound")
            done, took_s = done + block.work, took_s + block.seconds
    return done / took_s


def _copies(size_bytes: int) -> tuple[Callable[[], float], Callable[[], None]]:
    """Return a copy of one filled buffer to another, which tells its seconds, and what gives both back."""
    source, target = Pages(size_bytes), Pages(size_bytes)
    for pages in (source, target):
        pages.touch(0, size_bytes)
    libc, threads = ctypes.CDLL(None), len(resources.usable_cpus())
    libc.memmove.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t]
    pool, step = ThreadPoolExecutor(threads), size_bytes // threads
    ends = source.address(), target.address()

    def copy() -> float:
        began_s = time.perf_counter()
        list(pool.map(lambda n: libc.memmove(ends[1] + n * step, ends[0] + n * step, step), range(threads)))
        return time.perf_counter() - began_s

    def give_back() -> None:
        pool.shutdown()
        source.close()
        target.close()

    return copy, give_back


if __name__ == "__main__":
    main()
