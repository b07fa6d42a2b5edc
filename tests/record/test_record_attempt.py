"""Attempts: numbered, one writer, taken up again."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.attempt import Attempt, StepEvent, StepName
from shipworthy.model.base import Trouble, read_record
from shipworthy.model.reading import Tool
from shipworthy.model.time import PretendClock, SystemClock
from shipworthy.record.attempt import OpenAttempt, find_open, open_new, take_up
from shipworthy.record.bag import seal
from shipworthy.record.keys import SigningKey
from shipworthy.record.layout import is_attempt_id
from shipworthy.record.names import check_name, folded, is_unsafe, printable

Opener = Callable[..., OpenAttempt]

CHILD_THAT_HOLDS = """
import sys
from pathlib import Path
from shipworthy.model.time import SystemClock
from shipworthy.record.attempt import take_up
attempt = take_up(Path(sys.argv[1]), sys.argv[2], SystemClock())
print("holding", flush=True)
sys.stdin.read()
"""


def open_folders(records: Path) -> set[str]:
    return {entry.name for entry in (records / ".open").iterdir() if entry.is_dir()}


def test_a_new_attempt_lies_open_with_its_identity(records: Path, open_attempt: Opener) -> None:
    with open_attempt() as attempt:
        assert attempt.folder == records / ".open" / attempt.attempt.attempt_id / "data"
        assert read_record(attempt.folder / "attempt.json", Attempt) == attempt.attempt
        assert is_attempt_id(attempt.attempt.attempt_id)
        assert attempt.attempt.number == 1
    assert find_open(records) == [attempt.attempt]


def test_numbers_count_open_and_sealed_attempts_of_that_unit_alone(
    records: Path, open_attempt: Opener, key: SigningKey
) -> None:
    with open_attempt() as first, open_attempt() as second, open_attempt("KD-0412-2") as other:
        assert (first.attempt.number, second.attempt.number, other.attempt.number) == (1, 2, 1)
        seal(second, key)
    with open_attempt() as third:
        assert third.attempt.number == 3
        assert [found.number for found in find_open(records, "KD-0412-1")] == [1, 3]


def test_a_dispatch_record_beside_the_sealed_one_is_no_attempt(
    records: Path, open_attempt: Opener, key: SigningKey
) -> None:
    with open_attempt() as first:
        seal(first, key)
    (records / "KD-0412-1" / "attempt-007.dispatch").mkdir()
    with open_attempt() as second:
        assert second.attempt.number == 2


def test_many_at_once_get_each_a_number_of_their_own(records: Path) -> None:
    numbers: list[int] = []

    def open_one() -> None:
        tool = Tool(name="shipworthy", version="0.1.0")
        with open_new(
            records, unit_id="KD-0412-1", order_id="KD-0412", nonce="n", zone="Europe/Lisbon",
            simulated=True, tool=tool, clock=SystemClock(),
        ) as attempt:  # fmt: skip
            numbers.append(attempt.attempt.number)

    threads = [threading.Thread(target=open_one) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(numbers) == list(range(1, 13))


@pytest.mark.parametrize(
    "unit_id", ["", ".", "..", "../up", "a/b", ".open", "~", "KD 0412", "nul", "é", "a."]
)
def test_a_unit_id_that_cannot_name_a_folder_is_one_sentence(
    records: Path, open_attempt: Opener, unit_id: str
) -> None:
    with pytest.raises(Trouble, match="cannot name a folder"):
        open_attempt(unit_id)
    assert open_folders(records) == set()


def test_unit_ids_that_differ_only_by_case_are_refused(
    records: Path, open_attempt: Opener, key: SigningKey
) -> None:
    with open_attempt("KD-0412-1") as attempt:
        seal(attempt, key)
    with pytest.raises(Trouble, match="differ only by case"):
        open_attempt("kd-0412-1")


def test_a_second_process_is_told_the_pid_of_the_first(records: Path, open_attempt: Opener) -> None:
    with open_attempt() as attempt:
        attempt_id = attempt.attempt.attempt_id
    with subprocess.Popen(
        [sys.executable, "-c", CHILD_THAT_HOLDS, str(records), attempt_id],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    ) as child:  # fmt: skip
        assert child.stdout is not None
        assert child.stdin is not None
        assert child.stdout.readline() == b"holding\n"
        with pytest.raises(Trouble, match=f"being written by the process with pid {child.pid}"):
            take_up(records, attempt_id, PretendClock())
        child.stdin.close()
        child.wait()
    take_up(records, attempt_id, PretendClock()).close()


def test_the_same_process_cannot_hold_an_attempt_twice(records: Path, open_attempt: Opener) -> None:
    with open_attempt() as attempt, pytest.raises(Trouble, match=f"pid {os.getpid()}"):
        take_up(records, attempt.attempt.attempt_id, PretendClock())


def test_records_held_by_another_process_for_long_are_one_sentence(
    records: Path, open_attempt: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_attempt().close()
    monkeypatch.setattr("shipworthy.record.locks._BETWEEN_TRIES_S", 0.0)
    with (records / ".open" / ".lock").open("r+b") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(Trouble, match="the records are held by the process with pid"):
            open_attempt()


def test_an_attempt_is_taken_up_where_it_was_and_the_torn_line_is_gone(
    records: Path, open_attempt: Opener
) -> None:
    with open_attempt() as attempt:
        attempt.step(StepName.ORDER, StepEvent.BEGAN)
        attempt.step(StepName.ORDER, StepEvent.ENDED, wrote=("order/order.json",))
    with (attempt.folder / "steps.jsonl").open("ab") as torn:
        torn.write(b'{"schema":1,"step":"reading","ev')
    (attempt.folder / ".part-0123").write_bytes(b"half a file")
    (attempt.root / "tagmanifest-sha512.txt").write_bytes(b"of a seal that was broken off\n")
    with take_up(records, attempt.attempt.attempt_id, PretendClock()) as again:
        assert again.attempt == attempt.attempt
        assert again.last_event(StepName.ORDER) is StepEvent.ENDED
        assert again.last_event(StepName.READING) is None
        again.step(StepName.READING, StepEvent.BEGAN)
        assert [line.step for line in again.steps()] == [StepName.ORDER, StepName.ORDER, StepName.READING]
    assert {entry.name for entry in attempt.root.iterdir()} == {"data"}
    assert {entry.name for entry in attempt.folder.iterdir()} == {"attempt.json", "steps.jsonl"}


def test_what_a_killed_opening_left_is_removed_by_the_next_one(records: Path, open_attempt: Opener) -> None:
    with open_attempt() as attempt:
        attempt_id = attempt.attempt.attempt_id
    draft = records / ".open" / f".new-{attempt_id[:-4]}ffff"
    (draft / "data").mkdir(parents=True)
    (draft / "data" / ".part-12").write_bytes(b"x")
    lock_of_one_gone = records / ".open" / f"{attempt_id[:-4]}ffff.lock"
    lock_of_one_gone.write_bytes(b"1\n")
    with open_attempt() as second:
        assert open_folders(records) == {attempt_id, second.attempt.attempt_id}
        assert not lock_of_one_gone.exists()


@pytest.mark.parametrize(
    "attempt_id", ["", "..", "../../etc", ".lock", "0190c0de-0000-7000-8000-000000000000"]
)
def test_what_is_no_open_attempt_cannot_be_taken_up(
    records: Path, open_attempt: Opener, attempt_id: str
) -> None:
    open_attempt().close()
    with pytest.raises(Trouble, match="no open attempt"):
        take_up(records, attempt_id, PretendClock())


def test_a_sealed_attempt_cannot_be_taken_up(records: Path, open_attempt: Opener, key: SigningKey) -> None:
    with open_attempt() as attempt:
        seal(attempt, key)
    with pytest.raises(Trouble, match="sealed already"):
        take_up(records, attempt.attempt.attempt_id, PretendClock())


def test_a_damaged_attempt_says_which_file(records: Path, open_attempt: Opener) -> None:
    with open_attempt() as attempt:
        pass
    (attempt.folder / "attempt.json").write_bytes(b"{}")
    with pytest.raises(Trouble, match=r"attempt\.json"):
        find_open(records)


def test_files_are_kept_whole_below_a_folder_and_durable_at_the_next_step(open_attempt: Opener) -> None:
    with open_attempt() as attempt:
        attempt.keep("reading/raw/proc-meminfo.txt", b"MemTotal: 1 kB\n")
        attempt.keep("reading/reading.json", b"{}")
        assert (attempt.folder / "reading/raw/proc-meminfo.txt").read_bytes() == b"MemTotal: 1 kB\n"
        attempt.step(StepName.READING, StepEvent.ENDED)
        assert not attempt._unsynced


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", "../x", "a/../b", "/a", "a/", "a//b", "a b", "a\\b", "c:x", "~/x", "é", "aux",
     "a/NUL.txt", "x.", ".hidden", ".part-1", "a\n", "a\0", "y" * 201, "/".join("d" * 100 for _ in range(5))],
)  # fmt: skip
def test_a_file_that_a_record_cannot_hold_is_one_sentence(open_attempt: Opener, name: str) -> None:
    with open_attempt() as attempt:
        with pytest.raises(Trouble, match="cannot be called"):
            attempt.write(name, b"x")
        assert [entry.name for entry in attempt.folder.iterdir()] == ["attempt.json"]


def test_two_files_cannot_differ_only_by_case(records: Path, open_attempt: Opener) -> None:
    with open_attempt() as attempt:
        attempt.write("media/Side.jpg", b"1")
        attempt.write("media/Side.jpg", b"the same file again")
        with pytest.raises(Trouble, match="differ only by case"):
            attempt.write("media/side.jpg", b"2")
    again = take_up(records, attempt.attempt.attempt_id, PretendClock())
    with again, pytest.raises(Trouble, match="differ only by case"):
        again.append("MEDIA/log.jsonl", b"{}")


def test_the_identity_cannot_be_overwritten(open_attempt: Opener) -> None:
    with open_attempt() as attempt, pytest.raises(ValueError, match="written once"):
        attempt.write("attempt.json", b"{}")


@pytest.fixture
def full_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"this account cannot mount a small disk: {mounted.stderr.decode().strip()}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def fill(disk: Path) -> None:
    with (disk / "ballast").open("wb", buffering=0) as ballast:
        try:
            while ballast.write(b"b" * 4096):
                pass
        except OSError:
            return


def test_on_a_full_disk_nothing_is_opened_and_on_one_with_room_again_it_is(full_disk: Path) -> None:
    records = full_disk / "records"

    def opened() -> OpenAttempt:
        return open_new(
            records, unit_id="KD-0412-1", order_id="KD-0412", nonce="n", zone="Europe/Lisbon",
            simulated=True, tool=Tool(name="shipworthy", version="0.1.0"), clock=PretendClock(),
        )  # fmt: skip

    records.mkdir()
    fill(full_disk)
    with pytest.raises(Trouble, match="the disk is full"):
        opened()
    assert open_folders(records) == set()
    (full_disk / "ballast").unlink()
    with opened() as attempt:
        assert attempt.attempt.number == 1


def test_a_full_disk_at_the_seal_leaves_the_attempt_open_and_whole(full_disk: Path, key: SigningKey) -> None:
    records = full_disk / "records"
    attempt = open_new(
        records, unit_id="KD-0412-1", order_id="KD-0412", nonce="n", zone="Europe/Lisbon",
        simulated=True, tool=Tool(name="shipworthy", version="0.1.0"), clock=PretendClock(),
    )  # fmt: skip
    attempt.append("log.jsonl", b"1")
    fill(full_disk)
    with pytest.raises(Trouble, match="the disk is full"):
        seal(attempt, key)
    (full_disk / "ballast").unlink()
    attempt.append("log.jsonl", b"2")
    folder = seal(attempt, key)
    assert (folder / "data" / "log.jsonl").read_bytes() == b"1\n2\n"


@given(st.text(max_size=40))
def test_a_name_that_we_store_is_safe_everywhere(name: str) -> None:
    try:
        check_name(name)
    except Trouble:
        return
    assert not is_unsafe(name)
    assert name.isascii()
    assert not set(name) & set(' :<>"|?*\\')


@given(st.lists(st.from_regex(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,8}[A-Za-z0-9_-]", fullmatch=True), min_size=1))
def test_plain_names_can_be_stored(parts: list[str]) -> None:
    devices = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(10))}
    name = "/".join(f"f_{part}" for part in parts[:10])
    assert check_name(name) == name
    for device in devices:
        assert is_unsafe(f"data/{device}.txt")


@given(st.text())
def test_what_is_shown_is_one_line_without_control_characters(text: str) -> None:
    shown = printable(text)
    assert shown.isprintable()
    shown.encode("utf-8")


@given(st.text(max_size=30))
def test_folding_is_stable_and_blind_to_case_of_ascii(name: str) -> None:
    assert folded(folded(name)) == folded(name)
    assert folded("Side.JPG") == folded("side.jpg")
    assert folded("e\u0301") == folded("\u00c9")
