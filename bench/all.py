"""Run every measurement in this folder, one after the other, and print what each prints.

Parts (`loads_*.py`, `matching_*.py` …) run within the one that they are named after.

Usage: python bench/all.py
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def main() -> int:
    """Return 0 if every measurement ran to its end."""
    here = Path(__file__).resolve()
    worst = 0
    for script in sorted(here.parent.glob("*.py")):
        part = script.name.startswith("loads_") or "__main__" not in script.read_text("utf-8")
        if script != here and not part:
            print(f"== {script.name}", flush=True)
            worst = max(worst, subprocess.run([sys.executable, str(script)], check=False).returncode)
    return worst


if __name__ == "__main__":
    raise SystemExit(main())
