"""Whole drives: found by place and serial, refused unless blank and nobody's, read and written whole.

The drives are loop devices over files, which needs root's rights.
"""

from __future__ import annotations

import ctypes
import fcntl
import os
import stat
import struct
import subprocess
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.model.words import WholeDrive
from shipworthy.stress.loads import storage_drive, storage_whole
from shipworthy.stress.loads.storage import BLANK_DRIVE, LOAD, PIECE_BYTES, WHOLE_DRIVE
from shipworthy.stress.loads.storage_drive import discard, drive_node, open_drive, why_not_blank
from shipworthy.stress.loads.storage_span import Place
from shipworthy.stress.loads.storage_whole import COMPARED_WHOLE, READ_ONLY, WRITTEN_WHOLE, WholeWork
from shipworthy.stress.protocol import Block, Drive, Ground, Job
from tests.machine import recorded
from tests.stress.small_burn_ins import MIB, job_for

SIZE_BYTES = 64 * MIB
DRIVE = Drive(
    place="p:1",
    serial="KD-0001",
    capacity_bytes=SIZE_BYTES,
    write_left_bytes=SIZE_BYTES,
    blank=True,
    whole=WholeDrive.WRITE,
)


@pytest.fixture
def backing(tmp_path: Path) -> Path:
    path = tmp_path / "drive.img"
    path.write_bytes(b"")
    os.truncate(path, SIZE_BYTES)
    return path


@pytest.fixture
def loop(backing: Path) -> Iterator[Path]:
    """A drive, as far as the kernel is concerned."""
    command = ["losetup", "--find", "--show", "--partscan", str(backing)]
    try:
        made = subprocess.run(command, capture_output=True, text=True)
    except FileNotFoundError:
        pytest.skip("there is no losetup here")
    if made.returncode:
        pytest.skip("this account may not make a loop device")
    yield Path(made.stdout.strip())
    subprocess.run(["losetup", "--detach", made.stdout.strip()], check=True)


def job(tmp_path: Path, variant: str, drive: Drive = DRIVE, budget: int = 2**40) -> Job:
    made = job_for("storage", tmp_path, write_budget_bytes=budget, variant=variant)
    return msgspec.structs.replace(made, drive=drive)


def blank(loop: Path) -> str:
    place = open_drive(loop, writing=False)
    try:
        return why_not_blank(place, 7)
    finally:
        os.close(place.descriptor)


def whole_pass(work: WholeWork) -> list[Block]:
    blocks = [work.block()]
    while sum(block.work for block in blocks) < work.span.size_bytes:
        blocks.append(work.block())
    return blocks


def opened(loop: Path, job: Job, monkeypatch: pytest.MonkeyPatch) -> WholeWork:
    monkeypatch.setattr(storage_drive, "drive_node", lambda drive, writing, root: loop)
    work = LOAD.open(job)
    assert isinstance(work, WholeWork)
    return work


def test_a_blank_drive_is_written_whole_verified_and_given_back(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    wrote, read, again = whole_pass(work), whole_pass(work), whole_pass(work)
    assert sum(block.written_bytes for block in wrote) == SIZE_BYTES
    assert {block.unit_of_work for block in wrote} == {WRITTEN_WHOLE}
    assert sum(block.checks for block in read) == SIZE_BYTES // 4096
    assert {block.unit_of_work for block in read + again} == {COMPARED_WHOLE}
    assert sum(block.wrong for block in wrote + read + again) == 0
    assert sum(block.written_bytes for block in read + again) == 0
    assert backing.read_bytes().count(0) < SIZE_BYTES // 100
    told = {value.name: value.value for value in work.detail()}
    assert len(str(told["rates_by_position_mb_s"]).split()) == 32
    work.close()
    assert backing.stat().st_blocks * 512 < SIZE_BYTES // 4  # it was told that nothing is needed
    assert blank(loop) == ""


def cut_off(work: WholeWork) -> None:
    """End as after SIGKILL: nothing is discarded."""
    work.span.close()
    os.close(work._place.descriptor)


@pytest.mark.parametrize("blocks", [1, 64])
def test_a_write_that_was_cut_off_goes_on_with_another_pattern(
    loop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, blocks: int
) -> None:
    """Were it the same one, a block that the drive lost the second time would look right."""
    slow = msgspec.structs.replace(job(tmp_path, BLANK_DRIVE), block_s=0.0)
    for number in range(3):
        work = opened(loop, slow, monkeypatch)
        assert work.span.pattern.number == number
        for _ in range(blocks):
            work.block()
        cut_off(work)
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    written, read = whole_pass(work), whole_pass(work)
    assert sum(block.wrong for block in written + read) == 0
    work.close()
    assert blank(loop) == ""


def test_a_write_that_was_torn_within_a_block_goes_on_too(
    loop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    data = work.span.pattern.expected(0, PIECE_BYTES // 8).tobytes()
    cut_off(work)
    with open(loop, "r+b") as drive:
        drive.write(data[: 300 * 512])
        drive.seek(400 * 512)
        drive.write(data[400 * 512 : 411 * 512])
    opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch).close()


@pytest.mark.parametrize("at", [0, 100 * 512, SIZE_BYTES - 512])
def test_anything_between_our_own_pattern_is_something(
    loop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    whole_pass(work)
    cut_off(work)
    with open(loop, "r+b") as drive:
        drive.seek(at)
        drive.write(b"\1")
    with pytest.raises(Trouble, match="the drive is not blank: it holds something"):
        opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)


def test_the_pattern_of_another_run_is_something(
    loop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    work.block()
    cut_off(work)
    with pytest.raises(Trouble, match="the drive is not blank: it holds something at offset 0x0"):
        opened(loop, msgspec.structs.replace(job(tmp_path, BLANK_DRIVE), seed=12), monkeypatch)


@pytest.mark.parametrize("at", [0, 512, SIZE_BYTES - 512])
def test_what_somebody_else_has_written_to_an_end_meanwhile_is_not_discarded(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    """Programs that partition do not ask the kernel for the drive alone."""
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    whole_pass(work)
    with open(loop, "r+b", buffering=0) as drive:
        os.pwrite(drive.fileno(), b"theirs".ljust(512, b"\1"), at)
        os.fsync(drive.fileno())
    work.close()
    with open(backing, "rb") as file:
        file.seek(at)
        assert file.read(6) == b"theirs"
    assert backing.stat().st_blocks * 512 > SIZE_BYTES // 2


def test_a_drive_that_was_partitioned_meanwhile_is_not_discarded(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    whole_pass(work)
    if not partition(loop, 1):
        pytest.skip("this kernel makes no partitions of a loop device")
    work.close()
    assert backing.stat().st_blocks * 512 > SIZE_BYTES // 2
    assert partition(loop, 2)


def test_only_what_was_written_is_discarded(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[int] = []
    monkeypatch.setattr(storage_whole, "discard", lambda place, size_bytes: told.append(size_bytes))
    slow = msgspec.structs.replace(job(tmp_path, BLANK_DRIVE), block_s=0.0)
    work = opened(loop, slow, monkeypatch)
    written = work.block().written_bytes
    work.close()
    assert told == [written] and 0 < written < SIZE_BYTES


def test_a_large_drive_is_discarded_in_parts_and_only_as_long_as_there_is_time(
    loop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A drive may take minutes for all of it, and the guard ends what is not gone soon after its step."""
    place = open_drive(loop, writing=True)
    monkeypatch.setattr(storage_drive, "DISCARD_BYTES", 10 * MIB)
    assert discard(place, SIZE_BYTES) == SIZE_BYTES
    monkeypatch.setattr(storage_drive, "DISCARDING_S", -1.0)
    assert discard(place, SIZE_BYTES) == 0
    os.close(place.descriptor)


def test_a_node_that_leads_to_another_drive_is_refused(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    node = tmp_path / "sdz"
    os.mknod(node, 0o600 | stat.S_IFBLK, loop.stat().st_rdev)
    monkeypatch.setattr(storage_drive, "drive_node", lambda drive, writing, root: node)
    with pytest.raises(Trouble, match=f"sdz leads to another drive, {loop.name}"):
        LOAD.open(job(tmp_path, BLANK_DRIVE))
    assert backing.stat().st_blocks == 0


def test_a_name_that_was_given_to_another_drive_while_it_was_opened_is_seen(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    nodes = [loop, loop.with_name("sdb")]
    monkeypatch.setattr(storage_drive, "drive_node", lambda drive, writing, root: nodes.pop(0))
    with pytest.raises(Trouble, match="leads to another drive"):
        LOAD.open(job(tmp_path, BLANK_DRIVE))
    assert not nodes and backing.stat().st_blocks == 0


def test_something_in_the_middle_of_a_drive_is_found_where_a_twentieth_of_it_is_in_use(
    loop: Path, backing: Path
) -> None:
    """As after an erasure of both ends, which some people think is enough."""
    with open(loop, "r+b") as drive:
        drive.seek(20 * MIB)
        drive.write(b"\1" * (SIZE_BYTES // 20))
    for seed in range(20):
        place = open_drive(loop, writing=False)
        assert "it holds something" in why_not_blank(place, seed)
        os.close(place.descriptor)


def test_a_flipped_bit_of_a_drive_is_found_with_its_offset_and_block(
    loop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)
    whole_pass(work)
    place = open_drive(loop, writing=False)
    with open(loop, "r+b", buffering=0) as drive:
        page = bytearray(os.pread(drive.fileno(), 4096, 40 * MIB))
        page[100] ^= 4
        os.pwrite(drive.fileno(), page, 40 * MIB)
        os.fsync(drive.fileno())
    os.close(place.descriptor)
    blocks = whole_pass(work)
    shown = [wrong for block in blocks for wrong in block.shown]
    assert sum(block.wrong for block in blocks) == 1
    assert [wrong.where for wrong in shown] == [
        f"offset 0x{40 * MIB + 96:x}, bit 34, stays wrong when read again"
    ]
    work.close()


def test_no_more_is_written_than_the_budget(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drive = msgspec.structs.replace(DRIVE, write_left_bytes=20 * MIB)
    work = opened(loop, job(tmp_path, BLANK_DRIVE, drive), monkeypatch)
    assert sum(block.written_bytes for block in whole_pass(work)) == 20 * MIB
    assert whole_pass(work)[0].written_bytes == 0
    assert backing.stat().st_blocks * 512 <= 21 * MIB
    work.close()
    with pytest.raises(Trouble, match="write budget is used up"):
        spent = msgspec.structs.replace(DRIVE, write_left_bytes=0)
        opened(loop, job(tmp_path, BLANK_DRIVE, spent), monkeypatch)


def test_a_drive_is_read_whole_without_a_byte_written(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    subprocess.run(["mkfs.ext4", "-q", loop], check=True)
    before = backing.read_bytes()
    drive = msgspec.structs.replace(DRIVE, blank=False, whole=WholeDrive.READ)
    work = opened(loop, job(tmp_path, WHOLE_DRIVE, drive, budget=0), monkeypatch)
    blocks = whole_pass(work)
    assert sum(block.work for block in blocks) == SIZE_BYTES
    assert {block.unit_of_work for block in blocks} == {READ_ONLY}
    assert sum(block.wrong + block.written_bytes for block in blocks) == 0
    bare = work.bare_block()
    assert bare is not None and bare.unit_of_work == READ_ONLY and bare.work > 0
    work.close()
    assert backing.read_bytes() == before


def test_a_place_that_cannot_be_read_is_named_by_offset_and_block(backing: Path, tmp_path: Path) -> None:
    descriptor = os.open(backing, os.O_RDONLY)
    place = Place(descriptor, SIZE_BYTES, True, str(backing), drive=True, sector_bytes=512)
    os.truncate(backing, 33 * MIB + 8192)
    work = WholeWork(job(tmp_path, WHOLE_DRIVE), place, blank=False)
    shown = [wrong for block in whole_pass(work) for wrong in block.shown]
    assert len(shown) == 64 - 33
    at = 33 * MIB + 8192
    assert shown[0].what == "reading failed"
    assert shown[0].where.startswith(f"offset 0x{at:x} (LBA {at // 512})")
    work.close()


def partition(loop: Path, operation: int) -> bool:
    """Let the kernel know (1) or forget (2) a partition, whatever it holds: BLKPG of <linux/blkpg.h>."""
    told = ctypes.create_string_buffer(struct.pack("<qqi128x", MIB, 8 * MIB, 1) + bytes(4))
    with open(loop, "rb") as drive:
        try:
            fcntl.ioctl(
                drive.fileno(), 0x1269, struct.pack("iiiP", operation, 0, 152, ctypes.addressof(told))
            )
        except OSError:
            return False
    return True


def test_a_drive_with_partitions_is_not_blank_though_it_holds_no_table(loop: Path) -> None:
    if not partition(loop, 1):
        pytest.skip("this kernel makes no partitions of a loop device")
    assert blank(loop) == "it has partitions"
    assert partition(loop, 2)
    assert blank(loop) == ""


@pytest.mark.parametrize("offset", [512, SIZE_BYTES - 512])
def test_either_copy_of_a_partition_table_is_something(loop: Path, offset: int) -> None:
    with open(loop, "r+b") as drive:
        drive.seek(offset)
        drive.write(b"EFI PART")
    assert "it holds something" in blank(loop)


def test_a_file_system_is_something(loop: Path) -> None:
    assert blank(loop) == ""
    subprocess.run(["mkfs.ext4", "-q", loop], check=True)
    assert "it holds something" in blank(loop)


@pytest.mark.parametrize("offset", [0, 4 * MIB - 1, SIZE_BYTES - 1, SIZE_BYTES - 4 * MIB])
def test_a_single_byte_at_either_edge_is_something(loop: Path, backing: Path, offset: int) -> None:
    with open(loop, "r+b") as drive:
        drive.seek(offset)
        drive.write(b"\1")
    assert "it holds something" in blank(loop)


def test_a_drive_full_of_ones_is_blank_and_one_half_of_each_is_not(loop: Path) -> None:
    with open(loop, "r+b") as drive:
        drive.write(b"\xff" * SIZE_BYTES)
    assert blank(loop) == ""
    with open(loop, "r+b") as drive:
        drive.write(bytes(SIZE_BYTES // 2))
    assert "it holds something" in blank(loop)


def test_a_mounted_drive_is_refused_for_writing(loop: Path, tmp_path: Path) -> None:
    subprocess.run(["mkfs.ext4", "-q", loop], check=True)
    (tmp_path / "there").mkdir()
    subprocess.run(["mount", loop, tmp_path / "there"], check=True)
    try:
        with pytest.raises(Trouble, match="cannot be opened: Device or resource busy"):
            open_drive(loop, writing=True)
    finally:
        subprocess.run(["umount", tmp_path / "there"], check=True)


def test_a_drive_that_is_not_blank_any_more_is_refused_right_before_the_first_write(
    loop: Path, backing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    subprocess.run(["mkfs.ext4", "-q", loop], check=True)
    before = backing.read_bytes()
    with pytest.raises(Trouble, match="the drive is not blank: it holds something"):
        opened(loop, job(tmp_path, BLANK_DRIVE), monkeypatch)  # though it was said to be
    assert backing.read_bytes() == before


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"whole": WholeDrive.NOTHING}, "nobody has allowed"),
        ({"whole": WholeDrive.READ}, "only reading it was allowed"),
        ({"blank": False}, "it is not blank"),
        ({"serial": ""}, "nobody has allowed"),
    ],
)
def test_only_a_blank_drive_whose_serial_was_typed_is_written(
    tmp_path: Path, change: dict[str, object], why: str
) -> None:
    drive = msgspec.structs.replace(DRIVE, **change)
    with pytest.raises(Trouble, match=why):
        LOAD.open(job(tmp_path, BLANK_DRIVE, drive))


def test_a_drive_whose_budget_is_used_up_is_read_whole_where_that_is_allowed(
    loop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drive = msgspec.structs.replace(DRIVE, write_left_bytes=0, whole=WholeDrive.READ)
    work = opened(loop, job(tmp_path, "", drive), monkeypatch)
    assert {block.unit_of_work for block in whole_pass(work)} == {READ_ONLY}
    work.close()


def test_a_drive_is_found_by_its_place_and_must_show_its_serial_again(tmp_path: Path) -> None:
    root = Root(recorded.build(tmp_path / "machine"))
    sata = Drive(place="", serial="QA4-0017", capacity_bytes=1)
    from shipworthy.machine.capture.block import capture
    from shipworthy.machine.parse.block import parse

    places = {
        str(next(one.value for one in s.said if one.name == "kernel_name")): s.place
        for s in parse(tuple(capture(root))).sightings
    }
    sata = msgspec.structs.replace(sata, place=places["sda"])
    assert drive_node(sata, writing=True, root=root) == Path("/dev/sda")
    with pytest.raises(Trouble, match="the drive's serial was KD-1 when it was read, and is QA4-0017"):
        drive_node(msgspec.structs.replace(sata, serial="KD-1"), writing=False, root=root)
    with pytest.raises(Trouble, match="no drive is wired there any more"):
        drive_node(msgspec.structs.replace(sata, place="p:9"), writing=False, root=root)


def test_only_drives_that_a_person_has_named_are_targets() -> None:
    read = msgspec.structs.replace(DRIVE, place="p:2", whole=WholeDrive.READ)
    other = msgspec.structs.replace(DRIVE, place="p:3", whole=WholeDrive.NOTHING)
    ground = Ground(work_folders=("/",), drives=(DRIVE, read, other))

    def places(variant: str, ground: Ground = ground) -> list[str]:
        request = LoadRequest(load="storage", variant=variant, write_budget_bytes=PIECE_BYTES)
        return [target.name for target in LOAD.targets(request, ground, Root(Path("/nothing")))]

    assert places(WHOLE_DRIVE) == ["p:1", "p:2"]
    assert places(BLANK_DRIVE) == ["p:1"]
    for variant in (WHOLE_DRIVE, BLANK_DRIVE):
        with pytest.raises(Trouble, match="no drive was named"):
            places(variant, Ground(work_folders=("/",), drives=(other,)))
