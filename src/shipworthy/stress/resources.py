"""Memory and disk space of the machine that the loads act on: always the live one, whatever the root."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

PROC = Path("/proc")
CGROUPS = Path("/sys/fs/cgroup")


def available_memory_bytes() -> int:
    """Return what can be taken without swapping: MemAvailable, or what a memory cgroup leaves if less.

    Sources: proc_meminfo(5); cgroups(7); the kernel's admin guide, `cgroup-v2` (`memory.max`, `memory.high`,
    `memory.current` of each level) and `cgroup-v1/memory` (`memory.limit_in_bytes`, `memory.usage_in_bytes`).
    """
    available = parse_available_bytes((PROC / "meminfo").read_text("ascii"))
    return min([available, *(_headroom_bytes(level) for level in _memory_groups())])


def memory_pressure_percent() -> float:
    """Return the share of the last 10 s in which some task waited for memory: of the machine, or of a cgroup
    of ours if that is more; 0 where the kernel does not tell.

    Source: the kernel's `accounting/psi`: `/proc/pressure/memory` and `memory.pressure`.
    """
    found = [0.0]
    for path in (PROC / "pressure/memory", *(level / "memory.pressure" for level in _memory_groups())):
        try:
            found.append(parse_pressure_percent(path.read_text("ascii")))
        except (OSError, ValueError):
            continue  # no such file, or the kernel was started without (psi=0: reading is refused)
    return max(found)


def parse_available_bytes(meminfo: str) -> int:
    """Return MemAvailable in bytes, printed by the kernel in units of 1024 bytes."""
    for line in meminfo.splitlines():
        name, _, rest = line.partition(":")
        if name == "MemAvailable":
            return int(rest.split()[0]) * 1024
    raise ValueError("no MemAvailable line in /proc/meminfo; Linux has it since 3.14")


def parse_pressure_percent(text: str) -> float:
    """Return `avg10` of the line `some`. Raises ValueError where there is none."""
    for line in text.splitlines():
        name, *fields = line.split()
        told = dict(field.partition("=")[::2] for field in fields)
        if name == "some" and "avg10" in told:
            return float(told["avg10"])
    raise ValueError("no line `some avg10=`")


def parse_cgroup2_path(text: str) -> str | None:
    """Return the path of this process in the unified hierarchy (`0::/path`), None without one."""
    return next((line[3:] for line in text.splitlines() if line.startswith("0::")), None)


def parse_cgroup1_memory_path(text: str) -> str | None:
    """Return the path of this process in the hierarchy of the old memory controller, None without one."""
    for line in text.splitlines():
        _, _, rest = line.partition(":")
        controllers, _, path = rest.partition(":")
        if "memory" in controllers.split(","):
            return path
    return None


def _memory_groups() -> Iterator[Path]:
    """Yield the folders of our memory cgroup and of those around it.

    In a container the path can be one that only the host sees; then the topmost folder is the container's.
    """
    try:
        text = (PROC / "self/cgroup").read_text("utf-8")
    except OSError:
        return
    for top, path in (
        (CGROUPS, parse_cgroup2_path(text)),
        (CGROUPS / "memory", parse_cgroup1_memory_path(text)),
    ):
        if path is not None:
            folder = top / path.lstrip("/")
            levels = [folder, *folder.parents]
            yield from levels[: levels.index(top) + 1]


def _headroom_bytes(level: Path) -> int:
    """Return what a cgroup leaves; very much if it sets no limit or does not tell.

    Pages of files that were not used lately are counted as free: the kernel takes them first.
    """
    most = _numbers(level, ("memory.max", "memory.high", "memory.limit_in_bytes"))
    used = _numbers(level, ("memory.current", "memory.usage_in_bytes"))
    if not most or not used:
        return 1 << 63
    return max(0, min(most) - max(0, used[0] - _idle_file_bytes(level)))


def _numbers(level: Path, names: tuple[str, ...]) -> list[int]:
    found = []
    for name in names:
        try:
            text = (level / name).read_text("ascii").strip()
        except OSError:
            continue
        if text.isdigit():  # "max" is no limit
            found.append(int(text))
    return found


def _idle_file_bytes(level: Path) -> int:
    try:
        told = dict(line.split()[:2] for line in (level / "memory.stat").read_text("ascii").splitlines())
        return int(told.get("total_inactive_file") or told.get("inactive_file") or 0)
    except (OSError, ValueError):
        return 0


def free_disk_bytes(folder: Path) -> int:
    """Return the space below a folder that an ordinary account may still use (statvfs(3) f_bavail)."""
    answer = os.statvfs(folder)
    return answer.f_bavail * answer.f_frsize


def usable_cpus() -> tuple[int, ...]:
    """Return the online CPUs that this process may run on (sched_getaffinity(2))."""
    return tuple(sorted(os.sched_getaffinity(0)))
