"""The reference decoder decode-dimms (i2c-tools), run on an image, and its text as fields of ours.

An independent witness: it is another program in another language. It knows DDR3 and DDR4, not DDR5.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

_NS = re.compile(r"([\d.]+) ns")
_TIMES = {
    "Minimum Cycle Time (tCK)": "tck_min_ps",
    "Minimum Cycle Time (tCKmin)": "tck_min_ps",
    "Minimum CAS Latency Time (tAA)": "taa_min_ps",
    "Minimum RAS# to CAS# Delay (tRCD)": "trcd_min_ps",
    "Minimum RAS to CAS Delay (tRCD)": "trcd_min_ps",
    "Minimum Row Precharge Delay (tRP)": "trp_min_ps",
    "Minimum Active to Precharge Delay (tRAS)": "tras_min_ps",
    "Minimum Active to Auto-Refresh Delay (tRC)": "trc_min_ps",
    "Maximum Cycle Time (tCKmax)": "tck_max_ps",
    "Minimum Recovery Delay (tRFC)": "trfc_min_ps",
    "Minimum Recovery Delay (tRFC1)": "trfc1_min_ps",
    "Minimum Recovery Delay (tRFC2)": "trfc2_min_ps",
    "Minimum Recovery Delay (tRFC4)": "trfc4_min_ps",
    "Minimum Four Activate Window Delay (tFAW)": "tfaw_min_ps",
    "Minimum Write Recovery time (tWR)": "twr_min_ps",
    "Minimum Write Recovery Time (tWR)": "twr_min_ps",
    "Minimum Row Active to Row Active Delay (tRRD)": "trrd_min_ps",
    "Minimum Row Active to Row Active Delay (tRRD_S)": "trrd_s_min_ps",
    "Minimum Row Active to Row Active Delay (tRRD_L)": "trrd_l_min_ps",
    "Minimum CAS to CAS Delay (tCCD_L)": "tccd_l_min_ps",
    "Minimum Write to Read CMD Delay (tWTR)": "twtr_min_ps",
    "Minimum Write to Read Time (tWTR_S)": "twtr_s_min_ps",
    "Minimum Write to Read Time (tWTR_L)": "twtr_l_min_ps",
    "Minimum Read to Pre-charge CMD Delay (tRTP)": "trtp_min_ps",
}
_NUMBERS = {
    "Ranks": "rank",
    "SDRAM Device Width": "device_width_bits",
    "Primary Bus Width": "data_width_bits",
}
_TEXTS = {
    "Module Type": "module_type",
    "SPD Revision": "spd_revision",
    "Manufacturing Date": "manufactured",
    "Part Number": "part_number",
}


def run(image: bytes, folder: Path) -> dict[str, str]:
    """Return the decoder's lines for an image as label and text; skips the test where it is missing."""
    program = shutil.which("decode-dimms")
    if program is None:
        pytest.skip("the reference decoder decode-dimms (package i2c-tools) is not installed")
    file = folder / "image.hex"
    rows = (image[at : at + 16] for at in range(0, len(image), 16))
    file.write_text("".join(f"{n * 16:08x}  {row.hex(' ')}\n" for n, row in enumerate(rows)))
    done = subprocess.run([program, "-x", str(file)], capture_output=True, text=True, timeout=30)
    lines = (re.fullmatch(r"(\S.*?)\s{2,}(\S.*)", line) for line in done.stdout.splitlines())
    return {found[1]: found[2] for found in lines if found}


def fields(lines: dict[str, str]) -> dict[str, str | int | bool]:
    """Return what those lines say, by our names and in our units."""
    found: dict[str, str | int | bool] = {}
    for label, text in lines.items():
        if label in _TIMES and (time := _NS.fullmatch(text)):
            found[_TIMES[label]] = round(float(time[1]) * 1000)
        elif label in _NUMBERS:
            found[_NUMBERS[label]] = int(text.split()[0])
        elif label in _TEXTS and text != "Undefined":
            found[_TEXTS[label]] = text.strip()
        elif label.startswith("Supported CAS Latencies"):
            numbers = sorted(int(one.strip().removesuffix("T")) for one in text.split(","))
            found["cas_latencies"] = ", ".join(map(str, numbers))
    found |= _others(lines)
    if "data_width_bits" in found:
        extra = int(lines.get("Bus Width Extension", "0 bits").split()[0])
        found["total_width_bits"] = int(found["data_width_bits"]) + extra
    return found


def _others(lines: dict[str, str]) -> dict[str, str | int | bool]:
    found: dict[str, str | int | bool] = {}
    if "Maximum module speed" in lines:
        found["jedec_speed_mt_s"] = int(lines["Maximum module speed"].split()[0])
    if "Size" in lines:
        found["size_bytes"] = int(lines["Size"].split()[0]) << 20
    if "Assembly Serial Number" in lines:
        found["serial"] = lines["Assembly Serial Number"].removeprefix("0x")
    sensor = lines.get("Module Thermal Sensor", lines.get("Thermal Sensor"))
    if sensor is not None:
        found["thermal_sensor"] = sensor != "No"
    voltage = lines.get("Operable voltages", lines.get("Module Nominal Voltage", ""))
    if known := re.findall(r"(\d\.\d+) ?V", voltage):
        found["nominal_voltage_mv"] = min(round(float(one) * 1000) for one in known)
    return found
