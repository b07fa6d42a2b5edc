"""Where a burn-in's log cannot be written, and one core for all: a clear word, and nothing is lost."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.jobs.live import Shop, open_shop
from tests.jobs.test_resume import codes_of, lines_of, segment

pytestmark = pytest.mark.slow

LONG_PLAN = """
schema = 1
plan_id = "long"
sample_hz = 10.0
memory_reserve_bytes = 1_000_000
disk_reserve_bytes = 0

[[steps]]
step = "processor"
seconds = 120
[[steps.loads]]
load = "matrix"
size = 256
"""
SMALL_BYTES = 3 * 2**20


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    shop = open_shop(tmp_path_factory.mktemp("shop"))
    (shop.folder / "long.toml").write_text(LONG_PLAN, "utf-8")
    return shop


@pytest.fixture
def mounted(shop: Shop) -> Iterator[Path]:
    """A small file system in memory with a unit half that holds a reading."""
    place = shop.folder / "small"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_BYTES}", "none", str(place)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
        place.rmdir()
        pytest.skip("this account may not mount")
    try:
        shop.call("read", "--into", "small/half")
        yield place / "half"
    finally:
        subprocess.run(["umount", str(place)], check=True)
        place.rmdir()


def newest_segment(half: Path) -> Path:
    return sorted((half / "burn-in").glob("log-*.jsonl"))[-1]


def fill(place: Path, leave_bytes: int) -> Path:
    """Fill a file system up to some bytes; return the file that does it."""
    filler = place / "filler"
    room = os.statvfs(place)
    filler.write_bytes(bytes(room.f_bavail * room.f_frsize - leave_bytes))
    return filler


def test_a_log_whose_disk_gets_full_ends_in_a_clear_word_and_is_taken_up_when_there_is_room(
    shop: Shop, mounted: Path
) -> None:
    (mounted / "burn-in").mkdir()
    filler = fill(mounted, 64 * 1024)
    full = shop.call("burn-in", "--into", "small/half", "--plan", "long.toml", check=2)
    assert "the disk is full" in full.stderr and "nothing written before is lost" in full.stderr
    data = segment(mounted, 1).read_bytes()
    codes = codes_of(segment(mounted, 1))
    assert "step.began" in codes and codes[-1] != "stop"
    assert data.endswith(b"\n"), "a line that did not fit is not left half"

    still_full = shop.call("burn-in", "resume", "--into", "small/half", check=2)
    assert "the disk is full" in still_full.stderr
    filler.unlink()
    stopped = subprocess.Popen(
        shop.command("burn-in", "resume", "--into", "small/half"),
        cwd=shop.folder,
        env=shop.environment,
        stdin=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
    )
    while "step.under-load" not in codes_of(newest_segment(mounted)):
        assert stopped.poll() is None
        time.sleep(0.05)
    stopped.terminate()
    _, said = stopped.communicate(timeout=60)
    assert stopped.returncode == 130
    assert "the process was killed or could not go on" in said
    assert segment(mounted, 1).read_bytes() == data
    assert lines_of(newest_segment(mounted))[-1]["ending"] == "stopped by person"


def test_a_read_only_place_is_said_before_any_load_starts(shop: Shop, mounted: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(mounted.parent)], check=True)
    refused = shop.call("burn-in", "--into", "small/half", "--plan", "long.toml", check=2)
    assert "the disk is read-only" in refused.stderr
    assert not (mounted / "burn-in").exists()
    subprocess.run(["mount", "-o", "remount,rw", str(mounted.parent)], check=True)


def test_a_place_that_becomes_read_only_between_two_attempts(shop: Shop, mounted: Path) -> None:
    interrupted = subprocess.Popen(
        shop.command("burn-in", "--into", "small/half", "--plan", "long.toml"),
        cwd=shop.folder,
        env=shop.environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    while "step.under-load" not in codes_of(segment(mounted, 1)):
        assert interrupted.poll() is None
        time.sleep(0.05)
    interrupted.kill()
    interrupted.wait()
    kept = segment(mounted, 1).read_bytes()
    subprocess.run(["mount", "-o", "remount,ro", str(mounted.parent)], check=True)
    refused = shop.call("burn-in", "resume", "--into", "small/half", check=2)
    assert "the disk is read-only" in refused.stderr
    assert segment(mounted, 1).read_bytes() == kept
    subprocess.run(["mount", "-o", "remount,rw", str(mounted.parent)], check=True)


def test_engine_guard_and_loads_share_one_core(shop: Shop) -> None:
    shop.call("read", "--into", "one-core")
    one = min(os.sched_getaffinity(0))
    done = subprocess.run(
        shop.command("burn-in", "--into", "one-core", "--plan", "tiny.toml"),
        cwd=shop.folder,
        env=shop.environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=180,
        preexec_fn=lambda: os.sched_setaffinity(0, {one}),
    )
    assert done.returncode == 0, done.stderr
    lines = lines_of(segment(shop.folder / "one-core", 1))
    reports = [line for line in lines if line["kind"] == "report"]
    assert {r["target"] for r in reports if r["load"] == "matrix"} == {f"cpu:{one}"}
    assert sum(r["wrong"] for r in reports) == 0
    for load in ("matrix", "march", "storage"):
        assert sum(r["checks"] for r in reports if r["load"] == load) > 0
    assert lines[-1]["ending"] == "completed"
