"""Processors: /proc/cpuinfo, the topology in sysfs, and the package power limits."""

from __future__ import annotations

import re
from collections import Counter

from shipworthy.machine.listing import Listing, number_or_implausible, said
from shipworthy.machine.raw import Parsed, Reply, reply_named
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

CPUS = "/sys/devices/system/cpu"
_CPU = re.compile(r"cpu(\d+)")
_MAKERS = {"GenuineIntel": "Intel", "AuthenticAMD": "AMD"}  # CPUID's twelve letters, as people know them


def parse_cpuinfo(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `cpuinfo`: a block of `name : value` lines for each processor that is online.

    One sighting a socket (`physical id`; without one all are socket 0): maker, model, microcode,
    online_threads.
    """
    reply = reply_named(replies, "cpuinfo")
    if reply is None or not reply.read:
        return Parsed()
    blocks = [_fields(block) for block in reply.data.decode("utf-8", "replace").split("\n\n")]
    blocks = [block for block in blocks if "processor" in block]
    threads = Counter(_socket(block) for block in blocks)
    found = []
    for socket in sorted(threads):
        block = next(b for b in blocks if _socket(b) == socket)
        found.append(_sighting(socket, reply.id, _cpuinfo_facts(block, threads[socket])))
    return Parsed(tuple(found))


def _fields(block: str) -> dict[str, str]:
    pairs = (line.partition(":") for line in block.splitlines())
    return {name.strip(): value.strip() for name, _, value in pairs}


def _socket(block: dict[str, str]) -> int:
    text = block.get("physical id", "0")
    return int(text) if text.isdigit() else 0


def _sighting(socket: int, source: str, fields: tuple[Said, ...]) -> Sighting:
    return Sighting(kind=PartKind.PROCESSOR, place=f"socket:{socket}", source=source, said=fields)


def _cpuinfo_facts(block: dict[str, str], threads: int) -> tuple[Said, ...]:
    maker = block.get("vendor_id") or None
    model = " ".join(block.get("model name", "").split()) or None
    return (
        said("maker", _MAKERS.get(maker, maker) if maker else None),
        said("model", model),
        said("microcode", block.get("microcode") or None),
        said("online_threads", threads),
    )


def parse_topology(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `topology`: what each processor that is online says of its core and socket.

    cores and threads: of those online; a processor that is offline has no topology, so that with any
    offline the counts of the socket are not known and the online ones are named apart.
    """
    reply = reply_named(replies, "topology")
    if reply is None or not reply.read:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    sockets: dict[int, list[str]] = {}
    for name in listing.names(CPUS):
        package = listing.number(f"{CPUS}/{name}/topology/physical_package_id")
        if _CPU.fullmatch(name) and package is not None:
            sockets.setdefault(max(package, 0), []).append(name)
    return Parsed(
        tuple(_sighting(s, reply.id, _topology_facts(listing, sockets, s)) for s in sorted(sockets))
    )


def _topology_facts(listing: Listing, sockets: dict[int, list[str]], socket: int) -> tuple[Said, ...]:
    names = sockets[socket]
    core_of = {name: listing.text(f"{CPUS}/{name}/topology/thread_siblings_list") for name in names}
    by_ids = {
        (listing.text(f"{CPUS}/{n}/topology/die_id"), listing.text(f"{CPUS}/{n}/topology/core_id"))
        for n in names
    }
    cores = len(set(core_of.values())) if all(core_of.values()) else len(by_ids)
    offline = _offline(listing)
    complete = len(sockets) == 1 and not offline
    counts: tuple[tuple[str, Scalar | Absent], ...] = (
        ("cores", cores if not offline else Absent.NOT_OFFERED),
        ("threads", len(names) if not offline else Absent.NOT_OFFERED),
        ("online_cores", cores),
        ("online_cpus", _list_text([int(name[3:]) for name in names])),
        ("offline_cpus", _list_text(offline) if complete or len(sockets) == 1 else Absent.NOT_OFFERED),
    )
    fields = tuple(said(name, value) for name, value in counts if value != "")
    return (
        *fields,
        _mhz(listing, names, "max_mhz", "cpuinfo_max_freq"),
        _mhz(listing, names, "base_mhz", "base_frequency"),
    )


def _offline(listing: Listing) -> list[int]:
    """The offline ones that are present: the kernel's list of offline numbers holds all that could be."""
    present = parse_cpu_list(listing.text(f"{CPUS}/present") or "")
    offline = parse_cpu_list(listing.text(f"{CPUS}/offline") or "")
    online = parse_cpu_list(listing.text(f"{CPUS}/online") or "")
    gone = present - online if online else offline & present
    return sorted(gone)


def parse_cpu_list(text: str) -> set[int]:
    """Return the numbers of a kernel list such as `0-3,8,10-11`; parts that are none are left out."""
    numbers: set[int] = set()
    for part in text.strip().split(","):
        first, _, last = part.partition("-")
        if first.isdigit() and (last.isdigit() or not last) and int(last or first) < 1 << 16:
            numbers.update(range(int(first), int(last or first) + 1))
    return numbers


def _list_text(numbers: list[int]) -> str:
    """Return `0-3,8` for numbers in any order; the kernel's own way to write a list."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ",".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def _mhz(listing: Listing, names: list[str], field: str, file: str) -> Said:
    """The highest of a socket's processors (hybrids differ); cpufreq counts in kHz."""
    values = [n for name in names if (n := listing.number(f"{CPUS}/{name}/cpufreq/{file}"))]
    if values:
        return said(field, max(values) // 1000)
    return listing.said(field, f"{CPUS}/{names[0]}/cpufreq/{file}", lambda _: Absent.IMPLAUSIBLE)


def parse_power_limits(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `power-limits`: of each package its long-term and short-term limit, in W."""
    reply = reply_named(replies, "power-limits")
    if reply is None or not reply.read:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for zone in listing.names("/sys/class/powercap"):
        folder = f"/sys/class/powercap/{zone}"
        package = re.fullmatch(r"package-(\d+)", listing.text(f"{folder}/name") or "")
        if package:
            fields = tuple(
                listing.said(f"power_limit_{term}_w", f"{folder}/constraint_{index}_power_limit_uw", _watts)
                for index, term in enumerate(("long", "short"))
            )
            found.append(_sighting(int(package[1]), reply.id, fields))
    return Parsed(tuple(found))


def _watts(text: str) -> float | Absent:
    """A limit of 0 or of more than any socket draws (4 kW) is no limit."""
    microwatts = number_or_implausible(text)
    if isinstance(microwatts, Absent):
        return microwatts
    return round(microwatts / 1e6, 3) if 0 < microwatts < 4_000_000_000 else Absent.NOT_OFFERED
