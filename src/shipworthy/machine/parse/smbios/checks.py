"""What is wrong with, or left over of, an SMBIOS table: remarks, each with the structure's handle and offset.

Standard: DMTF DSP0134. Nothing here changes what is read: it says where the table contradicts the standard or
itself, which texts stand for nothing, and which structures this version does not decode.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

import msgspec

from shipworthy.machine.parse.smbios.describe import KNOWN_BYTES, LAYOUTS, MAKERS_OWN, TEXT_FIELDS
from shipworthy.machine.parse.smbios.system import chassis_sku_at
from shipworthy.machine.parse.smbios.table import MOST_TEXT, Structure, Table, says_nothing, text_of
from shipworthy.machine.raw import remark
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, RemarkKind

MOST_PLACES = 4
"""So many places of a placeholder are named; the rest is counted."""
MOST_OF_A_KIND = 64
"""So many remarks of one kind are made on one table; the last says how many more there are."""
INACTIVE = 126
REFERENCES = {
    4: ((0x1A, 7, "l1_cache_handle"), (0x1C, 7, "l2_cache_handle"), (0x1E, 7, "l3_cache_handle")),
    17: ((0x04, 16, "array_handle"),),
    19: ((0x0C, 16, "array_handle"),),
    20: ((0x0C, 17, "device_handle"), (0x0E, 19, "range_handle")),
}
"""Of a type: offset of a handle, and the type that it must lead to. NOWHERE leads nowhere on purpose."""
NOWHERE = (0xFFFE, 0xFFFF)
NAMES = frozenset({"locator", "bank"})
"""Texts that name a slot and are taken as they are, whatever they say."""
_WITH_UNIT = re.compile(r"\w+_(bytes|mt_s|mv|ma|c|rpm|w|mwh|percent|mhz|bits|ns|address)|cores\w*|threads")


def remarks(table: Table, found: Sequence[Sighting], source: str) -> tuple[Remark, ...]:
    """Return everything that is to be said of a table. found: what was made of it."""
    every = [
        *_faults(table, source),
        *_bad_references(table, source),
        *_short_structures(table, source),
        *_implausible(found, source),
        *_placeholders(table, source),
        *_not_understood(table, source),
    ]
    return tuple(_bounded(every, source))


def _bounded(every: list[Remark], source: str) -> Iterator[Remark]:
    """Yield one remark for all that say the same of structures: where it was first, and how often."""
    same: dict[tuple[RemarkKind, str, str], Remark] = {}
    for one in every:
        place = "" if one.where.startswith("structure ") else one.where
        first = same.setdefault((one.kind, place, one.detail), one)
        if first is not one:
            again = msgspec.structs.replace(first, count=first.count + one.count)
            same[one.kind, place, one.detail] = again
    times: Counter[RemarkKind] = Counter()
    for one in same.values():
        times[one.kind] += 1
        if times[one.kind] <= MOST_OF_A_KIND:
            yield one
    for kind, count in times.items():
        if count > MOST_OF_A_KIND:
            more = count - MOST_OF_A_KIND
            yield remark(source, kind, "table", "more of the same", count=more)


def _faults(table: Table, source: str) -> Iterator[Remark]:
    for fault in table.faults:
        yield fault.remark(source)


def string_fields(s: Structure) -> Iterator[tuple[str, int]]:
    """Yield name and offset of each text that a structure has room for."""
    for name, at in TEXT_FIELDS.get(s.type, ()):
        if at < len(s.area):
            yield name, at
    if s.type == 3 and (behind := chassis_sku_at(s)) is not None:
        yield "sku", behind


def _bad_references(table: Table, source: str) -> Iterator[Remark]:
    """Numbers of strings that are not there, texts that are cut, and handles that lead to nothing."""
    types = {s.handle: s.type for s in table.structures}
    for s in table.structures:
        for name, at in string_fields(s):
            number = s.area[at]
            if number > len(s.strings):
                detail = f"{name}: string {number} of {len(s.strings)}"
                yield remark(source, RemarkKind.BAD_REFERENCE, s.where, detail)
            elif number and len(s.strings[number - 1]) > MOST_TEXT:
                detail = f"{name}: {len(s.strings[number - 1])} bytes of text, {MOST_TEXT} are read"
                yield remark(source, RemarkKind.CUT_SHORT, s.where, detail)
    for s in table.structures:
        for at, wanted, name in REFERENCES.get(s.type, ()):
            handle = s.number(at, 2)
            if handle is None or handle in NOWHERE or types.get(handle) == wanted:
                continue
            there = f"type {types[handle]}" if handle in types else "nothing"
            detail = f"{name}: 0x{handle:04X} is {there}, not type {wanted}"
            yield remark(source, RemarkKind.BAD_REFERENCE, s.where, detail)


def _short_structures(table: Table, source: str) -> Iterator[Remark]:
    """Structures shorter than any version of the standard made them, one by one: they are broken. And, a type
    at a time, those of an older version than the table names: firmware seldom fills all in that it may."""
    older: Counter[tuple[int, int, int]] = Counter()
    for s in table.structures:
        layout = LAYOUTS.get(s.type)
        if layout is None:
            continue
        length = len(s.area)
        if length < layout.least:
            detail = f"{length} bytes, and a {layout.title} has at least {layout.least}"
            yield remark(source, RemarkKind.BAD_LENGTH, s.where, detail)
        elif table.entry is not None and length < layout.length_in(s.version):
            older[s.type, length, layout.length_in(s.version)] += 1
    for (kind, length, wanted), count in older.items():
        version = ".".join(map(str, table.structures[0].version))
        detail = f"{length} bytes, and since {version} at least {wanted}: the fields behind are not offered"
        yield remark(source, RemarkKind.OLD_LAYOUT, f"type {kind}", detail, count=count)


def _implausible(found: Sequence[Sighting], source: str) -> Iterator[Remark]:
    """Numbers that cannot be so. Texts that are implausible are strings that are not there: named already."""
    for sighting in found:
        for field in sighting.said:
            if field.absent is Absent.IMPLAUSIBLE and _WITH_UNIT.fullmatch(field.name):
                where = f"{sighting.kind.value} {sighting.place}"
                yield remark(source, RemarkKind.BAD_VALUE, where, field.name)


def _placeholders(table: Table, source: str) -> Iterator[Remark]:
    """One remark for each text that stands for nothing: how often it does, and where first."""
    known: dict[bytes, bool] = {}
    places: dict[bytes, Counter[str]] = {}
    for s in table.structures:
        layout = LAYOUTS.get(s.type)
        if layout is None or not s.strings:
            continue
        for name, at in string_fields(s):
            number = s.area[at]
            if not 0 < number <= len(s.strings) or name in NAMES:
                continue
            raw = s.strings[number - 1].strip()
            if raw not in known:
                known[raw] = says_nothing(text_of(raw))
            if known[raw]:
                places.setdefault(raw, Counter())[f"{layout.title} {name}"] += 1
    for raw, where in places.items():
        first = ", ".join(list(where)[:MOST_PLACES]) + (" and others" if len(where) > MOST_PLACES else "")
        yield remark(source, RemarkKind.PLACEHOLDER, first, text_of(raw) or "(blank)", count=where.total())


def _not_understood(table: Table, source: str) -> Iterator[Remark]:
    """Types that are shown as bytes and strings only, and bytes behind the last field that is known."""
    unknown = Counter(s.type for s in table.structures if s.type not in LAYOUTS)
    for kind, count in sorted(unknown.items()):
        detail = (
            "inactive" if kind == INACTIVE else "the maker's own" if kind >= MAKERS_OWN else "not decoded"
        )
        yield remark(source, RemarkKind.NOT_UNDERSTOOD, f"type {kind}", detail, count=count)
    longer: Counter[int] = Counter()
    for s in table.structures:
        layout = LAYOUTS.get(s.type)
        if layout is not None and not layout.lists and len(s.area) > KNOWN_BYTES[s.type]:
            longer[s.type] += 1
    for kind, count in sorted(longer.items()):
        detail = f"bytes behind the {KNOWN_BYTES[kind]} that are known"
        yield remark(source, RemarkKind.NOT_UNDERSTOOD, f"type {kind}", detail, count=count)
