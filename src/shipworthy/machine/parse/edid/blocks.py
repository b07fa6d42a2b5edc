"""An EDID as a whole: its blocks, and what can be trusted of them.

Standards: VESA E-EDID 1.3 and 1.4 (base block, extension count, block map), CTA-861 and DisplayID as
extensions, each in its own module. A block whose checksum does not hold, or that the base block does not
count, is shown to people and gives no facts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from shipworthy.machine.parse.edid import cta861, displayid
from shipworthy.machine.parse.edid.base import (
    LAST_YEAR,
    first_timing,
    read_base,
)
from shipworthy.machine.parse.edid.found import Found, letters
from shipworthy.machine.parse.edid.size import size_mm
from shipworthy.machine.parse.edid.timing import Timing, cvt_code, detailed_timing, standards
from shipworthy.machine.raw import Fault, Section, remark
from shipworthy.model.base import Scalar
from shipworthy.model.reading import Remark
from shipworthy.model.words import RemarkKind

HEADER = b"\x00\xff\xff\xff\xff\xff\xff\x00"
BLOCK_BYTES = 128
MOST_BLOCKS = 256
MOST_DECODED = 64  # more than 6 were never seen; of those beyond, only the checksum is looked at
BLOCK_MAP, TIMING_BLOCK = 0xF0, 0x10
_OTHER_BLOCKS = {0x20: "EDID 2.0", 0x40: "display information", 0x50: "localized strings"} | {
    0x60: "digital packet video link",
    0xFF: "the maker's own",
}


@dataclass(frozen=True, slots=True)
class Edid:
    """An EDID taken apart. believed: how many blocks, from the base block on, are counted as its own.

    blocks: what each says, in order. sound: which of them have a checksum that holds.
    """

    data: bytes
    blocks: tuple[Found, ...]
    sound: tuple[bool, ...]
    believed: int
    faults: tuple[Fault, ...]

    @property
    def trusted(self) -> bool:
        """Whether the base block is whole, by length, header and checksum."""
        return is_edid(self.data) and self.sound[0]

    def good(self) -> Iterator[Found]:
        """Yield the blocks whose word counts."""
        if self.trusted:
            pairs = list(zip(self.blocks, self.sound, strict=True))[: self.believed]
            yield from (block for block, sound in pairs if sound)

    def claim(self, name: str) -> Scalar | None:
        """Return the first good block's word on a fact."""
        return next((block.claims[name] for block in self.good() if name in block.claims), None)

    def timings(self) -> list[Timing]:
        """Return all timings of the good blocks."""
        return [timing for block in self.good() for timing in block.timings]

    def preferred(self) -> Timing | None:
        """Return the base block's first timing; where that is none, one that is marked as preferred."""
        first = first_timing(self.data) if self.trusted else None
        marked = (timing for timing in self.timings() if timing.preferred)
        return first or next(marked, None)


def is_edid(data: bytes) -> bool:
    """Return whether the bytes begin with a whole base block by length and header."""
    return len(data) >= BLOCK_BYTES and data[:8] == HEADER


def sum_holds(data: bytes) -> bool:
    """Return whether the 128 bytes of the base block sum to 0 modulo 256."""
    return sum(data[:BLOCK_BYTES]) % 256 == 0


def read_edid(data: bytes) -> Edid:
    """Take an EDID apart; every fault is named, and what can be read is read."""
    data = data[: BLOCK_BYTES * MOST_BLOCKS]
    pieces = [data[at : at + BLOCK_BYTES] for at in range(0, len(data) - BLOCK_BYTES + 1, BLOCK_BYTES)]
    if not pieces:
        short = Fault(RemarkKind.CUT_SHORT, "block 0", f"{len(data)} of {BLOCK_BYTES} bytes")
        return Edid(data, (), (), 0, (short,))
    blocks = tuple(_block(index, piece, pieces[0]) for index, piece in enumerate(pieces))
    sound = tuple(sum_holds(piece) for piece in pieces)
    override = blocks[1].claims.get("extension_blocks") if len(blocks) > 1 and sound[1] else None
    declared = int(override) if isinstance(override, int) else pieces[0][126]
    faults = [*_frame_faults(data, pieces, sound, declared), *_map_faults(pieces, sound)]
    for block in blocks:
        faults.extend(block.faults)
    return Edid(data, blocks, sound, min(declared + 1, len(pieces)), tuple(faults))


def _frame_faults(
    data: bytes, pieces: list[bytes], sound: tuple[bool, ...], declared: int
) -> Iterator[Fault]:
    """Header, checksums, and the count of extensions against the length."""
    if data[:8] != HEADER:
        yield Fault(RemarkKind.BAD_HEADER, "block 0", data[:8].hex(" "))
    for index, (piece, holds) in enumerate(zip(pieces, sound, strict=True)):
        if not holds:
            right = -sum(piece[:127]) % 256
            detail = f"0x{piece[127]:02x} stands there, the bytes need 0x{right:02x}"
            yield Fault(RemarkKind.BAD_CHECKSUM, f"block {index}", detail)
    rest = len(data) % BLOCK_BYTES
    there = len(pieces) - 1
    if rest or there < declared:
        detail = f"{declared} extension blocks are said, {there} are whole"
        yield Fault(RemarkKind.CUT_SHORT, f"block {there + 1}", detail)
    elif there > declared:
        yield Fault(
            RemarkKind.BAD_LENGTH, "block 0 at 126", f"{declared} extension blocks said, {there} there"
        )


def _map_faults(pieces: list[bytes], sound: tuple[bool, ...]) -> Iterator[Fault]:
    """Block maps stand in blocks 1 and 128, and have the tag of each block after them."""
    for index in (1, 128):
        if index >= len(pieces) or pieces[index][0] != BLOCK_MAP or not sound[index]:
            continue
        for offset, piece in enumerate(pieces[index + 1 : index + 127], 1):
            if pieces[index][offset] != piece[0]:
                detail = (
                    f"0x{pieces[index][offset]:02x} for block {index + offset}, which is 0x{piece[0]:02x}"
                )
                yield Fault(RemarkKind.BAD_REFERENCE, f"block {index} at {offset}", detail)


def _block(index: int, data: bytes, base: bytes) -> Found:
    where = f"block {index}"
    if index == 0:
        return _base(data)
    if index >= MOST_DECODED:
        beyond = Found(where)
        beyond.fault(RemarkKind.NOT_UNDERSTOOD, f"a block beyond the first {MOST_DECODED}")
        return beyond
    if data == base:
        repeated = Found(where)
        repeated.fault(RemarkKind.REPEATED, "the base block again")
        return repeated
    if data[0] == cta861.TAG:
        return cta861.read_cta(data, where)
    if data[0] == displayid.TAG:
        return displayid.read_displayid(data, where)
    found = Found(where)
    if data[0] == BLOCK_MAP:
        tags = [f"{n}: 0x{tag:02x}" for n, tag in enumerate(data[1:127], index + 1) if tag]
        found.section("Block map", 1, (("tags", ", ".join(tags) or "-"),))
    elif data[0] == TIMING_BLOCK:
        _timing_block(found, data)
    else:
        name = f"extension 0x{data[0]:02x} {_OTHER_BLOCKS.get(data[0], '')}".strip()
        found.section(name, 0, (("bytes", data.hex()),))
        found.fault(RemarkKind.NOT_UNDERSTOOD, name)
    return found


def _base(data: bytes) -> Found:
    """The base block, with what cannot be so in it."""
    found = read_base(data)
    year = data[17] + 1990
    if year > LAST_YEAR:
        found.fault(RemarkKind.BAD_VALUE, f"made in {year}", 17)
    if not letters(data[8] << 8 | data[9]):
        found.fault(RemarkKind.BAD_VALUE, f"maker 0x{data[8]:02x}{data[9]:02x} is no three letters", 8)
    if data[18] != 1:
        found.fault(RemarkKind.NOT_UNDERSTOOD, f"EDID version {data[18]}.{data[19]}", 18)
    if disagreement := size_mm(data, first_timing(data)).disagreement:
        found.fault(RemarkKind.BAD_VALUE, disagreement, 21)
    return found


def _timing_block(found: Found, data: bytes) -> None:
    """VESA's video timing block: counts of detailed timings, CVT codes and standard timings, then these."""
    detailed, codes, pairs = data[2:5]
    at = 5
    for kind, count, size in (("detailed", detailed, 18), ("CVT", codes, 3), ("standard", pairs, 2)):
        pieces = [data[at + i * size : at + (i + 1) * size] for i in range(count)]
        if at + count * size > 127:
            found.fault(RemarkKind.BAD_LENGTH, f"{count} {kind} timings", at)
            return
        for piece in pieces:
            if kind == "detailed" and (timing := detailed_timing(piece)):
                found.add("Detailed timing", at, [timing])
            elif kind != "detailed":
                found.add(f"{kind} timings", at, cvt_code(piece) if kind == "CVT" else standards(piece))
        at += count * size


def remarks_of(edid: Edid, source: str, before: str = "") -> tuple[Remark, ...]:
    """Return an EDID's faults as remarks on a source, equal ones counted at the first place.

    before: which of the source's EDIDs, such as `card0-DP-1 `.
    """
    counts = Counter((fault.kind, fault.detail) for fault in edid.faults)
    first = {(fault.kind, fault.detail): fault.where for fault in reversed(edid.faults)}
    return tuple(
        remark(source, kind, f"{before}{first[kind, detail]}", detail, count=count)
        for (kind, detail), count in counts.items()
    )


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every field of every block as it lies there, for people, and the faults at the end."""
    edid = read_edid(data)
    sections: list[Section] = []
    for index, block in enumerate(edid.blocks):
        holds = "holds" if edid.sound[index] else "does not hold"
        own = "" if index < edid.believed else " (not counted by the base block)"
        frame = (("checksum", f"0x{data[index * BLOCK_BYTES + 127]:02x}, {holds}"),)
        sections += [Section(f"Block {index}{own}", f"block {index}", frame), *block.sections]
    faults = tuple((f"{fault.kind} in {fault.where}", fault.detail) for fault in edid.faults)
    return (*sections, Section("Faults", "", faults)) if faults else tuple(sections)
