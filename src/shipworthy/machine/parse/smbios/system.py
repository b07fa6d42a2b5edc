"""SMBIOS structures of the whole machine: firmware, system, board, chassis, texts of the maker, last start.

Standard: DMTF DSP0134 7.1 to 7.4, 7.12, 7.13, 7.33. Offsets: `check-values/smbios.md`. Bytes per version in
`since`: from memory. Names of characteristics are ours.
"""

from __future__ import annotations

from shipworthy.machine.parse.smbios.fields import (
    NONE,
    NOT_GIVEN,
    UNKNOWN,
    Field,
    Layout,
    Value,
    bit,
    flags,
    handle,
    hexadecimal,
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
    BOARD_TYPES,
    BOOT_STATES,
    CHASSIS_TYPES,
    SECURITY_STATES,
    STATES,
    WAKE_UPS,
)
from shipworthy.model.words import Absent

FIRMWARE_CAN = dict(
    enumerate(
        [
            "ISA", "MCA", "EISA", "PCI", "PC Card", "Plug and Play", "APM", "firmware can be updated",
            "shadowing", "VL-VESA", "ESCD", "start from CD", "start device can be chosen", "ROM in a socket",
            "start from PC Card", "EDD", "floppy NEC 9800 1.2 MB", "floppy Toshiba 1.2 MB",
            "floppy 5.25 inch 360 KB", "floppy 5.25 inch 1.2 MB", "floppy 3.5 inch 720 KB",
            "floppy 3.5 inch 2.88 MB", "print screen", "8042 keyboard", "serial services", "printer services",
            "CGA and mono video", "NEC PC-98",
        ],
        4,
    )
)  # fmt: skip
"""7.1.1; bit 3 says that the others say nothing."""
FIRMWARE_CAN_ALSO = dict(
    enumerate(
        [
            "ACPI", "USB legacy", "AGP", "I2O start", "LS-120 start", "ATAPI ZIP start", "IEEE 1394 start",
            "smart battery", "BIOS Boot Specification", "network start by function key",
            "targeted content distribution", "UEFI", "virtual machine", "manufacturing mode supported",
            "manufacturing mode enabled",
        ]
    )
)  # fmt: skip
"""7.1.2.1 and 7.1.2.2, bytes 0x12 and 0x13 as one word."""
VIRTUAL_MACHINE = 12
BOARD_IS = {
    0: "hosting board",
    1: "needs a daughter board",
    2: "removable",
    3: "replaceable",
    4: "hot swappable",
}
"""7.3.1"""


def rom_bytes(s: Structure) -> int | Absent:
    """Byte 9 counts 64 KB from one; 0xFF means the word at 0x18: bits 15:14 unit (MB, GB), 13:0 size."""
    small = s.number(0x09, 1)
    if small is None:
        return Absent.NOT_OFFERED
    extended = s.number(0x18, 2)
    if small != 0xFF or extended is None:
        return (small + 1) << 16
    unit, size = extended >> 14, extended & 0x3FFF
    return size << (20, 30)[unit] if unit < 2 else Absent.IMPLAUSIBLE


def revision(s: Structure, at: int) -> str | Absent:
    """Major and minor; 0xFF in either says that there is none (7.1)."""
    major, minor = s.number(at, 1), s.number(at + 1, 1)
    if major is None or minor is None or 0xFF in (major, minor):
        return Absent.NOT_OFFERED
    return f"{major}.{minor}"


NEVER_SET = "03000200-0400-0500-0006-000700080009"
"""A firmware vendor's sample, which many boards keep (common practice): it is no one's."""


def uuid_value(s: Structure) -> str | Absent:
    """Return the UUID, where the sample counts as silence."""
    found = uuid(s)
    return Absent.NOT_OFFERED if found == NEVER_SET else found


def uuid(s: Structure) -> str | Absent:
    """16 bytes; all FF: not present, all 00: not set. Since 2.6 the first three fields are little-endian."""
    raw = s.area[0x08:0x18]
    if len(raw) < 16 or raw in (b"\xff" * 16, b"\0" * 16):
        return Absent.NOT_OFFERED
    if s.version >= (2, 6):
        raw = raw[3::-1] + raw[5:3:-1] + raw[7:5:-1] + raw[8:]
    text = raw.hex()
    return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def is_hosting(s: Structure) -> bool:
    """Whether a board says that it is the one that hosts the others."""
    return bool((s.number(0x09, 1) or 0) & 1)


def _start_address(s: Structure) -> Value:
    segment = s.number(0x06, 2)
    return f"0x{segment << 4:05X}" if segment else NOT_GIVEN


def _runtime_bytes(s: Structure) -> Value:
    segment = s.number(0x06, 2)
    return (0x10000 - segment) << 4 if segment else UNKNOWN


def _rom_bytes(s: Structure) -> Value:
    size = rom_bytes(s)
    return f"code 0x{s.number(0x18, 2) or 0:04X}" if isinstance(size, Absent) else size


def _characteristics(s: Structure) -> Value:
    bits = s.number(0x0A, 8) or 0
    return "not told" if bits & 8 else joined(words_of(bits, FIRMWARE_CAN))


def _more_characteristics(s: Structure) -> Value:
    bits = int.from_bytes(s.area[0x12:0x14], "little")
    return joined(words_of(bits, FIRMWARE_CAN_ALSO))


def _revision_field(name: str, at: int) -> Field:
    def read(s: Structure) -> Value:
        found = revision(s, at)
        return NOT_GIVEN if isinstance(found, Absent) else found

    return of(name, at + 2, read)


def _uuid(s: Structure) -> Value:
    raw = s.area[0x08:0x18]
    if raw == b"\xff" * 16:
        return "not present"
    found = uuid(s)
    return "not set" if isinstance(found, Absent) else found


def _handles(count_at: int) -> Field:
    def read(s: Structure) -> Value | None:
        count, start = s.area[count_at], count_at + 1
        if start + 2 * count > len(s.area):
            return f"{count} announced"
        handles = (int.from_bytes(s.area[at : at + 2], "little") for at in range(start, start + 2 * count, 2))
        return joined([f"0x{one:04X}" for one in handles])

    return of("contains", count_at + 1, read)


def _elements(s: Structure) -> Value | None:
    """Each contained element: a type of board, or of structure with bit 7; fewest and most (7.4.4)."""
    count, length = s.area[0x13], s.area[0x14]
    if 0x15 + count * length > len(s.area) or (count and length < 3):
        return f"{count} announced"
    found = []
    for at in range(0x15, 0x15 + count * length, max(length, 1)):
        kind, fewest, most = s.area[at : at + 3]
        what = f"structures of type {kind & 0x7F}" if kind & 0x80 else word_of(kind, BOARD_TYPES)
        found.append(f"{what} {fewest} to {most}")
    return joined(found)


def chassis_sku_at(s: Structure) -> int | None:
    """Where the number of the SKU's string lies: behind the contained elements (7.4)."""
    count, length = s.number(0x13, 1), s.number(0x14, 1)
    if count is None or length is None:
        return None
    at = 0x15 + count * length
    return at if at < len(s.area) else None


def _chassis_sku(s: Structure) -> Value | None:
    at = chassis_sku_at(s)
    return None if at is None else text("sku", at).read(s)


LAYOUTS = {
    0: Layout(
        "firmware",
        "7.1",
        (
            text("maker", 0x04),
            text("version", 0x05),
            text("date", 0x08),
            of("start_address", 0x08, _start_address),
            of("runtime_bytes", 0x08, _runtime_bytes),
            of("rom_bytes", 0x0A, _rom_bytes),
            of("characteristics", 0x12, _characteristics),
            of("more_characteristics", 0x13, _more_characteristics),
            _revision_field("revision", 0x14),
            _revision_field("controller_revision", 0x16),
        ),
        least=0x12,
        since=(((2, 1), 0x13), ((2, 3), 0x14), ((2, 4), 0x18), ((3, 1), 0x1A)),
    ),
    1: Layout(
        "system",
        "7.2",
        (
            text("maker", 0x04),
            text("model", 0x05),
            text("version", 0x06),
            text("serial", 0x07),
            of("uuid", 0x18, _uuid),
            word("woken_by", 0x18, WAKE_UPS),
            text("sku", 0x19),
            text("family", 0x1A),
        ),
        least=0x08,
        since=(((2, 1), 0x19), ((2, 4), 0x1B)),
    ),
    2: Layout(
        "board",
        "7.3",
        (
            text("maker", 0x04),
            text("model", 0x05),
            text("version", 0x06),
            text("serial", 0x07),
            text("asset", 0x08),
            flags("features", 0x09, 1, BOARD_IS),
            text("location", 0x0A),
            handle("chassis_handle", 0x0B),
            word("type", 0x0D, BOARD_TYPES),
            _handles(0x0E),
        ),
        least=0x08,
        lists=True,
    ),
    3: Layout(
        "chassis",
        "7.4",
        (
            text("maker", 0x04),
            word("type", 0x05, CHASSIS_TYPES, mask=0x7F),
            bit("lock", 0x05, 7),
            text("version", 0x06),
            text("serial", 0x07),
            text("asset", 0x08),
            word("start_state", 0x09, STATES),
            word("power_supply_state", 0x0A, STATES),
            word("thermal_state", 0x0B, STATES),
            word("security", 0x0C, SECURITY_STATES),
            hexadecimal("maker_bits", 0x0D, 4),
            number("height_u", 0x11, unknown=(0,)),
            number("power_cords", 0x12, unknown=(0,)),
            of("contains", 0x15, _elements),
            of("sku", 0x16, _chassis_sku),
        ),
        least=0x09,
        since=(((2, 1), 0x0D), ((2, 3), 0x15), ((2, 7), 0x16)),
        lists=True,
    ),
    11: Layout("texts of the maker", "7.12", (number("count", 0x04),), least=5),
    12: Layout("settings", "7.13", (number("count", 0x04),), least=5),
    32: Layout(
        "last start",
        "7.33",
        (
            of(
                "status",
                0x0B,
                lambda s: BOOT_STATES.get(s.area[0x0A], f"code 0x{s.area[0x0A]:02X}") if s.area else NONE,
            ),
        ),
        least=0x0B,
    ),
    127: Layout("end of table", "7.45", (), least=4),
}
"""Type 2 is at least 8 bytes; how much of the rest there is depends on the board, not on the version."""
