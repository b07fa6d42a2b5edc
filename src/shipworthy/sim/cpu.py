"""The unit's processor as the kernel shows it: /proc/cpuinfo and /sys/devices/system/cpu.

Its CPUs are the host's that are lent to it, under the host's numbers, since loads really run on them.
"""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.sim.parts import Processor
from shipworthy.sim.tree import Tree, cpu_list, cpu_mask

_SYSTEM_CPU = "/sys/devices/system/cpu"
_FLAGS = (
    "fpu tsc msr apic cmov mmx fxsr sse sse2 ht syscall nx lm constant_tsc nopl nonstop_tsc pni sse4_2 avx2"
)
_CACHES = ((1, "Data", 48), (1, "Instruction", 32), (2, "Unified", 2048), (3, "Unified", 24_576))
_STAT_FIELDS = 10  # user, nice, system, idle, iowait, irq, softirq, steal, guest, guest_nice
_TAB = "\t"
_THROTTLE_COUNTERS = (
    "core_throttle_count",
    "core_throttle_total_time_ms",
    "package_throttle_count",
    "package_throttle_total_time_ms",
)


def frequency_file(cpu: int) -> str:
    """Return where the clock of a CPU stands, in kHz."""
    return f"{_SYSTEM_CPU}/cpufreq/policy{cpu}/scaling_cur_freq"


def stat_text(cpus: tuple[int, ...], rows: Sequence[Sequence[int]]) -> str:
    """Return /proc/stat with those CPUs' counters and their sum, in jiffies (proc_stat(5))."""
    together = [sum(column) for column in zip(*rows, strict=True)]
    lines = [f"cpu  {' '.join(map(str, together))}"]
    lines += [f"cpu{cpu} {' '.join(map(str, row))}" for cpu, row in zip(cpus, rows, strict=True)]
    return "\n".join(lines) + "\n"


def write_processor(tree: Tree, processor: Processor, cpus: tuple[int, ...]) -> None:
    """Write a processor with one thread a core, one core for each CPU, all online."""
    tree.text(
        "/proc/cpuinfo", "\n".join(_cpuinfo(processor, cpu, core, cpus) for core, cpu in enumerate(cpus))
    )
    tree.text("/proc/stat", stat_text(cpus, [[0] * _STAT_FIELDS] * len(cpus)))
    online = cpu_list(cpus)
    tree.attributes(_SYSTEM_CPU, {"online": online, "present": online, "possible": online, "offline": ""})
    tree.attributes(f"{_SYSTEM_CPU}/smt", {"active": 0, "control": "notsupported"})
    for core, cpu in enumerate(cpus):
        folder = f"{_SYSTEM_CPU}/cpu{cpu}"
        tree.attributes(f"{folder}/topology", _topology(core, cpu, cpus))
        tree.attributes(f"{folder}/thermal_throttle", dict.fromkeys(_THROTTLE_COUNTERS, 0))
        _write_caches(tree, folder, cpu, cpus)
        _write_frequency(tree, processor, cpu)
        tree.link(f"{folder}/cpufreq", f"{_SYSTEM_CPU}/cpufreq/policy{cpu}")


def _cpuinfo(processor: Processor, cpu: int, core: int, cpus: tuple[int, ...]) -> str:
    rows = {
        "processor": cpu,
        "vendor_id": "Tarn",
        "cpu family": 6,
        "model": 231,
        "model name": processor.model,
        "stepping": 2,
        "microcode": processor.microcode,
        "cpu MHz": f"{processor.min_mhz}.000",
        "cache size": f"{_CACHES[-1][2]} KB",
        "physical id": 0,
        "siblings": len(cpus),
        "core id": core,
        "cpu cores": len(cpus),
        "apicid": core * 2,
        "fpu": "yes",
        "flags": _FLAGS,
        "bogomips": f"{processor.base_mhz * 2}.00",
        "address sizes": "46 bits physical, 48 bits virtual",
    }
    return "".join(f"{name}{_TAB * (1 + (len(name) < 8))}: {value}\n" for name, value in rows.items())


def _topology(core: int, cpu: int, cpus: tuple[int, ...]) -> dict[str, object]:
    own, all_of_it = (cpu_list([cpu]), cpu_mask([cpu])), (cpu_list(cpus), cpu_mask(cpus))
    groups = {"core_cpus": own, "thread_siblings": own}
    groups |= dict.fromkeys(("core_siblings", "package_cpus", "die_cpus"), all_of_it)
    ids: dict[str, object] = {"physical_package_id": 0, "die_id": 0, "core_id": core}
    lists = {f"{name}_list": listed for name, (listed, _) in groups.items()}
    return ids | lists | {name: mask for name, (_, mask) in groups.items()}


def _write_caches(tree: Tree, folder: str, cpu: int, cpus: tuple[int, ...]) -> None:
    for index, (level, kind, size_kib) in enumerate(_CACHES):
        shared = cpus if level == 3 else (cpu,)
        named = {
            "level": level,
            "type": kind,
            "size": f"{size_kib}K",
            "coherency_line_size": 64,
            "shared_cpu_list": cpu_list(shared),
            "shared_cpu_map": cpu_mask(shared),
        }
        tree.attributes(f"{folder}/cache/index{index}", named)


def _write_frequency(tree: Tree, processor: Processor, cpu: int) -> None:
    lowest_khz, highest_khz = processor.min_mhz * 1000, processor.max_mhz * 1000
    named = {
        "affected_cpus": cpu,
        "base_frequency": processor.base_mhz * 1000,
        "cpuinfo_max_freq": highest_khz,
        "cpuinfo_min_freq": lowest_khz,
        "scaling_cur_freq": lowest_khz,
        "scaling_driver": "acpi-cpufreq",
        "scaling_governor": "schedutil",
        "scaling_max_freq": highest_khz,
        "scaling_min_freq": lowest_khz,
    }
    tree.attributes(f"{_SYSTEM_CPU}/cpufreq/policy{cpu}", named)
