"""CTA-861 extension blocks: data blocks of video, sound, vendors, colour and HDR, and detailed timings.

Standards: CTA-861-H sections 7.4 and 7.5 (from memory; every field that is read here was compared with
edid-decode over real displays). Vendors' blocks are in `cta861_vendor`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shipworthy.machine.parse.edid.base import read_descriptor
from shipworthy.machine.parse.edid.cta861_vendor import (
    hdmi_forum,
    read_vendor,
    read_vendor_video,
)
from shipworthy.machine.parse.edid.displayid_timing import type_1_or_7
from shipworthy.machine.parse.edid.found import Found, Pairs, flags, number
from shipworthy.machine.parse.edid.timing import detailed_timing, of_vic
from shipworthy.model.base import Scalar
from shipworthy.model.words import RemarkKind

TAG = 0x02
FIRST = 4  # where the data blocks begin

_AUDIO_FORMATS = {
    1: "PCM",
    2: "AC-3",
    3: "MPEG-1",
    4: "MP3",
    5: "MPEG-2",
    6: "AAC LC",
    7: "DTS",
    8: "ATRAC",
    9: "One Bit Audio",
    10: "Enhanced AC-3",
    11: "DTS-HD",
    12: "MAT (MLP)",
    13: "DST",
    14: "WMA Pro",
}
_AUDIO_EXTENDED = {4: "MPEG-4 HE AAC", 5: "MPEG-4 HE AAC v2", 6: "MPEG-4 AAC LC", 7: "DRA"} | {
    8: "MPEG-4 HE AAC + MPEG Surround",
    10: "MPEG-4 AAC LC + MPEG Surround",
    11: "MPEG-H 3D",
    12: "AC-4",
    13: "L-PCM 3D",
}
_RATES = ("32", "44.1", "48", "88.2", "96", "176.4", "192")
_SIZES = ("16", "20", "24")
_SPEAKERS = (
    *("FL/FR", "LFE", "FC", "BL/BR", "BC", "FLC/FRC", "RLC/RRC", "FLW/FRW"),
    *("TpFL/TpFR", "TpC", "TpFC", "LS/RS", "LFE2", "TpBC", "SiL/SiR", "TpSiL/TpSiR"),
    *("TpBL/TpBR", "BtFC", "BtFL/BtFR", "TpLS/TpRS"),
)
_COLORIMETRY = (
    *("xvYCC601", "xvYCC709", "sYCC601", "opYCC601", "opRGB", "BT2020cYCC", "BT2020YCC", "BT2020RGB"),
    *("", "", "", "", "", "sRGB", "ICtCp", "ST2113RGB"),
)
_CURVES = ("SDR gamma", "HDR gamma", "SMPTE ST 2084", "HLG")
_SCAN = ("not told", "always overscanned", "always underscanned", "both")
_QUANTIZATION = ("not told", "selectable")
_VENDOR, _EXTENDED = 3, 7


def read_cta(data: bytes, where: str) -> Found:
    """Return what a CTA-861 block of 128 bytes says."""
    found = Found(where)
    revision, start, byte = data[1], data[2], data[3]
    header: list[tuple[str, Scalar]] = [("revision", revision)]
    if revision >= 2:
        header += [
            ("underscans by default", bool(byte & 0x80)),
            ("basic audio", bool(byte & 0x40)),
            ("YCbCr", flags(byte >> 4 & 3, ("4:2:2", "4:4:4"))),
            ("native detailed timings", byte & 0x0F),
        ]
        found.claim("audio", bool(byte & 0x40))
    found.section("CTA-861 extension", 0, tuple(header))
    if start and not FIRST <= start <= 127:
        found.fault(RemarkKind.BAD_REFERENCE, f"detailed timings at {start}", 2)
        return found
    if revision >= 3 and start > FIRST:
        read_collection(found, data[FIRST:start], FIRST)
    if start:
        _detailed(found, data, start, byte & 0x0F if revision >= 2 else 0)
    return found


def _detailed(found: Found, data: bytes, start: int, native: int) -> None:
    """Timings of 18 bytes from `start` to the checksum; a descriptor that is none may stand among them."""
    for index, at in enumerate(range(start, 127 - 17, 18)):
        block = data[at : at + 18]
        if not any(block):
            return
        timing = detailed_timing(block)
        if timing is not None:
            found.add("Detailed timing", at, [replace(timing, native=index < native)])
        elif block[:2] == b"\0\0" and block[2] == 0 and block[4] == 0:
            read_descriptor(found, block, at)
        else:
            found.fault(RemarkKind.BAD_VALUE, f"no timing: {block.hex(' ')}", at)


def read_collection(found: Found, data: bytes, at: int) -> None:
    """Read a run of data blocks: a byte of tag (bits 7 to 5) and length, then so many bytes.

    Timings of the video block are counted for the map of those that can also be 4:2:0.
    """
    videos: list[int] = []
    position = 0
    while position < len(data):
        tag, length = data[position] >> 5, data[position] & 0x1F
        payload = data[position + 1 : position + 1 + length]
        if len(payload) < length:
            found.fault(RemarkKind.BAD_LENGTH, f"{length} bytes, {len(payload)} are left", at + position)
            return
        if data[position]:
            _data_block(found, tag, payload, at + position, videos)
        position += 1 + length


def _data_block(found: Found, tag: int, payload: bytes, at: int, videos: list[int]) -> None:
    if tag == 2:
        codes = [svd(byte) for byte in payload]
        videos += [vic for vic, _ in codes]
        _vics(found, "Video", at, codes)
    elif tag == _VENDOR:
        read_vendor(found, payload, at)
    elif tag == _EXTENDED:
        _extended(found, payload, at, videos)
    elif tag in _PLAIN:
        _PLAIN[tag](found, payload, at)
    else:
        _left_over(found, f"data block {tag}", payload, at)


def _left_over(found: Found, name: str, payload: bytes, at: int) -> None:
    found.section(name, at, (("bytes", payload.hex()),))
    found.fault(RemarkKind.NOT_UNDERSTOOD, name, at)


def svd(byte: int) -> tuple[int, bool]:
    """Return the VIC of a short video descriptor, and whether it is native (bit 7, of VICs to 64)."""
    if 129 <= byte <= 192:
        return byte & 0x7F, True
    return byte, False


def _vics(found: Found, title: str, at: int, codes: list[tuple[int, bool]]) -> None:
    timings = [t for vic, native in codes if (t := of_vic(vic, native)) is not None]
    found.add(title, at, timings)
    unknown = [str(vic) for vic, native in codes if of_vic(vic, native) is None]
    if unknown:
        found.fault(RemarkKind.BAD_VALUE, f"reserved VIC {', '.join(unknown)}", at)


def _audio(found: Found, payload: bytes, at: int) -> None:
    """Three bytes a format: code and channels, rates, then sizes of PCM or the most bits a second."""
    pairs: list[tuple[str, Scalar]] = []
    for start in range(0, len(payload) - 2, 3):
        first, rates, last = payload[start : start + 3]
        code = first >> 3 & 15
        name = _AUDIO_EXTENDED.get(last >> 3) if code == 15 else _AUDIO_FORMATS.get(code)
        if name is None:
            name = f"reserved {code}" + (f", {last >> 3}" if code == 15 else "")
            found.fault(RemarkKind.BAD_VALUE, f"sound format {name}", at)
        text = f"{(first & 7) + 1} channels, {flags(rates, _RATES)} kHz"
        if code == 1:
            text += f", {flags(last & 7, _SIZES)} bits"
        elif 2 <= code <= 8:
            text += f", up to {last * 8} kbit/s"
        pairs.append((name, text))
    if len(payload) % 3:
        found.fault(RemarkKind.BAD_LENGTH, f"sound formats in {len(payload)} bytes", at)
    found.section("Sound formats", at, tuple(pairs))


def _speakers(found: Found, payload: bytes, at: int) -> None:
    found.section("Speakers", at, (("speakers", flags(number(payload[:3]), _SPEAKERS)),))


_PLAIN: dict[int, Callable[[Found, bytes, int], None]] = {1: _audio, 4: _speakers}


def _extended(found: Found, payload: bytes, at: int, videos: list[int]) -> None:
    """Blocks whose tag is the first byte."""
    if not payload:
        found.fault(RemarkKind.BAD_LENGTH, "an extended data block without a tag", at)
        return
    tag, body = payload[0], payload[1:]
    if tag == 15:
        _also_420(found, body, at, videos)
    elif tag in _EXTENSIONS and len(body) >= _LEAST.get(tag, 1):
        _EXTENSIONS[tag](found, body, at)
    elif tag in _EXTENSIONS:
        found.fault(RemarkKind.BAD_LENGTH, f"extended data block {tag} of {len(body)} bytes", at)
    else:
        _left_over(found, f"extended data block {tag}", body, at)


def _video_capability(found: Found, body: bytes, at: int) -> None:
    byte = body[0]
    pairs: Pairs = (
        ("YCbCr quantization", _QUANTIZATION[byte >> 7 & 1]),
        ("RGB quantization", _QUANTIZATION[byte >> 6 & 1]),
        ("preferred timing scan", _SCAN[byte >> 4 & 3]),
        ("IT formats scan", _SCAN[byte >> 2 & 3]),
        ("CE formats scan", _SCAN[byte & 3]),
    )
    found.section("Video capability", at, pairs)


def _colorimetry(found: Found, body: bytes, at: int) -> None:
    found.section("Colorimetry", at, (("colorimetry", flags(number(body[:2]), _COLORIMETRY)),))


def luminance(code: int) -> float:
    """Return the luminance in cd/m² of a code of CTA-861.3: 50 x 2^(code / 32)."""
    return round(50 * 2 ** (code / 32), 1)


def _hdr_static(found: Found, body: bytes, at: int) -> None:
    """Transfer curves; then most luminance, most of a frame's average, and least, each if not 0."""
    pairs: list[tuple[str, Scalar]] = [("curves", flags(body[0], _CURVES))]
    codes = body[2:5] + bytes(3)
    if codes[0]:
        pairs.append(("most luminance cd/m2", luminance(codes[0])))
        found.claim("luminance_max_cd_m2", luminance(codes[0]))
    if codes[1]:
        pairs.append(("most frame average cd/m2", luminance(codes[1])))
    if codes[0] and len(body) > 4:
        least = 50 * 2 ** (codes[0] / 32) * (codes[2] / 255) ** 2 / 100
        pairs.append(("least luminance cd/m2", round(least, 3)))
    found.section("HDR static metadata", at, tuple(pairs))
    beyond = [name for bit, name in ((2, _CURVES[2]), (3, _CURVES[3])) if body[0] >> bit & 1]
    found.claim("hdr", ", ".join(beyond) if beyond else None)


_HDR_TYPES = {1: "type 1", 2: "type 2", 3: "type 3", 4: "type 4"}


def _hdr_dynamic(found: Found, body: bytes, at: int) -> None:
    pairs: list[tuple[str, Scalar]] = []
    position = 0
    while position + 2 < len(body):
        length, kind = body[position], number(body[position + 1 : position + 3])
        pairs.append(("metadata", _HDR_TYPES.get(kind, f"type {kind}")))
        position += 1 + max(length, 2)
    found.section("HDR dynamic metadata", at, tuple(pairs))


def _only_420(found: Found, body: bytes, at: int) -> None:
    _vics(found, "Video in 4:2:0 only", at, [svd(byte) for byte in body])


def _also_420(found: Found, body: bytes, at: int, videos: list[int]) -> None:
    """A bit for each code of the video blocks before; an empty map means all of them."""
    bits = number(body)
    named = [vic for index, vic in enumerate(videos) if not body or bits >> index & 1]
    if bits >> len(videos):
        found.fault(RemarkKind.BAD_REFERENCE, "a bit for a video code that is not there", at)
    found.section("Video in 4:2:0 too", at, (("VIC", ", ".join(map(str, named)) or "-"),))


def _preferences(found: Found, body: bytes, at: int) -> None:
    names = [f"VIC {b}" if b < 129 or 193 <= b < 254 else f"timing {b - 128}" for b in body]
    found.section("Video format preference", at, (("in order", ", ".join(names)),))


def _type_7(found: Found, body: bytes, at: int) -> None:
    timings = [
        timing
        for start in range(1, len(body) - 19, 20)
        if (timing := type_1_or_7(body[start : start + 20], 7)) is not None
    ]
    found.add("DisplayID type VII timing", at, timings)


def _scdb(found: Found, body: bytes, at: int) -> None:
    """HDMI Forum's block as a data block of its own: two reserved bytes, then as in the vendor's."""
    hdmi_forum(found, body[2:], at)


def _override(found: Found, body: bytes, at: int) -> None:
    """HDMI 2.1: the true count of extension blocks, for displays whose base block says 1."""
    found.section("HDMI Forum extension count", at, (("extension blocks", body[0]),))
    found.claim("extension_blocks", body[0])


def _infoframes(found: Found, body: bytes, at: int) -> None:
    found.section("InfoFrames", at, (("bytes", body.hex()),))


def _vendor_audio(found: Found, body: bytes, at: int) -> None:
    oui = f"{body[2]:02X}-{body[1]:02X}-{body[0]:02X}" if len(body) > 2 else "?"
    _left_over(found, f"vendor's sound block {oui}", body[3:], at)


_EXTENSIONS: dict[int, Callable[[Found, bytes, int], None]] = {
    0: _video_capability,
    1: read_vendor_video,
    5: _colorimetry,
    6: _hdr_static,
    7: _hdr_dynamic,
    13: _preferences,
    14: _only_420,
    17: _vendor_audio,
    32: _infoframes,
    34: _type_7,
    0x78: _override,
    0x79: _scdb,
}
_LEAST = {5: 2, 6: 2, 34: 21, 0x79: 7}
"""Bytes that such a block has at least, its tag not counted."""
