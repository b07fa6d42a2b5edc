"""EDIDs of our own making, byte by byte from the standards' layouts; makers and names are invented."""

from __future__ import annotations

from collections.abc import Sequence

HEADER = bytes.fromhex("00ffffffffffff00")
QHD = bytes.fromhex("565e00a0a0a029503020350055502100001a")
"""2560 x 1440 at 59.951 Hz, 241.5 MHz, 597 x 336 mm: check-values/display.md, example 2."""


def with_sum(block: bytes | bytearray) -> bytes:
    """Return 128 bytes whose last makes them sum to 0."""
    body = bytes(block)[:127].ljust(127, b"\0")
    return body + bytes((-sum(body) % 256,))


def text_descriptor(tag: int, text: str | bytes) -> bytes:
    data = text.encode("ascii") if isinstance(text, str) else text
    return bytes([0, 0, 0, tag, 0]) + (data + b"\n").ljust(13)[:13]


def built(maker: int = 0x30D1, serial: int = 0, descriptors: bytes = b"") -> bytes:
    """A base block with as little as a display can say: it names no colour and no standard timing."""
    block = bytearray(base(maker=maker, serial=serial))
    block[24] = 0
    block[38:54] = bytes(16)
    block[72 : 72 + len(descriptors)] = descriptors
    return with_sum(block)


def range_descriptor(least_hz: int, most_hz: int, least_khz: int, most_khz: int, clock_mhz: int) -> bytes:
    return (
        bytes([0, 0, 0, 0xFD, 0, least_hz, most_hz, least_khz, most_khz, clock_mhz // 10, 1, 0x0A]) + b" " * 6
    )


def base(
    *,
    maker: int = 0x30D1,  # LFQ
    serial: int = 0,
    week: int = 20,
    year: int = 2024,
    revision: int = 4,
    video: int = 0xA5,
    size_cm: tuple[int, int] = (60, 34),
    timing: bytes = QHD,
    descriptors: Sequence[bytes] = (),
    extensions: int = 0,
) -> bytes:
    """A base block, by the offsets of VESA E-EDID 1.4."""
    block = bytearray(128)
    block[0:8] = HEADER
    block[8:10] = maker.to_bytes(2, "big")
    block[10:12] = (0x1234).to_bytes(2, "little")
    block[12:16] = serial.to_bytes(4, "little")
    block[16:24] = bytes([week, year - 1990, 1, revision, video, *size_cm, 0x78])
    block[24] = 0x3A
    block[38:54] = b"\1\1" * 8
    block[54:72] = timing
    for at, descriptor in zip((72, 90, 108), descriptors, strict=False):
        block[at : at + 18] = descriptor
    block[126] = extensions
    return with_sum(block)


def data_block(tag: int, payload: bytes) -> bytes:
    """A data block of CTA-861: tag and length in a byte."""
    return bytes([tag << 5 | len(payload)]) + payload


def cta(*blocks: bytes, timings: Sequence[bytes] = (), flags: int = 0x40, revision: int = 3) -> bytes:
    """A CTA-861 extension block."""
    data = b"".join(blocks)
    return with_sum(bytes([2, revision, 4 + len(data), flags]) + data + b"".join(timings))


def displayid_block(tag: int, payload: bytes, revision: int = 0) -> bytes:
    return bytes([tag, revision, len(payload)]) + payload


def displayid(*blocks: bytes, version: int = 0x12, product: int = 3) -> bytes:
    """An extension block with a DisplayID section, whose own sum holds too."""
    data = b"".join(blocks)
    section = bytes([version, len(data), product, 0]) + data
    return with_sum(bytes([0x70]) + section + bytes((-sum(section) % 256,)))


def type_1(width: int, height: int, clock_10khz: int, *, preferred: bool = True) -> bytes:
    """A DisplayID type I timing with 160 x 60 of blanking; every number is stored less one."""
    words = (width, 160, 48, 32, height, 60, 3, 5)
    begin = (clock_10khz - 1).to_bytes(3, "little") + bytes([0x80 if preferred else 0])
    return begin + b"".join((word - 1).to_bytes(2, "little") for word in words)
