"""Where an EDID holds serials, in all of its blocks: so that a specimen can be given away without them.

The base block is not the only one: a DisplayID product or tile has the number again, some displays give the
base block twice, and Apple's blocks of its own have the serial as text (seen in edid-decode's samples).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from shipworthy.machine.parse.edid import cta861, displayid
from shipworthy.machine.parse.edid.base import DESCRIPTORS, SERIAL_TEXT
from shipworthy.machine.parse.edid.blocks import BLOCK_BYTES, HEADER, MOST_BLOCKS

_TEXT = bytes([0, 0, 0, SERIAL_TEXT])
_NUMBERS = {0x00: 5, 0x20: 5, 0x12: 18, 0x28: 18}  # DisplayID: product and tile, where the number is
_WHOLE = (0x0A, 0x7E, 0x7F)  # DisplayID: serial as text, makers' own blocks
_MAKERS_OWN = (1, 17)  # CTA-861 extended tags: a vendor's video and sound


class Place(NamedTuple):
    """A run of bytes with a serial. kind: `number`, `text`, or `own` of a block whose contents only its maker
    knows."""

    at: int
    length: int
    kind: str


def serial_places(data: bytes) -> tuple[Place, ...]:
    """Return where serials stand, or may stand, in an EDID of any number of blocks."""
    found: list[Place] = []
    for start in range(0, min(len(data), BLOCK_BYTES * MOST_BLOCKS) - BLOCK_BYTES + 1, BLOCK_BYTES):
        block = data[start : start + BLOCK_BYTES]
        found += [Place(start + at, length, kind) for at, length, kind in _in_block(block)]
    return tuple(found)


def _in_block(block: bytes) -> Iterator[Place]:
    if block[:8] == HEADER:
        yield Place(12, 4, "number")
        yield from _texts(block, DESCRIPTORS)
    elif block[0] == cta861.TAG and block[2] >= cta861.FIRST:
        yield from _in_collection(block[cta861.FIRST : block[2]], cta861.FIRST)
        yield from _texts(block, range(block[2], 127 - 17, 18))
    elif block[0] == displayid.TAG:
        yield from _in_section(block)


def _texts(block: bytes, starts: range | tuple[int, ...]) -> Iterator[Place]:
    yield from (Place(at + 5, 13, "text") for at in starts if block[at : at + 4] == _TEXT)


def _in_collection(data: bytes, begin: int) -> Iterator[Place]:
    """Vendors' data blocks, but those of HDMI and AMD, whose contents are known to be none."""
    at = 0
    while at < len(data):
        tag, length = data[at] >> 5, data[at] & 0x1F
        payload = data[at + 1 : at + 1 + length]
        extended = tag == 7 and payload[:1] and payload[0] in _MAKERS_OWN
        skip = 4 if extended else 3
        known = payload[:3] in (b"\x03\x0c\x00", b"\xd8\x5d\xc4", b"\x1a\x00\x00")
        if (extended or (tag == 3 and not known)) and len(payload) > skip:
            yield Place(begin + at + 1 + skip, len(payload) - skip, "own")
        at += 1 + length


def _in_section(block: bytes) -> Iterator[Place]:
    at, end = displayid.FIRST, min(displayid.FIRST + block[2], 126)
    while at + 3 <= end:
        tag, length = block[at], min(block[at + 2], end - at - 3)
        number = _NUMBERS.get(tag)
        if number is not None and length >= number + 4:
            yield Place(at + 3 + number, 4, "number")
        elif tag in _WHOLE and length:
            skip = 3 if tag != 0x0A and length > 3 else 0
            yield Place(at + 3 + skip, length - skip, "own" if skip else "text")
        elif tag == 0x81:
            yield from _in_collection(block[at + 3 : at + 3 + length], at + 3)
        at += 3 + max(length, 0)


def rewritten(data: bytes, change: Callable[[bytes, str], bytes]) -> bytes:
    """Return an EDID whose serials are what `change` makes of them; sums that held hold again.

    change: is given a serial's bytes (of a text, without its end and padding) and the place's kind. What it
    returns is cut or padded to the length. Of the kind `own`, zeros are the safe answer.
    """
    new = bytearray(data)
    for at, length, kind in serial_places(data):
        old = data[at : at + length]
        if kind == "text":
            text = change(old.split(b"\n")[0].rstrip(), kind)[:length]
            new[at : at + length] = (text + b"\n")[:length].ljust(length)
        else:
            new[at : at + length] = change(old, kind)[:length].ljust(length, b"\0")
    for start in range(0, len(data) - BLOCK_BYTES + 1, BLOCK_BYTES):
        _mend(data[start : start + BLOCK_BYTES], new, start)
    return bytes(new)


def _mend(old: bytes, new: bytearray, start: int) -> None:
    """Put right the sums that held before: a DisplayID section's own first, then the block's."""
    end = displayid.FIRST + old[2]
    if old[0] == displayid.TAG and end <= 126 and sum(old[1 : end + 1]) % 256 == 0:
        new[start + end] = -sum(new[start + 1 : start + end]) % 256
    if sum(old) % 256 == 0:
        new[start + 127] = -sum(new[start : start + 127]) % 256
