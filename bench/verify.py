"""`verify` of a 100 MB record against one thread's SHA-512 of the same bytes, in alternating pairs.

Limit: at most 1.3 times that SHA-512, plus 0.2 s. The SHA-512 is timed over the bytes in memory, so
reading the files counts against `verify` alone. Three shapes of record: one large log; what an attempt
leaves (logs, photos, some hundred raw files); and many small files. `cold_s` is the first call in a fresh
interpreter, where the signature's library is still to be imported (it is, while the hashing runs);
`interpreter_s` is what starting one with the room's modules costs. On a busy machine the pairs scatter: look
at `of_limit_range` and `load_average`; `of_limit_cpu` is the same ratio from processor time, all threads
added up, so it gains nothing from a second core and loses little to neighbours.

Run: python bench/verify.py [--pairs N]. Prints JSON; exit code 1 if a median is over the limit.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from shipworthy.model.reading import Tool
from shipworthy.model.time import SystemClock
from shipworthy.record.attempt import open_new
from shipworthy.record.bag import seal
from shipworthy.record.keys import TrustList, load_key, make_key
from shipworthy.record.verify import verify

SIZE_BYTES = 100_000_000
FACTOR, PLUS_S = 1.3, 0.2
SHAPES = {"one file": 1, "an attempt's files": 400, "many small files": 5000}
COLD = """
import json, sys, time
from pathlib import Path
from shipworthy.record.keys import TrustList
from shipworthy.record.verify import verify
ready = time.perf_counter()
report = verify(Path(sys.argv[1]), TrustList.load(Path(sys.argv[2])))
print(json.dumps({"cold_s": time.perf_counter() - ready, "sound": report.sound}))
"""


def sizes_of(files: int) -> list[int]:
    """Return sizes that come to SIZE_BYTES: one half in eight large files where there are more than eight."""
    if files <= 8:
        return [SIZE_BYTES // files] * files
    return [SIZE_BYTES // 16] * 8 + [SIZE_BYTES // 2 // (files - 8)] * (files - 8)


def make_record(folder: Path, files: int) -> tuple[Path, Path]:
    """Return a sealed record of that many files, and the trust list for it."""
    make_key(folder / "bench.jwk", name="bench")
    key = load_key(folder / "bench.jwk")
    TrustList().add(key.public).save(folder / "trust.json")
    stream = random.Random(f"1/bench verify {files}")
    with open_new(
        folder / "records", unit_id="KD-0412-1", order_id="KD-0412", nonce="n", zone="Europe/Lisbon",
        simulated=True, tool=Tool(name="shipworthy", version="bench"), clock=SystemClock(),
    ) as attempt:  # fmt: skip
        for number, size_bytes in enumerate(sizes_of(files)):
            attempt.keep(f"reading/raw/{number % 20}/{number}.bin", stream.randbytes(size_bytes))
        return seal(attempt, key), folder / "trust.json"


def seconds(call: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    began = clock()
    call()
    return clock() - began


def measure(folder: Path, files: int, pairs: int) -> dict[str, object]:
    """Return the medians for one shape of record."""
    record, trust_file = make_record(folder, files)
    trust = TrustList.load(trust_file)
    content = b"".join(path.read_bytes() for path in sorted(record.rglob("*")) if path.is_file())
    if verify(record, trust).faults:
        raise SystemExit("the record to measure with has faults")
    ours, hashing, limits = [], [], []
    for _ in range(pairs):
        hashing.append(seconds(lambda: hashlib.sha512(content).digest()))
        ours.append(seconds(lambda: verify(record, trust)))
        limits.append(ours[-1] / (FACTOR * hashing[-1] + PLUS_S))
    cpu_s = [
        min(seconds(call, time.process_time) for _ in range(pairs))
        for call in (lambda: verify(record, trust), lambda: hashlib.sha512(content).digest())
    ]
    cold = subprocess.run(
        [sys.executable, "-c", COLD, str(record), str(trust_file)], capture_output=True, check=True
    )
    return {
        "files": files,
        "bytes": len(content),
        "sha512_s": round(statistics.median(hashing), 4),
        "verify_s": round(statistics.median(ours), 4),
        "verify_to_sha512": round(statistics.median(a / b for a, b in zip(ours, hashing, strict=True)), 3),
        "of_limit": round(statistics.median(limits), 3),
        "of_limit_range": [round(min(limits), 3), round(max(limits), 3)],
        "of_limit_cpu": round(cpu_s[0] / (FACTOR * cpu_s[1] + PLUS_S), 3),
        "cold_s": round(json.loads(cold.stdout)["cold_s"], 4),
        "within_limit": statistics.median(limits) <= 1,
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--pairs", type=int, default=7)
    pairs = parser.parse_args().pairs
    rows = {}
    for name, files in SHAPES.items():
        with tempfile.TemporaryDirectory() as folder:
            rows[name] = measure(Path(folder), files, pairs)
    start = "import shipworthy.record.verify"
    interpreter_s = [
        seconds(lambda: subprocess.run([sys.executable, "-c", start], check=True)) for _ in range(3)
    ]
    result = {
        "bench": "verify",
        "limit": f"{FACTOR} x sha512 + {PLUS_S} s",
        "pairs": pairs,
        "cores": os.cpu_count(),
        "load_average": round(os.getloadavg()[0], 2),
        "interpreter_s": round(statistics.median(interpreter_s), 4),
        "records": rows,
        "within_limit": all(bool(row["within_limit"]) for row in rows.values()),
    }
    print(json.dumps(result, indent=2))
    return 0 if result["within_limit"] else 1


if __name__ == "__main__":
    raise SystemExit(main())
