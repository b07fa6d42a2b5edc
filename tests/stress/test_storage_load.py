"""Write, read back, compare: on a real file, with flips planted in the file."""

from __future__ import annotations

import mmap
import os
import random
import resource
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from shipworthy.machine.root import LIVE, Root
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads import pattern_kernels
from shipworthy.stress.loads.storage import COMPARED, LOAD, PIECE_BYTES, WRITTEN, StorageWork, file_bytes
from shipworthy.stress.protocol import Ground
from tests.stress.small_burn_ins import MIB, job_for

FILE_BYTES = 32 * MIB


@pytest.fixture
def work(work_folder: Path) -> Iterator[StorageWork]:
    opened = LOAD.open(job_for("storage", work_folder, write_budget_bytes=FILE_BYTES))
    yield opened
    opened.close()


def whole_pass(work: StorageWork) -> tuple[int, list[str], int]:
    """Run the pass at hand to its end; return pieces that were wrong, where, and bytes written."""
    wrong, where, written, work_done = 0, [], 0, 0.0
    while work_done < work.size_bytes:
        block = work.block()
        wrong, written, work_done = (
            wrong + block.wrong,
            written + block.written_bytes,
            work_done + block.work,
        )
        where += [shown.where for shown in block.shown]
    return wrong, where, written


def flip(work: StorageWork, offset: int, bit: int) -> None:
    """Flip one bit of the file, past the page cache as the load goes."""
    begin = offset // mmap.PAGESIZE * mmap.PAGESIZE
    with mmap.mmap(-1, mmap.PAGESIZE) as page:
        os.preadv(work.descriptor, [page], begin)
        page[offset - begin] ^= 1 << bit
        os.pwrite(work.descriptor, page, begin)


def test_the_compiled_pattern_is_the_one_in_plain_arithmetic() -> None:
    block, key = np.zeros(512, dtype=np.uint64), pattern_kernels.block_key(9, 1, PIECE_BYTES)
    pattern_kernels.fill(block, np.uint64(key))
    assert block.tolist() == [pattern_kernels.word_at(key, index) for index in range(512)]
    assert pattern_kernels.count_wrong(block, np.uint64(key)) == 0
    assert pattern_kernels.first_wrong(block, np.uint64(key)) == -1


def test_no_two_pieces_and_no_two_passes_have_the_same_key() -> None:
    keys = {
        pattern_kernels.block_key(s, p, o * PIECE_BYTES) for s in (0, 1) for p in (0, 1) for o in range(50)
    }
    assert len(keys) == 200


def test_what_was_written_reads_back_right_and_the_budget_is_kept(work: StorageWork) -> None:
    wrong, _, written = whole_pass(work)
    assert (wrong, written) == (0, FILE_BYTES)
    for _ in range(3):  # the budget is used: from now on it reads only
        assert whole_pass(work)[::2] == (0, 0)


def test_a_larger_budget_is_written_in_new_passes_with_other_patterns_and_never_exceeded(
    work_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shipworthy.stress.loads.storage.FILE_MOST_BYTES", 16 * MIB)
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=150 * MIB))
    written, keys = 0, set()
    for _ in range(24):
        bare = work.bare_block()
        written += bare.written_bytes if bare else 0
        keys.add(int(work.key(0)))
        written += whole_pass(work)[2]
    assert 0 < written <= 150 * MIB
    assert len(keys) > 2
    work.close()


def test_every_bit_flipped_in_the_file_is_found_at_its_offset(work: StorageWork) -> None:
    draw = random.Random("3/storage/flips")
    whole_pass(work)
    for _ in range(6):
        flips = [
            (piece * PIECE_BYTES + draw.randrange(PIECE_BYTES), draw.randrange(8))
            for piece in draw.sample(range(FILE_BYTES // PIECE_BYTES), 6)
        ]
        for offset, bit in flips:
            flip(work, offset, bit)
        wrong, where, _ = whole_pass(work)
        assert wrong == len(flips)
        assert sorted(where) == sorted(
            f"offset 0x{offset // 8 * 8:x}, 1 wrong words in this piece" for offset, _ in flips
        )
        for offset, bit in flips:
            flip(work, offset, bit)
    assert whole_pass(work)[0] == 0


def test_a_piece_that_landed_elsewhere_is_found(work: StorageWork) -> None:
    whole_pass(work)
    with mmap.mmap(-1, PIECE_BYTES) as piece:
        os.preadv(work.descriptor, [piece], 0)
        os.pwrite(work.descriptor, piece, PIECE_BYTES)
    wrong, where, _ = whole_pass(work)
    assert wrong == 1 and where[0].startswith(f"offset 0x{PIECE_BYTES:x}")


def test_a_read_that_the_drive_refuses_is_a_wrong_result_and_not_the_end(work: StorageWork) -> None:
    whole_pass(work)
    os.ftruncate(work.descriptor, FILE_BYTES - PIECE_BYTES)  # the last piece is gone
    assert whole_pass(work)[0] == 1


def test_no_name_leads_to_the_file(work: StorageWork, work_folder: Path) -> None:
    work.block()
    assert list(work_folder.iterdir()) == []
    assert os.fstat(work.descriptor).st_nlink == 0


def test_existing_files_are_left_alone(work_folder: Path) -> None:
    (work_folder / "precious").write_bytes(b"theirs")
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=8 * MIB))
    whole_pass(work)
    work.close()
    assert (work_folder / "precious").read_bytes() == b"theirs"
    assert [path.name for path in work_folder.iterdir()] == ["precious"]


def test_limits_are_told_for_writing_and_for_reading_apart(work_folder: Path) -> None:
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=256 * MIB))
    write_limit = work.bare_block()
    whole_pass(work)
    read_limit = work.bare_block()
    assert write_limit is not None and write_limit.unit_of_work == WRITTEN and write_limit.written_bytes > 0
    assert read_limit is not None and read_limit.unit_of_work == COMPARED and read_limit.written_bytes == 0
    work.close()


def test_budget_free_space_and_reserve_bound_the_file() -> None:
    assert file_bytes(64 * MIB, 10_000 * MIB, 1024 * MIB) == 64 * MIB
    assert file_bytes(900 * MIB, 1100 * MIB, 1024 * MIB) == 76 * MIB
    assert file_bytes(900 * MIB, 1000 * MIB, 1024 * MIB) == 0
    assert file_bytes(900 * MIB, 10_000 * MIB, 0) == (900 - 32) * MIB  # the rest is for bare writing


def test_no_room_is_said_in_one_sentence(work_folder: Path) -> None:
    job = job_for("storage", work_folder, write_budget_bytes=FILE_BYTES)
    with pytest.raises(Trouble, match="of disk space are free"):
        LOAD.open(
            type(job)(**{f: getattr(job, f) for f in job.__struct_fields__} | {"disk_reserve_bytes": 2**60})
        )


def test_room_that_the_system_refuses_is_said_in_one_sentence(work_folder: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (MIB, hard))
    try:
        with pytest.raises(Trouble, match="of disk space are refused"):
            LOAD.open(job_for("storage", work_folder, write_budget_bytes=FILE_BYTES))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_folder_that_cannot_be_written_is_said_in_one_sentence() -> None:
    with pytest.raises(Trouble, match=r"no file can be made|of disk space are free"):
        LOAD.open(job_for("storage", Path("/proc"), write_budget_bytes=FILE_BYTES))


def test_a_drive_that_cannot_be_told_is_called_unknown(tmp_path: Path) -> None:
    request = LoadRequest(load="storage", write_budget_bytes=FILE_BYTES)
    (target,) = LOAD.targets(request, Ground(work_folders=(str(tmp_path),)), Root(tmp_path / "nothing here"))
    assert target.name == "unknown drive"
    assert len(LOAD.targets(request, Ground(work_folders=(str(tmp_path), str(tmp_path))), LIVE)) == 1


def test_a_request_without_a_write_budget_is_refused() -> None:
    with pytest.raises(Trouble, match="may write 0 bytes only"):
        LOAD.check(LoadRequest(load="storage"))
