"""Configuration spaces built by hand from the layout of the PCI Express Base Specification (from memory).

7.5.1 header, 7.5.2 power management, 7.5.3 PCI Express, 7.8.4 advanced error reporting, 7.8.6 resizable
BAR, 7.9.3 device serial number.
"""

from __future__ import annotations

import struct

SPEED = {2.5: 1, 5.0: 2, 8.0: 3, 16.0: 4, 32.0: 5, 64.0: 6}


def space(
    *,
    size: int = 4096,
    ids: tuple[int, int] = (0x7A52, 0x0C71),
    code: int = 0x030000,
    header: int = 0,
    first: int = 0x40,
    subsystem: tuple[int, int] = (0x7E5A, 0xB601),
    buses: tuple[int, int, int] = (0, 1, 1),
) -> bytearray:
    """A header alone; its list of capabilities begins at `first`."""
    data = bytearray(size)
    struct.pack_into("<HHHH", data, 0, *ids, 0x0406, 0x0010)
    data[8:12] = bytes([0xC1]) + code.to_bytes(3, "little")
    data[14] = header
    data[0x34] = first
    if header & 0x7F == 1:
        data[0x18:0x1B] = bytes(buses)
    else:
        struct.pack_into("<HH", data, 0x2C, *subsystem)
    return data


def power(data: bytearray, at: int, following: int, state: int = 0) -> None:
    struct.pack_into("<BBHH", data, at, 0x01, following, 0x0003, state)


def express(
    data: bytearray,
    at: int,
    following: int,
    *,
    kind: int = 0,
    now: tuple[float, int] = (2.5, 16),
    most: tuple[float, int] = (16.0, 16),
    target: float = 16.0,
    payload: tuple[int, int] = (1, 2),
    slot: tuple[int, int, int] | None = None,
) -> None:
    """payload: codes now and at most. slot: number, power value, power scale."""
    flags = 2 | kind << 4 | (0x100 if slot else 0)
    struct.pack_into("<BBH", data, at, 0x10, following, flags)
    struct.pack_into("<IHH", data, at + 4, payload[1], payload[0] << 5, 0)
    struct.pack_into("<I", data, at + 0x0C, SPEED[most[0]] | most[1] << 4)
    struct.pack_into("<HH", data, at + 0x10, 0, 0x1000 | SPEED[now[0]] | now[1] << 4)
    if slot:
        struct.pack_into("<I", data, at + 0x14, slot[0] << 19 | slot[2] << 15 | slot[1] << 7)
    speeds = sum(1 << code for code in range(1, SPEED[most[0]] + 1))
    struct.pack_into("<I", data, at + 0x2C, speeds)
    struct.pack_into("<H", data, at + 0x30, SPEED[target])


def extended(data: bytearray, at: int, number: int, following: int, body: bytes, version: int = 1) -> None:
    struct.pack_into("<I", data, at, number | version << 16 | following << 20)
    data[at + 4 : at + 4 + len(body)] = body


def errors(uncorrectable: int = 0, correctable: int = 0) -> bytes:
    return struct.pack("<IIIIII", uncorrectable, 0x0010_0000, 0x0046_2030, correctable, 0x2000, 0)


def serial(value: int) -> bytes:
    return value.to_bytes(8, "little")


def resizable(*bars: tuple[int, int, int]) -> bytes:
    """bars: index, size code (0 is 1 MiB), bits of the sizes offered (bit 0 is 1 MiB)."""
    found = b""
    for index, (bar, size, sizes) in enumerate(bars):
        count = len(bars) << 5 if index == 0 else 0
        found += struct.pack("<II", sizes << 4, bar | count | size << 8)
    return found


def graphics_card(**changes: object) -> bytes:
    """A card that idles at 2.5 GT/s on eight of sixteen lanes; its BAR of 256 MiB could have 16 GiB."""
    data = space()
    power(data, 0x40, 0x60)
    express(data, 0x60, 0, now=(2.5, 8), **changes)  # type: ignore[arg-type]
    extended(data, 0x100, 0x0001, 0x150, errors(1 << 14 | 1 << 20, 1 | 1 << 6), version=2)
    extended(data, 0x150, 0x0003, 0x200, serial(0x0011_22FF_FE33_4455))
    extended(data, 0x200, 0x0015, 0, resizable((0, 8, 0b111_1111 << 8), (2, 1, 0b110)))
    return bytes(data)


def root_port(**changes: object) -> bytes:
    data = space(code=0x060400, header=1, first=0x40)
    express(data, 0x40, 0x80, kind=4, now=(2.5, 8), slot=(3, 75, 0), **changes)  # type: ignore[arg-type]
    struct.pack_into("<BBHHH", data, 0x80, 0x0D, 0, 0, 0x7E5A, 0xB601)
    return bytes(data)


def hex_dump(address: str, data: bytes) -> str:
    """The form of `lspci -xxxx`, which `lspci -F` reads."""
    lines = [f"{address} Class {data[11]:02x}{data[10]:02x}: {data[1]:02x}{data[0]:02x}:…".split(":…")[0]]
    lines += [f"{at:02x}: {data[at : at + 16].hex(' ')}" for at in range(0, len(data), 16)]
    return "\n".join(lines) + "\n\n"
