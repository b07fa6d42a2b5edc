"""Decode a folder of reference data, set by set, and count where we agree with independent readers.

    python bench/decode.py DATA [--set NAME …]

DATA is laid out as `../shared/reference`. Prints JSON: {"sets": [{"set", "items", "crashed", "agree", "differ",
"unsupported", "examples", "notes", "seconds"}]}. A set that is not in DATA is left out.
"""

from __future__ import annotations

import argparse
import importlib
import json
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

SETS: dict[str, tuple[str, str]] = {
    "smbios-raw": ("smbios_raw", "smbios-raw"),
    "dmi-desktop-text": ("dmi_desktop_text", "dmi-desktop-text"),
    "bsd-joined-machines": ("bsd_joined_machines", "bsd-joined-machines"),
    "edid": ("edid", "edid"),
    "spd": ("spd", "check-values"),
    "smart-text": ("smart_text", "smart-text"),
    "smart-json": ("smart_json", "smart-json"),
    "smart-text-with-expected": ("smart_text_with_expected", "smart-text-with-expected"),
    "cpu": ("cpu", "cpu"),
    "gpu-readings": ("gpu_readings", "gpu-readings"),
    "amdgpu-names": ("amdgpu_names", "names"),
    "linux-sysfs": ("linux_sysfs", "linux-sysfs"),
    "linux-sysfs-devices": ("linux_sysfs_devices", "linux-sysfs"),
    "lshw-lspci": ("lshw_lspci", "lshw-lspci"),
    "lspci": ("lspci", "lshw-lspci"),
    "sensor-labels": ("sensor_labels", "sensor-labels"),
    "kernel-logs": ("kernel_logs", "kernel-logs"),
}
"""Of each set: the module in `bench/decoding` that measures it, and its folder in the data."""


def measure(data: Path, name: str) -> dict[str, Any]:
    """Return what was counted over one set."""
    module, folder = SETS[name]
    began_s = time.perf_counter()
    tally = importlib.import_module(f"decoding.{module}").measure(data / folder)
    return {**asdict(tally), "set": name, "seconds": round(time.perf_counter() - began_s, 2)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--set", dest="sets", action="append", choices=sorted(SETS))
    arguments = parser.parse_args()
    chosen = arguments.sets or [name for name, (_, folder) in SETS.items() if (arguments.data / folder).is_dir()]
    print(json.dumps({"sets": [measure(arguments.data, name) for name in chosen]}, indent=1, ensure_ascii=False))


if __name__ == "__main__":
    main()
