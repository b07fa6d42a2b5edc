"""Text of dmidecode to facts: the same parts, places and fields as the tables themselves give.

Source: what dmidecode 2.11 to 3.6 prints (`Handle 0x…, DMI type N, L bytes`, a title, fields after a tab,
list entries after two), of tables by DMTF DSP0134. The forms were seen in 3,222 reports of linuxhw/DMI and
bsdhw/DMI. No structure is dropped in silence: what gives no part is counted in a remark, by its type.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

from shipworthy.machine.listing import said
from shipworthy.machine.parse.dmidecode_text import board, core
from shipworthy.machine.parse.dmidecode_text.lines import MOST_BYTES, Report, TextStructure, read_report
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each, remark
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "dmidecode-text"
_HANDLE = re.compile(rb"^Handle 0x[0-9A-F]{4,8}, DMI type [0-9]{1,3}, [0-9]+ bytes", re.MULTILINE)
END = 127
SYSTEM_MEMORY = "System Memory"

SINGLES = (
    (0, PartKind.FIRMWARE, "firmware", core.firmware_facts),
    (1, PartKind.SYSTEM, "system", core.system_facts),
    (2, PartKind.BOARD, "board", core.board_facts),
    (3, PartKind.CHASSIS, "chassis", core.chassis_facts),
)
READ_TYPES = frozenset({0, 1, 2, 3, 4, 16, 17, END} | board.READ_TYPES)
"""Types that become parts, or facts of one. The others are counted by name."""


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report, by its beginning."""
    return head.startswith(b"# dmidecode ") or _HANDLE.search(head) is not None


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    report = read_report(reply.data)
    found = tuple(sightings(report, reply.id))  # first, as it notes what of the report gives no part
    return Parsed(found, remarks=tuple(_remarks(report, reply)))


def sightings(report: Report, source: str) -> Iterator[Sighting]:
    """Yield what a report says of the machine's parts."""
    for number, kind, place, facts in SINGLES:
        of_type = _hosting_first(report.of_type(number))
        if of_type:
            own = facts(of_type[0])
            if kind is PartKind.FIRMWARE:
                own += (said("smbios_version", report.version or Absent.NOT_OFFERED),)
            yield Sighting(kind=kind, place=place, source=source, said=own)
        for index, s in enumerate(of_type[1:], 2):
            if kind is PartKind.BOARD:
                yield Sighting(kind=kind, place=f"{place}#{index}", source=source, said=facts(s))
            else:
                report.unread.append((s, "another"))
    fitted = [s for s in report.of_type(4) if core.processor_fitted(s)]
    for index, s in enumerate(fitted):
        fields = core.processor_facts(s)
        place = f"smbios-processor:{index}"
        report.processors[place] = s
        yield Sighting(kind=PartKind.PROCESSOR, place=place, source=source, said=fields)
    modules = _modules(report)
    places = core.module_places(modules)
    yield from _memory(report, source, modules, places)
    at = {s.handle: place for s, place in zip(modules, places, strict=True)}
    yield from board.sightings(report, source, at)


def _hosting_first(structures: list[TextStructure]) -> list[TextStructure]:
    """The board that says it hosts the others, else the first (7.3)."""
    return sorted(structures, key=lambda s: "Board is a hosting board" not in s.lists.get("Features", ()))


def _modules(report: Report) -> list[TextStructure]:
    """The memory devices of system memory; those of an array of another use are counted and left out."""
    uses = {s.handle: s.fields.get("Use", "") for s in report.of_type(16)}
    modules: list[TextStructure] = []
    for s in report.of_type(17):
        use = uses.get(core.handle_of(s, "Array Handle"), SYSTEM_MEMORY)
        if use == SYSTEM_MEMORY:
            modules.append(s)
        else:
            report.unread.append((s, f"of {use}"))
    return modules


def _memory(
    report: Report, source: str, modules: list[TextStructure], places: list[str]
) -> Iterator[Sighting]:
    arrays = [s for s in report.of_type(16) if s.fields.get("Use") == SYSTEM_MEMORY]
    others = [s for s in report.of_type(16) if s.fields.get("Use") != SYSTEM_MEMORY]
    report.unread.extend((s, f"of {s.fields.get('Use', '')}") for s in others)
    if arrays or modules:
        facts = core.array_facts(arrays, modules)
        yield Sighting(kind=PartKind.MEMORY, place="memory", source=source, said=facts)
    for place, s in zip(places, modules, strict=True):
        yield Sighting(kind=PartKind.MEMORY_MODULE, place=place, source=source, said=core.module_facts(s))


def _remarks(report: Report, reply: Reply) -> Iterator[Remark]:
    """Yield what was wrong with the report, and what of it gave no part."""
    if len(reply.data) > MOST_BYTES:
        yield remark(reply.id, RemarkKind.CUT_SHORT, f"at {MOST_BYTES}", "the rest is not read")
    for (kind, where, detail), count in report.faults.items():
        yield remark(reply.id, kind, where, detail, count=count)
    unread = Counter((s.type, s.title) for s in report.structures if s.type not in READ_TYPES)
    unread.update((s.type, f"{why} {s.title}".strip()) for s, why in report.unread)
    for (number, title), count in sorted(unread.items()):
        yield remark(
            reply.id,
            RemarkKind.NOT_UNDERSTOOD,
            f"type {number}" if number >= 0 else "type not told",
            title,
            count=count,
        )
    for text, count in report.placeholders.items():
        where = report.placeholder_at[text]
        yield remark(reply.id, RemarkKind.PLACEHOLDER, where, text, count=count)


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every structure with every field as it stands."""
    return tuple(
        Section(
            f"{s.title} (type {s.type})" if s.type >= 0 else s.title,
            f"handle 0x{s.handle:04X}" if s.handle >= 0 else "handle not told",
            tuple(_fields_as_they_stand(s)),
        )
        for s in read_report(data).structures
    )


def _fields_as_they_stand(s: TextStructure) -> Iterator[tuple[str, str]]:
    for name, value in s.fields.items():
        entries: Sequence[str] = s.lists.get(name, ())
        yield name, "; ".join((*((value,) if value else ()), *entries))
