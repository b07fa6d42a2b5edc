"""Caches: the sum over those that a socket has, and the size of each where all are alike.

Source: the kernel's Documentation/ABI/testing/sysfs-devices-system-cpu, `cache/index*`. A size is text such
as `32K`, in units of 1024 bytes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.cpu.cpu_list import cpu_list
from shipworthy.machine.parse.units import BYTES_IN
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

CPUS = "/sys/devices/system/cpu"
_SIZE = re.compile(r"([0-9]{1,9})([KMG]?)")

Caches = dict[str, list[int | None]]
"""Of each name (`l2`) the size in bytes of every cache; None for one that does not say it."""


def cache_facts(listing: Listing, firsts: Sequence[int]) -> tuple[Said, ...]:
    """Return the totals of a socket, of whose cores `firsts` are the first threads. Of cores offline
    nothing is known. Caches of instructions are not counted."""
    return total_facts(_caches(listing, firsts))


def total_facts(caches: Caches) -> tuple[Said, ...]:
    """Return the total of each level, and the size of one where all are alike."""
    return (
        *_level(caches, "l1d", "l1d_bytes", "l1d_each_bytes"),
        *_level(caches, "l2", "l2_bytes", "l2_each_bytes"),
        *_level(caches, "l3", "l3_bytes", "l3_each_bytes"),
        *_level(caches, "l4", "l4_bytes", "l4_each_bytes"),
    )


def _level(caches: Caches, level: str, total: str, each: str) -> tuple[Said, ...]:
    sizes = caches.get(level)
    if sizes is None:
        return ()
    if None in sizes:
        return (said(total, Absent.NOT_OFFERED),)
    whole = said(total, sum(size or 0 for size in sizes))
    return (whole, said(each, sizes[0])) if len(set(sizes)) == 1 else (whole,)


def _caches(listing: Listing, firsts: Sequence[int]) -> Caches:
    """The distinct ones. Level and type were asked once for all processors with the same set of caches.

    A core has one cache of data of each level: some virtual machines list the same one twice.
    """
    found: Caches = {}
    known: dict[str, set[int]] = {}
    level_of = _levels(listing)
    for number in firsts:
        folder = f"{CPUS}/cpu{number}/cache"
        names = listing.names(folder)
        for index in names:
            level = level_of.get((names, index))
            seen = known.setdefault(level or "", set())
            if level is None or number in seen:
                continue
            seen |= cpu_list(listing.text(f"{folder}/{index}/shared_cpu_list") or "") | {number}
            found.setdefault(level, []).append(size_bytes(listing.text(f"{folder}/{index}/size") or ""))
    return found


def _levels(listing: Listing) -> dict[tuple[tuple[str, ...], str], str]:
    """Return `l1d`, `l2` … of each set of names and name in it; caches of instructions are left out."""
    found: dict[tuple[tuple[str, ...], str], str] = {}
    for cpu in listing.names(CPUS):
        names = listing.names(f"{CPUS}/{cpu}/cache")
        for index in names:
            kind = listing.text(f"{CPUS}/{cpu}/cache/{index}/type")
            level = listing.text(f"{CPUS}/{cpu}/cache/{index}/level")
            if level in ("1", "2", "3", "4") and kind in ("Data", "Unified"):
                found.setdefault((names, index), "l1d" if level == "1" else f"l{level}")
    return found


def size_bytes(text: str) -> int | None:
    """Return the bytes of a text such as `32K`; None for one that is none, or for nothing at all."""
    match = _SIZE.fullmatch(text.strip())
    return (int(match[1]) * BYTES_IN[match[2]] or None) if match else None
