"""SMBIOS structures to facts: firmware, system, board, chassis, processors, memory and its modules.

Standard: DMTF DSP0134; the section stands with each function. A placeholder is silence, and so are the
standard's words for it.
"""

from __future__ import annotations

from collections.abc import Mapping

from shipworthy.machine.listing import said
from shipworthy.machine.parse import jep106
from shipworthy.machine.parse.firmware_table import memory_facts, plausible_millivolts
from shipworthy.machine.parse.smbios.memory import (
    DETAILS,
    array_capacity_bytes,
    logical_bytes,
    maker_code,
    module_size_bytes,
    module_speed_mt_s,
    width_bits,
)
from shipworthy.machine.parse.smbios.processor import count, family
from shipworthy.machine.parse.smbios.system import (
    VIRTUAL_MACHINE,
    is_hosting,
    revision,
    rom_bytes,
    uuid_value,
)
from shipworthy.machine.parse.smbios.table import Structure, Table
from shipworthy.machine.parse.smbios.words import (
    CHASSIS_TYPES,
    ERROR_CORRECTIONS,
    FORM_FACTORS,
    MEMORY_TECHNOLOGIES,
    MEMORY_TYPES,
    SILENT_WORDS,
)
from shipworthy.machine.parse.smbios.words_board import SOCKETS
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent

FIRMWARE, SYSTEM, BOARD, CHASSIS, PROCESSOR, ARRAY, MODULE = 0, 1, 2, 3, 4, 16, 17
SYSTEM_MEMORY = 3  # 7.17.2, use of a memory array


def word(number: int | None, words: Mapping[int, str]) -> str | Absent:
    """Return the word for a code; silence for words that say nothing, and for 0 where it has no word."""
    found = None if number is None else words.get(number)
    if found is None:
        return Absent.NOT_OFFERED if not number else f"code 0x{number:02X}"
    return Absent.NOT_OFFERED if found in SILENT_WORDS else found


def firmware_facts(s: Structure) -> tuple[Said, ...]:
    """Type 0 (7.1): maker, version, date as the firmware writes it, rom_bytes, revision …"""
    more = s.number(0x12, 2)
    return (
        said("maker", s.value(0x04)),
        said("version", s.value(0x05)),
        said("date", s.value(0x08)),
        said("rom_bytes", rom_bytes(s)),
        said("revision", revision(s, 0x14)),
        said("controller_revision", revision(s, 0x16)),
        said("virtual_machine", None if more is None else bool(more >> VIRTUAL_MACHINE & 1)),
    )


def system_facts(s: Structure) -> tuple[Said, ...]:
    """Type 1 (7.2): maker, model, version, serial, uuid_value, sku, family."""
    return (
        said("maker", s.value(0x04)),
        said("model", s.value(0x05)),
        said("version", s.value(0x06)),
        said("serial", s.value(0x07)),
        said("uuid", uuid_value(s)),
        said("sku", s.value(0x19)),
        said("family", s.value(0x1A)),
    )


def board_facts(s: Structure) -> tuple[Said, ...]:
    """Type 2 (7.3)."""
    return (
        said("maker", s.value(0x04)),
        said("model", s.value(0x05)),
        said("version", s.value(0x06)),
        said("serial", s.value(0x07)),
        said("asset", s.value(0x08)),
    )


def boards(table: Table) -> list[Structure]:
    """Return the boards, the one that says it hosts the others first (7.3), else in their order."""
    return sorted(table.of_type(BOARD), key=lambda s: not is_hosting(s))


def chassis_facts(s: Structure) -> tuple[Said, ...]:
    """Type 3 (7.4). Bit 7 of the type says that there is a lock."""
    kind = s.number(0x05, 1)
    return (
        said("maker", s.value(0x04)),
        said("type", word(None if kind is None else kind & 0x7F, CHASSIS_TYPES)),
        said("version", s.value(0x06)),
        said("serial", s.value(0x07)),
        said("asset", s.value(0x08)),
    )


def processor_facts(s: Structure) -> tuple[Said, ...]:
    """Type 4 (7.5). socket_max_mhz is the socket's, not the model's. A count of 0 is unknown."""
    return (
        said("socket", s.value(0x04)),
        said("maker", _known_maker(s.value(0x07))),
        said("model", _single_spaced(s.value(0x10))),
        said("cores", count(s, 0x23, 0x2A)),
        said("cores_enabled", count(s, 0x24, 0x2C)),
        said("threads", count(s, 0x25, 0x2E)),
        said("socket_max_mhz", s.number(0x14, 2) or Absent.NOT_OFFERED),
        said("external_clock_mhz", s.number(0x12, 2) or Absent.NOT_OFFERED),
        said("socket_type", _unless_silent(word(s.number(0x19, 1), SOCKETS))),
        said("processor_family", _unless_silent(family(s))),
        said("serial", s.value(0x20)),
        said("asset", s.value(0x21)),
        said("part_number", s.value(0x22)),
    )


def _unless_silent(text: str | Absent | None) -> str | Absent | None:
    return Absent.NOT_OFFERED if text in (*SILENT_WORDS, "None", "code 0x00") else text


def _single_spaced(text: str | Absent) -> str | Absent:
    return text if isinstance(text, Absent) else " ".join(text.split())


def _known_maker(text: str | Absent) -> str | Absent:
    """Firmware writes two makers of processors in many ways (`Intel(R) Corporation`, `Advanced Micro Devices,
    Inc.`) where the kernel has one: a second spelling is no second maker."""
    if isinstance(text, Absent):
        return text
    bare = text.casefold()
    known = {
        "intel": "Intel",
        "genuineintel": "Intel",
        "advanced micro devices": "AMD",
        "amd": "AMD",
        "authenticamd": "AMD",
    }
    return next((name for start, name in known.items() if bare.startswith(start)), text)


def system_memory(table: Table) -> tuple[list[Structure], list[Structure]]:
    """Return the arrays of system memory and their modules; those of other arrays are no memory of the PC."""
    every = table.of_type(ARRAY)
    arrays = [s for s in every if s.number(0x05, 1) == SYSTEM_MEMORY]
    elsewhere = {s.handle for s in every} - {s.handle for s in arrays}
    return arrays, [s for s in table.of_type(MODULE) if s.number(0x04, 2) not in elsewhere]


def array_facts(arrays: list[Structure], modules: list[Structure]) -> tuple[Said, ...]:
    """Type 16 (7.17): the memory as a whole, of all arrays of system memory and their modules."""
    return memory_facts(
        sum(s.number(0x0D, 2) or 0 for s in arrays),
        [module_size_bytes(s) for s in modules],
        [array_capacity_bytes(s) for s in arrays],
        word(arrays[0].number(0x06, 1), ERROR_CORRECTIONS) if arrays else Absent.NOT_OFFERED,
    )


def module_facts(s: Structure) -> tuple[Said, ...]:
    """Type 17 (7.18): one slot. Of an empty one every field but its name is not fitted."""
    names = (said("locator", s.text(0x10)), said("bank", s.text(0x11)))
    size = module_size_bytes(s)
    return names + (_EMPTY if size is Absent.NOT_FITTED else _fitted(s, size))


def _fitted(s: Structure, size: int | Absent) -> tuple[Said, ...]:
    maker, code = _maker_and_code(s)
    return (
        said("size_bytes", size),
        said("type", word(s.number(0x12, 1), MEMORY_TYPES)),
        said("form_factor", word(s.number(0x0E, 1), FORM_FACTORS)),
        said("firmware_speed_mt_s", module_speed_mt_s(s, 0x15, 0x54)),
        said("configured_speed_mt_s", module_speed_mt_s(s, 0x20, 0x58)),
        said("maker", maker),
        said("maker_code", code),
        said("part_number", s.value(0x1A)),
        said("serial", s.value(0x18)),
        said("asset", s.value(0x19)),
        said("rank", (s.number(0x1B, 1) or 0) & 0x0F or Absent.NOT_OFFERED),
        said("voltage_mv", plausible_millivolts(s.number(0x26, 2) or 0)),
        said("total_width_bits", width_bits(s, 0x08)),
        said("data_width_bits", width_bits(s, 0x0A)),
        said("technology", word(s.number(0x28, 1), MEMORY_TECHNOLOGIES)),
        said("type_detail", _type_detail(s)),
        said("firmware_version", s.value(0x2B)),
        said("volatile_bytes", logical_bytes(s, 0x3C)),
        said("non_volatile_bytes", logical_bytes(s, 0x34)),
    )


def _maker_and_code(s: Structure) -> tuple[str | Absent, str | Absent]:
    """The maker's name, and its code by JEP106: the field of 3.2, or the name where firmware wrote a code."""
    maker, code = s.value(0x17), maker_code(s)
    meant = None if isinstance(maker, Absent) else jep106.canonical(maker)
    if meant is None:
        return maker, code
    return Absent.NOT_OFFERED, meant if isinstance(code, Absent) else code


def _type_detail(s: Structure) -> str | Absent:
    bits = s.number(0x13, 2) or 0
    words = [text for bit, text in DETAILS.items() if bits >> bit & 1 and text not in SILENT_WORDS]
    return "; ".join(words) or Absent.NOT_OFFERED


def module_name(s: Structure) -> str:
    """Return a slot's place: locator and bank as the firmware names them.

    Of 2,016 desktops of linuxhw/DMI with several modules 451 repeat a locator alone.
    """
    names = [text for at in (0x10, 0x11) if not isinstance(text := s.text(at), Absent)]
    return "smbios:" + ("/".join(names) or "unnamed")


_EMPTY = tuple(
    Said(name=field.name, absent=Absent.NOT_FITTED)
    for field in _fitted(Structure(MODULE, 0, b"", ()), Absent.NOT_FITTED)
)
