"""Dumps of CPUID's registers: a processor as it describes itself, without an operating system's word.

Forms: see `cpu_id_forms`. Fields: see `cpu_id_fields`, with the sources.
"""

from __future__ import annotations

from collections.abc import Sequence

from shipworthy.machine.listing import said
from shipworthy.machine.parse.cpu.caches import Caches, total_facts
from shipworthy.machine.parse.cpu.id_fields import (
    answer,
    brand,
    caches,
    core_kind,
    counts_told,
    flags,
    place,
    signature,
    vendor,
)
from shipworthy.machine.parse.cpu.id_forms import MOST_BYTES, Leaves, is_dump, read_dump
from shipworthy.machine.parse.cpu.words import instruction_sets, maker_of
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "cpuid"


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is a dump of CPUID, by its beginning."""
    del name
    return is_dump(head)


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one dump. A sighting for each socket whose processors are in it.

    Cores are counted over the processors that are in the dump if there are several, else they are what the
    one tells of its socket.
    """
    return parsed_each(replies, _parse_dump)


def _parse_dump(reply: Reply) -> Parsed:
    processors = [leaves for leaves in read_dump(reply.data) if (0, 0) in leaves]
    remarks: list[Remark] = []
    if not processors:
        remarks.append(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "file", "no CPUID leaf 0"))
    cut = len(reply.data) > MOST_BYTES
    if cut:
        detail = f"only the first {MOST_BYTES} bytes are read, so that cores are not counted"
        remarks.append(remark(reply.id, RemarkKind.CUT_SHORT, "file", detail))
    sockets, repeated = _sockets(processors)
    if repeated:
        detail = f"{len(processors)} processors have {repeated} APIC ids: they are not counted"
        remarks.append(remark(reply.id, RemarkKind.REPEATED, "APIC ids", detail))
    counted = len(processors) > 1 and not repeated and not cut
    found = [
        Sighting(
            kind=PartKind.PROCESSOR,
            place=f"socket:{number}",
            source=reply.id,
            said=_facts(members, counted=counted),
        )
        for number, members in enumerate(sockets)
    ]
    return Parsed(tuple(found), remarks=tuple(remarks))


def _sockets(processors: Sequence[Leaves]) -> tuple[list[list[Leaves]], int]:
    """Return the processors of each socket; and how many ids there are if some have the same, else 0."""
    ids = {place(leaves).apic for leaves in processors}
    if len(ids) != len(processors):
        return [list(processors[:1])], len(ids)
    sockets: dict[int, list[Leaves]] = {}
    for leaves in processors:
        sockets.setdefault(place(leaves).socket, []).append(leaves)
    return [sockets[key] for key in sorted(sockets)], 0


def _facts(members: Sequence[Leaves], *, counted: bool) -> tuple[Said, ...]:
    first = members[0]
    family, model, stepping = signature(first)
    common = set.intersection(*(flags(leaves) for leaves in members))
    mhz = answer(first, 0x16)
    return (
        said("maker", maker_of(vendor(first))),
        said("model", brand(first) or None),
        said("family", family),
        said("model_number", model),
        said("stepping", stepping),
        said("instruction_sets", instruction_sets(common) or None),
        *(_counted(members) if counted else _told(first)),
        *([said("base_mhz", mhz[0] & 0xFFFF)] if mhz[0] & 0xFFFF else []),
        *([said("max_mhz", mhz[1] & 0xFFFF)] if mhz[1] & 0xFFFF else []),
        *_cache_facts(members, counted=counted),
    )


def _told(leaves: Leaves) -> tuple[Said, ...]:
    cores, threads = counts_told(leaves)
    return said("cores", cores if cores is not None else Absent.NOT_OFFERED), said("threads", threads)


def _counted(members: Sequence[Leaves]) -> tuple[Said, ...]:
    """Count what the dump holds. Efficiency cores without the third level that others have are the
    low-power ones (from memory; leaf 1Ah calls both by one number)."""
    cores: dict[int, Leaves] = {}
    for leaves in members:
        cores.setdefault(place(leaves).core, leaves)
    kinds: dict[str, int] = {}
    for leaves in cores.values():
        kind = core_kind(leaves)
        if kind == "efficiency" and _has_l3(members) and not _has_l3([leaves]):
            kind = "low power"
        kinds[kind] = kinds.get(kind, 0) + 1
    names = (("performance_cores", "performance"), ("efficiency_cores", "efficiency"))
    hybrid = len(kinds) > 1 and "" not in kinds
    return (
        said("cores", len(cores)),
        said("threads", len(members)),
        *(said(name, kinds[kind]) for name, kind in names if hybrid and kind in kinds),
        *([said("low_power_cores", kinds["low power"])] if hybrid and "low power" in kinds else []),
    )


def _has_l3(members: Sequence[Leaves]) -> bool:
    return any(cache.level == "l3" for leaves in members for cache in caches(leaves))


def _cache_facts(members: Sequence[Leaves], *, counted: bool) -> tuple[Said, ...]:
    """Totals where every processor is in the dump and says who shares its caches; else the size of one."""
    distinct: dict[tuple[str, int], int] = {}
    told = [(place(leaves).apic, cache) for leaves in members for cache in caches(leaves)]
    if counted and all(cache.bits is not None for _, cache in told):
        for apic, cache in told:
            distinct[cache.level, apic >> (cache.bits or 0)] = cache.size_bytes
        found: Caches = {}
        for (level, _), size in distinct.items():
            found.setdefault(level, []).append(size)
        return total_facts(found)
    sizes: Caches = {}
    for _, cache in told:
        if cache.size_bytes not in sizes.setdefault(cache.level, []):
            sizes[cache.level].append(cache.size_bytes)
    return tuple(said for said in total_facts(sizes) if said.name.endswith("_each_bytes"))


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every leaf of each processor as it lies there."""
    return tuple(
        Section(
            f"processor {number}",
            f"APIC id {place(leaves).apic}",
            tuple(
                (f"{leaf:08x}h/{subleaf}", " ".join(f"{register:08x}" for register in registers))
                for (leaf, subleaf), registers in leaves.items()
            ),
        )
        for number, leaves in enumerate(read_dump(data))
    )
