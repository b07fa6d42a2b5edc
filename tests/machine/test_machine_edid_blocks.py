"""CTA-861 and DisplayID blocks, timings and faults, from blocks of our own and from any bytes whatever."""

from __future__ import annotations

from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.parse.edid.blocks import describe, read_edid
from shipworthy.machine.parse.edid.cta861 import svd
from shipworthy.machine.parse.edid.facts import display_facts
from shipworthy.machine.parse.edid.found import Found
from shipworthy.machine.parse.edid.timing import cvt_code, detailed_timing, established_iii, standard_timing
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.bounded import ends
from tests.machine.edid_bytes import (
    HEADER,
    QHD,
    base,
    cta,
    data_block,
    displayid,
    displayid_block,
    type_1,
    with_sum,
)
from tests.machine.facts_of import Facts, facts_of


def extension(block: bytes) -> Found:
    return read_edid(base(extensions=1) + block).blocks[1]


def facts(block: bytes) -> Facts:
    return facts_of(display_facts(base(extensions=1) + block))


def shown(block: Found, title: str) -> dict[str, object]:
    return {
        name: value for section in block.sections if section.title == title for name, value in section.fields
    }


# CTA-861


def test_video_codes_are_vics_and_only_the_lower_can_be_native() -> None:
    assert [svd(byte) for byte in (16, 144, 97, 193, 219)] == [
        (16, False),
        (16, True),
        (97, False),
        (193, False),
        (219, False),
    ]
    found = extension(cta(data_block(2, bytes([0x90, 97, 5, 0]))))
    assert [(t.origin, t.native) for t in found.timings] == [
        ("VIC 16", True),
        ("VIC 97", False),
        ("VIC 5", False),
    ]
    uhd, interlaced = found.timings[1:]
    assert (uhd.width_px, uhd.height_px, uhd.refresh_hz, uhd.clock_hz) == (3840, 2160, 60.0, 594_000_000)
    assert (interlaced.height_px, interlaced.interlaced, interlaced.v_blank) == (1080, True, 22.5)
    assert [(f.kind, f.detail) for f in found.faults] == [(RemarkKind.BAD_VALUE, "reserved VIC 0")]


def test_sound_speakers_and_an_hdmi_block_are_read() -> None:
    """The blocks of check-values/display.md, example 2."""
    found = extension(
        cta(
            data_block(1, bytes([0x09, 7, 7])), data_block(4, bytes([1, 0, 0])), bytes.fromhex("65030c001000")
        )
    )
    assert shown(found, "Sound formats") == {"PCM": "2 channels, 32, 44.1, 48 kHz, 16, 20, 24 bits"}
    assert shown(found, "Speakers") == {"speakers": "FL/FR"}
    assert shown(found, "HDMI")["physical address"] == "1.0.0.0"
    assert found.claims["hdmi"] is True


def test_hdmis_own_video_codes_follow_the_latencies() -> None:
    latencies = bytes([0xE0, 1, 2, 3, 4])
    payload = bytes.fromhex("030c00") + bytes([0x10, 0, 0xB8, 68]) + latencies + bytes([0, 2 << 5, 1, 4])
    found = extension(cta(data_block(3, payload)))
    assert [(t.origin, t.width_px) for t in found.timings] == [("HDMI VIC 1", 3840), ("HDMI VIC 4", 4096)]
    assert shown(found, "HDMI")["most TMDS clock MHz"] == 340


@pytest.mark.parametrize(
    ("block", "by", "least", "most"),
    [
        (data_block(3, bytes.fromhex("1a0000") + bytes([1, 1, 48, 144, 0])), "AMD", 48, 144),
        (
            data_block(3, bytes.fromhex("d85dc4") + bytes([1, 120, 0x80, 0x60, 0, 0x28, 0xF0])),
            "HDMI Forum",
            40,
            240,
        ),
        (
            data_block(3, bytes.fromhex("d85dc4") + bytes([1, 120, 0x80, 0x60, 0, 0x70, 0x68])),
            "HDMI Forum",
            48,
            360,
        ),
        (data_block(7, bytes([0x79, 0, 0, 1, 120, 0x80, 0x60, 0, 0x30, 0x90])), "HDMI Forum", 48, 144),
    ],
)
def test_a_variable_refresh_rate_has_its_range_and_its_source(
    block: bytes, by: str, least: int, most: int
) -> None:
    found = facts(cta(block))
    assert (found["vrr_min_hz"], found["vrr_max_hz"], found["vrr_source"]) == (least, most, by)


def test_a_range_upside_down_is_a_fault_and_no_fact() -> None:
    block = cta(data_block(3, bytes.fromhex("1a0000") + bytes([1, 1, 144, 48, 0])))
    assert facts(block)["vrr_min_hz"] is Absent.NOT_OFFERED
    assert [fault.kind for fault in extension(block).faults] == [RemarkKind.BAD_VALUE]


def test_hdr_of_vendors_is_named_beside_the_curves() -> None:
    block = cta(
        data_block(7, bytes([6, 0x04, 1])), data_block(7, bytes([1]) + bytes.fromhex("46d000") + bytes(4))
    )
    assert facts(block)["hdr"] == "SMPTE ST 2084, Dolby Vision"
    assert [fault.kind for fault in extension(block).faults] == [RemarkKind.NOT_UNDERSTOOD]


def test_a_map_of_420_names_codes_of_the_video_block() -> None:
    video = data_block(2, bytes([96, 97, 16]))
    found = extension(cta(video, data_block(7, bytes([15, 0b011]))))
    assert shown(found, "Video in 4:2:0 too") == {"VIC": "96, 97"}
    beyond = extension(cta(video, data_block(7, bytes([15, 0b1000]))))
    assert [fault.kind for fault in beyond.faults] == [RemarkKind.BAD_REFERENCE]
    everything = extension(cta(video, data_block(7, bytes([15]))))
    assert shown(everything, "Video in 4:2:0 too") == {"VIC": "96, 97, 16"}


def test_capabilities_and_colorimetry_have_words() -> None:
    found = extension(cta(data_block(7, bytes([0, 0xC5])), data_block(7, bytes([5, 0xC0, 0x80]))))
    assert shown(found, "Video capability")["RGB quantization"] == "selectable"
    assert shown(found, "Colorimetry") == {"colorimetry": "BT2020YCC, BT2020RGB, ST2113RGB"}


def test_detailed_timings_of_an_extension_end_at_the_padding() -> None:
    found = extension(cta(data_block(2, bytes([16])), timings=(QHD, QHD), flags=0x41))
    assert [(t.width_px, t.native) for t in found.timings if t.origin == "detailed"] == [
        (2560, True),
        (2560, False),
    ]


def test_hdmis_count_of_extensions_overrides_the_base_blocks() -> None:
    more = base(extensions=1) + cta(data_block(7, bytes([0x78, 2]))) + displayid()
    assert read_edid(more).faults == ()
    assert read_edid(more).believed == 3
    short = base(extensions=1) + cta(data_block(7, bytes([0x78, 2])))
    assert [fault.kind for fault in read_edid(short).faults] == [RemarkKind.CUT_SHORT]


@pytest.mark.parametrize(
    ("block", "kind"),
    [
        (with_sum(bytes([2, 3, 3, 0])), RemarkKind.BAD_REFERENCE),
        (with_sum(bytes([2, 3, 6, 0, 0x5F, 16])), RemarkKind.BAD_LENGTH),
        (cta(data_block(1, bytes([9, 7]))), RemarkKind.BAD_LENGTH),
        (cta(data_block(3, b"\x03")), RemarkKind.BAD_LENGTH),
        (cta(data_block(7, b"")), RemarkKind.BAD_LENGTH),
        (cta(data_block(7, bytes([6]))), RemarkKind.BAD_LENGTH),
        (cta(data_block(7, bytes([100, 1]))), RemarkKind.NOT_UNDERSTOOD),
        (cta(data_block(5, bytes([1, 2, 3]))), RemarkKind.NOT_UNDERSTOOD),
        (with_sum(bytes([0x55]) + bytes(20)), RemarkKind.NOT_UNDERSTOOD),
    ],
)
def test_faults_of_an_extension_are_named(block: bytes, kind: RemarkKind) -> None:
    assert [fault.kind for fault in extension(block).faults] == [kind]


# DisplayID


def test_a_tile_says_which_it_is_of_how_many() -> None:
    payload = bytes([0x80, 0x10, 0x10, 0]) + (2559).to_bytes(2, "little") + (2879).to_bytes(2, "little")
    payload += bytes(5) + b"TRN" + bytes.fromhex("3412") + (77).to_bytes(4, "little")
    found = facts(displayid(displayid_block(0x12, payload)))
    assert (found["tiles"], found["tile"]) == ("2 x 1", "column 2, row 1")
    shown_tile = shown(extension(displayid(displayid_block(0x12, payload))), "DisplayID tiled topology")
    assert (shown_tile["maker"], shown_tile["tile pixels"]) == ("TRN", "2560 x 2880")


def test_types_i_and_vii_differ_by_the_unit_of_the_clock() -> None:
    first = extension(displayid(displayid_block(3, type_1(3840, 2160, 53300)))).timings[0]
    assert (first.width_px, first.height_px, first.clock_hz, first.preferred) == (
        3840,
        2160,
        533_000_000,
        True,
    )
    assert (first.h_blank, first.v_blank, first.h_front, first.h_sync) == (160, 60, 48, 32)
    assert first.refresh_hz == pytest.approx(533e6 / (4000 * 2220), abs=0.001)
    seventh = extension(displayid(displayid_block(0x22, type_1(3840, 2160, 533_000)), version=0x20)).timings[
        0
    ]
    assert seventh.clock_hz == 533_000_000


def test_parameters_product_and_interface_are_read() -> None:
    size = (8000).to_bytes(2, "little") + (3300).to_bytes(2, "little")
    pixels = (5120).to_bytes(2, "little") + (2160).to_bytes(2, "little")
    parameters = displayid_block(1, size + pixels + bytes([0, 120, 137, 0x99]))
    product = displayid_block(0, b"HLW" + bytes.fromhex("0500") + bytes(4) + bytes([12, 23, 5]) + b"Tarn5")
    found = extension(displayid(product, parameters, displayid_block(0x0F, bytes([0xA4, 0, 0x07, 0]))))
    assert shown(found, "DisplayID display parameters")["width mm"] == 800.0
    assert shown(found, "DisplayID display parameters")["native pixels"] == "5120 x 2160"
    assert shown(found, "DisplayID product") == {
        "maker": "HLW",
        "product code": "0x0005",
        "serial number": 0,
        "made": "week 12 of 2023",
        "name": "Tarn5",
    }
    said = facts(displayid(product, parameters))
    assert (said["model"], said["native_width_px"], said["native_height_px"]) == ("Tarn5", 5120, 2160)
    assert said["width_mm"] == 597  # the base block's own comes first
    assert shown(found, "DisplayID interface") == {
        "interface": "DisplayPort",
        "RGB bits": "6, 8, 10",
        "YCbCr 4:4:4 bits": "-",
    }


def test_blocks_of_cta_within_displayid_and_adaptive_sync_are_read() -> None:
    inner = data_block(3, bytes.fromhex("1a0000") + bytes([3, 1, 48, 120, 0]))
    assert facts(displayid(displayid_block(0x81, inner), version=0x20))["vrr_source"] == "AMD"
    sync = displayid_block(0x2B, bytes([0, 0, 48, 164, 0, 0]))
    found = facts(displayid(sync, version=0x20))
    assert (found["vrr_min_hz"], found["vrr_max_hz"]) == (48, 165)


def test_a_sections_own_sum_and_length_are_checked() -> None:
    good = bytearray(displayid(displayid_block(3, type_1(1920, 1080, 14850))))
    good[20] ^= 1
    spoiled = extension(with_sum(good))
    assert [(f.kind, f.detail) for f in spoiled.faults] == [(RemarkKind.BAD_CHECKSUM, "DisplayID section")]
    long = extension(with_sum(bytes([0x70, 0x12, 200, 3, 0])))
    assert [fault.kind for fault in long.faults] == [RemarkKind.BAD_LENGTH]
    left_over = extension(displayid(displayid_block(0x02, bytes(4)), displayid_block(0x0C, bytes(13))))
    assert [f.kind for f in left_over.faults] == [RemarkKind.NOT_UNDERSTOOD] * 2


# Timings


def test_an_interlaced_timing_counts_fields_and_half_a_line() -> None:
    timing = detailed_timing(bytes.fromhex("011d8018711c1620582c250055502100009e"))
    assert timing is not None
    assert (timing.width_px, timing.height_px, timing.refresh_hz) == (1920, 1080, 60.0)


def test_standard_timings_follow_the_aspect_and_vesas_slip() -> None:
    hd = standard_timing(bytes([0xD1, 0xC0]))
    assert hd is not None and (hd.width_px, hd.height_px, hd.clock_hz) == (1920, 1080, 148_500_000)
    assert standard_timing(b"\x01\x01") is None
    square = standard_timing(bytes([0x61, 0x00]), revision=2)
    assert square is not None and (square.width_px, square.height_px) == (1024, 1024)
    slip = standard_timing(bytes([0x61, 0x4C]))
    assert slip is not None and round(slip.refresh_hz) == 70


def test_codes_of_cvt_and_the_third_established_list() -> None:
    found = cvt_code(bytes([0x1F, 0x38, 0x28]))  # VESA DMT: 2560 x 1600, 60 Hz
    assert [(t.width_px, t.height_px, t.refresh_hz, t.preferred) for t in found] == [(2560, 1600, 60.0, True)]
    assert [t.origin for t in established_iii(bytes([0x80, 0, 0, 0, 0, 0x10]))] == [
        "established DMT 0x01",
        "established DMT 0x4a",
    ]


# Any bytes


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=1024), st.sampled_from([0x02, 0x10, 0x70, 0xF0, 0x00]), st.integers(0, 255))
def test_no_bytes_whatever_make_the_decoder_fail(data: bytes, tag: int, version: int) -> None:
    pieces = [data[at : at + 126] for at in range(0, len(data), 126)]
    blocks = b"".join(with_sum(bytes([tag, version]) + piece) for piece in pieces)
    whole = with_sum(HEADER + data[:118].ljust(118, b"\0") + bytes([len(pieces)])) + blocks
    for edid in (data, whole, whole[:-3], base(extensions=len(pieces)) + blocks):
        names = [field.name for field in ends(partial(display_facts, edid))]
        assert ends(partial(describe, edid)) is not None
        assert len(names) == len(set(names))


@pytest.mark.parametrize("filler", [0x00, 0xFF, 0x01, 0x02, 0x70, 0x21, 0xE1, 0x40])
def test_the_longest_edid_is_read_in_bounded_time(filler: int) -> None:
    block = with_sum(bytes([0x02, 3, 127, 0]) + bytes([filler]) * 123)
    section = with_sum(bytes([0x70, 0x12, 121, 3, 0]) + bytes([filler]) * 121)
    for extra in (block, section, with_sum(bytes([filler]) * 127)):
        data = base(extensions=255) + extra * 300
        ends(partial(display_facts, data))
        assert len(read_edid(data).blocks) == 256
