"""Sockets, dies, cores and threads as sysfs tells them, their kinds, caches and settings.

Source: the kernel's Documentation, admin-guide/cputopology and ABI/testing/sysfs-devices-system-cpu.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.cpu.caches import cache_facts
from shipworthy.machine.parse.cpu.cpu_list import cpu_list, cpu_list_text
from shipworthy.machine.parse.cpu.kinds import kind_facts
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

CPUS = "/sys/devices/system/cpu"
_SMT = ("on", "off", "forceoff", "notsupported", "notimplemented")


@dataclass(frozen=True, slots=True)
class Core:
    """One core that is online. cpus: its threads. first: the thread that the rows are of."""

    socket: int
    die: int | None
    cpus: frozenset[int]
    first: int


def parse_topology(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `topology`, and `topology.caches` where it was asked for.

    cores and threads: of those online; a processor that is offline has no topology, so that with any
    offline the counts of the socket are not known and the online ones are named apart.
    """
    reply = reply_read(replies, "topology")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    sockets: dict[int, list[Core]] = {}
    for core in cores_of(listing):
        sockets.setdefault(core.socket, []).append(core)
    found = [
        _sighting(socket, reply.id, _facts(listing, cores, len(sockets)))
        for socket, cores in sorted(sockets.items())
    ]
    caches = reply_read(replies, "topology.caches")
    if caches is not None:
        shared = Listing(caches.data, caches.id)
        for socket, cores in sorted(sockets.items()):
            fields = cache_facts(shared, [core.first for core in cores])
            if fields:
                found.append(_sighting(socket, caches.id, fields))
    return Parsed(tuple(found))


def _sighting(socket: int, source: str, fields: tuple[Said, ...]) -> Sighting:
    return Sighting(kind=PartKind.PROCESSOR, place=f"socket:{socket}", source=source, said=fields)


def cores_of(listing: Listing) -> list[Core]:
    """Return the cores that are online, in the order of their first threads.

    A core is the processors that name each other as thread siblings. Where the kernel does not say them
    (before 2.6.32), it is those of one socket, die and core number.
    """
    found: dict[object, Core] = {}
    names = listing.names(CPUS)
    for number in sorted(int(n[3:]) for n in names if n[:3] == "cpu" and n[3:].isdecimal() and len(n) < 9):
        folder = f"{CPUS}/cpu{number}/topology"
        package = listing.number(f"{folder}/physical_package_id")
        if package is None:
            continue
        socket, die = max(package, 0), listing.number(f"{folder}/die_id")
        siblings = cpu_list(listing.text(f"{folder}/thread_siblings_list") or "")
        key: object = frozenset(siblings) or (socket, die, listing.number(f"{folder}/core_id"))
        known = found.get(key)
        cpus = frozenset(siblings | {number} | (known.cpus if known is not None else frozenset()))
        found[key] = Core(socket, die, cpus, known.first if known is not None else number)
    return list(found.values())


def _facts(listing: Listing, cores: Sequence[Core], sockets: int) -> tuple[Said, ...]:
    cpus = {cpu for core in cores for cpu in core.cpus}
    offline = _offline(listing)
    counts: tuple[tuple[str, Scalar | Absent], ...] = (
        ("cores", len(cores) if not offline else Absent.NOT_OFFERED),
        ("threads", len(cpus) if not offline else Absent.NOT_OFFERED),
        ("online_cores", len(cores)),
        ("online_cpus", cpu_list_text(cpus)),
        ("offline_cpus", cpu_list_text(offline) if sockets == 1 else Absent.NOT_OFFERED),
        ("isolated_cpus", cpu_list_text(cpu_list(listing.text(f"{CPUS}/isolated") or "") & cpus)),
    )
    dies = {core.die for core in cores}
    return (
        *(said(name, value) for name, value in counts if value != ""),
        *([said("dies", len(dies))] if None not in dies else []),
        _mhz(listing, cores, "max_mhz", "cpuinfo_max_freq"),
        _mhz(listing, cores, "base_mhz", "base_frequency"),
        listing.said("smt", f"{CPUS}/smt/control", lambda text: text if text in _SMT else Absent.IMPLAUSIBLE),
        _boost(listing),
        *kind_facts(listing, [(core.first, core.cpus) for core in cores]),
    )


def _offline(listing: Listing) -> set[int]:
    """The offline ones that are present: the kernel's list of offline numbers holds all that could be."""
    present = cpu_list(listing.text(f"{CPUS}/present") or "")
    offline = cpu_list(listing.text(f"{CPUS}/offline") or "")
    online = cpu_list(listing.text(f"{CPUS}/online") or "")
    return present - online if online else offline & present


def _mhz(listing: Listing, cores: Sequence[Core], field: str, file: str) -> Said:
    """The highest of a socket's processors (hybrids differ); cpufreq counts in kHz."""
    values = [n for core in cores if (n := listing.number(f"{CPUS}/cpu{core.first}/cpufreq/{file}"))]
    if values:
        return said(field, max(values) // 1000)
    path = f"{CPUS}/cpu{cores[0].first}/cpufreq/{file}"
    return listing.said(field, path, lambda _: Absent.IMPLAUSIBLE)


def _boost(listing: Listing) -> Said:
    """Whether the processor may clock above its base: `boost` of cpufreq, or Intel's driver, which says the
    opposite and says 1 too where the firmware has turned it off."""
    turbo = listing.row(f"{CPUS}/intel_pstate/no_turbo")
    if turbo is not None and turbo.text is not None:
        return listing.said("boost", turbo.path, lambda text: _flag(text, on="0", off="1"))
    return listing.said("boost", f"{CPUS}/cpufreq/boost", lambda text: _flag(text, on="1", off="0"))


def _flag(text: str, on: str, off: str) -> Scalar | Absent:
    return True if text == on else False if text == off else Absent.IMPLAUSIBLE
