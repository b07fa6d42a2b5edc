"""SPD images: the worked module of the check values, against what the reference decoder printed of it.

The reference is the text in memory.md beside it (decode-dimms 4.3, recorded there) and, where the program is
installed, the same program run now. Every single-byte change of the checked bytes must be found.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse.spd import source as spd
from shipworthy.model.words import RemarkKind

EXAMPLE = "spd-ddr4-example.hex"
_RECORDED = {  # in the sentence of memory.md: what to look for, and our name and unit for it
    "jedec_speed_mt_s": (r"(\d+) MT/s \(PC4", int),
    "size_bytes": (r"(\d+) MB, ", lambda text: int(text) << 20),
    "rank": (r"(\d+) ranks", int),
    "device_width_bits": (r"ranks, x(\d+)", int),
    "data_width_bits": (r", (\d+) bits, ", int),
    "taa_min_ps": (r"tAA ([\d.]+) ns", lambda text: round(float(text) * 1000)),
    "trfc1_min_ps": (r"tRFC1 ([\d.]+) ns", lambda text: round(float(text) * 1000)),
    "nominal_voltage_mv": (r"([\d.]+) V, maker", lambda text: round(float(text) * 1000)),
    "module_type": (r"DDR4 SDRAM (\w+)", str),
    "manufactured": (r"date (\d{4}-W\d\d)", str),
    "serial": (r"serial 0x([0-9A-F]{8})", str),
    "part_number": (r"part (\S+?)\. ", str),
}
_PROGRAM = {
    "tck_min_ps": r"Minimum Cycle Time \(tCKmin\)\s+([\d.]+) ns",
    "trcd_min_ps": r"Minimum RAS to CAS Delay \(tRCD\)\s+([\d.]+) ns",
    "trp_min_ps": r"Minimum Row Precharge Delay \(tRP\)\s+([\d.]+) ns",
    "tras_min_ps": r"Minimum Active to Precharge Delay \(tRAS\)\s+([\d.]+) ns",
    "trc_min_ps": r"Minimum Active to Auto-Refresh Delay \(tRC\)\s+([\d.]+) ns",
}


def measure(folder: Path) -> Tally:
    """Return the counts for the folder of check values."""
    tally = Tally("spd", items=1)
    image = bytes.fromhex((folder / EXAMPLE).read_text())
    try:
        decoded = spd.decode(image)
    except Exception as error:
        tally.crash(EXAMPLE, error)
        return tally
    found = {field.name: field.value for field in decoded.said} | dict(decoded.further)
    tally.unsupported = sum(fault.kind is RemarkKind.NOT_UNDERSTOOD for fault in decoded.faults)
    text = (folder / "memory.md").read_text().split("Worked SPD", 1)[-1]
    for name, (pattern, meaning) in _RECORDED.items():
        wanted = re.search(pattern, text)
        tally.hold(EXAMPLE, name, meaning(wanted[1]) if wanted else None, found.get(name))
    for name, value in _printed_now(image).items():
        tally.hold(EXAMPLE, f"{name} (decode-dimms now)", value, found.get(name))
    _spoil(image, tally)
    return tally


def _printed_now(image: bytes) -> dict[str, int]:
    program = shutil.which("decode-dimms")
    if program is None:
        return {}
    with tempfile.NamedTemporaryFile("w", suffix=".hex") as file:
        for at in range(0, len(image), 16):
            file.write(f"{at:08x}  {image[at : at + 16].hex(' ')}\n")
        file.flush()
        done = subprocess.run([program, "-x", file.name], capture_output=True, text=True, timeout=30)
    matches = {name: re.search(pattern, done.stdout) for name, pattern in _PROGRAM.items()}
    return {name: round(float(match[1]) * 1000) for name, match in matches.items() if match}


def _spoil(image: bytes, tally: Tally) -> None:
    """Hold that a change of any one of the bytes 0 to 125 is found."""
    for at in range(126):
        spoiled = bytearray(image)
        spoiled[at] ^= 0x01
        kinds = {fault.kind for fault in spd.decode(bytes(spoiled)).faults}
        found = bool(kinds & {RemarkKind.BAD_CHECKSUM, RemarkKind.BAD_HEADER})
        tally.hold(EXAMPLE, f"a change of byte {at} is found", True, found)
