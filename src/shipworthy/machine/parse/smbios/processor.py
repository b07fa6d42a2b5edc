"""SMBIOS structures of processors and caches.

Standard: DMTF DSP0134 7.5 and 7.8. Offsets: `check-values/smbios.md`; of the cache from memory, held against
dmidecode. The eight bytes of a processor's id are CPUID leaf 1, EAX and EDX (7.5.3), for x86.
"""

from __future__ import annotations

from shipworthy.machine.parse.smbios.fields import (
    NONE,
    UNKNOWN,
    Field,
    Layout,
    Value,
    bit,
    flags,
    joined,
    number,
    of,
    text,
    word,
    word_of,
    words_of,
)
from shipworthy.machine.parse.smbios.table import Structure
from shipworthy.machine.parse.smbios.words import (
    ASSOCIATIVITIES,
    CACHE_ERROR_CORRECTIONS,
    CACHE_LOCATIONS,
    CACHE_MODES,
    CACHE_TYPES,
)
from shipworthy.machine.parse.smbios.words_board import (
    PROCESSOR_FAMILIES,
    PROCESSOR_STATES,
    PROCESSOR_TYPES,
    SOCKETS,
)
from shipworthy.model.words import Absent

CORE_2_OR_K7 = 0xBE
FAMILY_IN_WORD = 0xFE
NO_CACHE = 0xFFFF
_I386, _I486 = 5, 6
_ARM = frozenset((0x100, 0x101, 0x118, 0x119))
_CPU_FLAGS = [
    "fpu", "vme", "de", "pse", "tsc", "msr", "pae", "mce", "cx8", "apic", "", "sep", "mtrr", "pge", "mca",
    "cmov", "pat", "pse36", "pn", "clflush", "", "dts", "acpi", "mmx", "fxsr", "sse", "sse2", "ss", "ht",
    "tm", "", "pbe",
]  # fmt: skip
CPU_FLAGS = {position: name for position, name in enumerate(_CPU_FLAGS) if name}
"""CPUID leaf 1, EDX, by the names of /proc/cpuinfo; bits 10, 20 and 30 are not told by 7.5.3."""
ABILITIES = {
    2: "64-bit", 3: "multi-core", 4: "hardware threads", 5: "execute protection", 6: "virtualisation",
    7: "power and performance control", 8: "128-bit", 9: "Arm64 SoC ID",
}  # fmt: skip
"""7.5.9; bit 1 says that it is not known."""
SRAM_TYPES = dict(
    enumerate(["Other", "Unknown", "Non-burst", "Burst", "Pipeline Burst", "Synchronous", "Asynchronous"])
)
"""7.8.2"""


def fitted(s: Structure) -> bool:
    """Bit 6 of the status: the socket is populated."""
    return bool((s.number(0x18, 1) or 0) & 0x40)


def family_code(s: Structure) -> int | None:
    """The byte, or the word at 0x28 where the byte says so (7.5.2)."""
    code = s.number(0x06, 1)
    if code == FAMILY_IN_WORD:
        return s.number(0x28, 2) or code
    return code


def family(s: Structure) -> str | None:
    """The family's word; of the one code that two makers share, the maker's own."""
    code = family_code(s)
    if code is None:
        return None
    if code == CORE_2_OR_K7:
        maker = s.string(0x07)
        if not isinstance(maker, Absent):
            own = {"intel": "Core 2", "amd": "K7"}
            return next((v for k, v in own.items() if maker.casefold().startswith(k)), "Core 2 or K7")
    return word_of(code, PROCESSOR_FAMILIES)


def count(s: Structure, small_at: int, large_at: int) -> int | Absent:
    """Cores or threads: a byte; 0xFF means the word; 0 unknown; 0xFFFF in the word is reserved."""
    small = s.number(small_at, 1)
    if small == 0xFF:
        large = s.number(large_at, 2)
        if large is not None:
            return Absent.IMPLAUSIBLE if large == 0xFFFF else large or Absent.NOT_OFFERED
    return small or Absent.NOT_OFFERED


def volts(s: Structure) -> float | str | None:
    """Bit 7: tenths of a volt in bits 6:0; else bits 0 to 2: the socket takes 5, 3.3 and 2.9 V."""
    code = s.number(0x11, 1)
    if code is None:
        return None
    if code & 0x80:
        return (code & 0x7F) / 10
    return ", ".join(words_of(code, {0: "5.0", 1: "3.3", 2: "2.9"})) or UNKNOWN


def _signature(s: Structure) -> Value:
    """What the id says. An 80386, and an 80486 without CPUID, has the stepping in two halves (7.5.3.1)."""
    code, eax = family_code(s), s.number(0x08, 4) or 0
    if code in _ARM:
        return (
            f"implementer 0x{eax >> 24:02X}, variant 0x{eax >> 20 & 15:X}, architecture {eax >> 16 & 15}, "
            f"part 0x{eax >> 4 & 0xFFF:03X}, revision {eax & 15}"
        )
    old_486 = code == _I486 and not (
        eax & 0x0F00 == 0x0400 and (eax & 0x00F0 == 0x0040 or eax & 0x00F0 >= 0x0070) and eax & 0x000F >= 3
    )
    if code == _I386 or old_486:
        low = eax & 0xFFFF
        return (
            f"type {low >> 12}, family {low >> 8 & 15}, major stepping {low >> 4 & 15}, "
            f"minor stepping {low & 15}"
        )
    base, model = eax >> 8 & 15, eax >> 4 & 15
    whole = base + (eax >> 20 & 0xFF if base == 15 else 0)
    if base in (6, 15):
        model |= eax >> 12 & 0xF0
    return f"type {eax >> 12 & 3}, family {whole}, model {model}, stepping {eax & 15}"


def _cpu_flags(s: Structure) -> Value:
    edx = s.number(0x0C, 4) or 0
    return "not told" if family_code(s) in _ARM else joined(words_of(edx, CPU_FLAGS))


def _cache_handle(name: str, at: int) -> Field:
    """0xFFFF: no such cache before 2.3, not told since (7.5)."""

    def read(s: Structure) -> Value | None:
        found = s.number(at, 2)
        if found == NO_CACHE:
            return NONE if s.version < (2, 3) else "not told"
        return None if found is None else f"0x{found:04X}"

    return Field(name, read)


def _count_field(name: str, small_at: int, large_at: int) -> Field:
    def read(s: Structure) -> Value:
        small = s.number(small_at, 1)
        large = s.number(large_at, 2) if small == 0xFF else None
        return (small or UNKNOWN) if large is None else large

    return of(name, small_at + 1, read)


def cache_bytes(s: Structure, at: int, size: int) -> int | None:
    """A cache's size: KB, or 64 KB with the top bit; in a word, or in the longer number of 3.1 (7.8.1)."""
    found = s.number(at, size)
    top = 8 * size - 1
    return None if found is None else (found & ~(1 << top)) << (16 if found >> top else 10)


def _cache_size(name: str, word_at: int, long_at: int) -> Field:
    """The longer number where the structure has it, as the standard wants."""

    def read(s: Structure) -> Value | None:
        long = cache_bytes(s, long_at, 4)
        return cache_bytes(s, word_at, 2) if long is None else long

    return Field(name, read)


def _short_cache_size(name: str, word_at: int, long_at: int) -> Field:
    """The word where the longer number is left at 0, as Dell's firmware does in the reference data."""

    def read(s: Structure) -> Value | None:
        return cache_bytes(s, word_at, 2) if cache_bytes(s, long_at, 4) == 0 else None

    return Field(name, read)


def cache_level(s: Structure) -> int | None:
    """Bits 2:0 of the configuration, from one."""
    configuration = s.number(0x05, 2)
    return None if configuration is None else (configuration & 7) + 1


LAYOUTS = {
    4: Layout(
        "processor",
        "7.5",
        (
            text("socket", 0x04),
            word("type", 0x05, PROCESSOR_TYPES),
            of("family", 0x07, family),
            text("maker", 0x07),
            of("id_hex", 0x10, lambda s: s.area[0x08:0x10].hex(" ")),
            of("signature", 0x10, _signature),
            of("flags", 0x10, _cpu_flags),
            text("model", 0x10),
            of("voltage_v", 0x12, volts),
            number("external_clock_mhz", 0x12, 2, unknown=(0,)),
            number("socket_max_mhz", 0x14, 2, unknown=(0,)),
            number("start_mhz", 0x16, 2, unknown=(0,)),
            bit("fitted", 0x18, 6),
            word("status", 0x18, PROCESSOR_STATES, mask=7),
            word("socket_type", 0x19, SOCKETS),
            _cache_handle("l1_cache_handle", 0x1A),
            _cache_handle("l2_cache_handle", 0x1C),
            _cache_handle("l3_cache_handle", 0x1E),
            text("serial", 0x20),
            text("asset", 0x21),
            text("part_number", 0x22),
            _count_field("cores", 0x23, 0x2A),
            _count_field("cores_enabled", 0x24, 0x2C),
            _count_field("threads", 0x25, 0x2E),
            flags("characteristics", 0x26, 2, ABILITIES),
            number("threads_enabled", 0x30, 2, unknown=(0,)),
        ),
        least=0x1A,
        since=(
            ((2, 1), 0x20),
            ((2, 3), 0x23),
            ((2, 5), 0x28),
            ((2, 6), 0x2A),
            ((3, 0), 0x30),
            ((3, 6), 0x32),
        ),
    ),
    7: Layout(
        "cache",
        "7.8",
        (
            text("label", 0x04),
            bit("enabled", 0x05, 7, size=2),
            bit("socketed", 0x05, 3, size=2),
            of("level", 0x07, cache_level),
            word("mode", 0x05, CACHE_MODES, mask=3, shift=8, size=2),
            word("location", 0x05, CACHE_LOCATIONS, mask=3, shift=5, size=2),
            _cache_size("max_bytes", 0x07, 0x13),
            _short_cache_size("max_short_bytes", 0x07, 0x13),
            _cache_size("size_bytes", 0x09, 0x17),
            _short_cache_size("size_short_bytes", 0x09, 0x17),
            flags("sram_types_possible", 0x0B, 2, SRAM_TYPES),
            flags("sram_type", 0x0D, 2, SRAM_TYPES),
            number("speed_ns", 0x0F, unknown=(0,)),
            word("error_correction", 0x10, CACHE_ERROR_CORRECTIONS),
            word("type", 0x11, CACHE_TYPES),
            word("associativity", 0x12, ASSOCIATIVITIES),
        ),
        least=0x0F,
        since=(((2, 1), 0x13), ((3, 1), 0x1B)),
    ),
}
