"""Pages and registers of an invented ATA drive, built by hand from the layouts that the parsers name."""

from __future__ import annotations

from collections.abc import Sequence

ASLEEP, AWAKE = 0x00, 0xFF


def summed(page: bytearray) -> bytes:
    """Return the page with the checksum that makes its 512 bytes add up to 0."""
    page[511] = 0
    page[511] = -sum(page[:511]) % 256
    return bytes(page)


def smart_data(rows: Sequence[tuple[int, int, int, int]], *, self_test: int = 0) -> bytes:
    """rows: (id, value, worst, raw of 48 bits). 30 entries of 12 bytes from byte 2."""
    page = bytearray(512)
    page[0] = 16
    for position, (number, value, worst, raw) in enumerate(rows):
        at = 2 + 12 * position
        page[at : at + 12] = bytes([number, 0x33, 0, value, worst]) + raw.to_bytes(6, "little") + b"\0"
    page[363] = self_test << 4
    return summed(page)


def thresholds(rows: Sequence[tuple[int, int]]) -> bytes:
    """rows: (id, threshold)."""
    page = bytearray(512)
    for position, (number, limit) in enumerate(rows):
        at = 2 + 12 * position
        page[at : at + 2] = bytes([number, limit])
    return summed(page)


def sense(*, count: int = 0, mid: int = 0, high: int = 0, fixed: bool = False) -> bytes:
    """Registers after a command without data: the descriptor 09h of SAT, or the fixed form."""
    if fixed:
        head = bytes([0x70, 0, 1, 0, 0x50, 0, count, 10, 0, 0, mid, high, 0x00, 0x1D])
        return head + bytes(4)
    descriptor = bytes([0x09, 12, 0, 0, 0, count, 0, 0, 0, mid, 0, high, 0, 0x50])
    return bytes([0x72, 1, 0, 0x1D, 0, 0, 0, 14]) + descriptor


def statistics(page: int, values: dict[int, int]) -> bytes:
    """values: by offset; each a quadword whose top byte says supported and valid."""
    data = bytearray(512)
    data[0:3] = bytes([1, 0, page])
    for at, value in values.items():
        data[at : at + 8] = (value | 0xC0 << 56).to_bytes(8, "little")
    return bytes(data)
