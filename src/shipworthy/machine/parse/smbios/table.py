"""SMBIOS tables as bytes: entry points, the forms in which tables are kept, and the walk over structures.

Standard: DMTF DSP0134, 5.2 (entry points) and 6.1 (structures). Structures are walked without knowing their
types; every access is bounds-checked, as firmware writes wrong lengths. What was wrong is a Fault; what came
before it, and what can be read in spite of it, is given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Fault
from shipworthy.model.words import Absent, RemarkKind

END = 127
MOST_BYTES = 1 << 18
"""A table beyond this is not read further. The largest of the reference data has 29 KB; a 32-bit entry point
cannot announce more than 64 KB."""
MOST_STRUCTURES = 1024
"""Nor beyond so many structures. The largest table of the reference data has 620."""
MOST_TEXT = 1024
"""A text is cut behind so many bytes. DSP0134 6.1.3 allowed 64 until 2.7, and names no limit since."""
MOST_STRINGS = 255  # a string's number is one byte
BEHIND_ENTRY = 32  # where dmidecode puts the table in a dump
WINDOWS_HEADER = 8


@dataclass(frozen=True, slots=True)
class EntryPoint:
    """What an entry point says. table_at: where the table lies; structures: how many (0: not told)."""

    major: int
    minor: int
    table_at: int
    table_bytes: int
    structures: int = 0

    @property
    def version(self) -> tuple[int, int]:
        """The version that the table follows. Three slips of old firmware are corrected, as dmidecode does:
        2.31 and 2.33 stand for 2.3, 2.51 for 2.6 (from memory, and seen in its output)."""
        slips = {(2, 31): (2, 3), (2, 33): (2, 3), (2, 51): (2, 6)}
        return slips.get((self.major, self.minor), (self.major, self.minor))


@dataclass(frozen=True, slots=True)
class Structure:
    """One structure: its formatted area, header included, and its strings as bytes.

    at: its offset in the table. version: of the standard that the table says it follows.
    """

    type: int
    handle: int
    area: bytes
    strings: tuple[bytes, ...]
    at: int = 0
    version: tuple[int, int] = (3, 0)

    @property
    def where(self) -> str:
        return f"structure 0x{self.handle:04X} at {self.at}"

    def number(self, at: int, size_bytes: int) -> int | None:
        """Return the little-endian number at an offset; None where the structure ends before it."""
        area = self.area
        end = at + size_bytes
        if end > len(area):
            return None
        return area[at] if size_bytes == 1 else int.from_bytes(area[at:end], "little")

    def string(self, at: int) -> str | Absent:
        """Return the text that the byte at an offset points to, as it lies there, or why there is none.

        Number 0 means none given; a number past the last string is a fault of the table.
        """
        number = self.area[at] if at < len(self.area) else 0
        if not number:
            return Absent.NOT_OFFERED
        if number > len(self.strings):
            return Absent.IMPLAUSIBLE
        return text_of(self.strings[number - 1])

    def text(self, at: int) -> str | Absent:
        """Return the same without surrounding space; a text of nothing else is silence."""
        text = self.string(at)
        return text if isinstance(text, Absent) else text.strip() or Absent.NOT_OFFERED

    def value(self, at: int) -> str | Absent:
        """Return the same, where a placeholder counts as silence."""
        text = self.text(at)
        return Absent.NOT_OFFERED if not isinstance(text, Absent) and says_nothing(text) else text


@lru_cache(maxsize=2048)
def says_nothing(text: str) -> bool:
    """Return whether a text is a placeholder. Firmware repeats few texts often, so answers are kept."""
    return is_placeholder(text)


_UNPRINTABLE = dict.fromkeys([*range(0x20), *range(0x7F, 0xA0)], "\ufffd")


def text_of(data: bytes) -> str:
    """Return a string's text: UTF-8, or Latin-1 where it is none. What would steer a terminal is replaced."""
    data = data[:MOST_TEXT]
    if data.isascii():
        text = data.decode("ascii")
        return text if text.isprintable() else text.translate(_UNPRINTABLE)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return text.translate(_UNPRINTABLE)


@dataclass(frozen=True, slots=True)
class Table:
    """A walked table. faults: what was wrong with it, in order."""

    structures: tuple[Structure, ...]
    entry: EntryPoint | None = None
    faults: tuple[Fault, ...] = field(default=())

    def of_type(self, number: int) -> list[Structure]:
        return [structure for structure in self.structures if structure.type == number]


def entry_point(data: bytes) -> EntryPoint | None:
    """Return what an entry point says; None if it is none or its sums do not hold."""
    entry, faults = read_entry_point(data)
    return None if faults else entry


def read_entry_point(data: bytes) -> tuple[EntryPoint | None, tuple[Fault, ...]]:
    """Return what an entry point says, and what is wrong with it. With a fault its numbers are guesses.

    DSP0134 5.2: 32-bit (`_SM_`), 64-bit (`_SM3_`). `_DMI_` alone is the entry point of 2.0 (from memory). A
    32-bit length of 0x1E instead of 0x1F is an old slip of the specification.
    """
    if data[:5] == b"_SM3_":
        return _entry_64(data)
    if data[:4] == b"_SM_":
        return _entry_32(data)
    if data[:5] == b"_DMI_":
        return _entry_old(data)
    return None, (Fault(RemarkKind.BAD_HEADER, "entry point", "it begins with none of the anchors"),)


def _entry_64(data: bytes) -> tuple[EntryPoint | None, tuple[Fault, ...]]:
    if len(data) < 24:
        return None, (Fault(RemarkKind.CUT_SHORT, "entry point", f"{len(data)} bytes of 24"),)
    entry = EntryPoint(
        data[7], data[8], int.from_bytes(data[16:24], "little"), int.from_bytes(data[12:16], "little")
    )
    return entry, tuple(_wrong_sums(data, data[6], 24))


def _entry_32(data: bytes) -> tuple[EntryPoint | None, tuple[Fault, ...]]:
    if len(data) < 31:
        return None, (Fault(RemarkKind.CUT_SHORT, "entry point", f"{len(data)} bytes of 31"),)
    entry = EntryPoint(data[6], data[7], *_legacy_numbers(data[16:31]))
    faults = list(_wrong_sums(data, 31 if data[5] == 30 else data[5], 31))
    if data[16:21] != b"_DMI_":
        faults.append(Fault(RemarkKind.BAD_HEADER, "entry point", "no `_DMI_` at 16"))
    elif sum(data[16:31]) % 256:
        faults.append(Fault(RemarkKind.BAD_CHECKSUM, "entry point", "its second half does not sum to 0"))
    return entry, tuple(faults)


def _entry_old(data: bytes) -> tuple[EntryPoint | None, tuple[Fault, ...]]:
    if len(data) < 15:
        return None, (Fault(RemarkKind.CUT_SHORT, "entry point", f"{len(data)} bytes of 15"),)
    entry = EntryPoint(data[14] >> 4, data[14] & 0x0F, *_legacy_numbers(data[:15]))
    bad = Fault(RemarkKind.BAD_CHECKSUM, "entry point", "it does not sum to 0")
    return entry, (bad,) if sum(data[:15]) % 256 else ()


def _legacy_numbers(half: bytes) -> tuple[int, int, int]:
    """Return address, bytes and number of structures from the `_DMI_` half."""
    return (
        int.from_bytes(half[8:12], "little"),
        int.from_bytes(half[6:8], "little"),
        int.from_bytes(half[12:14], "little"),
    )


def _wrong_sums(data: bytes, length: int, least: int) -> Iterator[Fault]:
    if not least <= length <= len(data):
        yield Fault(RemarkKind.BAD_LENGTH, "entry point", f"it says it is {length} bytes long")
    elif sum(data[:length]) % 256:
        yield Fault(RemarkKind.BAD_CHECKSUM, "entry point", "it does not sum to 0")


def table_of_dump(data: bytes) -> Table:
    """Return the table in a file: behind an entry point, behind the 8-byte header of Windows, or bare.

    dmidecode's dumps put the table at 32 and rewrite the entry point's address so. The Windows header
    (RawSMBIOSData of GetSystemFirmwareTable, from memory: calling method, major, minor, revision, length of
    the table) is told by its length, or by its version where a bare table would have a length below 4.
    """
    if data[:4] == b"_SM_" or data[:5] in (b"_SM3_", b"_DMI_"):
        entry, faults = read_entry_point(data[:BEHIND_ENTRY])
        if entry is None:
            return walk(data[BEHIND_ENTRY:], None, faults)
        at = entry.table_at if 15 <= entry.table_at < len(data) else BEHIND_ENTRY
        if not faults:
            return walk(data[at : at + entry.table_bytes], entry)
        return walk(data[at:], None, faults)
    length = int.from_bytes(data[4:8], "little")
    exact = len(data) > WINDOWS_HEADER and length == len(data) - WINDOWS_HEADER
    if exact or (len(data) > 9 and data[0] < 2 and data[1] in (2, 3) and data[9] >= 4):
        entry = EntryPoint(data[1], data[2], WINDOWS_HEADER, length)
        return _behind_windows_header(data, entry)
    return walk(data)


def _behind_windows_header(data: bytes, entry: EntryPoint) -> Table:
    """The header counts no structures; its length is the table's own, so walk as for a 64-bit entry point."""
    there = len(data) - WINDOWS_HEADER
    faults: tuple[Fault, ...] = ()
    if entry.table_bytes != there:
        detail = f"it says {entry.table_bytes} bytes and {there} are there"
        faults = (Fault(RemarkKind.BAD_LENGTH, "header", detail),)
    return walk(data[WINDOWS_HEADER:], entry, faults, announced=False)


def walk(
    table: bytes, entry: EntryPoint | None = None, before: tuple[Fault, ...] = (), announced: bool = True
) -> Table:
    """Return the structures of a bare table, up to its end mark or to the first one that breaks off.

    Where an entry point counts the structures (2.x) the walk goes on to that count, as an end mark within the
    table is a slip of some old firmware. before: faults found earlier. announced: whether the entry point's
    length is to be held against the table.
    """
    faults = list(before)
    if len(table) > MOST_BYTES:
        faults.append(Fault(RemarkKind.CUT_SHORT, f"at {MOST_BYTES}", f"{len(table)} bytes; no more is read"))
        table = table[:MOST_BYTES]
    count = entry.structures if entry is not None else 0
    version = entry.version if entry is not None else (3, 0)
    structures: list[Structure] = []
    at, ended = 0, False
    while at + 4 <= len(table) and not ended:
        structure, next_at, fault = _structure(table, at, version)
        if structure is not None:
            structures.append(structure)
        if fault is not None:
            faults.append(fault)
            break
        at = next_at
        ended = len(structures) == count if count else table[structures[-1].at] == END
        if len(structures) >= MOST_STRUCTURES and not ended:
            faults.append(
                Fault(RemarkKind.CUT_SHORT, f"at {at}", f"{MOST_STRUCTURES} structures; no more are read")
            )
            break
    else:
        faults += _unlike_announced(structures, at, len(table), entry if announced else None, ended)
    faults += _repeated_handles(structures)
    return Table(tuple(structures), entry, tuple(faults))


def _structure(table: bytes, at: int, version: tuple[int, int]) -> tuple[Structure | None, int, Fault | None]:
    """Return the structure at an offset, where the next one begins, and what is wrong with it.

    A structure whose strings do not end has its formatted area, and the strings that do end.
    """
    length = table[at + 1]
    left = len(table) - at
    if length < 4:
        detail = f"it says it is {length} bytes long; {left} bytes are not read"
        return None, at, Fault(RemarkKind.BAD_LENGTH, f"structure at {at}", detail)
    if length > left:
        detail = f"{left} bytes of {length}"
        return None, at, Fault(RemarkKind.CUT_SHORT, f"structure at {at}", detail)
    end = table.find(b"\0\0", at + length)
    whole = end >= 0
    strings = table[at + length : end] if whole else table[at + length :].rpartition(b"\0")[0]
    area = table[at : at + length]
    handle = area[2] | area[3] << 8
    found = tuple(strings.split(b"\0", MOST_STRINGS)[:MOST_STRINGS]) if strings else ()
    structure = Structure(area[0], handle, area, found, at, version)
    if whole:
        return structure, end + 2, None
    return structure, at, Fault(RemarkKind.NO_TERMINATOR, structure.where, "its strings do not end")


def _unlike_announced(
    structures: list[Structure], used: int, there: int, entry: EntryPoint | None, ended: bool
) -> Iterator[Fault]:
    """Yield where a table that was walked without trouble is not as its entry point says, or has no end."""
    if not structures:
        yield Fault(RemarkKind.CUT_SHORT, "table", f"no structure in {there} bytes")
    elif not ended and (entry is None or not entry.structures):
        left = f"; {there - used} bytes are left" if there > used else ""
        yield Fault(RemarkKind.NO_TERMINATOR, "table", f"no end mark (type 127){left}")
    if entry is None:
        return
    if entry.structures and entry.structures != len(structures):
        detail = f"{entry.structures} structures announced, {len(structures)} found"
        yield Fault(RemarkKind.BAD_LENGTH, "entry point", detail)
    if (used != entry.table_bytes and entry.structures) or used > entry.table_bytes:
        detail = f"{entry.table_bytes} bytes announced, structures occupy {used}"
        yield Fault(RemarkKind.BAD_LENGTH, "entry point", detail)


def _repeated_handles(structures: list[Structure]) -> Iterator[Fault]:
    counts = Counter(s.handle for s in structures)
    if len(counts) == len(structures):
        return
    for handle, count in counts.items():
        if count > 1:
            yield Fault(RemarkKind.REPEATED, f"handle 0x{handle:04X}", f"{count} structures have it")
