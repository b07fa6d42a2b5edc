"""A file with an EDID as a source: binary, a hex dump, or a text that has a dump in it."""

from __future__ import annotations

import re

from shipworthy.machine.parse.edid import blocks as whole
from shipworthy.machine.parse.edid.blocks import BLOCK_BYTES, HEADER, MOST_BLOCKS, read_edid, remarks_of
from shipworthy.machine.parse.edid.facts import facts_of
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each
from shipworthy.model.facts import Sighting
from shipworthy.model.words import PartKind

NAME = "edid"
MOST_TEXT, MOST_LINES = 1 << 18, 4096  # 256 blocks are 2048 lines of 16 bytes, in 160 KiB at most

_OFFSET = re.compile(r"[0-9a-f]{2,8}:[ \t]+(.*)")  # of `xxd` and `hexdump -C`, whose right half is text
_PREFIXES = re.compile(r"0x|[,\s]+")
_HEX = re.compile(r"(?:[0-9a-f]{2})+")


def edid_of_file(data: bytes) -> bytes:
    """Return the bytes of the EDID that a file holds.

    Binary files are given as they are. Of a text, the longest dump that begins with an EDID's header is
    taken: lines of nothing but hexadecimal digits (spaces, commas, `0x` and an offset before a colon may
    stand among them), empty lines between blocks. A dump without the header is given too, if no other is
    there, so that its fault can be named. A text without a dump is no EDID: it is given as it is.
    """
    if data[:8] == HEADER or b"\0" in data[:1024]:
        return data
    dumps = _dumps(data[:MOST_TEXT].decode("ascii", "replace").lower())
    whole = [dump for dump in dumps if dump.startswith(HEADER)]
    best = max(whole or dumps, key=len, default=b"")
    return best[: BLOCK_BYTES * MOST_BLOCKS] if whole or len(best) >= BLOCK_BYTES else data


def _dumps(text: str) -> list[bytes]:
    """Return the runs of lines that are hexadecimal, each as bytes."""
    runs: list[list[str]] = [[]]
    for line in text.splitlines()[:MOST_LINES]:
        digits = _digits(line)
        if digits:
            runs[-1].append(digits)
        elif line.strip():
            runs.append([])
    return [bytes.fromhex("".join(run)) for run in runs if run]


def _digits(line: str) -> str:
    """Return a line's hexadecimal digits if it has nothing else."""
    offset = _OFFSET.fullmatch(line.strip())
    if offset:  # `hexdump -C` has bars around its text and a gap amid its bytes, `xxd` two spaces before it
        line = offset[1].split("|")[0] if "|" in offset[1] else offset[1].split("  ")[0]
    bare = _PREFIXES.sub("", line)
    return bare if _HEX.fullmatch(bare) else ""


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is an EDID: it begins with the header, or a dump in it does.

    A text of an EDID's length has its header within the first 4096 bytes; the name tells nothing.
    """
    del name
    if head[:8] == HEADER:
        return True
    return b"\0" not in head and edid_of_file(head)[:8] == HEADER


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file: a display, by the file's name, as it does not tell where it was plugged in."""
    return parsed_each(replies, _parse_file)


def _parse_file(reply: Reply) -> Parsed:
    edid = read_edid(edid_of_file(reply.data))
    place = f"edid:{reply.locator.lstrip('/')}"
    display = Sighting(kind=PartKind.DISPLAY, place=place, source=reply.id, said=facts_of(edid))
    return Parsed((display,), remarks=tuple(remarks_of(edid, reply.id)))


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every field of the file's EDID as it lies there."""
    return whole.describe(edid_of_file(data))
