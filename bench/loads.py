"""Each load beside its limit, in alternating pieces: one JSON object on standard output.

    python bench/loads.py [--pairs 9] [--stretch 2.0] [--parts matrix march …] [--folder WHERE]

Every part is a module of this folder that runs by itself too. A row tells the pair with the median ratio, so
that a shared host disturbs both sides of it alike: rate, limit, ratio, unit, and the ratios of all pairs.
"""

from __future__ import annotations

import argparse
import importlib
import json
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Asked:
    """What every part is told. stretch_s: seconds of each side of a pair. folder: for files of its own."""

    pairs: int
    stretch_s: float
    folder: Path


Rows = dict[str, Any]


def _matrix(asked: Asked) -> Rows:
    return dict(importlib.import_module("loads_matrix").rows(asked.pairs, asked.stretch_s))


def _march(asked: Asked) -> Rows:
    return {"march": importlib.import_module("loads_march").pairs(asked.pairs, asked.stretch_s)}


def _storage(asked: Asked) -> Rows:
    measure = importlib.import_module("loads_storage").storage_beside_fio
    return dict(measure(asked.folder, asked.pairs, asked.stretch_s))


def _processor(asked: Asked) -> Rows:
    script = Path(__file__).with_name("loads_processor.py")
    options = ["--pairs", str(asked.pairs), "--stretch", str(asked.stretch_s)]
    told = subprocess.run([sys.executable, str(script), *options], check=True, capture_output=True, text=True)
    return dict(json.loads(told.stdout))


PARTS: dict[str, Callable[[Asked], Rows]] = {
    "matrix": _matrix,
    "processor": _processor,
    "march": _march,
    "storage": _storage,
}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--pairs", type=int, default=9)
    parser.add_argument("--stretch", type=float, default=2.0, help="seconds of each side of a pair")
    parser.add_argument("--parts", nargs="+", default=list(PARTS), choices=list(PARTS))
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()))
    told = parser.parse_args()
    asked = Asked(told.pairs, told.stretch, told.folder)
    rows: Rows = {}
    for part in told.parts:
        rows |= PARTS[part](asked)
    print(json.dumps(rows, indent=2))


if __name__ == "__main__":
    main()
