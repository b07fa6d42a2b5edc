"""Whole files, lines that are not lost, names never replaced."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipworthy.model.base import Trouble
from shipworthy.record import files
from shipworthy.record.files import AppendLog, rename_no_replace, write_whole


def test_a_whole_file_replaces_the_old_one_and_leaves_no_other(tmp_path: Path) -> None:
    write_whole(tmp_path / "a.json", b"old")
    write_whole(tmp_path / "a.json", b"new")
    assert (tmp_path / "a.json").read_bytes() == b"new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.json"]


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="cannot write: No such file"):
        write_whole(tmp_path / "none" / "a.json", b"x")


def test_a_write_that_is_broken_off_leaves_the_old_file_and_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_whole(tmp_path / "a.json", b"old")

    def broken_off(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(files.os, "fsync", broken_off)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.json", b"new")
    assert [(entry.name, entry.read_bytes()) for entry in tmp_path.iterdir()] == [("a.json", b"old")]


def test_a_log_keeps_its_lines_in_order_and_adds_the_newline(tmp_path: Path) -> None:
    with AppendLog(tmp_path / "log.jsonl") as log:
        log.append(b"1")
        log.append(b"2\n")
        assert (tmp_path / "log.jsonl").read_bytes() == b"1\n2\n"
    with AppendLog(tmp_path / "log.jsonl") as log:
        log.append(b"3")
    assert (tmp_path / "log.jsonl").read_bytes() == b"1\n2\n3\n"


@pytest.mark.parametrize(
    ("stored", "kept"),
    [
        (b"", b""),
        (b"whole\n", b"whole\n"),
        (b"whole\ntor", b"whole\n"),
        (b"torn from the first byte", b""),
        (b"whole\n" + b"x" * 200_000, b"whole\n"),
        (b"whole\n" + b"\0" * 5000, b"whole\n"),
        (b"y" * 70_000 + b"\n" + b"x" * 65_535, b"y" * 70_000 + b"\n"),
    ],
)
def test_opening_a_log_cuts_off_a_torn_last_line_and_nothing_else(
    tmp_path: Path, stored: bytes, kept: bytes
) -> None:
    (tmp_path / "log").write_bytes(stored)
    AppendLog(tmp_path / "log").close()
    assert (tmp_path / "log").read_bytes() == kept


@pytest.mark.parametrize("data", [b"", b"\n", b"a\nb", b"a\n\n"])
def test_a_log_takes_exactly_one_line_at_a_time(tmp_path: Path, data: bytes) -> None:
    with AppendLog(tmp_path / "log") as log, pytest.raises(ValueError, match="one line"):
        log.append(data)


def test_a_closed_log_takes_nothing_and_closes_twice(tmp_path: Path) -> None:
    log = AppendLog(tmp_path / "log")
    log.close()
    log.close()
    with pytest.raises(ValueError, match="closed"):
        log.append(b"late")


def test_a_log_is_not_opened_through_a_link(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").write_bytes(b"mine\n")
    (tmp_path / "log").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(Trouble):
        AppendLog(tmp_path / "log")


def test_the_sync_happens_in_a_thread_of_its_own_while_lines_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    syncing, go_on, by = threading.Event(), threading.Event(), []

    def slow_disk(_: int) -> None:
        by.append(threading.current_thread())
        syncing.set()
        assert go_on.wait(20)

    monkeypatch.setattr(files, "SYNC_EVERY_S", 0.001)
    monkeypatch.setattr(files.os, "fdatasync", slow_disk)
    log = AppendLog(tmp_path / "log")
    log.append(b"first")
    assert syncing.wait(20)
    log.append(b"second, while the disk is busy")  # would hang here if it waited for the disk
    go_on.set()
    log.close()
    assert by[0] is not threading.current_thread()


def test_an_error_of_the_sync_is_told_to_whoever_appends_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def dying_disk(_: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(files, "SYNC_EVERY_S", 0.001)
    monkeypatch.setattr(files.os, "fdatasync", dying_disk)
    log = AppendLog(tmp_path / "log")
    log.append(b"first")
    log._syncer.join(20)
    with pytest.raises(Trouble, match="Input/output error"):
        log.append(b"second")
    with pytest.raises(Trouble, match="Input/output error"):
        log.close()


def test_no_line_whose_append_had_returned_is_lost_or_doubled_by_a_kill(tmp_path: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from shipworthy.record.files import AppendLog\n"
        "log = AppendLog(Path(sys.argv[1]))\n"
        "for n in range(10**9):\n"
        "    log.append(b'%d ' % n + b'x' * (n % 3000)); print(n, flush=True)\n"
    )
    log = tmp_path / "log"
    with subprocess.Popen([sys.executable, "-c", script, str(log)], stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        told = [int(child.stdout.readline()) for _ in range(3000)]
        child.send_signal(signal.SIGKILL)
        told += [int(line) for line in child.stdout.read().split(b"\n") if line]
    AppendLog(log).close()
    kept = [int(line.split()[0]) for line in log.read_bytes().splitlines()]
    assert kept[: len(told)] == told
    assert len(kept) <= len(told) + 1


def test_a_rename_never_replaces(tmp_path: Path) -> None:
    (tmp_path / "old").write_text("old")
    (tmp_path / "new").write_text("new")
    with pytest.raises(FileExistsError):
        rename_no_replace(tmp_path / "old", tmp_path / "new")
    assert (tmp_path / "new").read_text() == "new"
    rename_no_replace(tmp_path / "old", tmp_path / "third")
    assert (tmp_path / "third").read_text() == "old"


def test_where_the_file_system_cannot_rename_without_replacing_the_name_is_looked_up(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "new").mkdir()  # rename(2) would replace an empty folder
    with pytest.raises(FileExistsError):
        files._rename_after_looking(tmp_path / "old", tmp_path / "new")
    files._rename_after_looking(tmp_path / "old", tmp_path / "third")
    assert (tmp_path / "third").is_dir()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 64 KiB, where this account may mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"this account cannot mount a small disk: {mounted.stderr.decode().strip()}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_is_one_sentence_and_loses_nothing(small_disk: Path) -> None:
    write_whole(small_disk / "a", b"old")
    with pytest.raises(Trouble, match="the disk is full"):
        write_whole(small_disk / "a", b"n" * 200_000)
    assert (small_disk / "a").read_bytes() == b"old"
    assert [entry.name for entry in small_disk.iterdir()] == ["a"]


def test_a_log_on_a_full_disk_ends_at_the_last_whole_line_and_goes_on_when_there_is_room(
    small_disk: Path,
) -> None:
    (small_disk / "ballast").write_bytes(b"b" * 16_384)
    written = 0
    with AppendLog(small_disk / "log") as log:
        with pytest.raises(Trouble, match="the disk is full"):
            for _ in range(100):
                log.append(b"x" * 2999)
                written += 1
        assert written > 0
        assert (small_disk / "log").read_bytes() == (b"x" * 2999 + b"\n") * written
        (small_disk / "ballast").unlink()
        log.append(b"room again")
    assert (small_disk / "log").read_bytes().endswith(b"x\nroom again\n")


def test_a_read_only_disk_is_one_sentence(small_disk: Path) -> None:
    write_whole(small_disk / "a", b"old")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(Trouble, match="the disk is read-only"):
        write_whole(small_disk / "a", b"new")
    with pytest.raises(Trouble, match="the disk is read-only"):
        AppendLog(small_disk / "log")
    assert (small_disk / "a").read_bytes() == b"old"


def test_a_folder_that_this_account_may_not_write_to_is_one_sentence(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(Trouble, match="may not write"):
            write_whole(tmp_path / "a", b"x")
    finally:
        tmp_path.chmod(0o700)
