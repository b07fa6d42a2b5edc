"""What a wrong word of a file tells: where it lies on the device."""

from __future__ import annotations

import mmap
import os
from pathlib import Path

import numpy as np
import pytest

from shipworthy.stress.loads.storage import LOAD, WRITTEN, StorageWork
from shipworthy.stress.loads.storage_faults import examine
from shipworthy.stress.loads.storage_file import device_offset
from tests.stress.small_burn_ins import MIB, job_for

BLOCK_AT, WORD = 8192, 5


def test_a_wrong_word_is_told_by_its_own_place_on_the_device(work_folder: Path) -> None:
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=32 * MIB))
    assert isinstance(work, StorageWork)
    try:
        while work.doing == WRITTEN:
            work.block()
        at = device_offset(work.descriptor, BLOCK_AT + 8 * WORD)
        if at is None:
            pytest.skip("this file system does not tell where a file lies")
        with mmap.mmap(-1, 4096) as page:
            os.preadv(work.descriptor, [page], BLOCK_AT)
            came = np.frombuffer(page[:], dtype=np.uint64).copy()
        came[WORD] ^= np.uint64(1)
        _, (wrong,) = examine(work.descriptor, work.span.pattern, BLOCK_AT, came)
        assert wrong.where.endswith(f", at byte {at} of its file system's device")
    finally:
        work.close()
