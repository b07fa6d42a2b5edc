"""Room on a drive: others need it at work, and what the load frees the drive is told of.

The drives are loop devices over files, and file systems in memory, which need root's rights.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from shipworthy.model.base import Trouble
from shipworthy.stress import resources
from shipworthy.stress.loads import storage, storage_file
from shipworthy.stress.loads.storage import COMPARED, LOAD, RANDOM, StorageWork
from shipworthy.stress.loads.storage_file import EXTENTS_MOST, extents_of
from tests.stress.small_burn_ins import MIB, job_for

FILE_BYTES, RESERVE_BYTES = 32 * MIB, 16 * MIB
DRIVE_BYTES = 256 * MIB


@pytest.fixture(autouse=True)
def short_random(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(storage, "RANDOM_S", 0.05)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 MiB in memory."""
    folder = tmp_path / "small"
    folder.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "none", folder], capture_output=True)
    if made.returncode:
        pytest.skip("this account may not mount")
    yield folder
    subprocess.run(["umount", "-l", folder], check=True)


@pytest.fixture
def drive(tmp_path: Path) -> Iterator[Path]:
    """An ext4 file system on a drive that takes trims, and the file that the drive lies in."""
    backing, folder = tmp_path / "drive.img", tmp_path / "drive"
    backing.touch()
    os.truncate(backing, DRIVE_BYTES)
    folder.mkdir()
    subprocess.run(["mkfs.ext4", "-q", "-F", "-m", "0", "-E", "lazy_itable_init=0", backing], check=True)
    if subprocess.run(["mount", "-o", "loop", backing, folder], capture_output=True).returncode:
        pytest.skip("this account may not mount")
    yield folder
    subprocess.run(["umount", "-l", folder], check=True)


def opened(folder: Path, budget_bytes: int, reserve_bytes: int = RESERVE_BYTES) -> StorageWork:
    job = job_for("storage", folder, write_budget_bytes=budget_bytes)
    work = LOAD.open(msgspec.structs.replace(job, disk_reserve_bytes=reserve_bytes))
    assert isinstance(work, StorageWork)
    return work


def fill(folder: Path, leave_bytes: int) -> None:
    """Let somebody else take the room, all but some bytes."""
    descriptor = os.open(folder / "another's", os.O_CREAT | os.O_WRONLY)
    os.posix_fallocate(descriptor, 0, resources.free_disk_bytes(folder) - leave_bytes)
    os.close(descriptor)


@pytest.mark.parametrize("set_aside", [True, False])
@pytest.mark.parametrize("blocks", [0, 1, 4])
def test_the_reserve_holds_when_others_fill_the_drive_at_work(
    small: Path, monkeypatch: pytest.MonkeyPatch, set_aside: bool, blocks: int
) -> None:
    if not set_aside:
        monkeypatch.setattr(storage_file, "_set_aside", lambda *_: None)
    monkeypatch.setattr(storage, "BLOCK_S", 0.003)  # some pieces a block: others come in between
    work = opened(small, FILE_BYTES)
    written = sum(work.block().written_bytes for _ in range(blocks))
    lies_there = set_aside or written >= FILE_BYTES // 2
    fill(small, RESERVE_BYTES + (-8 * MIB if lies_there else 8 * MIB))
    doing = set()
    while not {COMPARED, RANDOM} <= doing:
        block = work.block()
        assert resources.free_disk_bytes(small) >= RESERVE_BYTES
        assert block.wrong == 0
        doing.add(block.unit_of_work)
    assert 0 < work.size_bytes < FILE_BYTES
    told = {value.name: value.value for value in work.detail()}
    assert told["file_bytes"] == work.size_bytes == os.fstat(work.descriptor).st_size
    assert told["given_back_bytes"] == FILE_BYTES - work.size_bytes
    work.close()


def test_a_log_that_grows_beside_a_file_at_the_reserve_does_not_cut_it_line_by_line(small: Path) -> None:
    work = opened(small, 63 * MIB)
    sizes = []
    with open(small / "log", "ab", buffering=0) as log:
        for _ in range(20):
            log.write(b"a row of the log\n" * 300)
            work.block()
            sizes.append(work.size_bytes)
    assert resources.free_disk_bytes(small) >= RESERVE_BYTES
    assert len(set(sizes)) == 1 and sizes[0] >= 30 * MIB
    work.close()


def test_where_others_need_it_all_that_is_said_in_one_sentence(small: Path) -> None:
    work = opened(small, 16 * MIB, reserve_bytes=FILE_BYTES)
    work.block()
    fill(small, 8 * MIB)
    with pytest.raises(Trouble, match="others have filled the drive up to the plan's reserve"):
        work.block()
    work.close()
    assert resources.free_disk_bytes(small) == 24 * MIB


def test_all_places_of_a_file_in_many_pieces_are_trimmed(drive: Path) -> None:
    backing = drive.with_suffix(".img")
    held: list[Path] = []
    while resources.free_disk_bytes(drive) > MIB:
        held.append(drive / f"held-{len(held)}")
        with open(held[-1], "wb") as file:
            os.posix_fallocate(file.fileno(), 0, 256 * 1024)
    for path in held[::2]:
        path.unlink()
    os.sync()
    before = backing.stat().st_blocks
    work = opened(drive, 80 * MIB, reserve_bytes=0)
    assert len(list(extents_of(work.descriptor, 0, work.size_bytes))) > 2 * EXTENTS_MOST
    while work.writing:
        work.block()
    os.sync()
    assert (backing.stat().st_blocks - before) * 512 > 79 * MIB
    work.close()
    os.sync()
    assert (backing.stat().st_blocks - before) * 512 < 4 * MIB


def test_what_is_given_back_at_work_is_trimmed_and_what_is_kept_stays(drive: Path) -> None:
    backing = drive.with_suffix(".img")
    work = opened(drive, 64 * MIB)
    while work.writing:
        work.block()
    os.sync()
    before = backing.stat().st_blocks
    fill(drive, RESERVE_BYTES - 20 * MIB + 10 * MIB)
    wrong = sum(work.block().wrong for _ in range(6))
    os.sync()
    assert wrong == 0 and work.size_bytes < 64 * MIB
    assert (before - backing.stat().st_blocks) * 512 > 64 * MIB - work.size_bytes - MIB
    work.close()


def test_where_the_page_cache_is_in_the_way_the_drive_has_what_a_block_wrote(
    drive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storage_file, "go_direct", lambda descriptor: False)
    monkeypatch.setattr(storage, "BLOCK_S", 0.0)  # some pieces a block, so that no block is the last
    backing = drive.with_suffix(".img")
    work = opened(drive, 64 * MIB)
    os.sync()
    before = backing.stat().st_blocks
    while work.writing:
        written = work.block().written_bytes
        assert written and (backing.stat().st_blocks - before) * 512 >= written
        before += written // 512
    assert sum(work.block().wrong for _ in range(2)) == 0
    work.close()
