"""Vendors' data blocks of a CTA-861 extension: HDMI, HDMI Forum, AMD; others are named and left alone.

Sources: HDMI 1.4b section 8.3.2 and HDMI 2.1 section 10.3.2 (from memory), AMD's as edid-decode and the
Linux driver amdgpu read it; compared with edid-decode over real displays.
"""

from __future__ import annotations

from shipworthy.machine.parse.edid.found import Found, flags
from shipworthy.machine.parse.edid.tables import HDMI_VICS, vics
from shipworthy.machine.parse.edid.timing import Timing, of_row
from shipworthy.model.base import Scalar
from shipworthy.model.words import RemarkKind

HDMI, HDMI_FORUM, AMD = 0x000C03, 0xC45DD8, 0x00001A
NAMES = {
    0x00D046: "Dolby",
    0x90848B: "HDR10+",
    0x0010FA: "Apple",
    0x00044B: "NVIDIA",
    0xCA125C: "Microsoft",
    0x3A0292: "VESA",
}
_DEEP = ("DVI dual link", "", "", "4:4:4 deep", "30 bit", "36 bit", "48 bit", "ACP and ISRC")
_FIXED_LINKS = (
    "none",
    "3 Gbit/s on 3 lanes",
    "6 Gbit/s on 3 lanes",
    "6 Gbit/s on 4 lanes",
    "8 Gbit/s on 4 lanes",
    "10 Gbit/s on 4 lanes",
    "12 Gbit/s on 4 lanes",
)
_FORUM_3 = ("", "", "", "scrambling below 340 MHz", "", "", "read requests", "SCDC")
_FORUM_5 = (
    "fast active lines in blanking",
    "auto low latency",
    "fast vactive",
    "negative Mvrr",
    "cinema VRR",
    "Mdelta",
    "quick media switching",
    "FAPA end extended",
)


def _oui(payload: bytes) -> int:
    return int.from_bytes(payload[:3], "little")


def oui_text(oui: int) -> str:
    """Return an OUI as it is written, with the vendor's name where it is one that displays use."""
    text = f"{oui >> 16:02X}-{oui >> 8 & 0xFF:02X}-{oui & 0xFF:02X}"
    return f"{NAMES[oui]} ({text})" if oui in NAMES else text


def read_vendor(found: Found, payload: bytes, at: int) -> None:
    """Read a vendor's data block: three bytes of OUI, lowest first, then the vendor's own."""
    if len(payload) < 3:
        found.fault(RemarkKind.BAD_LENGTH, f"a vendor's block of {len(payload)} bytes", at)
        return
    oui, body = _oui(payload), payload[3:]
    if oui == HDMI and len(body) >= 2:
        _hdmi(found, body, at)
    elif oui == HDMI_FORUM and len(body) >= 4:
        hdmi_forum(found, body, at)
    elif oui == AMD and len(body) >= 4:
        amd(found, body, at)
    else:
        _left_over(found, "vendor's block", oui, body, at)


def read_vendor_video(found: Found, body: bytes, at: int) -> None:
    """The vendor's video block: Dolby Vision and HDR10+ are told by their OUI, and named as HDR."""
    oui = _oui(body)
    if oui == 0x00D046:
        found.claim("dolby_vision", True)
    elif oui == 0x90848B:
        found.claim("hdr10_plus", True)
    _left_over(found, "vendor's video block", oui, body[3:], at)


def _left_over(found: Found, name: str, oui: int, body: bytes, at: int) -> None:
    found.section(f"{name} {oui_text(oui)}", at, (("bytes", body.hex()),))
    found.fault(RemarkKind.NOT_UNDERSTOOD, f"{name} {oui_text(oui)}", at)


def _hdmi(found: Found, body: bytes, at: int) -> None:
    """Physical address, deep colour, TMDS clock, latencies, and HDMI's own video codes."""
    address = ".".join(str(n) for n in (body[0] >> 4, body[0] & 15, body[1] >> 4, body[1] & 15))
    pairs: list[tuple[str, Scalar]] = [("physical address", address)]
    if len(body) > 2:
        pairs.append(("link", flags(body[2], _DEEP)))
    if len(body) > 3 and body[3]:
        pairs.append(("most TMDS clock MHz", body[3] * 5))
    timings: list[Timing] = []
    if len(body) > 4:
        pairs.append(("content", flags(body[4] & 15, ("graphics", "photo", "cinema", "game"))))
        timings = _hdmi_codes(found, body, at)
    found.section("HDMI", at, tuple(pairs))
    found.add("HDMI video", at, timings)
    found.claim("hdmi", True)


def _hdmi_codes(found: Found, body: bytes, at: int) -> list[Timing]:
    """The codes follow two bytes for each of latency and interlaced latency, if those are there."""
    byte = body[4]
    position = 5 + (2 if byte & 0x80 else 0) + (2 if byte & 0xC0 == 0xC0 else 0)
    if not byte & 0x20 or len(body) < position + 2:
        return []
    count = body[position + 1] >> 5
    codes = body[position + 2 : position + 2 + count]
    if len(codes) < count:
        found.fault(RemarkKind.BAD_LENGTH, f"{count} HDMI video codes, {len(codes)} are there", at)
    known = [code for code in codes if code in HDMI_VICS]
    if len(known) < len(codes):
        found.fault(RemarkKind.BAD_VALUE, "reserved HDMI video code", at)
    return [of_row(f"HDMI VIC {code}", vics()[HDMI_VICS[code]]) for code in known]


def hdmi_forum(found: Found, body: bytes, at: int) -> None:
    """HDMI 2.x: TMDS rate, fixed rate link, and the range of the variable refresh rate."""
    pairs: list[tuple[str, Scalar]] = [
        ("version", body[0]),
        ("most TMDS rate MHz", body[1] * 5),
        ("features", flags(body[2], _FORUM_3)),
    ]
    link = body[3] >> 4
    pairs.append(("fixed rate link", _FIXED_LINKS[link] if link < 7 else f"reserved {link}"))
    if len(body) > 4:
        pairs.append(("variable refresh features", flags(body[4], _FORUM_5)))
    if len(body) > 6:
        least, most = body[5] & 0x3F, (body[5] & 0xC0) << 2 | body[6]
        pairs += [("VRR least Hz", least), ("VRR most Hz", most)]
        if least:
            _range(found, least, most, "HDMI Forum", at)
    found.section("HDMI Forum", at, tuple(pairs))
    found.claim("hdmi", True)


def _range(found: Found, least: int, most: int, by: str, at: int) -> None:
    """A range's end of 0 means the rate of the timing; a range that is none is a fault, and no claim."""
    if most and most <= least:
        found.fault(RemarkKind.BAD_VALUE, f"variable refresh {least}-{most} Hz", at)
        return
    if "vrr_min_hz" not in found.claims:
        found.claim("vrr_min_hz", least)
        found.claim("vrr_max_hz", most or None)
        found.claim("vrr_source", by)


def amd(found: Found, body: bytes, at: int) -> None:
    """AMD's: version, then least and most rate. What the flags mean is published nowhere."""
    found.section(
        "AMD variable refresh",
        at,
        (
            ("version", f"{body[0]}.{body[1]}"),
            ("least Hz", body[2]),
            ("most Hz", body[3]),
            ("flags", body[4:6].hex()),
        ),
    )
    if body[2] and body[3]:
        _range(found, body[2], body[3], "AMD", at)
