"""DisplayID 1.x and 2.x sections, as they stand in an extension block of an EDID.

Standards: VESA DisplayID 1.3 and 2.0 (from memory; compared with edid-decode over real displays).
"""

from __future__ import annotations

from shipworthy.machine.parse.edid.cta861_vendor import oui_text
from shipworthy.machine.parse.edid.displayid_blocks import READERS
from shipworthy.machine.parse.edid.found import Found
from shipworthy.model.words import RemarkKind

TAG = 0x70
FIRST = 5  # of the block: tag, version, length, kind of product, count of further sections

_PRODUCTS_1 = (
    "extension section",
    "test structure",
    "display panel",
    "standalone display",
    "television",
    "repeater",
    "direct drive",
)
_USES_2 = (
    "extension section",
    "test structure",
    "generic display",
    "television",
    "desktop productivity",
    "desktop gaming",
    "presentation",
    "head-mounted virtual reality",
    "head-mounted augmented reality",
)
NAMES = {
    0x02: "colour characteristics",
    0x07: "VESA timings",
    0x08: "CTA timings",
    0x09: "range limits",
    0x0A: "serial",
    0x0B: "text",
    0x0C: "display device",
    0x0D: "power sequencing",
    0x0E: "transfer characteristics",
    0x10: "stereo",
    0x11: "type V timing",
    0x13: "type VI timing",
    0x27: "stereo",
    0x29: "container id",
    0x2C: "head-mounted display",
    0x2D: "head-mounted display's layer",
    0x2E: "luminance range",
}
_PADDING = (0x00, 0x20)  # tags of product blocks, and what fills a section up: then the length is 0 too


def read_displayid(data: bytes, where: str) -> Found:
    """Return what a block of 128 bytes says whose bytes from 1 on are a DisplayID section."""
    found = Found(where)
    version, length, product, further = data[1], data[2], data[3], data[4]
    modern = version >= 0x20
    names = _USES_2 if modern else _PRODUCTS_1
    found.section(
        "DisplayID section",
        1,
        (
            ("version", f"{version >> 4}.{version & 15}"),
            ("use" if modern else "product", names[product] if product < len(names) else f"{product}"),
            ("further sections", further),
        ),
    )
    end = FIRST + length
    if end > 126:
        found.fault(RemarkKind.BAD_LENGTH, f"a section of {length} bytes, at most 121 fit", 2)
        end = 126
    elif sum(data[1 : end + 1]) % 256:
        found.fault(RemarkKind.BAD_CHECKSUM, "DisplayID section", 1)
    _blocks(found, data[:end])
    return found


def _blocks(found: Found, data: bytes) -> None:
    """A block is three bytes of tag, revision and length, then so many bytes."""
    at = FIRST
    while at + 3 <= len(data):
        tag, revision, length = data[at : at + 3]
        payload = data[at + 3 : at + 3 + length]
        if tag in _PADDING and not length and not revision:
            return
        if len(payload) < length:
            found.fault(RemarkKind.BAD_LENGTH, f"{length} bytes, {len(payload)} are left", at)
            return
        _block(found, tag, revision, payload, at)
        at += 3 + length


def _block(found: Found, tag: int, revision: int, payload: bytes, at: int) -> None:
    least, reader = READERS.get(tag, (0, None))
    if reader is not None and len(payload) >= least:
        reader(found, payload, at, revision)
        return
    if reader is not None:
        found.fault(RemarkKind.BAD_LENGTH, f"block 0x{tag:02x} of {len(payload)} bytes", at)
        return
    name = f"DisplayID block 0x{tag:02x} {NAMES.get(tag, '')}".strip()
    if tag in (0x7E, 0x7F) and len(payload) >= 3:
        name = f"DisplayID vendor's block {oui_text(int.from_bytes(payload[:3], 'little'))}"
    found.section(name, at, (("bytes", payload.hex()),))
    found.fault(RemarkKind.NOT_UNDERSTOOD, name, at)
