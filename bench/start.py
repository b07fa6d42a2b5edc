"""How long the command line takes to say its help, as a whole process: JSON with the median and the spread.

Usage: python bench/start.py [RUNS]
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time


def main(runs: int = 11) -> None:
    """Time `shipworthy --help` against a bare interpreter, in turn, and print both and their ratio."""
    help_s, bare_s = [], []
    for _ in range(runs):
        bare_s.append(_seconds(sys.executable, "-c", "pass"))
        help_s.append(_seconds(sys.executable, "-m", "shipworthy", "--help"))
    ratios = [a / b for a, b in zip(help_s, bare_s, strict=True)]
    result = {
        "help_s": statistics.median(help_s),
        "help_s_range": [min(help_s), max(help_s)],
        "bare_interpreter_s": statistics.median(bare_s),
        "ratio": statistics.median(ratios),
        "goal_s": 0.3,
    }
    print(json.dumps(result, indent=2))


def _seconds(*command: str) -> float:
    began = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
