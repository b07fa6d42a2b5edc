"""SMBIOS tables to parts: the firmware's own description of the machine.

Standard: DMTF DSP0134 (System Management BIOS), 2.0 to 3.8. The bytes are walked in `table`; fields are in
`system`, `processor`, `memory`, `board` and `power`, facts in `facts` and `parts`; what is wrong with a table
is said by `checks`. The maker's own texts (type 11) become no facts: they can hold network addresses.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from shipworthy.machine.listing import WHY_ABSENT, said
from shipworthy.machine.parse.smbios import checks as smbios_checks
from shipworthy.machine.parse.smbios import facts as smbios_facts
from shipworthy.machine.parse.smbios import parts as smbios_parts
from shipworthy.machine.parse.smbios.facts import (
    CHASSIS,
    FIRMWARE,
    PROCESSOR,
    SYSTEM,
    array_facts,
    board_facts,
    chassis_facts,
    firmware_facts,
    module_facts,
    module_name,
    processor_facts,
    system_facts,
)
from shipworthy.machine.parse.smbios.processor import fitted as processor_fitted
from shipworthy.machine.parse.smbios.table import (
    Table,
    read_entry_point,
    table_of_dump,
    walk,
)
from shipworthy.machine.raw import Parsed, Reply, remark, reply_named
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "smbios"
ENTRY, TABLE = "smbios.entry-point", "smbios.table"
MOST_PARTS = 800
"""So many parts are made of one table. The largest of the reference data, of a virtual machine with 128
processors' worth of everything, gives 593."""

_UNREAD: tuple[tuple[PartKind, str, tuple[str, ...]], ...] = (
    (PartKind.FIRMWARE, "firmware", ("maker", "version", "date")),
    (PartKind.SYSTEM, "system", ("maker", "model", "serial", "uuid")),
    (PartKind.BOARD, "board", ("maker", "model", "version", "serial")),
    (PartKind.CHASSIS, "chassis", ("maker", "type", "serial")),
    (PartKind.MEMORY, "memory", ("fitted_bytes", "modules", "slots")),
)
"""What the tables would have told: named as absent, with the reason, when they did not come."""


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file holds a table, by its beginning: an entry point; or, bare or behind the header of
    Windows, structures of which one is the firmware's and one the system's."""
    if head[:5] in (b"_SM3_", b"_DMI_") or head[:4] == b"_SM_":
        return True
    return {FIRMWARE, SYSTEM} <= {s.type for s in table_of_dump(head).structures}


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `smbios.entry-point` and `smbios.table`, as the kernel gives them; or files in any form."""
    own = (ENTRY, TABLE)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for reply in replies:
        if reply.id == TABLE or reply.id not in own:
            one = _parse_one(reply, reply_named(replies, ENTRY) if reply.id == TABLE else None)
            found += one.sightings
            remarks += one.remarks
    return Parsed(tuple(found), remarks=tuple(remarks))


def _parse_one(reply: Reply, entry: Reply | None) -> Parsed:
    if not reply.read:
        return Parsed(tuple(_unread(reply)))
    table = _table(reply.data, entry)
    places = smbios_parts.Places()
    found = list(islice(sightings(table, reply.id, places), MOST_PARTS + 1))
    more = len(found) > MOST_PARTS
    del found[MOST_PARTS:]
    remarks = list(smbios_checks.remarks(table, found, reply.id))
    remarks += _repeated(table, places, reply.id)
    if more:
        detail = f"{MOST_PARTS} parts; no more are made"
        remarks.append(remark(reply.id, RemarkKind.CUT_SHORT, "table", detail))
    return Parsed(tuple(found), (), tuple(remarks))


def _table(data: bytes, entry: Reply | None) -> Table:
    if entry is None or not entry.read:
        return table_of_dump(data)
    head, faults = read_entry_point(entry.data)
    return walk(data, None, faults) if faults else walk(data, head)


def _unread(reply: Reply) -> Iterator[Sighting]:
    reason = WHY_ABSENT[reply.outcome]
    for kind, place, names in _UNREAD:
        fields = tuple(said(name, reason) for name in names)
        yield Sighting(kind=kind, place=place, source=reply.id, said=fields)


def _version(table: Table) -> str | Absent:
    """The version that a table follows; a table without its entry point does not say it."""
    if table.entry is None:
        return Absent.NOT_OFFERED
    major, minor = table.entry.version
    return f"{major}.{minor}"


def sightings(table: Table, source: str, places: smbios_parts.Places | None = None) -> Iterator[Sighting]:
    """Yield what a table says of the machine's parts."""
    for s in table.of_type(FIRMWARE)[:1]:
        of_table = said("smbios_version", _version(table))
        yield Sighting(
            kind=PartKind.FIRMWARE, place="firmware", source=source, said=(*firmware_facts(s), of_table)
        )
    for s in table.of_type(SYSTEM)[:1]:
        yield Sighting(kind=PartKind.SYSTEM, place="system", source=source, said=system_facts(s))
    for index, s in enumerate(smbios_facts.boards(table), 1):
        place = "board" if index == 1 else f"board#{index}"
        yield Sighting(kind=PartKind.BOARD, place=place, source=source, said=board_facts(s))
    for s in table.of_type(CHASSIS)[:1]:
        yield Sighting(kind=PartKind.CHASSIS, place="chassis", source=source, said=chassis_facts(s))
    sockets = [s for s in table.of_type(PROCESSOR) if processor_fitted(s)]
    processors = [(f"smbios-processor:{index}", s) for index, s in enumerate(sockets)]
    for place, s in processors:
        yield Sighting(kind=PartKind.PROCESSOR, place=place, source=source, said=processor_facts(s))
    arrays, modules = smbios_facts.system_memory(table)
    if arrays or modules:
        said_of_all = array_facts(arrays, modules)
        yield Sighting(kind=PartKind.MEMORY, place="memory", source=source, said=said_of_all)
    places = places or smbios_parts.Places()
    slots = [(places.of(PartKind.MEMORY_MODULE, module_name(s)), s) for s in modules]
    for place, s in slots:
        yield Sighting(kind=PartKind.MEMORY_MODULE, place=place, source=source, said=module_facts(s))
    yield from smbios_parts.sightings(
        table,
        source,
        places,
        {s.handle: place for place, s in slots},
        smbios_parts.processors_of_caches(processors),
    )


def _repeated(table: Table, places: smbios_parts.Places, source: str) -> Iterator[Remark]:
    """Yield names that several parts of a kind have; and what is there once by the standard and is not."""
    for (kind, place), times in places.repeated.items():
        yield remark(source, RemarkKind.REPEATED, place, kind.value, count=times)
    for number, what in ((FIRMWARE, "firmware"), (SYSTEM, "system"), (CHASSIS, "chassis")):
        more = len(table.of_type(number)) - 1
        if more > 0:
            detail = "only the first is read"
            yield remark(source, RemarkKind.REPEATED, what, detail, count=more)
