"""How much a storage load may write, and so how large its file is. Pure."""

from __future__ import annotations

from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.storage import FILE_MOST_BYTES, PIECE_BYTES
from shipworthy.stress.protocol import Drive

BARE_PIECES = 32
KEPT_SHARE = 16  # the last sixteenth of a drive's budget is kept for files that are written once, then read
KEPT_FILE_BYTES = 256 * 2**20


def budget_bytes(request: LoadRequest, drive: Drive | None) -> int:
    """Return what may be written in this step: the plan's budget, or what the drive's own has left if less.

    The last sixteenth of the drive's budget is kept: from it only a small file is written, once, of a
    sixteenth of what is left at most, so that there is always something to read in later steps.
    """
    if drive is None or drive.write_left_bytes is None:
        return request.write_budget_bytes
    left_bytes, kept_bytes = drive.write_left_bytes, drive.capacity_bytes // KEPT_SHARE
    small_bytes = min(KEPT_FILE_BYTES, max(PIECE_BYTES, left_bytes // KEPT_SHARE))
    most = min(request.write_budget_bytes, left_bytes, max(left_bytes - kept_bytes, small_bytes))
    return most // PIECE_BYTES * PIECE_BYTES


def file_bytes(budget_bytes: int, free_bytes: int, reserve_bytes: int) -> int:
    """Return the size of the file: within the write budget, leaving the reserve free, in whole pieces.

    A budget of some size keeps a little for bare writing, which the limit is measured by.
    """
    bare_bytes = BARE_PIECES * PIECE_BYTES
    within_bytes = budget_bytes - bare_bytes if budget_bytes >= 4 * bare_bytes else budget_bytes
    return max(0, min(within_bytes, free_bytes - reserve_bytes, FILE_MOST_BYTES)) // PIECE_BYTES * PIECE_BYTES
