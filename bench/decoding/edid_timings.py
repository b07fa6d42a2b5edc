"""The timings of a display: edid-decode's lines of them against the decoder's, kind by kind."""

from __future__ import annotations

import re

from decoding.tally import Tally
from shipworthy.machine.parse.edid.blocks import Edid
from shipworthy.machine.parse.edid.timing import Timing

Row = tuple[object, ...]

TIMING = r"\s+(\d+)x(\d+)(i?)\s+([\d.]+) Hz\s+\S+\s+[\d.]+ kHz\s+([\d.]+) MHz(.*)"
_DETAILED = re.compile(r"    DTD +\d+:" + TIMING)
_DISPLAYID = re.compile(r"    (?:DTD|VTDB \d+):" + TIMING)
_VIC = re.compile(r"    VIC +(\d+):" + TIMING)
_HDMI_VIC = re.compile(r" +HDMI VIC (\d+):" + TIMING)
_OLD = re.compile(r"    (IBM|Apple|DMT 0x..|GTF|CVT|EDID 1\.\d) *:" + TIMING)
_PORCHES = re.compile(r"Hfront +(-?\d+) Hsync +(-?\d+) Hback +(-?\d+)")


def _printed(match: re.Match[str], first: int) -> Row:
    width, height, interlaced, rate, clock = match.groups()[first : first + 5]
    return (int(width), int(height), bool(interlaced), round(float(rate), 2), round(float(clock), 3))


def _ours(timing: Timing) -> Row:
    rate, clock = round(timing.refresh_hz + 1e-9, 2), round(timing.clock_hz / 1e6, 3)
    return (timing.width_px, timing.height_px, timing.interlaced, rate, clock)


def hold_timings(tally: Tally, name: str, edid: Edid, text: str) -> None:
    """Hold every timing that a text prints against the decoder, in the order of each kind."""
    timings = [timing for block in edid.blocks for timing in block.timings]
    printed = _read_timings(text)
    for kind, begins in (
        ("detailed", ("detailed",)),
        ("displayid", ("type I", "type VII")),
        ("vic", ("VIC ",)),
        ("hdmi vic", ("HDMI VIC",)),
        ("established", ("established",)),
        ("standard", ("standard",)),
    ):
        ours = [t for t in timings if t.origin.startswith(begins)]
        want = printed[kind]
        if tally.hold(name, f"count of {kind}", len(want), len(ours)):
            for row, timing in zip(want, ours, strict=True):
                _hold_timing(tally, name, kind, row, timing)


def _hold_timing(tally: Tally, name: str, kind: str, row: Row, timing: Timing) -> None:
    if kind == "standard" and row[5]:  # calculated by a formula there; here nominal, or VESA's own timing
        rate = row[3]
        want = (row[0], row[1], round(rate) if isinstance(rate, float) else rate)
        tally.hold(name, kind, want, (timing.width_px, timing.height_px, round(timing.refresh_hz)))
        return
    if kind == "vic":
        tally.hold(name, "VIC", row[5:], (int(timing.origin.split()[1]), timing.native))
    if kind == "detailed" and row[5]:
        tally.hold(name, "timing mm", row[5], (timing.width_mm, timing.height_mm))
    if kind in ("detailed", "displayid") and len(row) > 6 and row[6]:
        back = timing.h_blank - timing.h_front - timing.h_sync - 2 * timing.h_border
        tally.hold(name, "porches", row[6], (timing.h_front, timing.h_sync, back))
    ours = _ours(timing)
    near = all(abs(float(a) - float(b)) < 0.011 for a, b in zip(row[:5], ours, strict=True))  # type: ignore[arg-type]
    tally.hold(name, kind, row[:5], row[:5] if near else ours)


def _read_timings(text: str) -> dict[str, list[Row]]:
    """The timings that a text prints, by kind; `_PORCHES` of a detailed one stand in the next line."""
    found: dict[str, list[Row]] = {
        kind: [] for kind in ("detailed", "displayid", "vic", "hdmi vic", "established", "standard")
    }
    heading = block = ""
    lines = text.split("\n")
    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        block = line if line.startswith("Block ") else block
        if re.match(r"(  |    )[A-Z]", line) and line.rstrip().endswith(":"):
            heading = line.strip()
        porches = _PORCHES.search(after)
        span = tuple(int(n) for n in porches.groups()) if porches else ()
        if match := _DETAILED.match(line):
            size = re.search(r"\((\d+) mm x (\d+) mm\)", line)
            mm = (int(size[1]), int(size[2])) if size else ()
            found["detailed"].append((*_printed(match, 0), mm, span))
        elif match := _DISPLAYID.match(line):
            kind = "detailed" if "Video Timing Extension" in block else "displayid"
            found[kind].append((*_printed(match, 0), (), span))
        elif (match := _VIC.match(line)) and heading.endswith("Video Data Block:"):
            found["vic"].append((*_printed(match, 1), int(match[1]), "(native)" in line))
        elif match := _HDMI_VIC.match(line):
            found["hdmi vic"].append(_printed(match, 1))
        elif match := _OLD.match(line):
            if heading.startswith("Established"):
                found["established"].append(_printed(match, 1))
            elif heading.startswith("Standard"):
                found["standard"].append((*_printed(match, 1), match[1] in ("GTF", "CVT")))
    return found
