"""Memory and disk space of the machine that the loads act on: always the live one, whatever the root."""

from __future__ import annotations

import os
from pathlib import Path

PROC = Path("/proc")
CGROUPS = Path("/sys/fs/cgroup")


def available_memory_bytes() -> int:
    """Return what can be taken without swapping: MemAvailable, or what a memory cgroup leaves if less.

    Sources: proc_meminfo(5); cgroup v2 `memory.max` and `memory.current` of each level (cgroups(7)).
    """
    available = parse_available_bytes((PROC / "meminfo").read_text("ascii"))
    try:
        name = (PROC / "self/cgroup").read_text("utf-8")
    except OSError:
        return available
    return min([available, *_cgroup_headrooms_bytes(parse_cgroup2_path(name))])


def parse_available_bytes(meminfo: str) -> int:
    """Return MemAvailable in bytes, printed by the kernel in units of 1024 bytes."""
    for line in meminfo.splitlines():
        name, _, rest = line.partition(":")
        if name == "MemAvailable":
            return int(rest.split()[0]) * 1024
    raise ValueError("no MemAvailable line in /proc/meminfo; Linux has it since 3.14")


def parse_cgroup2_path(text: str) -> str | None:
    """Return the path of this process in the unified hierarchy (`0::/path`), None without one."""
    return next((line[3:] for line in text.splitlines() if line.startswith("0::")), None)


def _cgroup_headrooms_bytes(path: str | None) -> list[int]:
    if path is None:
        return []
    rooms = []
    folder = CGROUPS / path.lstrip("/")
    for level in [folder, *folder.parents]:
        try:
            most, now = (level / "memory.max").read_text(), (level / "memory.current").read_text()
        except OSError:
            continue
        if most.strip().isdigit():
            rooms.append(max(0, int(most) - int(now)))
    return rooms


def free_disk_bytes(folder: Path) -> int:
    """Return the space below a folder that an ordinary account may still use (statvfs(3) f_bavail)."""
    answer = os.statvfs(folder)
    return answer.f_bavail * answer.f_frsize


def usable_cpus() -> tuple[int, ...]:
    """Return the online CPUs that this process may run on (sched_getaffinity(2))."""
    return tuple(sorted(os.sched_getaffinity(0)))
