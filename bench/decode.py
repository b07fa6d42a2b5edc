"""Decode a folder of reference data, set by set, and count where we agree with independent readers.

    python bench/decode.py [DATA] [--set NAME …] [--sample N [--seed S]]

DATA is laid out as `../shared/reference`, which is taken where none is given. Prints JSON: {"sets": [{"set",
"items", "crashed", "agree", "differ", "unsupported", "examples", "notes", "seconds"}]}. A set that is not in
DATA is left out. A set that cannot be measured counts as one crash, with the error as its example; the others
stand. --sample takes so many items of each archive, by chance from the seed. Exit code 1 where anything
crashed, 2 where DATA holds no set.
"""

from __future__ import annotations

import argparse
import importlib
import json
import sys
import tempfile
import time
import traceback
from dataclasses import asdict
from pathlib import Path
from typing import Any

from decoding.sample import sampled
from decoding.tally import Tally

REFERENCE = Path(__file__).resolve().parent.parent.parent / "shared/reference"
SETS: dict[str, tuple[str, str, str]] = {
    "smbios-raw": ("smbios_raw", "smbios-raw", "measure"),
    "dmi-desktop-text": ("dmi_desktop_text", "dmi-desktop-text", "measure"),
    "bsd-joined-machines": ("bsd_joined_machines", "bsd-joined-machines", "measure"),
    "edid": ("edid", "edid", "measure"),
    "spd": ("spd", "check-values", "measure"),
    "smart-text": ("smart_text", "smart-text", "measure"),
    "smart-json": ("smart_json", "smart-json", "measure"),
    "smart-text-with-expected": ("smart_text_with_expected", "smart-text-with-expected", "measure"),
    "cpu": ("cpu", "cpu", "measure"),
    "gpu-readings": ("gpu_readings", "gpu-readings", "measure"),
    "amdgpu-names": ("amdgpu_names", "names", "measure"),
    "linux-sysfs": ("linux_sysfs", "linux-sysfs", "measure"),
    "linux-sysfs-devices": ("linux_sysfs_devices", "linux-sysfs", "measure"),
    "linux-sysfs-pci": ("lspci", "linux-sysfs", "measure_trees"),
    "lshw-lspci": ("lshw_lspci", "lshw-lspci", "measure"),
    "lspci": ("lspci", "lshw-lspci", "measure"),
    "sensor-labels": ("sensor_labels", "sensor-labels", "measure"),
    "kernel-logs": ("kernel_logs", "kernel-logs", "measure"),
}
"""Of each set: the module in `bench/decoding` that measures it, its folder in the data, and the function."""


def measure(data: Path, name: str, sample: int = 0, seed: int = 1) -> dict[str, Any]:
    """Return what was counted over one set, or over a sample of so many items of each of its archives."""
    module, folder, function = SETS[name]
    began_s = time.perf_counter()
    try:
        measured = getattr(importlib.import_module(f"decoding.{module}"), function)
        if sample:
            with tempfile.TemporaryDirectory() as work:
                tally = measured(sampled(data / folder, Path(work) / folder, sample, seed))
        else:
            tally = measured(data / folder)
    except Exception as error:
        frame = traceback.extract_tb(error.__traceback__)[-1]
        tally = Tally(name, crashed=1)
        at = f"{Path(frame.filename).name}:{frame.lineno}"
        tally.example(f"the measurement broke off at {at}: {type(error).__name__}: {error}")
    return {**asdict(tally), "set": name, "seconds": round(time.perf_counter() - began_s, 2)}


def main() -> int:
    """Return 0 if nothing crashed."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("data", type=Path, nargs="?", help="default: ../shared/reference")
    parser.add_argument("--set", dest="sets", action="append", choices=sorted(SETS))
    parser.add_argument("--sample", type=int, default=0, help="so many items of each archive; 0 is all")
    parser.add_argument("--seed", type=int, default=1, help="of the sample")
    arguments = parser.parse_args()
    data: Path = arguments.data or REFERENCE
    if arguments.data is None:
        there = "is decoded" if data.is_dir() else "is not there either, so nothing is decoded"
        print(f"no DATA given: ../shared/reference {there}", file=sys.stderr)
        if not data.is_dir():
            print(json.dumps({"sets": []}))
            return 0
    chosen = arguments.sets or [name for name, (_, folder, _) in SETS.items() if (data / folder).is_dir()]
    if not chosen:
        parser.error(f"{data} holds none of the sets: {', '.join(sorted({row[1] for row in SETS.values()}))}")
    sets = [measure(data, name, arguments.sample, arguments.seed) for name in chosen]
    print(json.dumps({"sets": sets}, indent=1, ensure_ascii=False))
    return 1 if any(row["crashed"] for row in sets) else 0


if __name__ == "__main__":
    sys.exit(main())
