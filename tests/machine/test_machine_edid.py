"""The EDID decoder against the standard's sample, and against edid-decode's text of real displays."""

from __future__ import annotations

import re
import tarfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.parse.edid import display_facts, is_edid, sum_holds
from shipworthy.model.words import Absent


def read(data: bytes) -> dict[str, object]:
    return {
        field.name: field.value if field.absent is None else field.absent for field in display_facts(data)
    }


def example(reference: Path, name: str) -> bytes:
    return bytes.fromhex((reference / "check-values" / name).read_text("ascii"))


def with_sum(block: bytearray) -> bytes:
    block[127] = -sum(block[:127]) % 256
    return bytes(block)


def built(maker: int = 0x30D1, serial: int = 0, descriptors: bytes = b"") -> bytes:
    """A base block built from the layout in check-values/display.md: 2560 x 1440 at 59.95 Hz."""
    timing = bytes.fromhex("565e00a0a0a029503020350055502100001a")
    block = bytearray(128)
    block[0:8] = bytes.fromhex("00ffffffffffff00")
    block[8:10] = maker.to_bytes(2, "big")
    block[10:12] = (0x1234).to_bytes(2, "little")
    block[12:16] = serial.to_bytes(4, "little")
    block[16:24] = bytes([20, 34, 1, 4, 0xA5, 60, 34, 0x78])
    block[54:72] = timing
    block[72 : 72 + len(descriptors)] = descriptors
    return with_sum(block)


def text_descriptor(tag: int, text: str) -> bytes:
    return bytes([0, 0, 0, tag, 0]) + (text.encode() + b"\n").ljust(13)


def test_the_standards_first_sample_reads_as_quoted(reference: Path) -> None:
    """VESA E-EDID 1.4 Appendix A.1, as corrected by an open-source library (check-values/display.md)."""
    data = example(reference, "edid-vesa-appendix-a1.hex")
    assert sum_holds(data)
    found = read(data)
    assert (found["maker"], found["model"], found["product_code"]) == ("ABC", "ABC LCD21", "0xF206")
    assert (found["manufactured"], found["edid_version"], found["digital"]) == ("2007-W01", "1.4", False)
    assert (found["width_px"], found["height_px"], found["refresh_hz"]) == (1600, 1200, 60.0)
    assert (found["width_mm"], found["height_mm"]) == (427, 320)


def test_the_second_example_reads_as_edid_decode_reads_it(reference: Path) -> None:
    """check-values/display.md, example 2."""
    found = read(example(reference, "edid-qhd-example.hex"))
    assert (found["maker"], found["model"], found["serial"]) == ("TST", "TEST QHD 27", "SN12345678")
    assert (found["product_code"], found["manufactured"], found["digital"]) == ("0x1234", "2024-W20", True)
    assert (found["width_px"], found["height_px"]) == (2560, 1440)
    assert found["refresh_hz"] == pytest.approx(59.9506, abs=0.001)
    assert (found["width_mm"], found["height_mm"]) == (597, 336)


def test_a_block_built_from_the_layout_reads_back() -> None:
    texts = text_descriptor(0xFC, "Lindwall 27") + text_descriptor(0xFF, "LW0007731")
    found = read(built(descriptors=texts))
    assert (found["maker"], found["model"], found["serial"]) == ("LFQ", "Lindwall 27", "LW0007731")
    assert (found["width_px"], found["height_px"], found["manufactured"]) == (2560, 1440, "2024-W20")


def test_a_serial_number_stands_where_there_is_no_text_and_a_filler_is_none() -> None:
    assert read(built(serial=987654321))["serial"] == "987654321"
    assert read(built(serial=0))["serial"] is Absent.NOT_OFFERED
    assert read(built(serial=0x01010101))["serial"] is Absent.NOT_OFFERED


def test_a_display_without_a_name_does_not_offer_one() -> None:
    assert read(built())["model"] is Absent.NOT_OFFERED


def test_a_block_with_one_changed_byte_says_nothing_plausible() -> None:
    good = built()
    for index in range(128):
        spoiled = bytearray(good)
        spoiled[index] ^= 0x10
        assert set(read(bytes(spoiled)).values()) == {Absent.IMPLAUSIBLE}


def test_a_block_that_is_cut_short_says_nothing_plausible() -> None:
    good = built()
    for size in range(128):
        assert not is_edid(good[:size])
        assert set(read(good[:size]).values()) == {Absent.IMPLAUSIBLE}


@given(st.binary(min_size=128, max_size=256))
def test_no_bytes_whatever_make_the_decoder_fail(data: bytes) -> None:
    block = bytearray(data[:128])
    block[0:8] = bytes.fromhex("00ffffffffffff00")
    assert len(read(with_sum(block))) == len(read(data))


def _printed(text: str) -> dict[str, str]:
    """What edid-decode printed of the base block."""
    base = text.split("Block 1,")[0]
    patterns = {
        "maker": r"Manufacturer: (.+)",
        "product": r"Model: (\d+)",
        "made": r"Made in: (.+)",
        "timing": r"DTD 1: +(\d+)x(\d+)(i?) +([\d.]+) Hz",
        "size": r"DTD 1:.*\((\d+) mm x (\d+) mm\)",
        "name": r"Display Product Name: '(.*)'",
        "serial": r"Display Product Serial Number: '(.*)'",
    }
    found: dict[str, str] = {}
    for name, pattern in patterns.items():
        match = re.search(pattern, base)
        if match:
            found[name] = "|".join(match.groups())
    return found


def test_real_displays_are_read_as_edid_decode_reads_them(reference: Path, tmp_path: Path) -> None:
    """953 displays of linuxhw/EDID (CC BY 4.0); their text is edid-decode's own."""
    with tarfile.open(reference / "edid" / "edid.tar.xz") as archive:
        archive.extractall(tmp_path, filter="data")
    agreed: Counter[str] = Counter()
    wrong: list[str] = []
    for binary in sorted(tmp_path.glob("*.bin")):
        data = binary.read_bytes()
        if not is_edid(data) or not sum_holds(data):
            agreed["refused"] += 1
            continue
        found, printed = read(data), _printed(binary.with_suffix(".txt").read_text("utf-8", "replace"))
        for name, same in _agreements(found, printed).items():
            agreed[name] += same
            if not same:
                wrong.append(f"{binary.stem} {name}: {found} and not {printed}")
    print(dict(agreed))
    assert wrong == []
    assert agreed["maker"] > 900 and agreed["timing"] > 900


def _agreements(found: dict[str, object], printed: dict[str, str]) -> dict[str, bool]:
    same: dict[str, bool] = {}
    if "maker" in printed:
        letters = printed["maker"]
        same["maker"] = found["maker"] == letters or (
            found["maker"] is Absent.IMPLAUSIBLE and not letters.isalpha()
        )
    if "product" in printed:
        same["product"] = int(str(found["product_code"]), 16) == int(printed["product"])
    if "timing" in printed:
        width, height, _, rate = printed["timing"].split("|")
        same["timing"] = (found["width_px"], found["height_px"]) == (int(width), int(height))
        same["rate"] = abs(float(str(found["refresh_hz"])) - float(rate)) < 0.001
    if "size" in printed:
        width, height = printed["size"].split("|")
        if width != "0" and height != "0":
            same["size"] = (found["width_mm"], found["height_mm"]) == (int(width), int(height))
    if "name" in printed:
        name = found["model"]
        same["name"] = name == printed["name"].strip() or (
            name is Absent.NOT_OFFERED and not printed["name"].strip()
        )
    if "serial" in printed:
        text = printed["serial"].strip()
        if set(text) - set("0 "):  # zeros alone are no serial
            same["serial"] = found["serial"] == text
    week = re.fullmatch(r"week (\d+) of (\d+)", printed.get("made", ""))
    if week and int(week[1]) <= 53:
        same["made"] = found["manufactured"] == f"{week[2]}-W{int(week[1]):02d}"
    return same
