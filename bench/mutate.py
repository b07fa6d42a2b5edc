"""Spoil real tables and feed them to the binary decoders: nothing may be raised, run long or take much memory.

    python bench/mutate.py [--inputs N] [--seed S] [--data ../shared/reference] [--decoder NAME …]

Prints one JSON object: inputs, the slowest one's CPU time, and every failure with the seed that makes it again.
The corpus is the reference data where it is there, and always the pages of the simulated unit. An allocation
past the bound fails by the process's own limit on address space.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

MOST_CPU_S = 0.050
MOST_BYTES = 64 << 20
MOST_INPUT_BYTES = 1 << 16
LARGEST = (0x00, 0x01, 0x7F, 0x80, 0xFE, 0xFF)

Decode = Callable[[bytes], object]


@dataclass
class Result:
    """What spoiled inputs did to one decoder. slowest_s is CPU time; failures: seed and error, the first few."""

    decoder: str
    inputs: int = 0
    slowest_s: float = 0.0
    slow: int = 0
    failures: list[str] = field(default_factory=list)


def spoiled(data: bytes, chance: random.Random, others: list[bytes]) -> bytes:
    """Return a spoiled copy: one to eight changes of the kinds that firmware, cables and cut files make."""
    spoil = bytearray(data[:MOST_INPUT_BYTES])
    for _ in range(chance.choice((1, 1, 1, 2, 3, 5, 8))):
        if not spoil:
            spoil = bytearray(chance.randbytes(chance.randrange(1, 300)))
        at = chance.randrange(len(spoil))
        match chance.randrange(9):
            case 0:
                spoil[at] ^= 1 << chance.randrange(8)
            case 1:
                spoil[at] = chance.choice(LARGEST)
            case 2:
                spoil[at] = chance.randrange(256)
            case 3:
                del spoil[at:]
            case 4:
                del spoil[at : at + chance.randrange(1, 40)]
            case 5:
                spoil[at:at] = chance.randbytes(chance.randrange(1, 40))
            case 6:
                length = chance.randrange(1, 200)
                spoil[at : at + length] = bytes([chance.choice(LARGEST)]) * min(length, len(spoil) - at)
            case 7:
                length, source = chance.randrange(1, 128), chance.randrange(len(spoil))
                spoil[at : at + length] = spoil[source : source + length]
            case 8:
                other = chance.choice(others)
                start = chance.randrange(len(other)) if other else 0
                spoil[at:] = other[start : start + len(spoil) - at]
    return bytes(spoil[:MOST_INPUT_BYTES])


def run(name: str, decode: Decode, corpus: list[bytes], inputs: int, seed: int) -> Result:
    """Feed a decoder spoiled inputs; each is made from its own number, so that a failure can be made again."""
    result = Result(name)
    for number in range(inputs):
        chance = random.Random(f"{seed}-{name}-{number}")
        data = spoiled(chance.choice(corpus), chance, corpus)
        began_s = time.process_time()
        try:
            decode(data)
        except Exception as error:
            if len(result.failures) < 20:
                result.failures.append(f"seed {seed}, input {number}: {type(error).__name__}: {error}")
        took_s = time.process_time() - began_s
        if took_s > MOST_CPU_S:  # shared machines stall; what is slow is slow twice
            began_s = time.process_time()
            decode(data)
            took_s = min(took_s, time.process_time() - began_s)
        result.slow += took_s > MOST_CPU_S
        result.slowest_s = max(result.slowest_s, took_s)
        result.inputs += 1
    return result


def bound_memory() -> None:
    """Let no allocation pass the bound from here on: the address space may grow by that much and no more."""
    used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (used + MOST_BYTES, resource.RLIM_INFINITY))


def simulated_pages() -> Path:
    """Return a folder with the simulated unit's raw replies and tables."""
    from shipworthy.sim.unit import build_unit  # the demo's unit: every page that a machine would give

    folder = Path(tempfile.mkdtemp())
    build_unit(folder)
    return folder


def targets(data: Path) -> Iterator[tuple[str, Decode, list[bytes]]]:
    """Yield each binary decoder with what it is fed: facts and pieces alike."""
    from decoding.corpus import corpora

    from shipworthy.machine.kinds import KINDS
    from shipworthy.machine.raw import Reply
    from shipworthy.model.reading import SourceOutcome

    found = corpora(data, simulated_pages())
    for kind in KINDS:
        if kind.suffix != "bin":
            continue

        def decode(raw: bytes, kind: object = kind) -> None:
            kind.parse((Reply(kind.name, "file", SourceOutcome.READ, raw, "", "bin"),))  # type: ignore[attr-defined]
            if kind.describe is not None:  # type: ignore[attr-defined]
                kind.describe(raw)  # type: ignore[attr-defined]

        yield kind.name, decode, found[kind.name]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--inputs", type=int, default=20_000, help="in all, over the decoders alike")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--data", type=Path, default=Path(__file__).resolve().parent.parent.parent / "shared/reference")
    parser.add_argument("--decoder", action="append", help="only this one; can be given several times")
    arguments = parser.parse_args()
    chosen = [t for t in targets(arguments.data) if arguments.decoder is None or t[0] in arguments.decoder]
    for name, decode, corpus in chosen:
        run(name, decode, corpus, 50, 0)  # imports and caches belong to no input
    bound_memory()
    each = -(-arguments.inputs // len(chosen))
    results = [run(name, decode, corpus, each, arguments.seed) for name, decode, corpus in chosen]
    print(
        json.dumps(
            {
                "what": "mutate",
                "seed": arguments.seed,
                "inputs": sum(result.inputs for result in results),
                "failures": sum(len(result.failures) for result in results),
                "slow": sum(result.slow for result in results),
                "decoders": [vars(result) for result in results],
            },
            indent=1,
        )
    )
    return 1 if any(result.failures or result.slow for result in results) else 0


if __name__ == "__main__":
    sys.exit(main())
