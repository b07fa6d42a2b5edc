"""Write SMBIOS structures and a 64-bit entry point, byte by byte, as a firmware lays them out.

Layouts: DMTF DSP0134 (System Management BIOS reference specification), version 3.6; offsets as read
from the dmidecode source, which names the sections. All numbers little-endian.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from uuid import UUID

NO_HANDLE = 0xFFFF
HANDLE_NOT_PROVIDED = 0xFFFE
TABLE_ADDRESS = 0x20
"""Where the table follows its entry point in one file; the kernel's own files carry a physical address."""

CHASSIS_TOWER = 0x07
CONNECTOR_NONE, CONNECTOR_RJ45, CONNECTOR_USB, CONNECTOR_OTHER = 0x00, 0x0B, 0x12, 0xFF
PORT_USB, PORT_VIDEO, PORT_NETWORK = 0x10, 0x1C, 0x1F
ONBOARD_ETHERNET, ONBOARD_SOUND = 0x05, 0x07
SLOT_M2_SOCKET_3, SLOT_PCIE4_X16 = 0x17, 0xBD
_MEMORY_DDR5, _FORM_DIMM, _DETAIL_SYNCHRONOUS_UNBUFFERED = 0x22, 0x09, 0x4080


@dataclass
class Strings:
    """The string set of one structure: text in, its number (from 1) out; empty text is number 0."""

    texts: list[str] = field(default_factory=list)

    def __call__(self, text: str) -> int:
        if not text:
            return 0
        if text not in self.texts:
            self.texts.append(text)
        return self.texts.index(text) + 1


def structure(kind: int, handle: int, fields: bytes, strings: Strings | None = None) -> bytes:
    """Return one structure: header, formatted area, strings, and the NULs that end it (DSP0134, 6.1)."""
    texts = strings.texts if strings else []
    ended = b"".join(text.encode("utf-8") + b"\0" for text in texts) or b"\0"
    return struct.pack("<BBH", kind, 4 + len(fields), handle) + fields + ended + b"\0"


def table(*structures: bytes) -> bytes:
    """Return the structures followed by the end-of-table structure (type 127)."""
    return b"".join(structures) + structure(127, 0xFEFF, b"")


def entry_point(table_bytes: bytes, *, version: tuple[int, int] = (3, 6)) -> bytes:
    """Return the 24 bytes of the 64-bit entry point; they sum to 0 mod 256 (DSP0134, 5.2.2)."""
    major, minor = version
    packed = struct.pack(
        "<5sBBBBBBBIQ", b"_SM3_", 0, 0x18, major, minor, 0, 1, 0, len(table_bytes), TABLE_ADDRESS
    )
    checksum = -sum(packed) % 256
    return packed[:5] + bytes([checksum]) + packed[6:]


def firmware(handle: int, *, maker: str, version: str, date: str, rom_mib: int) -> bytes:
    """Return a type 0 structure. date: `mm/dd/yyyy`. The extended bytes say ACPI and UEFI."""
    s = Strings()
    fields = struct.pack(
        "<BBHBBQBBBBBBH",
        s(maker),
        s(version),
        0xF000,
        s(date),
        0xFF,  # the size stands in the last field
        0x0000_0000_0801_9880,  # PCI, flashable, boot from CD, selectable boot, EDD
        0x01,  # ACPI
        0x0D,  # BIOS boot specification, targeted content, UEFI
        1,
        12,
        0xFF,
        0xFF,
        rom_mib,  # bits 15:14 are 0: MiB
    )
    return structure(0, handle, fields, s)


def system(
    handle: int, *, maker: str, product: str, version: str, serial: str, uuid: UUID, sku: str, family: str
) -> bytes:
    """Return a type 1 structure. The first three fields of the UUID are little-endian since 2.6."""
    s = Strings()
    named = bytes([s(maker), s(product), s(version), s(serial)])
    return structure(1, handle, named + uuid.bytes_le + bytes([0x06, s(sku), s(family)]), s)


def board(
    handle: int, *, maker: str, product: str, version: str, serial: str, asset: str, chassis: int
) -> bytes:
    """Return a type 2 structure of a motherboard."""
    s = Strings()
    fields = struct.pack(
        "<BBBBBBBHBB",
        s(maker),
        s(product),
        s(version),
        s(serial),
        s(asset),
        0x09,  # hosting board, replaceable
        s("Default"),
        chassis,
        0x0A,  # motherboard
        0,
    )
    return structure(2, handle, fields, s)


def chassis(handle: int, *, maker: str, kind: int, version: str, serial: str, asset: str, sku: str) -> bytes:
    """Return a type 3 structure without contained elements."""
    s = Strings()
    fields = struct.pack(
        "<BBBBBBBBBIBBBBB",
        s(maker),
        kind,
        s(version),
        s(serial),
        s(asset),
        3,  # safe
        3,
        3,
        2,  # security unknown
        0,
        0,
        1,
        0,
        0,
        s(sku),
    )
    return structure(3, handle, fields, s)


def processor(
    handle: int,
    *,
    socket: str,
    maker: str,
    version: str,
    cores: int,
    threads: int,
    max_mhz: int,
    current_mhz: int,
) -> bytes:
    """Return a type 4 structure of an enabled processor of no listed family. At most 65 534 cores."""
    s = Strings()
    fields = struct.pack(
        "<BBBBQBBHHHBBHHHBBBBBBHHHHHH",
        s(socket),
        0x03,  # central processor
        0x01,  # family: other
        s(maker),
        0x0000_0000_0007_0C00,
        s(version),
        0x8B,  # 1.1 V
        100,
        max_mhz,
        current_mhz,
        0x41,  # populated, enabled
        0x01,  # upgrade: other
        NO_HANDLE,
        NO_HANDLE,
        NO_HANDLE,
        0,
        0,
        0,
        min(cores, 0xFF),  # 0xFF: see the 16-bit count
        min(cores, 0xFF),
        min(threads, 0xFF),
        0x00FC,  # 64-bit, multi-core, threads, execute protection, virtualisation, power control
        0x0001,
        cores,
        cores,
        threads,
        threads,
    )
    return structure(4, handle, fields, s)


def port(handle: int, *, internal: str, external: str, connector: int, kind: int) -> bytes:
    """Return a type 8 structure of a connector that can be reached from outside."""
    s = Strings()
    return structure(8, handle, bytes([s(internal), CONNECTOR_NONE, s(external), connector, kind]), s)


def slot(handle: int, *, designation: str, kind: int, lanes: int, number: int, bus: int | None) -> bytes:
    """Return a type 9 structure; bus: of the function 00.0 that sits there, None for an empty slot."""
    s = Strings()
    widths = {4: 0x0A, 16: 0x0D}
    fields = struct.pack(
        "<BBBBBHBBHBBBBBBHB",
        s(designation),
        kind,
        widths[lanes],
        0x03 if bus is None else 0x04,  # available, in use
        0x04 if lanes == 16 else 0x01,  # long, other
        number,
        0x0C,  # 3.3 V, shared opening
        0x01,  # PME
        0x0000 if bus is not None else 0xFFFF,
        0xFF if bus is None else bus,
        0xFF if bus is None else 0,
        lanes,
        0,  # no peer groups
        0,  # the type says the generation
        widths[lanes],
        0,  # pitch unknown
        0x00,  # height not applicable
    )
    return structure(9, handle, fields, s)


def memory_array(handle: int, *, max_gib: int, slots: int) -> bytes:
    """Return a type 16 structure of system memory on the board, without error correction."""
    extended = max_gib * 2**30
    return structure(
        16,
        handle,
        struct.pack("<BBBIHHQ", 0x03, 0x03, 0x03, 0x8000_0000, HANDLE_NOT_PROVIDED, slots, extended),
    )


@dataclass(frozen=True)
class Module:
    """What a type 17 structure says of a fitted DDR5 module. Speeds in MT/s, sizes in MiB (below 32 GiB)."""

    size_mib: int
    maker: str
    serial: str
    part_number: str
    rated_mt_s: int
    configured_mt_s: int
    millivolts: int
    ranks: int = 1


def memory_device(handle: int, array: int, *, locator: str, bank: str, module: Module | None) -> bytes:
    """Return a type 17 structure; None for a slot with nothing in it (size 0)."""
    s = Strings()
    located = bytes([_FORM_DIMM, 0, s(locator), s(bank)])
    width = 64 if module else 0xFFFF
    fields = struct.pack("<HHHHH", array, HANDLE_NOT_PROVIDED, width, width, module.size_mib if module else 0)
    fields += located
    if module:
        named = [s(module.maker), s(module.serial), 0, s(module.part_number)]
        kind, detail = _MEMORY_DDR5, _DETAIL_SYNCHRONOUS_UNBUFFERED
        fields += struct.pack("<BHH4B", kind, detail, module.rated_mt_s, *named)
        fields += struct.pack("<BIH", module.ranks, 0, module.configured_mt_s)
        fields += struct.pack("<HHH", module.millivolts, module.millivolts, module.millivolts)
    else:
        fields += struct.pack("<BHH4B", 0x02, 0x0004, 0, 0, 0, 0, 0)  # type and detail unknown
        fields += struct.pack("<BIHHHH", 0, 0, 0, 0, 0, 0)
    volatile = module.size_mib * 2**20 if module else 0
    fields += struct.pack("<BHBHHHH", 0x03, 0x0008, 0, 0, 0, 0, 0)  # DRAM; volatile memory
    fields += struct.pack("<QQQQ", 0, volatile, 0, 0)
    fields += struct.pack("<II", 0, 0)
    return structure(17, handle, fields, s)


def memory_mapping(handle: int, array: int, *, size_bytes: int, partition_width: int) -> bytes:
    """Return a type 19 structure for an array mapped from address 0; at most 4 TiB."""
    last_kib = size_bytes // 1024 - 1
    return structure(19, handle, struct.pack("<IIHBQQ", 0, last_kib, array, partition_width, 0, 0))


def onboard_device(handle: int, *, designation: str, kind: int, bus: int, function: int) -> bytes:
    """Return a type 41 structure of an enabled device. function: device number × 8 + function number."""
    s = Strings()
    return structure(41, handle, struct.pack("<BBBHBB", s(designation), kind | 0x80, 1, 0, bus, function), s)
