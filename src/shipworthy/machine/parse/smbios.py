"""SMBIOS tables to facts: firmware, system, board, chassis, processors, memory and its modules.

Standard: DMTF DSP0134 (System Management BIOS). Structures are walked without knowing their types; every
access is bounds-checked, as firmware writes wrong lengths. Sizes are powers of 1024 there (its KB is 1024).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from shipworthy.machine.listing import WHY_ABSENT, said
from shipworthy.machine.parse.smbios_words import (
    CHASSIS_TYPES,
    ERROR_CORRECTIONS,
    FORM_FACTORS,
    MEMORY_TYPES,
    SILENT_WORDS,
)
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

FIRMWARE, SYSTEM, BOARD, CHASSIS, PROCESSOR, ARRAY, MODULE, END = 0, 1, 2, 3, 4, 16, 17, 127
SYSTEM_MEMORY = 3  # 7.17.2, use of a memory array


@dataclass(frozen=True, slots=True)
class EntryPoint:
    """What an entry point says. table_at: where the table lies; structures: how many (0: not told)."""

    major: int
    minor: int
    table_at: int
    table_bytes: int
    structures: int = 0


@dataclass(frozen=True, slots=True)
class Structure:
    """One structure: its formatted area, header included, and its strings as bytes."""

    type: int
    handle: int
    area: bytes
    strings: tuple[bytes, ...]

    def number(self, at: int, size_bytes: int) -> int | None:
        """Return the little-endian number at an offset; None where the structure ends before it."""
        end = at + size_bytes
        return int.from_bytes(self.area[at:end], "little") if end <= len(self.area) else None

    def text(self, at: int) -> str | Absent:
        """Return the text that the byte at an offset points to, or why there is none.

        Number 0 means none given; a number past the last string is a fault of the table.
        """
        number = self.number(at, 1)
        if not number:
            return Absent.NOT_OFFERED
        if number > len(self.strings):
            return Absent.IMPLAUSIBLE
        return self.strings[number - 1].decode("utf-8", "replace").strip() or Absent.NOT_OFFERED

    def value(self, at: int) -> str | Absent:
        """Return the same, where a placeholder counts as silence."""
        text = self.text(at)
        return Absent.NOT_OFFERED if not isinstance(text, Absent) and is_placeholder(text) else text


@dataclass(frozen=True, slots=True)
class Table:
    """A walked table. faults: what was wrong with it, in order; what came before a fault is good."""

    structures: tuple[Structure, ...]
    entry: EntryPoint | None = None
    faults: tuple[str, ...] = field(default=())

    def of_type(self, number: int) -> list[Structure]:
        return [structure for structure in self.structures if structure.type == number]


def entry_point(data: bytes) -> EntryPoint | None:
    """Return what an entry point says, 32-bit (`_SM_`) or 64-bit (`_SM3_`); None if its sums do not hold.

    DSP0134 5.2. A 32-bit length of 0x1E instead of 0x1F is an old slip of the specification.
    """
    if data[:5] == b"_SM3_" and len(data) >= 24:
        length = data[6]
        if 24 <= length <= len(data) and sum(data[:length]) % 256 == 0:
            size, at = int.from_bytes(data[12:16], "little"), int.from_bytes(data[16:24], "little")
            return EntryPoint(data[7], data[8], at, size)
    if data[:4] == b"_SM_" and len(data) >= 31:
        length = 31 if data[5] == 30 else data[5]
        whole = 31 <= length <= len(data) and sum(data[:length]) % 256 == 0
        if whole and data[16:21] == b"_DMI_" and sum(data[16:31]) % 256 == 0:
            return EntryPoint(
                data[6],
                data[7],
                int.from_bytes(data[24:28], "little"),
                int.from_bytes(data[22:24], "little"),
                int.from_bytes(data[28:30], "little"),
            )
    return None


def walk(table: bytes, entry: EntryPoint | None = None) -> Table:
    """Return the structures of a bare table, up to its end mark or to the first one that breaks off."""
    structures: list[Structure] = []
    at = 0
    while at + 4 <= len(table):
        length = table[at + 1]
        if length < 4:
            return Table(tuple(structures), entry, (f"a structure at {at} says it is {length} bytes long",))
        if at + length > len(table):
            return Table(tuple(structures), entry, (f"the structure at {at} breaks off",))
        end = table.find(b"\0\0", at + length)
        if end < 0:
            return Table(tuple(structures), entry, (f"the strings of the structure at {at} break off",))
        strings = table[at + length : end]
        handle = int.from_bytes(table[at + 2 : at + 4], "little")
        area = table[at : at + length]
        structures.append(Structure(area[0], handle, area, tuple(strings.split(b"\0")) if strings else ()))
        if area[0] == END:
            break
        at = end + 2
        if entry is not None and entry.structures and len(structures) == entry.structures:
            break
    faults = () if structures else ("the table holds no structure",)
    return Table(tuple(structures), entry, faults)


def table_of_dump(data: bytes) -> Table:
    """Return the table in a file that holds an entry point with the table behind it, or the bare table.

    dmidecode's dumps put the table at 32 and rewrite the entry point's address so.
    """
    entry = entry_point(data[:32])
    if entry is None:
        return walk(data)
    at = entry.table_at if 24 <= entry.table_at < len(data) else 32
    return walk(data[at : at + entry.table_bytes], entry)


def _word(number: int | None, words: dict[int, str]) -> str | Absent:
    word = words.get(number or 0)
    if word is None:
        return Absent.NOT_OFFERED if not number else f"code 0x{number:02X}"
    return Absent.NOT_OFFERED if word in SILENT_WORDS else word


def firmware_facts(s: Structure) -> tuple[Said, ...]:
    """Type 0 (7.1): maker, version, date as the firmware writes it, rom_bytes, revision."""
    return (
        said("maker", s.value(0x04)),
        said("version", s.value(0x05)),
        said("date", s.value(0x08)),
        said("rom_bytes", _rom_bytes(s)),
        said("revision", _revision(s)),
    )


def _rom_bytes(s: Structure) -> int | Absent:
    """Byte 9 counts 64 KB from one; 0xFF means the word at 0x18: bits 15:14 unit (MB, GB), 13:0 size."""
    small = s.number(0x09, 1)
    if small is None:
        return Absent.NOT_OFFERED
    extended = s.number(0x18, 2)
    if small != 0xFF or extended is None:
        return (small + 1) << 16
    unit, size = extended >> 14, extended & 0x3FFF
    return size << (20, 30)[unit] if unit < 2 else Absent.IMPLAUSIBLE


def _revision(s: Structure) -> str | Absent:
    major, minor = s.number(0x14, 1), s.number(0x15, 1)
    if major is None or minor is None or (major, minor) == (0xFF, 0xFF):
        return Absent.NOT_OFFERED
    return f"{major}.{minor}"


def system_facts(s: Structure, version: tuple[int, int] = (3, 0)) -> tuple[Said, ...]:
    """Type 1 (7.2): maker, model, version, serial, uuid, sku, family."""
    return (
        said("maker", s.value(0x04)),
        said("model", s.value(0x05)),
        said("version", s.value(0x06)),
        said("serial", s.value(0x07)),
        said("uuid", _uuid(s, version)),
        said("sku", s.value(0x19)),
        said("family", s.value(0x1A)),
    )


def _uuid(s: Structure, version: tuple[int, int]) -> str | Absent:
    """16 bytes; all FF: not present, all 00: not set. Since 2.6 the first three fields are little-endian."""
    raw = s.area[0x08:0x18]
    if len(raw) < 16 or raw in (b"\xff" * 16, b"\0" * 16):
        return Absent.NOT_OFFERED
    if version >= (2, 6):
        raw = raw[3::-1] + raw[5:3:-1] + raw[7:5:-1] + raw[8:]
    text = raw.hex()
    return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def board_facts(s: Structure) -> tuple[Said, ...]:
    """Type 2 (7.3): maker, model, version, serial, asset."""
    names = ("maker", "model", "version", "serial", "asset")
    return tuple(said(name, s.value(at)) for at, name in enumerate(names, 0x04))


def chassis_facts(s: Structure) -> tuple[Said, ...]:
    """Type 3 (7.4): maker, type, version, serial, asset. Bit 7 of the type says that there is a lock."""
    kind = s.number(0x05, 1)
    return (
        said("maker", s.value(0x04)),
        said("type", _word(None if kind is None else kind & 0x7F, CHASSIS_TYPES)),
        said("version", s.value(0x06)),
        said("serial", s.value(0x07)),
        said("asset", s.value(0x08)),
    )


def processor_fitted(s: Structure) -> bool:
    """Bit 6 of the status: the socket is populated."""
    return bool((s.number(0x18, 1) or 0) & 0x40)


def processor_facts(s: Structure) -> tuple[Said, ...]:
    """Type 4 (7.5): socket, maker, model, max_mhz (of the socket, not of the model), cores, threads …

    A count of 0xFF means the 16-bit count. 0 means unknown.
    """
    return (
        said("socket", s.value(0x04)),
        said("maker", s.value(0x07)),
        said("model", s.value(0x10)),
        said("cores", _count(s, 0x23, 0x2A)),
        said("cores_enabled", _count(s, 0x24, 0x2C)),
        said("threads", _count(s, 0x25, 0x2E)),
        said("socket_max_mhz", s.number(0x14, 2) or Absent.NOT_OFFERED),
        said("external_clock_mhz", s.number(0x12, 2) or Absent.NOT_OFFERED),
        said("serial", s.value(0x20)),
        said("asset", s.value(0x21)),
        said("part_number", s.value(0x22)),
    )


def _count(s: Structure, small_at: int, large_at: int) -> int | Absent:
    count = s.number(small_at, 1)
    if count == 0xFF:
        large = s.number(large_at, 2)
        count = large if large not in (None, 0xFFFF) else count
    return count or Absent.NOT_OFFERED


def array_capacity_bytes(s: Structure) -> int | Absent:
    """Type 16 (7.17): the most that the array takes; KB at 7, or bytes at 0xF when that is 0x80000000."""
    kilobytes = s.number(0x07, 4)
    if kilobytes is None:
        return Absent.NOT_OFFERED
    if kilobytes == 0x80000000:
        return s.number(0x0F, 8) or Absent.NOT_OFFERED
    return kilobytes << 10 or Absent.NOT_OFFERED


def array_facts(arrays: list[Structure], modules: list[Structure]) -> tuple[Said, ...]:
    """The memory as a whole, of all arrays of system memory and their modules.

    slots: the larger of what the arrays say and of how many modules are listed. fitted_bytes and
    modules: of the slots that hold something; unknown sizes make the sum unknown.
    """
    slots = max(sum(s.number(0x0D, 2) or 0 for s in arrays), len(modules))
    sizes = [module_size_bytes(module) for module in modules]
    fitted = [size for size in sizes if size is not Absent.NOT_FITTED]
    known = [size for size in fitted if not isinstance(size, Absent)]
    capacities = [capacity for s in arrays if not isinstance(capacity := array_capacity_bytes(s), Absent)]
    correction: str | Absent = (
        _word(arrays[0].number(0x06, 1), ERROR_CORRECTIONS) if arrays else Absent.NOT_OFFERED
    )
    all_known = bool(known) and len(known) == len(fitted)
    return (
        said("fitted_bytes", sum(known) if all_known else Absent.NOT_OFFERED),
        said("modules", len(fitted) if modules else Absent.NOT_OFFERED),
        said("slots", slots or Absent.NOT_OFFERED),
        said("capacity_bytes", sum(capacities) or Absent.NOT_OFFERED),
        said("error_correction", correction),
    )


def module_size_bytes(s: Structure) -> int | Absent:
    """Type 17 (7.18) size: MB, or KB with bit 15; 0 nothing fitted, 0xFFFF unknown, 0x7FFF see 0x1C (MB)."""
    size = s.number(0x0C, 2)
    if size is None or size == 0xFFFF:
        return Absent.NOT_OFFERED
    if size == 0:
        return Absent.NOT_FITTED
    if size == 0x7FFF:
        extended = s.number(0x1C, 4)
        return (extended & 0x7FFFFFFF) << 20 if extended is not None else Absent.NOT_OFFERED
    return (size & 0x7FFF) << (10 if size & 0x8000 else 20)


def module_speed_mt_s(s: Structure, at: int, extended_at: int) -> int | Absent:
    """A speed word: MT/s; 0 unknown; 0xFFFF means the 32-bit number at `extended_at`."""
    speed = s.number(at, 2)
    if speed == 0xFFFF:
        extended = s.number(extended_at, 4)
        speed = extended & 0x7FFFFFFF if extended is not None else None
    return speed or Absent.NOT_OFFERED


def module_facts(s: Structure) -> tuple[Said, ...]:
    """Type 17 (7.18): one slot. Of an empty one every field but its name is not fitted."""
    size = module_size_bytes(s)
    names = (said("locator", s.text(0x10)), said("bank", s.text(0x11)))
    rank = (s.number(0x1B, 1) or 0) & 0x0F
    fields: dict[str, str | int | Absent] = {
        "size_bytes": size,
        "type": _word(s.number(0x12, 1), MEMORY_TYPES),
        "form_factor": _word(s.number(0x0E, 1), FORM_FACTORS),
        "rated_speed_mt_s": module_speed_mt_s(s, 0x15, 0x54),
        "configured_speed_mt_s": module_speed_mt_s(s, 0x20, 0x58),
        "maker": s.value(0x17),
        "part_number": s.value(0x1A),
        "serial": s.value(0x18),
        "asset": s.value(0x19),
        "rank": rank or Absent.NOT_OFFERED,
        "voltage_mv": s.number(0x26, 2) or Absent.NOT_OFFERED,
        "total_width_bits": _width_bits(s.number(0x08, 2)),
        "data_width_bits": _width_bits(s.number(0x0A, 2)),
    }
    if size is Absent.NOT_FITTED:
        fields = dict.fromkeys(fields, Absent.NOT_FITTED)
    return names + tuple(said(name, value) for name, value in fields.items())


def _width_bits(number: int | None) -> int | Absent:
    return Absent.NOT_OFFERED if number in (None, 0, 0xFFFF) else number or Absent.NOT_OFFERED


def sightings(table: Table, source: str) -> Iterator[Sighting]:
    """Yield what a table says of the machine's parts."""
    version = (table.entry.major, table.entry.minor) if table.entry else (3, 0)
    singles = (
        (FIRMWARE, PartKind.FIRMWARE, "firmware", firmware_facts),
        (SYSTEM, PartKind.SYSTEM, "system", lambda s: system_facts(s, version)),
        (BOARD, PartKind.BOARD, "board", board_facts),
        (CHASSIS, PartKind.CHASSIS, "chassis", chassis_facts),
    )
    for number, kind, place, facts in singles:
        found = table.of_type(number)
        if found:  # several boards: the first is the one that hosts (7.3)
            yield Sighting(kind=kind, place=place, source=source, said=facts(found[0]))
    fitted = [s for s in table.of_type(PROCESSOR) if processor_fitted(s)]
    for index, s in enumerate(fitted):
        place = f"smbios-processor:{index}"
        fields = tuple(_as_people_know_it(field) for field in processor_facts(s))
        yield Sighting(kind=PartKind.PROCESSOR, place=place, source=source, said=fields)
    yield from _memory(table, source)


def _as_people_know_it(field: Said) -> Said:
    """Firmware writes two makers of processors in many ways (`Intel(R) Corporation`, `Advanced Micro Devices,
    Inc.`) where the kernel has one: a second spelling is no second maker."""
    if field.name == "model" and isinstance(field.value, str):
        return said("model", " ".join(field.value.split()))
    if field.name != "maker" or not isinstance(field.value, str):
        return field
    text = field.value.casefold()
    known = {"intel": "Intel", "genuineintel": "Intel", "advanced micro devices": "AMD", "amd": "AMD"}
    maker = next((word for start, word in known.items() if text.startswith(start)), field.value)
    return said("maker", "AMD" if text == "authenticamd" else maker)


def _memory(table: Table, source: str) -> Iterator[Sighting]:
    arrays = [s for s in table.of_type(ARRAY) if s.number(0x05, 1) == SYSTEM_MEMORY]
    elsewhere = {s.handle for s in table.of_type(ARRAY)} - {s.handle for s in arrays}
    modules = [s for s in table.of_type(MODULE) if s.number(0x04, 2) not in elsewhere]
    if arrays or modules:
        facts = array_facts(arrays, modules)
        yield Sighting(kind=PartKind.MEMORY, place="memory", source=source, said=facts)
    for place, s in zip(module_places(modules), modules, strict=True):
        yield Sighting(kind=PartKind.MEMORY_MODULE, place=place, source=source, said=module_facts(s))


def module_places(modules: list[Structure]) -> list[str]:
    """Return the slots' places: locator and bank as the firmware names them; a repeated name is numbered."""
    places: list[str] = []
    for s in modules:
        names = [text for at in (0x10, 0x11) if not isinstance(text := s.text(at), Absent)]
        place = "smbios:" + ("/".join(names) or "unnamed")
        times = sum(1 for known in places if known == place or known.startswith(place + "#"))
        places.append(place if not times else f"{place}#{times + 1}")
    return places


_UNREAD: tuple[tuple[PartKind, str, tuple[str, ...]], ...] = (
    (PartKind.FIRMWARE, "firmware", ("maker", "version", "date")),
    (PartKind.SYSTEM, "system", ("maker", "model", "serial", "uuid")),
    (PartKind.BOARD, "board", ("maker", "model", "version", "serial")),
    (PartKind.CHASSIS, "chassis", ("maker", "type", "serial")),
    (PartKind.MEMORY, "memory", ("fitted_bytes", "modules", "slots")),
)
"""What the tables would have told: named as absent, with the reason, when they did not come."""


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `smbios.entry-point` and `smbios.table`."""
    entry = next((r for r in replies if r.id == "smbios.entry-point"), None)
    raw = next((r for r in replies if r.id == "smbios.table"), None)
    if raw is None:
        return Parsed()
    if not raw.read:
        reason = WHY_ABSENT[raw.outcome]
        return Parsed(
            tuple(
                Sighting(kind=kind, place=place, source=raw.id, said=tuple(said(n, reason) for n in names))
                for kind, place, names in _UNREAD
            )
        )
    head = entry_point(entry.data) if entry is not None and entry.read else None
    return Parsed(tuple(sightings(walk(raw.data, head), raw.id)))
