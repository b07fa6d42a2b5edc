"""`kill -9` of each process of the tree, and of every pair of them in one order or the other.

Nothing outlives its parent, no file is left in the work folder, and every line whose write had returned
stands in the log, whole and in its place: the engine's process tells each to a pipe that the test holds.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from shipworthy.model.runlog import Stop, read_log
from shipworthy.model.words import Ending

pytestmark = pytest.mark.slow

ENGINE = """
import hashlib, os, sys, threading
from pathlib import Path
from shipworthy.machine.root import Root
from shipworthy.model.base import digest_of, encode
from shipworthy.model.progress import silent
from shipworthy.model.reading import Configuration, Tool
from shipworthy.model.time import SystemClock
from shipworthy.record.files import AppendLog
from shipworthy.stress.engine import run_plan
from shipworthy.stress.protocol import Ground
from tests.stress.small_burn_ins import small_plan

folder, told = Path(sys.argv[1]), int(sys.argv[2])
os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:2])
log = AppendLog(folder / "log.jsonl")

def write(line):
    data = encode(line) + b"\\n"
    log.append(data)
    os.write(told, hashlib.sha256(data).digest())

run_plan(
    small_plan(("all", 60, tuple(sys.argv[3:]))),
    root=Root(folder / "machine"), clock=SystemClock(), nonce=None, segment=1, first_step=0, seed=1,
    run_id="r", tool=Tool(name="test", version="0"), write=write, show=silent,
    ground=Ground(work_folders=(str(folder / "work"),)), stop=threading.Event(),
    read_configuration=lambda: Configuration(items=(), digest=digest_of(b"")),
)
"""


LOADS = ("matrix", "march", "storage")
ROLES = ("engine", "guard", "matrix 0", "matrix 1", "march", "storage")
PAIRS = [pair[:: 1 if number % 2 else -1] for number, pair in enumerate(combinations(ROLES, 2))]
"""All pairs; every other one from the leaf to the root."""
PIPE_BYTES = 2**20


class Tree:
    """An engine in a process of its own, with its guard and its loads."""

    def __init__(self, folder: Path, loads: tuple[str, ...]) -> None:
        self.folder, self._asked = folder, loads
        for name in ("work", "machine"):
            (folder / name).mkdir()
        self._heard, told = os.pipe()
        fcntl.fcntl(told, fcntl.F_SETPIPE_SZ, PIPE_BYTES)  # some 30,000 lines: nobody reads until the end
        self.engine = subprocess.Popen(
            [sys.executable, "-c", ENGINE, str(folder), str(told), *loads],
            cwd=Path(__file__).parent.parent.parent,
            stderr=subprocess.PIPE,
            pass_fds=(told,),
        )
        os.close(told)

    def log(self) -> list[dict[str, Any]]:
        path = self.folder / "log.jsonl"
        lines = path.read_bytes().split(b"\n")[:-1] if path.exists() else []
        return [json.loads(line) for line in lines]

    def pids(self, code: str) -> list[int]:
        found = [line for line in self.log() if line.get("code") == code]
        return [v["value"] for line in found for v in line["values"] if v["name"] == "pid"]

    def wait_until_all_work(self) -> None:
        expected = min(len(os.sched_getaffinity(0)), 2) + len(self._asked) - 1
        wait_for(lambda: sum(line.get("code") == "load.ready" for line in self.log()) == expected, 90)

    @property
    def loads(self) -> list[int]:
        return self.pids("load.started")

    @property
    def guard(self) -> int:
        (pid,) = {parent_of(pid) for pid in self.loads}
        return pid

    def process(self, role: str) -> int:
        """Return the id of `engine`, `guard`, or of a load's process by load and number (`matrix 1`)."""
        if role in ("engine", "guard"):
            return self.engine.pid if role == "engine" else self.guard
        load, _, number = role.partition(" ")
        started = [line["values"] for line in self.log() if line.get("code") == "load.started"]
        found = [{v["name"]: v["value"] for v in values} for values in started]
        pids: list[int] = [values["pid"] for values in found if values["load"] == load]
        return pids[int(number or 0)]

    def assert_nothing_is_left(self, pids: Iterable[int]) -> None:
        """No process, no file, no lost line. The tree must have been told to end in some way."""
        wait_for(lambda: not any(alive(pid) for pid in pids), 2)
        assert list((self.folder / "work").iterdir()) == []
        self.engine.wait(20)
        data = (self.folder / "log.jsonl").read_bytes()
        read_log(data, "log")  # every line but a torn last one is whole
        written = [hashlib.sha256(line).digest() for line in data.splitlines(keepends=True)]
        with open(self._heard, "rb", closefd=False) as heard:
            told = heard.read()
        returned = [told[i : i + 32] for i in range(0, len(told), 32)]
        assert len(returned) > 10
        assert written[: len(returned)] == returned
        assert len(written) - len(returned) <= 1  # killed between a write and its being told

    def close(self) -> None:
        self.engine.kill()
        self.engine.communicate()
        os.close(self._heard)


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


@pytest.mark.parametrize("tree", [LOADS], indirect=True, ids=["all loads"])
@pytest.mark.parametrize("roles", [*combinations(ROLES, 1), *PAIRS], ids=" then ".join)
def test_nothing_is_left_of_a_tree_of_which_some_were_killed(tree: Tree, roles: tuple[str, ...]) -> None:
    tree.wait_until_all_work()
    everybody = [tree.engine.pid, tree.guard, *tree.loads]
    assert all(alive(pid) for pid in everybody)
    for pid in [tree.process(role) for role in roles]:
        os.kill(pid, signal.SIGKILL)
    tree.assert_nothing_is_left(everybody)
    lines, _ = read_log((tree.folder / "log.jsonl").read_bytes(), "log")
    if "engine" in roles:
        assert not isinstance(lines[-1], Stop)  # an interrupted run has no stop line
        return
    assert isinstance(lines[-1], Stop)
    assert lines[-1].ending is Ending.FAILED_TO_RUN
    expected = {"guard.lost", "load.died"} if "guard" in roles else {"load.died"}
    assert lines[-1].reason in expected


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
