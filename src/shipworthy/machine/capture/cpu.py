"""Ask for the processors: the kernel's list of them, their topology, caches, clocks and settings in sysfs.

A processor of 256 cores has some 20,000 files here. What the threads of one core share is asked once, of the
first of them; what caches share, once for each cache.
"""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister, file_reply
from shipworthy.machine.parse.cpu.cpu_list import cpu_list
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

CPUS = "/sys/devices/system/cpu"
KINDS = ("cpu_core", "cpu_atom", "cpu_lowpower")  # the kernel's performance counters name the kinds of cores
_CPU = re.compile(r"cpu\d+")
_INDEX = re.compile(r"index\d+")


def capture_cpuinfo(root: Root) -> list[Reply]:
    return [file_reply(root, "cpuinfo", "/proc/cpuinfo")]


def capture_topology(root: Root) -> list[Reply]:
    return [_topology(root), _caches(root)]


def capture_topology_configuration(root: Root) -> list[Reply]:
    """The same without the caches, which evidence does not depend on."""
    return [_topology(root)]


def _numbers(names: tuple[str, ...]) -> list[int]:
    return sorted(int(name[3:]) for name in names if _CPU.fullmatch(name))


def _topology(root: Root) -> Reply:
    lister = Lister(root)
    numbers = _numbers(lister.names(CPUS))
    lister.texts(CPUS, ("online", "offline", "present", "isolated", "smt/control", "cpufreq/boost"))
    lister.text(f"{CPUS}/intel_pstate/no_turbo")
    kinds_named = [lister.text(f"/sys/devices/{kind}/cpus") for kind in KINDS]
    known: set[int] = set()
    for number in numbers:
        if number in known:
            continue
        folder = f"{CPUS}/cpu{number}"
        siblings = cpu_list(lister.text(f"{folder}/topology/thread_siblings_list") or "")
        known |= siblings
        lister.texts(f"{folder}/topology", ("physical_package_id", "die_id"))
        if not siblings:
            lister.text(f"{folder}/topology/core_id")
        lister.texts(f"{folder}/cpufreq", ("cpuinfo_max_freq", "base_frequency"))
        if not any(kinds_named):
            lister.text(f"{folder}/cpu_capacity")
    return lister.reply("topology", CPUS)


def _caches(root: Root) -> Reply:
    """Level and type of a cache are asked once for all processors that have the same set of caches: the
    kernel numbers them in the order in which the processor lists them."""
    lister = Lister(root)
    known: dict[str, set[int]] = {}
    data: dict[tuple[str, ...], list[str]] = {}
    for number in _numbers(lister.names(CPUS)):
        if number in known.get("index0", ()):
            continue  # a thread of a core that was asked
        folder = f"{CPUS}/cpu{number}/cache"
        names = tuple(name for name in lister.names(folder) if _INDEX.fullmatch(name))
        if names not in data:
            data[names] = []
            for name in names:
                lister.text(f"{folder}/{name}/level")
                if lister.text(f"{folder}/{name}/type") != "Instruction":
                    data[names].append(name)
        for name in data[names]:
            if number not in known.setdefault(name, set()):
                lister.text(f"{folder}/{name}/size")
                known[name] |= cpu_list(lister.text(f"{folder}/{name}/shared_cpu_list") or "")
    return lister.reply("topology.caches", CPUS)


def capture_power_limits(root: Root) -> list[Reply]:
    """The running average power limits of processor packages (powercap's intel-rapl, also on AMD)."""
    lister = Lister(root)
    folder = "/sys/class/powercap"
    for name in lister.names(folder):
        if name.startswith("intel-rapl:") and name.count(":") == 1:
            lister.texts(
                f"{folder}/{name}",
                (
                    "name",
                    "constraint_0_name",
                    "constraint_0_power_limit_uw",
                    "constraint_1_name",
                    "constraint_1_power_limit_uw",
                ),
            )
    return [lister.reply("power-limits", folder)]
