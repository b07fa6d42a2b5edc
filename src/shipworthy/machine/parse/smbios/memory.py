"""SMBIOS structures of memory: arrays, devices (modules), and the addresses that they answer for.

Standard: DMTF DSP0134 7.17 to 7.21; its KB, MB and GB are powers of 1024. Offsets: `check-values/smbios.md`;
of type 20 from memory, held against dmidecode.
"""

from __future__ import annotations

from shipworthy.machine.parse.jep106 import of_word
from shipworthy.machine.parse.smbios.fields import (
    UNKNOWN,
    Field,
    Layout,
    Value,
    flags,
    handle,
    number,
    of,
    text,
    word,
)
from shipworthy.machine.parse.smbios.table import Structure
from shipworthy.machine.parse.smbios.words import (
    ARRAY_LOCATIONS,
    ARRAY_USES,
    ERROR_CORRECTIONS,
    FORM_FACTORS,
    MEMORY_TECHNOLOGIES,
    MEMORY_TYPES,
)
from shipworthy.model.words import Absent

_NO_ERROR = {0xFFFE: "not told", 0xFFFF: "no error"}
"""7.17, 7.18: what an error information handle says that is none."""
DETAILS = dict(
    enumerate(
        [
            "Other", "Unknown", "Fast-paged", "Static Column", "Pseudo-static", "RAMBus", "Synchronous",
            "CMOS", "EDO", "Window DRAM", "Cache DRAM", "Non-Volatile", "Registered", "Unbuffered", "LRDIMM",
        ],
        1,
    )
)  # fmt: skip
"""7.18.3"""
MODES = dict(
    enumerate(
        ["Other", "Unknown", "Volatile", "Byte-accessible persistent", "Block-accessible persistent"], 1
    )
)
"""7.18.7"""
MOST_KB = 0x80000000
ALL_ONES = (1 << 64) - 1


def array_capacity_bytes(s: Structure) -> int | Absent:
    """Type 16 (7.17): the most that the array takes; KB at 7, or bytes at 0xF when that is 0x80000000."""
    kilobytes = s.number(0x07, 4)
    if kilobytes is None:
        return Absent.NOT_OFFERED
    if kilobytes == MOST_KB:
        return _plausible_bytes(s.number(0x0F, 8))
    return kilobytes << 10 or Absent.NOT_OFFERED


def _plausible_bytes(size: int | None) -> int | Absent:
    """Return a 64-bit size: 0 is silence; 8 EB and more, which no record can hold, is no size."""
    if size is not None and size >> 63:
        return Absent.IMPLAUSIBLE
    return size or Absent.NOT_OFFERED


def module_size_bytes(s: Structure) -> int | Absent:
    """Type 17 (7.18) size: MB, or KB with bit 15; 0 nothing fitted, 0xFFFF unknown, 0x7FFF see 0x1C (MB)."""
    size = s.number(0x0C, 2)
    if size is None or size == 0xFFFF:
        return Absent.NOT_OFFERED
    if size == 0:
        return Absent.NOT_FITTED
    if size == 0x7FFF:
        extended = s.number(0x1C, 4)
        if extended is None:
            return Absent.NOT_OFFERED
        return (extended & 0x7FFFFFFF) << 20 or Absent.IMPLAUSIBLE
    return (size & 0x7FFF) << (10 if size & 0x8000 else 20) or Absent.IMPLAUSIBLE


def module_speed_mt_s(s: Structure, at: int, extended_at: int) -> int | Absent:
    """A speed word: MT/s; 0 unknown; 0xFFFF means the 32-bit number at `extended_at`."""
    speed = s.number(at, 2)
    if speed == 0xFFFF:
        extended = s.number(extended_at, 4)
        speed = extended & 0x7FFFFFFF if extended is not None else None
    return speed or Absent.NOT_OFFERED


def width_bits(s: Structure, at: int) -> int | Absent:
    """Return a module's width in bits (7.18): 0 and FFFFh are none and unknown."""
    width = s.number(at, 2)
    return Absent.NOT_OFFERED if width == 0xFFFF else width or Absent.NOT_OFFERED


def logical_bytes(s: Structure, at: int) -> int | Absent:
    """Part of a module's size (3.2): bytes; 0 none of it; all ones unknown."""
    size = s.number(at, 8)
    if size is None or size == ALL_ONES:
        return Absent.NOT_OFFERED
    return Absent.IMPLAUSIBLE if size >> 63 else size


def maker_code(s: Structure, at: int = 0x2C) -> str | Absent:
    """The maker's code (JEP106) of a module or of its controller: two bytes with parity; 0 unknown."""
    number = s.number(at, 2)
    found = of_word(number) if number else Absent.NOT_OFFERED
    return found if isinstance(found, Absent) else str(found)


def mapped_range(s: Structure, extended_at: int) -> tuple[int, int] | Absent:
    """Types 19 and 20 (7.20, 7.21): first and last byte. KB at 4 and 8, or bytes where both say 0xFFFFFFFF.

    Some firmware writes 0xFFFFFFFF in the first alone: it counts, as 7.20 says so of the first.
    """
    first, last = s.number(0x04, 4), s.number(0x08, 4)
    if first is None or last is None:
        return Absent.NOT_OFFERED
    long_first, long_last = s.number(extended_at, 8), s.number(extended_at + 8, 8)
    if first == 0xFFFFFFFF and long_first is not None and long_last is not None:
        ends = long_first, long_last
    else:
        ends = first << 10, (last << 10) + 1023
    return ends if ends[0] < ends[1] < 1 << 63 else Absent.IMPLAUSIBLE


def _array_capacity(s: Structure) -> Value:
    if s.number(0x07, 4) == MOST_KB:
        return s.number(0x0F, 8) or UNKNOWN
    return (s.number(0x07, 4) or 0) << 10


def _size(s: Structure) -> Value:
    found = module_size_bytes(s)
    if not isinstance(found, Absent):
        return found
    if found is Absent.IMPLAUSIBLE:
        return 0
    return "not fitted" if found is Absent.NOT_FITTED else UNKNOWN


def _set(s: Structure) -> Value:
    """A group of modules that must be alike (7.18): 0 none, 0xFF unknown."""
    return {0: "none", 0xFF: UNKNOWN}.get(s.area[0x0F]) or s.area[0x0F]


def _speed(name: str, at: int, extended_at: int) -> Field:
    def read(s: Structure) -> Value:
        found = module_speed_mt_s(s, at, extended_at)
        return UNKNOWN if isinstance(found, Absent) else found

    return of(name, at + 2, read)


def _maker(name: str, at: int) -> Field:
    def read(s: Structure) -> Value:
        number = s.number(at, 2)
        found = maker_code(s, at)
        if not isinstance(found, Absent):
            return found
        return f"code 0x{number:04X}" if number else UNKNOWN

    return of(name, at + 2, read)


def _product(name: str, at: int) -> Field:
    return of(name, at + 2, lambda s: f"0x{number:04X}" if (number := s.number(at, 2)) else UNKNOWN)


def _ends(extended_at: int) -> tuple[Field, ...]:
    """First and last address and what lies between, as they stand."""

    def ends(s: Structure) -> tuple[int, int]:
        first, last = s.number(0x04, 4) or 0, s.number(0x08, 4) or 0
        if first == 0xFFFFFFFF and len(s.area) >= extended_at + 16:
            return s.number(extended_at, 8) or 0, s.number(extended_at + 8, 8) or 0
        return first << 10, (last << 10) + 1023

    def size(s: Structure) -> Value:
        first, last = ends(s)
        return last - first + 1 if last > first else "it ends before it begins"

    return (
        of("first_address", 0x0C, lambda s: ends(s)[0]),
        of("last_address", 0x0C, lambda s: ends(s)[1]),
        of("range_bytes", 0x0C, size),
    )


LAYOUTS = {
    16: Layout(
        "memory array",
        "7.17",
        (
            word("location", 0x04, ARRAY_LOCATIONS),
            word("use", 0x05, ARRAY_USES),
            word("error_correction", 0x06, ERROR_CORRECTIONS),
            of("capacity_bytes", 0x0B, _array_capacity),
            handle("error_handle", 0x0B, _NO_ERROR),
            number("slots", 0x0D, 2),
        ),
        least=0x0F,
        since=(((2, 7), 0x17),),
    ),
    17: Layout(
        "memory device",
        "7.18",
        (
            handle("array_handle", 0x04),
            handle("error_handle", 0x06, _NO_ERROR),
            number("total_width_bits", 0x08, 2, unknown=(0, 0xFFFF)),
            number("data_width_bits", 0x0A, 2, unknown=(0, 0xFFFF)),
            of("size_bytes", 0x0E, _size),
            word("form_factor", 0x0E, FORM_FACTORS),
            of("set", 0x10, _set),
            text("locator", 0x10),
            text("bank", 0x11),
            word("type", 0x12, MEMORY_TYPES),
            flags("type_detail", 0x13, 2, DETAILS),
            _speed("firmware_speed_mt_s", 0x15, 0x54),
            text("maker", 0x17),
            text("serial", 0x18),
            text("asset", 0x19),
            text("part_number", 0x1A),
            of("rank", 0x1C, lambda s: s.area[0x1B] & 0x0F or UNKNOWN),
            _speed("configured_speed_mt_s", 0x20, 0x58),
            number("min_voltage_mv", 0x22, 2, unknown=(0,)),
            number("max_voltage_mv", 0x24, 2, unknown=(0,)),
            number("voltage_mv", 0x26, 2, unknown=(0,)),
            word("technology", 0x28, MEMORY_TECHNOLOGIES),
            flags("modes", 0x29, 2, MODES),
            text("firmware_version", 0x2B),
            _maker("maker_code", 0x2C),
            _product("product_id", 0x2E),
            _maker("controller_maker_code", 0x30),
            _product("controller_product_id", 0x32),
            number("non_volatile_bytes", 0x34, 8, unknown=(ALL_ONES,)),
            number("volatile_bytes", 0x3C, 8, unknown=(ALL_ONES,)),
            number("cache_bytes", 0x44, 8, unknown=(ALL_ONES,)),
            number("logical_bytes", 0x4C, 8, unknown=(ALL_ONES,)),
            _maker("pmic0_maker_code", 0x5C),
            _product("pmic0_revision", 0x5E),
            _maker("rcd_maker_code", 0x60),
            _product("rcd_revision", 0x62),
        ),
        least=0x15,
        since=(
            ((2, 3), 0x1B),
            ((2, 6), 0x1C),
            ((2, 7), 0x22),
            ((2, 8), 0x28),
            ((3, 2), 0x54),
            ((3, 3), 0x5C),
            ((3, 7), 0x64),
        ),
    ),
    19: Layout(
        "addresses of a memory array",
        "7.20",
        (*_ends(0x0F), handle("array_handle", 0x0C), number("partition_width", 0x0E)),
        least=0x0F,
        since=(((2, 7), 0x1F),),
    ),
    20: Layout(
        "addresses of a memory device",
        "7.21",
        (
            *_ends(0x13),
            handle("device_handle", 0x0C),
            handle("range_handle", 0x0E),
            number("row_position", 0x10, unknown=(0xFF,)),
            number("interleave_position", 0x11, unknown=(0xFF,)),
            number("interleave_depth", 0x12, unknown=(0xFF,)),
        ),
        least=0x13,
        since=(((2, 7), 0x23),),
    ),
}
