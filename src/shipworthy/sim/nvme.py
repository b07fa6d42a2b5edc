"""Write what an NVMe drive answers: Identify Controller, Identify Namespace, the SMART / Health log.

Layouts: NVM Express Base Specification 2.0, figures of CNS 01h and CNS 00h and of log page 02h; offsets
as in the packed structures of libnvme. All numbers little-endian.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from uuid import NAMESPACE_OID, uuid5

DATA_UNIT_BYTES = 512_000  # log page 02h counts thousands of 512-byte units
_LOGICAL_BLOCK_SHIFT = 9


@dataclass(frozen=True)
class Drive:
    """What an NVMe drive says that it is. Temperatures in kelvin, as in its own fields."""

    vendor: int
    subsystem_vendor: int
    model: str
    serial: str
    firmware_version: str
    blocks: int  # of 512 bytes
    warning_k: int
    critical_k: int

    @property
    def size_bytes(self) -> int:
        return self.blocks << _LOGICAL_BLOCK_SHIFT

    @property
    def qualified_name(self) -> str:
        """The NVM subsystem's name, in the form that is made of a UUID and needs no domain of one's own."""
        return f"nqn.2014-08.org.nvmexpress:uuid:{uuid5(NAMESPACE_OID, self.serial)}"


@dataclass(frozen=True)
class Wear:
    """What a drive has behind it."""

    power_on_hours: int
    power_cycles: int
    read_bytes: int
    written_bytes: int
    percentage_used: int
    unsafe_shutdowns: int


def lba_count(gigabytes: int) -> int:
    """Return the 512-byte sectors of a drive sold by that many GB (IDEMA LBA1-03, from 50 GB upward)."""
    if gigabytes < 50:
        raise ValueError("the rule begins at 50 GB")
    return 97_696_368 + 1_953_504 * (gigabytes - 50)


def identify_controller(drive: Drive) -> bytes:
    """Return the 4096 bytes of Identify Controller."""
    data = bytearray(4096)
    struct.pack_into("<HH", data, 0, drive.vendor, drive.subsystem_vendor)
    data[4:24] = drive.serial.encode("ascii").ljust(20)
    data[24:64] = drive.model.encode("ascii").ljust(40)
    data[64:72] = drive.firmware_version.encode("ascii").ljust(8)
    struct.pack_into("<BHI", data, 77, 6, 0, 0x0001_0400)  # transfers to 2^6 pages; controller 0; NVMe 1.4
    struct.pack_into("<BBBBBB", data, 258, 3, 3, 0x02, 0x02, 63, 0)  # limits; frmw; log attributes; npss
    struct.pack_into("<HH", data, 266, drive.warning_k, drive.critical_k)
    data[280:296] = drive.size_bytes.to_bytes(16, "little")
    data[512:514] = bytes([0x66, 0x44])  # queue entries of 64 and 16 bytes
    struct.pack_into("<I", data, 516, 1)
    data[525] = 0x01  # has a volatile write cache
    name = drive.qualified_name.encode("ascii")
    data[768 : 768 + len(name)] = name
    struct.pack_into("<H", data, 2048, 550)  # power state 0: 5.50 W
    return bytes(data)


def identify_namespace(drive: Drive) -> bytes:
    """Return the 4096 bytes of Identify Namespace for its one namespace, 512-byte blocks, nothing in use."""
    data = bytearray(4096)
    struct.pack_into("<QQQ", data, 0, drive.blocks, drive.blocks, 0)
    data[48:64] = drive.size_bytes.to_bytes(16, "little")
    struct.pack_into("<HBB", data, 128, 0, _LOGICAL_BLOCK_SHIFT, 0)  # LBA format 0
    return bytes(data)


def smart_log(wear: Wear, *, temperature_k: int) -> bytes:
    """Return the 512 bytes of log page 02h of a drive without errors."""
    data = bytearray(512)
    struct.pack_into("<BHBBB", data, 0, 0, temperature_k, 100, 10, wear.percentage_used)
    counters = {
        32: -(-wear.read_bytes // DATA_UNIT_BYTES),  # rounded up, as the log page asks
        48: -(-wear.written_bytes // DATA_UNIT_BYTES),
        64: wear.read_bytes // 65_536,
        80: wear.written_bytes // 65_536,
        96: wear.written_bytes // 60_000_000_000,
        112: wear.power_cycles,
        128: wear.power_on_hours,
        144: wear.unsafe_shutdowns,
        160: 0,
        176: 0,
    }
    for offset, count in counters.items():
        data[offset : offset + 16] = count.to_bytes(16, "little")
    struct.pack_into("<H", data, 200, temperature_k)
    return bytes(data)
