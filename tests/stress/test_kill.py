"""kill -9 of the engine, the guard and a load: nothing outlives its parent, nothing is left behind."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from shipworthy.model.runlog import Stop, read_log
from shipworthy.model.words import Ending

pytestmark = pytest.mark.slow

ENGINE = """
import sys, threading
from pathlib import Path
from shipworthy.machine.root import Root
from shipworthy.model.base import digest_of, encode
from shipworthy.model.progress import silent
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.time import SystemClock
from shipworthy.stress.engine import run_plan
from shipworthy.stress.protocol import Ground
from tests.stress.small_burn_ins import small_plan

folder = Path(sys.argv[1])
log = open(folder / "log.jsonl", "ab", buffering=0)
run_plan(
    small_plan(("all", 60, tuple(sys.argv[2:]))),
    root=Root(folder / "machine"), clock=SystemClock(), nonce=None, segment=1, first_step=0, seed=1,
    run_id="r", tool=Tool(name="test", version="0"), write=lambda line: log.write(encode(line) + b"\\n"),
    show=silent, ground=Ground(work_folders=(str(folder / "work"),)), stop=threading.Event(),
    read_configuration=lambda: Configuration(items=(), digest=digest_of(b"")),
)
"""


class Tree:
    """An engine in a process of its own, with its guard and its loads."""

    def __init__(self, folder: Path, loads: tuple[str, ...]) -> None:
        self.folder, self._asked = folder, loads
        for name in ("work", "machine"):
            (folder / name).mkdir()
        self.engine = subprocess.Popen(
            [sys.executable, "-c", ENGINE, str(folder), *loads],
            cwd=Path(__file__).parent.parent.parent,
            stderr=subprocess.PIPE,
        )

    def log(self) -> list[dict[str, Any]]:
        path = self.folder / "log.jsonl"
        lines = path.read_bytes().split(b"\n")[:-1] if path.exists() else []
        return [json.loads(line) for line in lines]

    def pids(self, code: str) -> list[int]:
        found = [line for line in self.log() if line.get("code") == code]
        return [v["value"] for line in found for v in line["values"] if v["name"] == "pid"]

    def wait_until_all_work(self) -> None:
        expected = len(os.sched_getaffinity(0)) + len(self._asked) - 1
        wait_for(lambda: sum(line.get("code") == "load.ready" for line in self.log()) == expected, 90)

    @property
    def loads(self) -> list[int]:
        return self.pids("load.started")

    @property
    def guard(self) -> int:
        (pid,) = {parent_of(pid) for pid in self.loads}
        return pid

    def close(self) -> None:
        self.engine.kill()
        self.engine.communicate()


def parent_of(pid: int) -> int:
    return int(Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[1])


def alive(pid: int) -> bool:
    """Whether a process still runs; one that only waits to be buried does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def wait_for(true: Callable[[], bool], seconds: float) -> None:
    until_s = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until_s, "waited in vain"
        time.sleep(0.05)


@pytest.fixture
def tree(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Tree]:
    started = Tree(tmp_path, getattr(request, "param", ("matrix", "storage")))
    yield started
    started.close()


@pytest.mark.parametrize("tree", [("matrix", "march", "storage")], indirect=True, ids=["all loads"])
def test_nothing_outlives_a_killed_engine_and_no_file_is_left(tree: Tree) -> None:
    tree.wait_until_all_work()
    everybody = [tree.guard, *tree.loads]
    assert all(alive(pid) for pid in everybody)
    tree.engine.kill()
    wait_for(lambda: not any(alive(pid) for pid in everybody), 2)
    assert list((tree.folder / "work").iterdir()) == []
    lines, _ = read_log((tree.folder / "log.jsonl").read_bytes(), "log")
    assert not isinstance(lines[-1], Stop)  # an interrupted run has no stop line


def test_loads_die_with_a_killed_guard_and_the_run_says_that_it_was_lost(tree: Tree) -> None:
    tree.wait_until_all_work()
    loads = tree.loads
    os.kill(tree.guard, signal.SIGKILL)
    wait_for(lambda: not any(alive(pid) for pid in loads), 2)
    assert tree.engine.wait(20) == 0
    lines, _ = read_log((tree.folder / "log.jsonl").read_bytes(), "log")
    stop = lines[-1]
    assert isinstance(stop, Stop)
    assert (stop.ending, stop.reason) == (Ending.FAILED_TO_RUN, "guard.lost")
    assert list((tree.folder / "work").iterdir()) == []


def test_a_killed_load_ends_the_run_and_the_others_with_it(tree: Tree) -> None:
    tree.wait_until_all_work()
    everybody = [tree.guard, *tree.loads]
    os.kill(everybody[1], signal.SIGKILL)
    assert tree.engine.wait(20) == 0
    wait_for(lambda: not any(alive(pid) for pid in everybody), 2)
    stop = tree.log()[-1]
    assert (stop["kind"], stop["ending"], stop["reason"]) == ("stop", "failed to run", "load.died")
    assert tree.pids("load.died") == [everybody[1]]
    assert list((tree.folder / "work").iterdir()) == []


def test_a_guard_that_falls_silent_counts_as_lost_and_its_loads_die(tree: Tree) -> None:
    tree.wait_until_all_work()
    loads = tree.loads
    os.kill(tree.guard, signal.SIGSTOP)
    assert tree.engine.wait(20) == 0
    wait_for(lambda: not any(alive(pid) for pid in loads), 2)
    assert tree.log()[-1]["reason"] == "guard.lost"


@pytest.mark.parametrize("module", ["guard", "load_process"])
def test_a_child_whose_parent_is_another_ends_at_once(module: str) -> None:
    command = [sys.executable, "-m", f"shipworthy.stress.{module}", "1", "60", "{}"]
    assert subprocess.run(command, stdin=subprocess.DEVNULL, check=False, timeout=20).returncode == 70
