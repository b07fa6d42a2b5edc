"""What a whole drive holds of our own: a write that was cut off may be taken up again on the same drive."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from shipworthy.stress.loads.storage import PIECE_BYTES
from shipworthy.stress.loads.storage_faults import WORD_BYTES, Pattern

if TYPE_CHECKING:
    from numpy.typing import NDArray

STARTS_MOST = 8  # of one write, each with another pattern, so that an older one cannot pass for the newer
SECTOR_BYTES = 512  # the least that is written or not written when the power fails


class OwnPatterns:
    """Tells our patterns from other data. starts: how often the write has been begun, as far as was seen."""

    def __init__(self, purposes: Sequence[str] = ()) -> None:
        self._patterns = [Pattern.of(p, n, PIECE_BYTES) for n in range(STARTS_MOST) for p in purposes]
        self.starts = 0

    def cover(self, offset_bytes: int, data: bytes, blank: int) -> bool:
        """Return whether each sector of the data, which lie at that offset, is blank or ours.

        blank: the byte that all of a blank sector is.
        """
        if len(data) % SECTOR_BYTES:
            return False
        words = np.frombuffer(data, dtype=np.uint64).reshape(-1, SECTOR_BYTES // WORD_BYTES)
        left = (words != np.uint64(blank * 0x0101_0101_0101_0101)).any(axis=1)
        for pattern in self._patterns:
            if not left.any():
                break
            ours = (words == _expected(pattern, offset_bytes, len(data)).reshape(words.shape)).all(axis=1)
            if (ours & left).any():
                self.starts = max(self.starts, pattern.number + 1)
            left &= ~ours
        return not left.any()


def _expected(pattern: Pattern, offset_bytes: int, size_bytes: int) -> NDArray[np.uint64]:
    return np.concatenate(list(_pieces(pattern, offset_bytes, size_bytes)))


def _pieces(pattern: Pattern, offset_bytes: int, size_bytes: int) -> Iterator[NDArray[np.uint64]]:
    end = offset_bytes + size_bytes
    while offset_bytes < end:
        upto = min(end, offset_bytes // PIECE_BYTES * PIECE_BYTES + PIECE_BYTES)
        yield pattern.expected(offset_bytes, (upto - offset_bytes) // WORD_BYTES)
        offset_bytes = upto
