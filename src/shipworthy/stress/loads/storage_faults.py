"""A block did not compare equal: what was wrong, the data or the check, and does it stay so?"""

from __future__ import annotations

import mmap
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shipworthy.stress.loads.pattern_kernels import block_key, pattern
from shipworthy.stress.loads.storage_file import device_offset
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import Wrong

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Words = NDArray[np.uint64]

BLOCK_BYTES = 4096
WORD_BYTES = 8
SHOWN_MOST = 256  # of one piece; the engine shows fewer
DATA, CHECK = "data read back from the drive", "the check itself"
STAYS, ONCE = "stays wrong when read again", "right when read again"


@dataclass(frozen=True)
class Pattern:
    """What a file is written with: everything that a piece's key is made of, twice.

    purpose: what the seed was drawn from, so that it can be drawn again. again: the pass, kept a second time.
    """

    purpose: str
    seed: int
    number: int
    again: int
    piece_bytes: int

    @classmethod
    def of(cls, purpose: str, number: int, piece_bytes: int) -> Pattern:
        return cls(purpose, seed_of(purpose), number, number, piece_bytes)

    def key(self, offset_bytes: int) -> int:
        """Return the key of the piece that a byte lies in, as it was checked with."""
        return block_key(self.seed, self.number, offset_bytes // self.piece_bytes * self.piece_bytes)

    def expected(self, offset_bytes: int, count: int) -> Words:
        """Return `count` words from an offset on, made anew from the purpose, by another way than checked."""
        piece = offset_bytes // self.piece_bytes * self.piece_bytes
        key = block_key(seed_of(self.purpose), self.again, piece)
        return pattern(key, (offset_bytes - piece) // WORD_BYTES, count)


def examine(
    descriptor: int,
    made: Pattern,
    offset_bytes: int,
    got: Words,
    *,
    direct: bool = True,
    on_drive: bool = False,
) -> tuple[int, list[Wrong]]:
    """Return how many blocks of 4 KiB were wrong, and the wrong words one by one.

    Where the words are what they have to be after all, the fault lies in the check: its code, its state or
    the memory that it stood in. Otherwise each wrong block is read once more, past the cache.
    """
    expected = made.expected(offset_bytes, got.size)
    differing = np.flatnonzero(got != expected)
    if not differing.size:
        where = f"offset 0x{offset_bytes:x}: the data were right, the comparison said otherwise"
        return 1, [Wrong(what=CHECK, where=where)]
    blocks = np.unique(differing * WORD_BYTES // BLOCK_BYTES)
    per_block = BLOCK_BYTES // WORD_BYTES
    shown: list[Wrong] = []
    for block in blocks.tolist():
        if len(shown) >= SHOWN_MOST:
            break
        want = expected[block * per_block : (block + 1) * per_block]
        had = got[block * per_block : (block + 1) * per_block]
        at = offset_bytes + block * BLOCK_BYTES
        again = _read_again(descriptor, at, direct)
        for index in np.flatnonzero(had != want).tolist()[: SHOWN_MOST - len(shown)]:
            word_at = at + index * WORD_BYTES
            lies = "" if on_drive else _lies_at(descriptor, word_at)
            shown.append(_wrong(word_at, had, want, again, index, lies))
    return len(blocks), shown


def _wrong(at: int, had: Words, want: Words, again: Words | str, index: int, lies: str) -> Wrong:
    found, expected = int(had[index]), int(want[index])
    bits = [bit for bit in range(64) if (found ^ expected) >> bit & 1]
    if isinstance(again, str):
        then = f"refused when read again ({again})"
    else:
        then = ONCE if int(again[index]) == expected else STAYS
    named = f"bit {bits[0]}" if len(bits) == 1 else f"{len(bits)} bits, mask 0x{found ^ expected:016x}"
    where = f"offset 0x{at:x}, {named}, {then}{lies}"
    return Wrong(what=DATA, where=where, expected=f"0x{expected:016x}", found=f"0x{found:016x}")


def _read_again(descriptor: int, offset_bytes: int, direct: bool) -> Words | str:
    with mmap.mmap(-1, BLOCK_BYTES) as page:
        try:
            if not direct:
                os.posix_fadvise(descriptor, offset_bytes, BLOCK_BYTES, os.POSIX_FADV_DONTNEED)
            got = os.preadv(descriptor, [page], offset_bytes)
        except OSError as error:
            return error.strerror or str(error)
        return np.frombuffer(page[:], dtype=np.uint64) if got == BLOCK_BYTES else "the file ends too early"


def _lies_at(descriptor: int, offset_bytes: int) -> str:
    at = device_offset(descriptor, offset_bytes)
    return "" if at is None else f", at byte {at} of its file system's device"


def first_unreadable(descriptor: int, offset_bytes: int, size_bytes: int) -> tuple[int, str]:
    """Return the first block of 4 KiB that cannot be read, and the system's word for it."""
    with mmap.mmap(-1, BLOCK_BYTES) as page:
        for at in range(offset_bytes, offset_bytes + size_bytes, BLOCK_BYTES):
            try:
                if not os.preadv(descriptor, [page], at):
                    return at, "the file ends too early"
            except OSError as error:
                return at, error.strerror or str(error)
    return offset_bytes, "refused once, read when tried again"
