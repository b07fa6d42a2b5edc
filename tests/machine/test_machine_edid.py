"""Facts about a display from its EDID: the standard's sample, blocks of our own, and real displays."""

from __future__ import annotations

import pytest

from shipworthy.machine.parse.edid.blocks import describe, is_edid, read_edid, sum_holds
from shipworthy.machine.parse.edid.facts import display_facts
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.edid_bytes import (
    QHD,
    base,
    built,
    cta,
    data_block,
    displayid,
    displayid_block,
    range_descriptor,
    text_descriptor,
    type_1,
    with_sum,
)
from tests.machine.facts_of import Facts, facts_of

# VESA E-EDID 1.4 Appendix A.1 as check-values/display.md quotes its fields, written anew from those
STANDARDS_TIMING = bytes.fromhex("483f403062b0324040c01300ab401100001e")


def read(data: bytes) -> Facts:
    return facts_of(display_facts(data))


def kinds(data: bytes) -> list[tuple[RemarkKind, str]]:
    return [(fault.kind, fault.where) for fault in read_edid(data).faults]


def test_the_standards_first_sample_reads_as_quoted() -> None:
    data = base(
        maker=0x0443,
        serial=1,
        week=1,
        year=2007,
        video=0x0F,
        size_cm=(43, 32),
        timing=STANDARDS_TIMING,
        descriptors=(
            bytes(18),
            bytes.fromhex("000000f7000af70f0387c000000000000000"),
            text_descriptor(0xFC, b"ABC LCD21"),
        ),
    )
    found = read(data)
    assert (found["maker"], found["model"], found["digital"]) == ("ABC", "ABC LCD21", False)
    assert (found["manufactured"], found["edid_version"], found["interface"]) == (
        "2007-W01",
        "1.4",
        "analogue",
    )
    assert (found["width_px"], found["height_px"], found["refresh_hz"]) == (1600, 1200, 60.0)
    assert (found["width_mm"], found["height_mm"], found["diagonal_inch"]) == (427, 320, 21.0)
    timing = read_edid(data).preferred()
    assert timing is not None
    assert (timing.clock_hz, timing.h_blank, timing.v_blank) == (162_000_000, 560, 50)
    assert (timing.h_front, timing.h_sync, timing.v_front, timing.v_sync) == (64, 192, 1, 3)


def test_both_check_values_read_as_printed(reference) -> None:  # type: ignore[no-untyped-def]
    """check-values/display.md: the standard's sample and the composed one, as edid-decode reads them."""
    folder = reference / "check-values"
    first = bytes.fromhex((folder / "edid-vesa-appendix-a1.hex").read_text("ascii"))
    second = bytes.fromhex((folder / "edid-qhd-example.hex").read_text("ascii"))
    assert read(first)["product_code"] == "0xF206"
    assert (read(first)["range_min_hz"], read(first)["range_max_hz"], read(first)["range_max_khz"]) == (
        50,
        90,
        110,
    )
    found = read(second)
    assert (found["maker"], found["model"], found["serial"]) == ("TST", "TEST QHD 27", "SN12345678")
    assert (found["serial_number"], found["manufactured"]) == ("987654321", "2024-W20")
    assert (found["interface"], found["bits_per_colour"]) == ("DisplayPort", 8)
    assert found["refresh_hz"] == pytest.approx(59.9506, abs=0.001)
    vics = [t.origin for t in read_edid(second).blocks[1].timings if t.origin.startswith("VIC")]
    assert vics == ["VIC 16", "VIC 31", "VIC 4", "VIC 19", "VIC 3", "VIC 18", "VIC 1"]
    assert [kind for kind, _ in kinds(first) + kinds(second)] == []


def test_texts_serials_and_range_are_read() -> None:
    descriptors = (
        text_descriptor(0xFC, b"Lindwall 27"),
        text_descriptor(0xFF, b"LW0007731"),
        range_descriptor(48, 144, 30, 222, 600),
    )
    found = read(base(descriptors=descriptors))
    assert (found["maker"], found["maker_code"], found["model"]) == ("LFQ", "LFQ", "Lindwall 27")
    assert found["serial"] == "LW0007731"
    assert (found["range_min_hz"], found["range_max_hz"], found["pixel_clock_max_mhz"]) == (48, 144, 600)


def test_a_serial_number_stands_where_there_is_no_text_and_a_filler_is_none() -> None:
    assert read(base(serial=987654321))["serial"] == "987654321"
    assert read(base(serial=0))["serial"] is Absent.NOT_OFFERED
    assert read(base(serial=0x01010101))["serial"] is Absent.NOT_OFFERED
    zeros = read(base(serial=77, descriptors=(text_descriptor(0xFF, b"0000000000000"),)))
    assert (zeros["serial"], zeros["serial_number"]) == ("77", "77")
    for filler in ("0000000000001", "8888", "1234567890123", "000000010000"):
        assert read(base(descriptors=(text_descriptor(0xFF, filler),)))["serial"] is Absent.NOT_OFFERED


def test_a_text_beyond_ascii_keeps_both_halves() -> None:
    """Panels of notebooks have the computer maker's part number, 0x80, and the panel's type."""
    found = read(base(descriptors=(text_descriptor(0xFE, b"H97H1\x80156WHU"),)))
    assert found["text"] == "H97H1 156WHU"


def test_a_model_year_is_no_date_of_manufacture_and_a_year_to_come_is_implausible() -> None:
    found = read(base(week=0xFF, year=2023))
    assert (found["manufactured"], found["model_year"]) == (Absent.NOT_OFFERED, 2023)
    assert read(base(week=0, year=2022))["manufactured"] == "2022"
    late = base(week=49, year=2047)
    assert read(late)["manufactured"] is Absent.IMPLAUSIBLE
    assert (RemarkKind.BAD_VALUE, "block 0 at 17") in kinds(late)


def test_two_statements_of_the_size_are_weighed() -> None:
    """The timing's mm are believed where the cm agree, or are an aspect ratio, or of another shape."""
    assert (read(base())["width_mm"], read(base())["height_mm"]) == (597, 336)
    television = base(size_cm=(121, 68))
    assert (read(television)["width_mm"], read(television)["diagonal_inch"]) == (1210, 54.6)
    assert (RemarkKind.BAD_VALUE, "block 0 at 21") in kinds(television)
    assert read(base(size_cm=(16, 9)))["width_mm"] == 597
    assert read(base(size_cm=(45, 44)))["width_mm"] == 597
    shapes = QHD[:12] + bytes([16, 9, 0]) + QHD[15:]
    assert read(base(timing=shapes, size_cm=(16, 9)))["width_mm"] is Absent.NOT_OFFERED
    assert read(base(timing=shapes))["width_mm"] == 600
    pixels = QHD[:12] + bytes([2560 & 0xFF, 1440 & 0xFF, 2560 >> 8 << 4 | 1440 >> 8]) + QHD[15:]
    assert read(base(timing=pixels))["width_mm"] == 600
    bare = QHD[:12] + bytes(3) + QHD[15:]
    assert read(base(timing=bare))["width_mm"] == 600
    assert read(base(timing=bare, size_cm=(0, 0)))["diagonal_inch"] is Absent.NOT_OFFERED


def test_filler_is_no_timing_and_displayid_steps_in() -> None:
    filler = bytes.fromhex("010040006000 00a000000000 78be00000018")
    section = displayid(displayid_block(3, type_1(1600, 2560, 70499)))
    found = read(base(timing=filler, extensions=1) + section)
    assert (found["width_px"], found["height_px"]) == (1600, 2560)
    assert (RemarkKind.BAD_VALUE, "block 0 at 54") in kinds(base(timing=filler))


def test_the_highest_rate_is_that_of_the_preferred_pixels() -> None:
    fast = displayid(displayid_block(3, type_1(2560, 1440, 56880) + type_1(1920, 1080, 60000)))
    found = read(base(extensions=1) + fast)
    assert found["refresh_hz"] == 59.951
    assert found["max_refresh_hz"] == pytest.approx(568.8e6 / (2720 * 1500), abs=0.001)


def test_an_extension_that_is_spoiled_or_missing_says_nothing_and_is_named() -> None:
    hdr = cta(data_block(7, bytes([6, 0x0D, 1, 0x62, 0x62, 0x30])))
    good = base(extensions=1) + hdr
    assert (read(good)["hdr"], read(good)["luminance_max_cd_m2"]) == ("SMPTE ST 2084, HLG", 417.7)
    spoiled = good[:200] + bytes([good[200] ^ 1]) + good[201:]
    assert (read(spoiled)["hdr"], read(spoiled)["model"]) == (Absent.IMPLAUSIBLE, Absent.NOT_OFFERED)
    assert read(spoiled)["width_px"] == 2560
    assert kinds(spoiled) == [(RemarkKind.BAD_CHECKSUM, "block 1")]
    short = good[:200]
    assert read(short)["hdr"] is Absent.NOT_READABLE
    assert kinds(short) == [(RemarkKind.CUT_SHORT, "block 1")]


def test_a_block_beyond_the_count_is_shown_and_not_believed() -> None:
    hdr = cta(data_block(7, bytes([6, 0x0D, 1])))
    more = base() + hdr
    assert read(more)["hdr"] is Absent.NOT_OFFERED
    assert kinds(more) == [(RemarkKind.BAD_LENGTH, "block 0 at 126")]
    assert any(section.title == "HDR static metadata" for section in describe(more))
    again = base(extensions=1) + base(extensions=1)
    assert kinds(again) == [(RemarkKind.REPEATED, "block 1")]


def test_a_block_with_one_changed_byte_says_nothing_plausible() -> None:
    good = built(serial=7, descriptors=text_descriptor(0xFC, "Lindwall 27"))
    for index in range(128):
        spoiled = bytearray(good)
        spoiled[index] ^= 0x10
        assert set(read(bytes(spoiled)).values()) == {Absent.IMPLAUSIBLE}
        named = [kind for kind, where in kinds(bytes(spoiled)) if where == "block 0"]
        assert RemarkKind.BAD_CHECKSUM in named
        assert (RemarkKind.BAD_HEADER in named) is (index < 8)


def test_a_block_that_is_cut_short_says_nothing_plausible() -> None:
    good = base()
    for size in range(128):
        assert not is_edid(good[:size])
        assert set(read(good[:size]).values()) == {Absent.IMPLAUSIBLE}
        assert kinds(good[:size]) == [(RemarkKind.CUT_SHORT, "block 0")]


def test_a_block_map_that_does_not_fit_is_named() -> None:
    table = with_sum(bytes([0xF0, 0x02, 0x70]))
    right = base(extensions=3) + table + cta() + displayid()
    assert kinds(right) == []
    wrong = base(extensions=3) + table + displayid() + displayid()
    assert kinds(wrong) == [(RemarkKind.BAD_REFERENCE, "block 1 at 1")]


def test_sums_are_of_the_first_block() -> None:
    assert sum_holds(base()) and not sum_holds(base()[:127] + b"\xff")
