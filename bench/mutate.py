"""Spoil real tables and feed them to the decoders: nothing may be raised, run long or take much memory.

    python bench/mutate.py [--inputs N] [--seed S] [--processes P] [--decoder NAME …] [--data FOLDER]
    python bench/mutate.py --decoder NAME --seed S --only NUMBER [--write FILE]

Prints one JSON object: inputs in all and by decoder, the slowest one's CPU time, and every kind of failure
with the number that makes its input again, by the second form, on the same reference data. A step of a
decoder has 50 ms of CPU time (1 s for reports of other tools, which are long texts) and may not make the
process grow by 64 MiB. Machines are shared, so what goes past a bound is tried twice more and counts if it
does so each time. Exit code 1 where something failed or was slow.
"""

from __future__ import annotations

import argparse
import gc
import json
import random
import resource
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from multiprocessing import get_context
from pathlib import Path
from typing import Any

MOST_BYTES = 64 << 20
ENDLESS_S = 2.0
MOST_KINDS_OF_FAILURE = 20
WARM_UP = 40
REFERENCE = Path(__file__).resolve().parent.parent.parent / "shared/reference"


class Endless(BaseException):
    """A step was broken off. No Exception, so that no decoder can take it for something of its own."""


@dataclass
class Result:
    """What spoiled inputs did to one decoder.

    slowest_ms: CPU time of the slowest step of any input, and slowest_input its number. slow: inputs past
    bound_ms. failures: by step, error and line, how often, and one input's number and error.
    """

    decoder: str
    inputs: int = 0
    bound_ms: float = 0.0
    slowest_ms: float = 0.0
    slowest_input: int = 0
    slow: int = 0
    failed: int = 0
    failures: dict[str, dict[str, Any]] = field(default_factory=dict)

    def fail(self, number: int, step: str, error: BaseException) -> None:
        self.failed += 1
        frame = traceback.extract_tb(error.__traceback__)[-1]
        what = f"{step}: {type(error).__name__} at {Path(frame.filename).name}:{frame.lineno}"
        if what in self.failures or len(self.failures) < MOST_KINDS_OF_FAILURE:
            kind = self.failures.setdefault(what, {"times": 0, "input": number, "error": str(error)[:200]})
            kind["times"] += 1

    def add(self, other: Result) -> None:
        """Take in what another process counted of the same decoder."""
        self.inputs += other.inputs
        self.slow += other.slow
        self.failed += other.failed
        if other.slowest_ms > self.slowest_ms:
            self.slowest_ms, self.slowest_input = other.slowest_ms, other.slowest_input
        for what, kind in other.failures.items():
            mine = self.failures.setdefault(what, kind | {"times": 0})
            mine["times"] += kind["times"]


def made(target: Any, seed: int, number: int) -> Any:
    """Return an input, by its number: the same again for the same seed and reference data."""
    return target.make(random.Random(f"{seed}-{target.name}-{number}"))


def _timed(step: Callable[[Any], object], data: Any) -> tuple[float, object]:
    """Return a step's CPU time in seconds and its result. Raises what it raises, and Endless.

    The thread's clock, as an armed timer makes Linux keep the process's clock by ticks of milliseconds.
    """
    signal.setitimer(signal.ITIMER_VIRTUAL, ENDLESS_S)
    try:
        began_s = time.thread_time()
        result = step(data)
        return time.thread_time() - began_s, result
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


def _break_off(*_: object) -> None:
    raise Endless(f"no end within {ENDLESS_S:g} s of CPU time")


def tried(step: Callable[[Any], object], data: Any, record_s: float) -> tuple[float, object]:
    """Do a step; where it is the slowest so far or too large, twice more, as others use this machine too.

    record_s: the slowest so far. Returns the least CPU time and the result. Raises what it raises each time.
    """
    for attempt in range(3):
        try:
            took_s, result = _timed(step, data)
        except MemoryError:
            if attempt == 2:
                raise
            bound_memory()
            continue
        if took_s <= record_s:
            return took_s, result
        again_s = (_timed(step, data)[0] for _ in range(2 - attempt))
        return min((took_s, *again_s)), result
    raise AssertionError("unreachable")


def run(target: Any, numbers: range, seed: int) -> Result:
    """Feed a decoder the inputs of these numbers."""
    result = Result(target.name, bound_ms=1000 * target.most_cpu_s)
    record_s = 0.0
    for number in numbers:
        data, slow = made(target, seed, number), False
        for name, step in target.steps.items():
            try:
                took_s, told = tried(step, data, record_s)
                target.check(data, told)
            except target.own:
                continue
            except (Exception, Endless) as error:
                result.fail(number, name, error)
                continue
            slow = slow or took_s > target.most_cpu_s
            if took_s > record_s:
                record_s, result.slowest_input = took_s, number
        result.slow += slow
        result.inputs += 1
    result.slowest_ms = round(1000 * record_s, 2)
    return result


def _used_bytes() -> int:
    return int(Path("/proc/self/statm").read_text("ascii").split()[0]) * resource.getpagesize()


def bound_memory() -> None:
    """Let this process's address space grow by the bound from here on, and no more: MemoryError past it."""
    gc.collect()
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    resource.setrlimit(resource.RLIMIT_AS, (_used_bytes() + MOST_BYTES, hard))


@contextmanager
def all_targets(data: Path, only: list[str] | None) -> Iterator[list[Any]]:
    """Yield the decoders, those named or all. The folder that they work in is gone afterwards."""
    from decoding.targets import targets, work_folder

    work = work_folder()
    try:
        found = list(targets(data, work))
        if unknown := set(only or ()) - {target.name for target in found}:
            raise SystemExit(f"no such decoder: {', '.join(sorted(unknown))}; {[t.name for t in found]}")
        yield [target for target in found if only is None or target.name in only]
    finally:
        shutil.rmtree(work, ignore_errors=True)


def share(data: Path, only: list[str] | None, numbers: range, seed: int) -> list[Result]:
    """Feed every decoder the inputs of these numbers, in this process, under the bounds."""
    signal.signal(signal.SIGVTALRM, _break_off)
    with all_targets(data, only) as chosen:
        for target in chosen:
            run(target, range(WARM_UP), seed + 1)  # imports and caches belong to no input
        gc.collect()
        gc.freeze()  # what is loaded once is not searched again in an input's time
        results = []
        for target in chosen:
            bound_memory()
            results.append(run(target, numbers, seed))
        return results


def in_processes(count: int, data: Path, only: list[str] | None, each: int, seed: int) -> list[Result]:
    """Deal the numbers out to processes and put their counts together."""
    hands = [range(first, each, count) for first in range(count)]
    if count == 1:
        return share(data, only, hands[0], seed)
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        done = [pool.submit(share, data, only, numbers, seed) for numbers in hands]
        first, *others = (future.result() for future in done)
    for other in others:
        for mine, theirs in zip(first, other, strict=True):
            mine.add(theirs)
    return first


def again(data: Path, name: str, seed: int, number: int, write: Path | None) -> int:
    """Make one input again and show what it does, step by step."""
    signal.signal(signal.SIGVTALRM, _break_off)
    told: dict[str, str] = {}
    with all_targets(data, [name]) as (target,):
        made_again = made(target, seed, number)
        if write is not None:
            write.write_bytes(made_again if isinstance(made_again, bytes) else repr(made_again).encode())
        run(target, range(WARM_UP), seed + 1)
        bound_memory()
        for step_name, step in target.steps.items():
            try:
                took_s, result = tried(step, made_again, 0.0)
                target.check(made_again, result)
                told[step_name] = f"{1000 * took_s:.2f} ms"
            except target.own as error:
                told[step_name] = f"refused: {error}"
            except (Exception, Endless):
                told[step_name] = traceback.format_exc()
    print(
        json.dumps(
            {"what": "mutate", "decoder": name, "seed": seed, "input": number, "steps": told}, indent=1
        )
    )
    return 1 if any("Traceback" in text for text in told.values()) else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--inputs", type=int, default=20_000, help="in all, over the decoders alike")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--data", type=Path, default=REFERENCE, help="reference data; not needed")
    parser.add_argument("--decoder", action="append", help="only this one; can be given several times")
    parser.add_argument("--only", type=int, help="make this one input of the one decoder again")
    parser.add_argument("--write", type=Path, help="with --only: write the input to this file")
    arguments = parser.parse_args()
    if arguments.inputs < 1 or arguments.processes < 1:
        parser.error("inputs and processes are at least one")
    if arguments.only is not None:
        if len(arguments.decoder or ()) != 1:
            parser.error("--only goes with one --decoder")
        return again(arguments.data, arguments.decoder[0], arguments.seed, arguments.only, arguments.write)

    began_s = time.perf_counter()
    with all_targets(arguments.data, arguments.decoder) as chosen:
        each = -(-arguments.inputs // len(chosen))
    results = in_processes(arguments.processes, arguments.data, arguments.decoder, each, arguments.seed)
    told = {
        "what": "mutate",
        "seed": arguments.seed,
        "reference_data": arguments.data.is_dir(),
        "inputs": sum(result.inputs for result in results),
        "failed": sum(result.failed for result in results),
        "slow": sum(result.slow for result in results),
        "bound_bytes": MOST_BYTES,
        "seconds": round(time.perf_counter() - began_s, 1),
        "decoders": [asdict(result) for result in results],
    }
    print(json.dumps(told, indent=1, ensure_ascii=False))
    return 1 if told["failed"] or told["slow"] else 0


if __name__ == "__main__":
    sys.exit(main())
