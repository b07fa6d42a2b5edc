"""How much memory is taken, and how others get theirs: recorded cgroup trees, real limits, real refusals."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from shipworthy.model.base import Trouble
from shipworthy.stress import resources
from shipworthy.stress.loads.march import LOAD
from shipworthy.stress.loads.memory_passes import Pass
from shipworthy.stress.loads.memory_share import (
    LEAST_RESERVE_BYTES,
    PRESSURE_PERCENT,
    PRESSURE_REST_S,
    Strain,
    reserve_bytes,
)
from tests.stress.small_burn_ins import MIB, job_for

MEMINFO = f"MemTotal: {4096 * 1024} kB\nMemAvailable: {2048 * 1024} kB\n"
PRESSURE = "some avg10={} avg60=1.00 avg300=0.20 total=123\nfull avg10=0.00 avg60=0.00 avg300=0.00 total=1\n"


@pytest.fixture
def tree(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(resources, "PROC", tmp_path / "proc")
    monkeypatch.setattr(resources, "CGROUPS", tmp_path / "cgroup")
    _write(tmp_path, {"proc/meminfo": MEMINFO, "proc/self/cgroup": "0::/shop/bench\n"})
    return tmp_path


def _write(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)


def test_without_a_limit_it_is_what_the_kernel_says(tree: Path) -> None:
    assert resources.available_memory_bytes() == 2048 * MIB
    _write(tree, {"cgroup/shop/bench/memory.max": "max\n", "cgroup/shop/bench/memory.current": "5\n"})
    assert resources.available_memory_bytes() == 2048 * MIB


def test_the_narrowest_level_of_the_unified_tree_counts(tree: Path) -> None:
    used = {"memory.current": f"{100 * MIB}\n"}
    _write(tree / "cgroup/shop/bench", used | {"memory.max": f"{900 * MIB}\n"})
    assert resources.available_memory_bytes() == 800 * MIB
    _write(tree / "cgroup/shop", used | {"memory.max": f"{500 * MIB}\n"})
    assert resources.available_memory_bytes() == 400 * MIB
    _write(tree / "cgroup/shop/bench", {"memory.high": f"{300 * MIB}\n"})
    assert resources.available_memory_bytes() == 200 * MIB
    _write(tree / "cgroup/shop/bench", {"memory.stat": f"anon 5\ninactive_file {50 * MIB}\n"})
    assert resources.available_memory_bytes() == 250 * MIB


def test_a_group_that_is_over_its_limit_leaves_nothing(tree: Path) -> None:
    _write(tree / "cgroup/shop", {"memory.current": "300", "memory.max": "200"})
    assert resources.available_memory_bytes() == 0


def test_a_container_of_the_old_controller_sees_its_limit_at_the_top(tree: Path) -> None:
    """The path is the host's, and the folder mounted is the container's own."""
    _write(tree, {"proc/self/cgroup": "7:cpu,cpuacct:/x\n4:memory:/docker/abc\n0::/\n"})
    old = tree / "cgroup/memory"
    _write(old, {"memory.limit_in_bytes": f"{256 * MIB}\n", "memory.usage_in_bytes": f"{56 * MIB}\n"})
    assert resources.available_memory_bytes() == 200 * MIB
    _write(old, {"memory.stat": f"inactive_file 1\ntotal_inactive_file {6 * MIB}\n"})
    assert resources.available_memory_bytes() == 206 * MIB
    _write(old, {"memory.limit_in_bytes": "9223372036854771712\n"})  # what the kernel prints for no limit
    assert resources.available_memory_bytes() == 2048 * MIB


def test_the_path_of_each_hierarchy_is_found() -> None:
    text = "9:name=systemd:/s\n4:memory,hugetlb:/m:n\n0::/u\n"
    assert resources.parse_cgroup2_path(text) == "/u"
    assert resources.parse_cgroup1_memory_path(text) == "/m:n"
    assert resources.parse_cgroup1_memory_path("0::/\n") is None


def test_pressure_is_the_machines_or_the_groups_whichever_is_more(tree: Path) -> None:
    assert resources.memory_pressure_percent() == 0.0  # a kernel that does not tell
    _write(tree, {"proc/pressure/memory": PRESSURE.format("3.50")})
    assert resources.memory_pressure_percent() == 3.5
    _write(tree, {"cgroup/shop/bench/memory.pressure": PRESSURE.format("12.25")})
    assert resources.memory_pressure_percent() == 12.25
    _write(tree, {"proc/pressure/memory": "nonsense\n"})
    assert resources.memory_pressure_percent() == 12.25


def test_pressure_is_heeded_once_in_a_while_as_its_average_falls_slowly(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now_s, percent = [0.0], [PRESSURE_PERCENT + 1]
    monkeypatch.setattr(resources, "memory_pressure_percent", lambda: percent[0])
    strain = Strain(64 * MIB, lambda: now_s[0])
    assert [strain.pressed(), strain.pressed()] == [True, False]
    now_s[0] = PRESSURE_REST_S
    assert strain.pressed()
    now_s[0], percent[0] = 2 * PRESSURE_REST_S, PRESSURE_PERCENT - 1
    assert not strain.pressed()


def test_it_backs_away_under_pressure_though_memory_is_free(monkeypatch: pytest.MonkeyPatch) -> None:
    work = LOAD.open(job_for("march", Path(), memory_cap_bytes=64 * MIB))
    monkeypatch.setattr(resources, "memory_pressure_percent", lambda: 40.0)
    work.block()
    work.block()
    assert [note.code for note in work.notes()] == ["march.backed-away"]  # once, not at every block
    assert work.size_bytes == 48 * MIB
    work.close()


def test_a_block_ends_early_when_others_run_short_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    work = LOAD.open(job_for("march", Path(), memory_cap_bytes=128 * MIB))
    work._slice_bytes = 2 * MIB
    slices = work.size_bytes // work._slice_bytes
    work._passes = tuple(_slowly(one) for one in work._passes)
    # enough at the block's beginning, too little when it looks again
    answers = iter([False, True])
    monkeypatch.setattr(work._strain, "short", lambda more_bytes=0: next(answers, True))
    block = work.block()
    assert 0 < block.work < slices * work._slice_bytes
    work.close()


def _slowly(one: Pass) -> Pass:
    def run(words: Any, first: int, notes: Any) -> int:
        time.sleep(0.02)
        return one.run(words, first, notes)

    return replace(one, run=run)


def test_never_less_is_left_to_others_than_a_least_reserve() -> None:
    assert reserve_bytes(0) == LEAST_RESERVE_BYTES
    assert reserve_bytes(512 * MIB) == 512 * MIB


def test_memory_that_gets_too_tight_ends_the_load_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    work = LOAD.open(job_for("march", Path(), memory_cap_bytes=32 * MIB))
    monkeypatch.setattr(resources, "available_memory_bytes", lambda: 0)
    with pytest.raises(Trouble, match="memory became too tight to test"):
        work.block()
    work.close()


PROGRAM = """
import ctypes, os, resource, sys
from pathlib import Path
from shipworthy.model.base import Trouble
from shipworthy.stress import resources
from shipworthy.stress.loads.march import LOAD
from tests.stress.small_burn_ins import MIB, job_for

{before}
try:
    work = LOAD.open(job_for("march", Path("."), memory_cap_bytes={cap}))
except Trouble as trouble:
    print(trouble)
    sys.exit()
detail = {{v.name: v.value for v in work.detail()}}
while work.round == 0:
    assert work.block().wrong == 0
print(work.size_bytes >> 20, detail["huge_pages_bytes"], detail["locked"], detail["threads"], sep="|")
"""


def in_a_process(before: str = "", cap: str = "32 * MIB") -> str:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format(before=before, cap=cap)],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_an_account_that_may_not_lock_still_tests() -> None:
    """Limit of 64 KiB and no CAP_IPC_LOCK: dropped from the bounding set, so that exec takes it from root."""
    without_lock = """
import subprocess
if len(sys.argv) == 1 and not os.environ.get("LOCKLESS"):
    resource.setrlimit(resource.RLIMIT_MEMLOCK, (65536, 65536))
    ctypes.CDLL(None).prctl(24, 14, 0, 0, 0)  # PR_CAPBSET_DROP, CAP_IPC_LOCK
    os.execve(sys.executable, sys.orig_argv, os.environ | {"LOCKLESS": "1"})
"""
    size, _, locked, _ = in_a_process(without_lock).split("|")
    assert size == "32"
    assert locked == "no: Cannot allocate memory"  # ENOMEM: more than RLIMIT_MEMLOCK (mlock(2))


def test_where_no_huge_page_is_given_it_says_none_and_tests() -> None:
    """PR_SET_THP_DISABLE (prctl(2), 41)."""
    assert in_a_process("ctypes.CDLL(None).prctl(41, 1, 0, 0, 0)").split("|")[1] == "0"


def test_one_core_is_enough() -> None:
    one = in_a_process("os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})")
    assert one.split("|")[3] == "1"


def test_a_recorded_tree_with_a_narrow_limit_gives_a_clear_word(tmp_path: Path) -> None:
    _write(tmp_path / "bench", {"memory.max": str(100 * MIB), "memory.current": str(20 * MIB)})
    _write(tmp_path, {"self/cgroup": "0::/bench\n", "meminfo": MEMINFO})
    told = in_a_process(f"resources.PROC = resources.CGROUPS = Path({str(tmp_path)!r})", cap="0")
    assert told == (
        "only 80 MiB of memory are free (the load march). "
        "Close what uses memory, or lower the plan's reserve."
    )


@pytest.fixture
def group() -> Iterator[Path]:
    """A cgroup v2 of our own with the memory controller, where this machine allows one."""
    top = Path("/sys/fs/cgroup")
    own = resources.parse_cgroup2_path(Path("/proc/self/cgroup").read_text())
    if own is None or not (top / "cgroup.controllers").is_file():
        pytest.skip("no unified cgroup tree on this machine")
    parent = (top / own.lstrip("/")).parent if own != "/" else top
    folder = parent / f"memory-test-{os.getpid()}"
    try:
        folder.mkdir()
    except OSError as error:
        pytest.skip(f"no cgroup can be made here: {error.strerror}")
    if not (folder / "memory.max").is_file():
        folder.rmdir()
        pytest.skip("the memory controller is not given to groups here")
    yield folder
    folder.rmdir()


@pytest.mark.parametrize(("limit_mib", "told"), [(120, "only "), (1024, "|")])
def test_under_a_real_limit_it_takes_what_is_there_or_says_why_not(
    group: Path, limit_mib: int, told: str
) -> None:
    (group / "memory.max").write_text(str(limit_mib * MIB))
    assert told in in_a_process(f"(Path({str(group)!r}) / 'cgroup.procs').write_text('0')", cap="0")
    assert "oom_kill 0" in (group / "memory.events").read_text()
