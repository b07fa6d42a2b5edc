"""Write, read back, compare: on a real file, with flips planted in the file."""

from __future__ import annotations

import errno
import mmap
import os
import random
import resource
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from shipworthy.machine.root import LIVE, Root
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads import (
    pattern_kernels,
    ring_kernels,
    storage,
    storage_budget,
    storage_file,
    storage_random,
    storage_transfers,
)
from shipworthy.stress.loads.storage import COMPARED, LOAD, PIECE_BYTES, RANDOM, WRITTEN, StorageWork
from shipworthy.stress.loads.storage_budget import budget_bytes, file_bytes
from shipworthy.stress.loads.storage_faults import examine
from shipworthy.stress.loads.storage_random import Latencies
from shipworthy.stress.protocol import Drive, Ground, Wrong
from tests.stress.small_burn_ins import MIB, job_for

FILE_BYTES = 32 * MIB


@pytest.fixture(autouse=True)
def short_random(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(storage, "RANDOM_S", 0.2)


@pytest.fixture
def work(work_folder: Path) -> Iterator[StorageWork]:
    opened = LOAD.open(job_for("storage", work_folder, write_budget_bytes=FILE_BYTES))
    assert isinstance(opened, StorageWork)
    yield opened
    opened.close()


@dataclass
class Came:
    """What one pass came to."""

    doing: str
    wrong: int = 0
    written: int = 0
    checks: int = 0
    shown: list[Wrong] = field(default_factory=list)

    @property
    def where(self) -> list[str]:
        return [wrong.where for wrong in self.shown]


def whole_pass(work: StorageWork) -> Came:
    """Run the pass at hand to its end."""
    came = Came(work.doing)
    while work.doing == came.doing:
        block = work.block()
        came.wrong += block.wrong
        came.written += block.written_bytes
        came.checks += block.checks
        came.shown += block.shown
        if block.work == 0 or (came.doing == COMPARED and came.checks == work.size_bytes // 4096):
            break
    return came


def flip(work: StorageWork, offset: int, bit: int) -> None:
    """Flip one bit of the file, past the page cache as the load goes."""
    begin = offset // mmap.PAGESIZE * mmap.PAGESIZE
    with mmap.mmap(-1, mmap.PAGESIZE) as page:
        os.preadv(work.descriptor, [page], begin)
        page[offset - begin] ^= 1 << bit
        os.pwrite(work.descriptor, page, begin)


def test_the_compiled_pattern_is_the_one_in_plain_arithmetic_and_in_numpys() -> None:
    block, key = np.zeros(512, dtype=np.uint64), pattern_kernels.block_key(9, 1, PIECE_BYTES)
    assert int(pattern_kernels.key_of(np.uint64(9), np.uint64(1), np.uint64(PIECE_BYTES))) == key
    pattern_kernels.fill(block, np.uint64(key))
    assert block.tolist() == [pattern_kernels.word_at(key, index) for index in range(512)]
    assert pattern_kernels.pattern(key, 100, 50).tolist() == block[100:150].tolist()
    assert pattern_kernels.count_wrong(block, np.uint64(key), np.uint64(0)) == 0
    assert pattern_kernels.count_wrong(block[100:], np.uint64(key), np.uint64(100)) == 0
    block[7] ^= np.uint64(1)
    assert pattern_kernels.count_wrong(block, np.uint64(key), np.uint64(0)) == 1


def test_no_two_pieces_and_no_two_passes_have_the_same_key() -> None:
    keys = {
        pattern_kernels.block_key(s, p, o * PIECE_BYTES) for s in (0, 1) for p in (0, 1) for o in range(50)
    }
    assert len(keys) == 200


def test_what_was_written_reads_back_right_in_order_and_at_random(work: StorageWork) -> None:
    wrote, read, random_reads = (whole_pass(work) for _ in range(3))
    assert (wrote.doing, wrote.written, wrote.checks) == (WRITTEN, FILE_BYTES, 0)
    assert (read.doing, read.written, read.checks) == (COMPARED, 0, FILE_BYTES // 4096)
    assert (random_reads.doing, random_reads.written, random_reads.checks > 100) == (RANDOM, 0, True)
    assert wrote.wrong == read.wrong == random_reads.wrong == 0
    told = {value.name: value.value for value in work.detail()}
    assert 0 < told["latency_p50_us"] <= told["latency_p99_us"] <= told["latency_max_us"]
    for _ in range(3):  # the budget is used: from now on it reads only
        assert whole_pass(work).written == 0


def test_a_larger_budget_is_written_in_new_passes_with_other_patterns_and_never_exceeded(
    work_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storage_budget, "FILE_MOST_BYTES", 16 * MIB)
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=150 * MIB))
    assert isinstance(work, StorageWork)
    written, keys = 0, set()
    for _ in range(24):
        bare = work.bare_block()
        written += bare.written_bytes if bare else 0
        keys.add(work.span.pattern.key(0))
        came = whole_pass(work)
        written += came.written
        assert came.wrong == 0
    assert 0 < written <= 150 * MIB
    assert len(keys) > 2
    work.close()


def test_the_variant_that_reads_writes_once_only(work_folder: Path) -> None:
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=FILE_BYTES * 8, variant="reads"))
    assert isinstance(work, StorageWork)
    passes = [whole_pass(work) for _ in range(5)]
    assert [came.doing for came in passes] == [WRITTEN, COMPARED, RANDOM, COMPARED, RANDOM]
    assert sum(came.written for came in passes) == work.size_bytes
    work.close()


def test_each_of_a_thousand_flipped_bits_is_found_with_its_offset_and_bit(work: StorageWork) -> None:
    draw = random.Random("3/storage/flips")
    whole_pass(work)
    flips = {(word, draw.randrange(64)) for word in draw.sample(range(FILE_BYTES // 8), 1000)}
    for word, bit in flips:
        flip(work, word * 8 + bit // 8, bit % 8)
    came = whole_pass(work)
    assert came.wrong == len({word * 8 // 4096 for word, _ in flips})
    found = {
        (int(w.where.split()[1].rstrip(","), 16) // 8, int(w.where.split()[3].rstrip(",")))
        for w in came.shown
    }
    assert found == flips
    assert all("stays wrong when read again" in where for where in came.where)


def test_random_reads_find_flipped_bits_too(work: StorageWork) -> None:
    whole_pass(work), whole_pass(work)
    for block in range(FILE_BYTES // 4096):
        flip(work, block * 4096 + block % 4096, block % 8)
    came = whole_pass(work)
    assert came.doing == RANDOM
    assert came.wrong == came.checks > 100
    assert len(came.shown) >= 16
    for wrong in came.shown:
        offset, bit = int(wrong.where.split()[1].rstrip(","), 16), int(wrong.where.split()[3].rstrip(","))
        block = offset // 4096
        assert (offset + bit // 8, bit % 8) == (block * 4096 + block % 4096, block % 8)


def test_a_block_that_came_back_wrong_once_is_told_from_one_that_stays_wrong(work: StorageWork) -> None:
    whole_pass(work)
    with mmap.mmap(-1, 4096) as page:
        os.preadv(work.descriptor, [page], 8192)
        came = np.frombuffer(page[:], dtype=np.uint64).copy()
    came[5] ^= np.uint64(1 << 40)  # as if the link had lost it
    count, shown = examine(work.descriptor, work.span.pattern, 8192, came)
    assert count == 1
    assert [wrong.where.split(", at byte")[0] for wrong in shown] == [
        f"offset 0x{8192 + 40:x}, bit 40, right when read again"
    ]


@pytest.mark.parametrize("damage", [{"seed": 5}, {"number": 3}])
def test_a_fault_in_the_checks_own_state_is_told_from_wrong_data(
    work: StorageWork, damage: dict[str, int]
) -> None:
    whole_pass(work)
    work.span.pattern = replace(work.span.pattern, **damage)
    came = whole_pass(work)
    assert came.wrong > 0
    assert {wrong.what for wrong in came.shown} == {"the check itself"}


def test_a_piece_that_landed_elsewhere_is_found(work: StorageWork) -> None:
    whole_pass(work)
    with mmap.mmap(-1, PIECE_BYTES) as piece:
        os.preadv(work.descriptor, [piece], 0)
        os.pwrite(work.descriptor, piece, PIECE_BYTES)
    came = whole_pass(work)
    assert came.wrong == PIECE_BYTES // 4096 and came.where[0].startswith(f"offset 0x{PIECE_BYTES:x}")


def test_a_read_that_the_drive_refuses_is_a_wrong_result_and_not_the_end(work: StorageWork) -> None:
    whole_pass(work)
    os.ftruncate(work.descriptor, FILE_BYTES - PIECE_BYTES)  # the last piece is gone
    read, at_random = whole_pass(work), whole_pass(work)
    assert read.wrong == 1 and f"offset 0x{FILE_BYTES - PIECE_BYTES:x}" in read.where[0]
    assert at_random.wrong > 0 and {wrong.what for wrong in at_random.shown} == {"reading failed"}


@pytest.mark.parametrize("number", [errno.ENOSYS, errno.EPERM])
def test_threads_do_the_same_where_the_kernel_refuses_a_ring(
    work_folder: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(storage_transfers, "Ring", refuse)
    monkeypatch.setattr(storage_random, "Ring", refuse)
    work = LOAD.open(job_for("storage", work_folder, write_budget_bytes=FILE_BYTES))
    assert isinstance(work, StorageWork)
    told = {value.name: str(value.value) for value in work.detail()}
    assert f"threads (io_uring: {os.strerror(number)})" in told["transfers"]
    assert f"threads (io_uring: {os.strerror(number)})" in told["random_reads"]
    whole_pass(work)
    flip(work, 5 * PIECE_BYTES + 12345, 3)
    assert whole_pass(work).wrong == 1
    for block in range(FILE_BYTES // 4096):
        flip(work, block * 4096, 0)
    at_random = whole_pass(work)
    assert at_random.doing == RANDOM and at_random.wrong > 0
    work.close()


def test_a_refusal_by_the_kernel_itself_leads_to_threads(work_folder: Path) -> None:
    """Under a real filter on system calls (seccomp(2)) that answers io_uring_setup with EPERM."""
    done = subprocess.run(
        [sys.executable, "-c", FILTERED, str(work_folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "threads (io_uring: Operation not permitted)" in done.stdout


FILTERED = """
import ctypes, struct, sys
from pathlib import Path
from shipworthy.stress.loads.storage import LOAD
from tests.stress.small_burn_ins import job_for

program = b"".join(struct.pack("HBBI", *line) for line in [
    (0x20, 0, 0, 0),            # load the call's number
    (0x15, 0, 1, 425),          # io_uring_setup?
    (0x06, 0, 0, 0x00050001),   # EPERM
    (0x06, 0, 0, 0x7FFF0000),   # allow
])
code = ctypes.create_string_buffer(program)
class Program(ctypes.Structure):
    _fields_ = [("length", ctypes.c_ushort), ("filter", ctypes.c_void_p)]
libc = ctypes.CDLL(None, use_errno=True)
asked = Program(4, ctypes.addressof(code))
assert libc.prctl(38, 1, 0, 0, 0) == 0
assert libc.prctl(22, 2, ctypes.byref(asked), 0, 0) == 0
work = LOAD.open(job_for("storage", Path(sys.argv[1]), write_budget_bytes=8 << 20))
assert work.block().work > 0
print(work.detail())
work.close()
"""


def test_latencies_are_told_within_an_eighth(work: StorageWork) -> None:
    latencies = Latencies()
    draw = random.Random("latencies")
    values_ns = sorted(draw.randrange(10_000, 5_000_000) for _ in range(10_000))
    buckets = np.zeros_like(latencies.buckets)
    for value in values_ns:
        buckets[ring_kernels.bucket_of(value)] += 1
    latencies.add(buckets, values_ns[-1])
    for share in (0.5, 0.99, 0.999):
        true_us = values_ns[int(share * len(values_ns)) - 1] / 1000
        assert true_us <= latencies.at(share) <= true_us * 1.125 + 0.01


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
    whole_pass(work)
    random_limit = work.bare_block()
    assert random_limit is not None and random_limit.unit_of_work == RANDOM and random_limit.work > 0
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


def held_by(monkeypatch: pytest.MonkeyPatch, **places: tuple[str, ...]) -> Ground:
    """Return the ground of a machine whose folders lie on these drives."""
    monkeypatch.setattr(storage, "drives_holding", lambda root, folder: places[folder.name])
    names = sorted({place for several in places.values() for place in several})
    drives = tuple(
        Drive(place=name, serial=name, capacity_bytes=10**12, write_left_bytes=number * MIB)
        for number, name in enumerate(names, 1)
    )
    return Ground(work_folders=tuple(f"/{name}" for name in places), drives=drives[:-1])


def test_a_file_on_joined_drives_has_the_budget_of_the_one_with_least_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ground = held_by(monkeypatch, joined=("p:3", "p:2"), last=("p:9",))
    request = LoadRequest(load="storage", write_budget_bytes=FILE_BYTES)
    joined, last = LOAD.targets(request, ground, LIVE)
    assert joined.name == "p:3 and p:2" and joined.drive == ground.drive_at("p:2")
    assert last.name == "p:9" and last.drive is None


def test_a_folder_that_shares_a_drive_with_another_or_lies_on_none_is_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ground = held_by(
        monkeypatch, share=(), first=("p:1",), second=("p:1",), joined=("p:1", "p:2"), last=("p:2",)
    )
    request = LoadRequest(load="storage", write_budget_bytes=FILE_BYTES)
    assert [(t.name, t.work_folder) for t in LOAD.targets(request, ground, LIVE)] == [
        ("p:1", "/first"),
        ("p:2", "/last"),
    ]


def test_a_request_without_a_write_budget_is_refused() -> None:
    with pytest.raises(Trouble, match="may write 0 bytes only"):
        LOAD.check(LoadRequest(load="storage"))


def test_a_request_for_a_variant_that_is_none_is_refused() -> None:
    with pytest.raises(Trouble, match="no variant whole"):
        LOAD.check(LoadRequest(load="storage", variant="whole", write_budget_bytes=FILE_BYTES))


def test_what_a_drive_has_left_bounds_the_plans_budget() -> None:
    request = LoadRequest(load="storage", write_budget_bytes=1000 * MIB)

    def left(write_left: int | None) -> int:
        drive = Drive(place="p", serial="s", capacity_bytes=16_000 * MIB, write_left_bytes=write_left)
        return budget_bytes(request, drive)

    assert budget_bytes(request, None) == left(None) == 1000 * MIB
    assert left(5000 * MIB) == 1000 * MIB
    assert left(1900 * MIB) == 900 * MIB  # the last sixteenth is for small files that are written once …
    assert left(1200 * MIB) == 200 * MIB
    assert left(1000 * MIB + 5) == 62 * MIB  # … each of a sixteenth of what is left of it
    assert left(5 * MIB) == left(MIB) == MIB
    assert left(MIB - 1) == left(0) == 0
    assert budget_bytes(
        request, Drive(place="p", serial="s", capacity_bytes=10**12, write_left_bytes=10**10)
    ) == (256 * MIB)


def test_a_drive_without_any_budget_left_is_said_in_one_sentence(work_folder: Path) -> None:
    drive = Drive(place="p", serial="KD-7", capacity_bytes=10**12, write_left_bytes=0)
    job = msgspec.structs.replace(job_for("storage", work_folder, write_budget_bytes=FILE_BYTES), drive=drive)
    with pytest.raises(Trouble, match="the write budget of the drive KD-7 is used up"):
        LOAD.open(job)
    assert list(work_folder.iterdir()) == []


def test_a_folder_that_has_vanished_is_said_in_one_sentence(work_folder: Path) -> None:
    with pytest.raises(Trouble, match="the work folder cannot be used: No such file"):
        LOAD.open(job_for("storage", work_folder / "gone", write_budget_bytes=FILE_BYTES))


def test_a_folder_that_vanishes_at_work_takes_nothing_away(work: StorageWork, work_folder: Path) -> None:
    work.block()
    work_folder.rmdir()
    assert [whole_pass(work).wrong for _ in range(4)] == [0, 0, 0, 0]


@pytest.fixture
def small_memory(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 MiB in memory."""
    folder = tmp_path / "small"
    folder.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "none", folder], capture_output=True)
    if made.returncode:
        pytest.skip("this account may not mount")
    yield folder
    subprocess.run(["umount", "-l", folder], check=True)


def test_a_file_system_that_fills_at_work_is_said_in_one_sentence(
    small_memory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storage_file, "_set_aside", lambda *_: None)  # as where fallocate is not offered
    monkeypatch.setattr(storage_file, "shortage_bytes", lambda *_: 0)  # others are quicker than one block
    job = msgspec.structs.replace(
        job_for("storage", small_memory, write_budget_bytes=FILE_BYTES), disk_reserve_bytes=0
    )
    work = LOAD.open(job)
    assert isinstance(work, StorageWork)
    with open(small_memory / "another's", "wb") as other:
        other.write(bytes(50 * MIB))
    with pytest.raises(Trouble, match="the drive is full, or a quota is used up"):
        whole_pass(work)
    work.close()


def test_a_file_system_mounted_read_only_is_said_in_one_sentence(small_memory: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", small_memory], check=True)
    job = msgspec.structs.replace(
        job_for("storage", small_memory, write_budget_bytes=FILE_BYTES), disk_reserve_bytes=0
    )
    with pytest.raises(Trouble, match="no file can be made: Read-only file system"):
        LOAD.open(job)
