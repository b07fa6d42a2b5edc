"""Every structure of an SMBIOS table, field by field, for people who look into it (`decode`).

Standard: DMTF DSP0134. Of a type that this version does not know there are its strings and its bytes.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.machine.parse.smbios import board as smbios_board
from shipworthy.machine.parse.smbios import memory as smbios_memory
from shipworthy.machine.parse.smbios import processor as smbios_processor
from shipworthy.machine.parse.smbios import system as smbios_system
from shipworthy.machine.parse.smbios.fields import Layout, Value, known_bytes
from shipworthy.machine.parse.smbios.table import Structure, Table, table_of_dump, text_of
from shipworthy.machine.raw import Section

LAYOUTS: dict[int, Layout] = {
    **smbios_system.LAYOUTS,
    **smbios_processor.LAYOUTS,
    **smbios_board.LAYOUTS,
    **smbios_memory.LAYOUTS,
}
"""The types of structures that are decoded."""
KNOWN_BYTES = {kind: known_bytes(layout) for kind, layout in LAYOUTS.items()}
TEXT_FIELDS = {
    kind: tuple((f.name, f.string_at) for f in layout.fields if f.string_at is not None)
    for kind, layout in LAYOUTS.items()
}
"""Of each type: name and offset of the texts."""
MOST_FIELDS = 25_000
"""So many fields of one table are shown. The largest of the reference data has 9,779."""
TEXTS = (11, 12)
"""Types that are a count and so many texts."""
MOST_BARE = 64
"""So many texts are shown of a structure that is not decoded; else they are counted."""
MOST_UNUSED = 16
"""So many texts that no field points to are shown of one structure; else they are counted."""
MAKERS_OWN = 128
"""Types from here on are the maker's own (6.3)."""


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every field of every structure of a table in any of its forms, and what is wrong with it."""
    return describe_table(table_of_dump(data))


def describe_table(table: Table) -> tuple[Section, ...]:
    """Return the same of a table that is taken apart; what is too long to be shown is cut, by name."""
    sections = list(_head(table))
    fields = 0
    for s in table.structures:
        sections.append(section_of(s))
        fields += len(sections[-1].fields)
        if fields > MOST_FIELDS:
            sections.append(Section("no more is shown", s.where, (("fields_shown", fields),)))
            break
    return tuple(sections)


def _head(table: Table) -> Iterator[Section]:
    if table.entry is not None:
        entry = table.entry
        fields = (
            ("version", f"{entry.major}.{entry.minor}"),
            ("table_bytes", entry.table_bytes),
            ("structures", entry.structures or "not told"),
        )
        yield Section("entry point", "entry point", fields)
    if table.faults:
        wrong = tuple((f.kind.value, f"{f.where}: {f.detail}") for f in table.faults)
        yield Section("what is wrong with the table", "table", wrong)


def section_of(s: Structure) -> Section:
    """Return a structure's fields."""
    layout = LAYOUTS.get(s.type)
    if layout is None:
        kind = "structure of the maker's own" if s.type >= MAKERS_OWN else "structure"
        return Section(f"{kind} (type {s.type})", s.where, tuple(_bare(s)))
    return Section(f"{layout.title} (type {s.type})", s.where, tuple(_fields(s, layout)))


def _bare(s: Structure) -> Iterator[tuple[str, Value]]:
    yield "hex", s.area[4:].hex(" ")
    for index, string in enumerate(s.strings[:MOST_BARE], 1):
        yield f"string_{index}", text_of(string)
    if len(s.strings) > MOST_BARE:
        yield "strings", len(s.strings)


def _fields(s: Structure, layout: Layout) -> Iterator[tuple[str, Value]]:
    for field in layout.fields:
        value = field.read(s)
        if value is not None:
            yield field.name, value
    beyond = s.area[KNOWN_BYTES[s.type] :]
    if beyond and not layout.lists:
        yield "beyond_hex", beyond.hex(" ")
    if s.strings or s.type in TEXTS:
        yield from _unused_strings(s)


def _texts(s: Structure) -> Iterator[tuple[str, Value]]:
    count = s.number(0x04, 1) or 0
    for index, string in enumerate(s.strings[:count], 1):
        yield f"text_{index}", text_of(string)
    if count > len(s.strings):
        yield f"text_{count}", f"string {count} of {len(s.strings)}"


def _unused_strings(s: Structure) -> Iterator[tuple[str, Value]]:
    """Yield texts that no field points to: firmware leaves some behind its own fields."""
    if s.type in TEXTS:
        yield from _texts(s)
        return
    used = {s.area[at] for _, at in TEXT_FIELDS[s.type] if at < len(s.area)}
    if s.type == 3 and (at := smbios_system.chassis_sku_at(s)) is not None:
        used.add(s.area[at])
    if s.type == 22 and len(s.area) > 0x14:
        used.add(s.area[0x14])
    left = [index for index, string in enumerate(s.strings, 1) if index not in used and string]
    for index in left[:MOST_UNUSED]:
        yield f"unused_string_{index}", text_of(s.strings[index - 1])
    if len(left) > MOST_UNUSED:
        yield "unused_strings", len(left)
