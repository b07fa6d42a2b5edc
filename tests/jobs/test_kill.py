"""`kill -9` at any moment of `run`: no attempt, an open attempt that resumes, or a sealed valid bag.

A follower reads the logs while they grow: every whole line that it saw was written by a call that had
returned, so each must stand in the end, once and in its place. 20 moments by default; SHIPWORTHY_KILLS=200
asks for more, SHIPWORTHY_SEED for another row of moments.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import threading
import time
from pathlib import Path

import pytest

from shipworthy.model.attempt import StepLine
from shipworthy.model.base import decode_lines
from shipworthy.model.runlog import Row, read_log
from shipworthy.record.keys import TrustList
from shipworthy.record.verify import verify
from tests.jobs.live import Shop, open_shop

MOMENTS = int(os.environ.get("SHIPWORTHY_KILLS", "20"))
SEED = int(os.environ.get("SHIPWORTHY_SEED", "1"))

pytestmark = pytest.mark.slow


class Follower(threading.Thread):
    """Reads every log below a folder while it grows, and keeps the whole lines that it saw."""

    def __init__(self, records: Path) -> None:
        super().__init__(daemon=True)
        self._records, self._done = records, threading.Event()
        self.seen: dict[str, bytes] = {}

    def run(self) -> None:
        while not self._done.wait(0.01):
            self.look()

    def look(self) -> None:
        for path in [*self._records.rglob("*.jsonl")]:
            try:
                data = path.read_bytes()
            except OSError:
                continue  # renamed between the listing and the reading
            name = path.as_posix().rpartition("/data/")[2]
            whole = data[: data.rfind(b"\n") + 1]
            if len(whole) > len(self.seen.get(name, b"")):
                self.seen[name] = whole

    def finish(self) -> dict[str, bytes]:
        self._done.set()
        self.join()
        self.look()
        return self.seen


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return open_shop(tmp_path_factory.mktemp("shop"))


@pytest.fixture(scope="module")
def whole_run_s(shop: Shop) -> float:
    """How long an undisturbed run takes here, with everything warm."""
    shop.call(*shop.run_words("warm-up"), check=None)
    began = time.monotonic()
    done = shop.call(*shop.run_words("undisturbed"), check=None)
    assert done.returncode in (0, 1), done.stderr
    return time.monotonic() - began


@pytest.mark.parametrize("moment", range(MOMENTS))
def test_a_kill_at_any_moment_leaves_nothing_half(shop: Shop, whole_run_s: float, moment: int) -> None:
    share = random.Random(f"{SEED}/kill/{moment}").random()
    records = f"killed-{moment}"
    follower = Follower(shop.folder / records)
    follower.start()
    process = subprocess.Popen(
        shop.command(*shop.run_words(records)),
        cwd=shop.folder,
        env=shop.environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    time.sleep(share * whole_run_s)
    process.send_signal(signal.SIGKILL)
    process.wait()
    seen = follower.finish()
    assert_no_orphans(shop)
    sealed = assert_nothing_half(shop.folder / records)

    taken_up = shop.call(*shop.run_words(records), check=None)
    assert taken_up.returncode in (0, 1), (share, taken_up.stderr)
    bags = assert_nothing_half(shop.folder / records)
    assert len(bags) == len(sealed) + 1
    assert_every_seen_line_stands(seen, bags[0])
    assert not list((shop.folder / records / ".open").glob("*/data")), "an attempt stayed open"


def assert_no_orphans(shop: Shop) -> None:
    """The guard and the loads die with the engine; give the kernel a moment to reap them."""
    mark = f"SHIPWORTHY_HOME={shop.folder / 'home'}".encode()
    for _ in range(100):
        alive = [p for p in Path("/proc").glob("[0-9]*") if mark in _environment_of(p)]
        if not alive:
            return
        time.sleep(0.02)
    pytest.fail(f"still alive: {[(p / 'cmdline').read_bytes() for p in alive]}")


def _environment_of(process: Path) -> bytes:
    try:
        return (process / "environ").read_bytes()
    except OSError:
        return b""


def assert_nothing_half(records: Path) -> list[Path]:
    """Every folder of a unit is a valid bag; everything else is an open attempt."""
    trust = TrustList.load(records.parent / "home/trust.json")
    bags = sorted(p for p in records.glob("*/attempt-*") if not p.parent.name.startswith("."))
    for bag in bags:
        assert verify(bag, trust).faults == ()
    return bags


def assert_every_seen_line_stands(seen: dict[str, bytes], bag: Path) -> None:
    for name, lines in seen.items():
        if name.endswith("index.jsonl"):
            continue  # written whole; a reading that was cut off is taken again
        kept = (bag / "data" / name).read_bytes()
        assert kept.startswith(lines), f"{name}: a line whose write had returned is lost or doubled"
    steps = decode_lines((bag / "data/steps.jsonl").read_bytes(), StepLine, bag)[0]
    assert steps
    for path in sorted((bag / "data/burn-in").glob("log-*.jsonl")):
        rows = [line.t_s for line in read_log(path.read_bytes(), path)[0] if isinstance(line, Row)]
        assert rows == sorted(set(rows)), "a row is doubled or out of order"
