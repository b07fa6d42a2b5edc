"""Run every measurement in this folder, one after the other, and print what each prints.

Parts (`loads_*.py`, `matching_*.py` …) run within the one that they are named after. `confusion.py` measures
nothing: it makes tables of what two of them printed.

Usage: python bench/all.py
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

NO_MEASUREMENTS = ("all.py", "confusion.py")


def measurements() -> list[Path]:
    """Return the scripts that measure something, and need nothing to be named to them."""
    return [
        script
        for script in sorted(Path(__file__).resolve().parent.glob("*.py"))
        if script.name not in NO_MEASUREMENTS
        and not script.name.startswith("loads_")
        and "__main__" in script.read_text("utf-8")
    ]


def main() -> int:
    """Return 0 if every measurement ran to its end."""
    worst = 0
    for script in measurements():
        print(f"== {script.name}", flush=True)
        worst = max(worst, subprocess.run([sys.executable, str(script)], check=False).returncode)
    return worst


if __name__ == "__main__":
    raise SystemExit(main())
