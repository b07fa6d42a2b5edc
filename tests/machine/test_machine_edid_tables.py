"""Numbered timings: figures known from check values, and all of them against edid-decode's lists."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from shipworthy.machine.parse.edid.tables import (
    ESTABLISHED,
    ESTABLISHED_III,
    HDMI_VICS,
    dmt_of_standard,
    dmts,
    others,
    rate_hz,
    vics,
)

_LISTED = re.compile(
    r"(?:VIC +|DMT 0x|HDMI VIC )(\w+): +(\d+)x(\d+)(i?) +([\d.]+) Hz +(\S+) +([\d.]+) kHz +([\d.]+) MHz(.*)"
)


def listed(option: str) -> list[re.Match[str]]:
    tool = shutil.which("edid-decode")
    if tool is None:
        pytest.skip("edid-decode is not installed")
    text = subprocess.run([tool, option], capture_output=True, text=True, check=False).stdout
    if "VIC" not in text and "DMT" not in text:
        pytest.skip(f"this edid-decode has no {option}")
    return [match for line in text.splitlines() if (match := _LISTED.search(line))]


def test_vics_of_the_check_values() -> None:
    """check-values/display.md, VIC values."""
    wanted = {1: (640, 480, 59.94), 3: (720, 480, 59.94), 4: (1280, 720, 60.0), 16: (1920, 1080, 60.0)}
    wanted |= {18: (720, 576, 50.0), 19: (1280, 720, 50.0), 31: (1920, 1080, 50.0)}
    for vic, (width, height, rate) in wanted.items():
        row = vics()[vic]
        assert (row.width_px, row.height_px, round(rate_hz(row), 2)) == (width, height, rate)
    assert (vics()[31].clock_khz, vics()[31].h_total) == (148_500, 2640)


def test_numbers_are_those_of_the_standards() -> None:
    assert set(vics()) == {*range(1, 128), *range(193, 220)}
    assert set(dmts()) == set(range(1, 0x59))
    for row in (*vics().values(), *dmts().values(), *others().values()):
        lines = row.height_px / 2 if row.interlaced else row.height_px
        assert row.h_total > row.width_px
        assert row.v_total > lines
        assert 23.9 < rate_hz(row) < 241


def test_every_vic_dmt_and_hdmi_code_is_as_edid_decode_lists_it() -> None:
    for option, base, table in (("--list-vics", 10, vics()), ("--list-dmts", 16, dmts())):
        rows = listed(option)
        assert len(rows) == len(table)
        for match in rows:
            row = table[int(match[1], base)]
            assert (row.width_px, row.height_px, row.interlaced) == (
                int(match[2]),
                int(match[3]),
                match[4] == "i",
            )
            assert rate_hz(row) == pytest.approx(float(match[5]), abs=1e-5)
            assert row.clock_khz / row.h_total == pytest.approx(float(match[7]), abs=6e-4)
            assert row.clock_khz == round(float(match[8]) * 1000)
            assert not row.aspect or row.aspect == match[6]
            assert option == "--list-vics" or row.reduced is ("RB" in match[9])
    for match in listed("--list-hdmi-vics"):
        row = vics()[HDMI_VICS[int(match[1])]]
        assert (row.width_px, rate_hz(row)) == (int(match[2]), float(match[5]))


def test_established_bits_are_as_edid_decode_lists_them() -> None:
    tool = shutil.which("edid-decode")
    if tool is None:
        pytest.skip("edid-decode is not installed")
    text = subprocess.run(
        [tool, "--list-established-timings"], capture_output=True, text=True, check=False
    ).stdout
    found = re.findall(r"Byte 0x(..), Bit (\d): (DMT 0x(..)|\w+) *: +(\d+)x(\d+)i? +([\d.]+) Hz", text)
    if not found:
        pytest.skip("this edid-decode does not list them")
    for byte, bit, _, dmt, width, height, rate in found:
        offset = int(byte, 16)
        table = ESTABLISHED[offset - 0x23] if offset >= 0x23 else ESTABLISHED_III[offset - 6]
        name = table[7 - int(bit)]
        row = dmts()[name] if isinstance(name, int) else others()[name]
        assert not dmt or name == int(dmt, 16)
        assert (row.width_px, row.height_px) == (int(width), int(height))
        assert rate_hz(row) == pytest.approx(float(rate), abs=1e-5)


def test_a_standard_timing_is_vesas_where_vesa_has_it() -> None:
    assert dmt_of_standard(1920, 1200, 60) == 0x45
    assert dmt_of_standard(1600, 900, 60) == 0x53
    assert dmt_of_standard(1152, 864, 60) is None
