"""Kinds of cores of a hybrid processor, and by what they were told apart.

Best is the kernel's own list (`/sys/devices/cpu_core/cpus`, from CPUID leaf 1Ah). Else the kernel's figure
of each core's capacity, its base clock, or its top clock. Identical cores differ in their top clock too, as
makers let the best ones run faster: by 5 to 9 % on desktop processors, while the slower kind of a hybrid lies
16 % or more below (common practice, from published clocks). A gap of 12 % therefore parts two kinds, and no
smaller one.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.cpu.cpu_list import cpu_list, cpu_list_text
from shipworthy.model.facts import Said

CPUS = "/sys/devices/system/cpu"
KINDS = ("cpu_core", "cpu_atom", "cpu_lowpower")
GAP = 1.12

Cores = Sequence[tuple[int, Collection[int]]]
"""Of each core: its first thread, and all of them."""


def kind_facts(listing: Listing, cores: Cores) -> tuple[Said, ...]:
    """Return how many cores of each kind there are and on which processors; nothing if all are alike."""
    lists = [cpu_list(listing.text(f"/sys/devices/{kind}/cpus") or "") for kind in KINDS]
    kinds = [[core for core in cores if core[0] in numbers] for numbers in lists]
    if sum(map(bool, kinds)) > 1 and sum(map(len, kinds)) == len(cores):
        return _facts(kinds, "the kernel's lists")
    for file, word in (
        ("cpu_capacity", "capacity"),
        ("cpufreq/base_frequency", "base clock"),
        ("cpufreq/cpuinfo_max_freq", "top clock"),
    ):
        figures = {first: listing.number(f"{CPUS}/cpu{first}/{file}") or 0 for first, _ in cores}
        if min(figures.values(), default=0) > 0:  # a figure below nought is none
            bounds = _bounds(figures.values())
            if 1 <= len(bounds) <= 2:
                steps = [*bounds, 0]
                classes: list[list[tuple[int, Collection[int]]]] = [[], [], []]
                for core in cores:
                    at = next(i for i, bound in enumerate(steps) if figures[core[0]] > bound)
                    classes[at].append(core)
                return _facts(classes, word)
    return ()


def _bounds(figures: Collection[int]) -> list[int]:
    """Return the figures below which a gap parts a slower kind, from the highest."""
    ranked = sorted(set(figures), reverse=True)
    return [low for high, low in pairwise(ranked) if high > low * GAP]


def _facts(kinds: Sequence[Cores], word: str) -> tuple[Said, ...]:
    names = (
        ("performance_cores", "performance_cpus"),
        ("efficiency_cores", "efficiency_cpus"),
        ("low_power_cores", "low_power_cpus"),
    )
    found: list[Said] = []
    for (count, listed), cores in zip(names, kinds, strict=True):
        if cores:
            found.append(said(count, len(cores)))
            found.append(said(listed, cpu_list_text({cpu for _, cpus in cores for cpu in cpus})))
    return (*found, said("core_kinds_by", word))
