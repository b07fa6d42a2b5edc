"""Ask for the processors: the kernel's list of them, and their topology and clocks in sysfs."""

from __future__ import annotations

import re

from shipworthy.machine.capture.files import Lister, file_reply
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root

CPUS = "/sys/devices/system/cpu"
_CPU = re.compile(r"cpu\d+")


def capture_cpuinfo(root: Root) -> list[Reply]:
    return [file_reply(root, "cpuinfo", "/proc/cpuinfo")]


def capture_topology(root: Root) -> list[Reply]:
    lister = Lister(root)
    names = lister.names(CPUS)
    lister.texts(CPUS, ("online", "offline", "present"))
    for name in sorted(n for n in names if _CPU.fullmatch(n)):
        folder = f"{CPUS}/{name}"
        lister.texts(
            f"{folder}/topology", ("physical_package_id", "core_id", "die_id", "thread_siblings_list")
        )
        lister.texts(f"{folder}/cpufreq", ("cpuinfo_max_freq", "base_frequency"))
    return [lister.reply("topology", CPUS)]


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
