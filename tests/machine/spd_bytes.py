"""Images of SPD of our own making, from the JEDEC tables, byte by byte; makers and parts are invented.

DDR3: JESD21-C 4.1.2.11; DDR4: 4.1.2.L; DDR5: JESD400-5 (from memory, and as the parsers' docstrings say). The
maker codes are real ones by necessity: bank 2 code 0x18 and bank 1 code 0x4E, from the check values.
"""

from __future__ import annotations


def crc(data: bytes) -> int:
    """CRC-16 with polynomial 0x1021 and start 0, bit by bit: the slow and plain way, unlike the parser's."""
    value = 0
    for byte in data:
        for bit in range(7, -1, -1):
            top = value >> 15 & 1 ^ byte >> bit & 1
            value = value << 1 & 0xFFFF
            if top:
                value ^= 0x1021
    return value


def put(image: bytearray, at: int, data: bytes) -> None:
    image[at : at + len(data)] = data


def sealed(image: bytes) -> bytes:
    """Return the image with its checksums made right."""
    found = bytearray(image)
    if found[2] == 0x12:
        put(found, 510, crc(found[:510]).to_bytes(2, "little"))
        return bytes(found)
    end = 117 if found[0] & 0x80 and found[2] == 0x0B else 126
    put(found, 126, crc(found[:end]).to_bytes(2, "little"))
    if found[2] == 0x0C:
        put(found, 254, crc(found[128:254]).to_bytes(2, "little"))
    return bytes(found)


def ddr3() -> bytes:
    """4 GiB, DDR3-1600 11-11-11, one rank of x8, 1.5 V."""
    image = bytearray(256)
    put(image, 0, bytes((0x92, 0x13, 0x0B, 0x02, 0x04, 0x21, 0x00, 0x01, 0x03)))
    put(image, 9, bytes((0x11, 1, 8)))  # fine unit 1 ps, medium unit 1/8 ns
    put(image, 12, bytes((10, 0, 0xFC, 0x00)))  # 1.25 ns; CL 6 to 11
    put(image, 16, bytes((110, 120, 110, 48, 110)))  # tAA, tWR, tRCD, tRRD, tRP
    put(image, 21, bytes((0x11, 0x18, 0x86)))  # tRAS 280, tRC 390
    put(image, 24, (2080).to_bytes(2, "little") + bytes((60, 60, 0x00, 240)))  # tRFC, tWTR, tRTP, tFAW
    put(image, 30, bytes((0x83, 0x05)))
    put(image, 117, bytes((0x01, 0x98, 0x02, 0x16, 0x23)) + bytes.fromhex("0badf00d"))
    put(image, 128, b"NORVIK-3U1600C11  ")
    put(image, 148, bytes((0x80, 0xCE)))
    return sealed(image)


def ddr3_with_profiles(revision: int = 0x12) -> bytes:
    """The same with two profiles: 1866 and 2400 MT/s, each with a medium unit that hits its cycle."""
    image = bytearray(ddr3())
    put(image, 176, bytes((0x0C, 0x4A, 0x07, revision, 1, 14, 1, 12, 0)))
    put(image, 185, bytes((0x2A, 15, 140, 0, 0, 0, 140, 140, 0, 0x21, 0x58, 0x80)))  # 1.5 V; 1/14 ns
    put(image, 220, bytes((0x2D, 10, 130, 0, 0, 0, 130, 130, 0, 0x21, 0x40, 0x80)))  # 1.65 V; 1/12 ns
    return sealed(image)


def ddr4() -> bytes:
    """16 GiB, DDR4-2400 17-17-17, two ranks of x8 with error correction, with a thermal sensor."""
    image = bytearray(512)
    put(image, 0, bytes((0x23, 0x11, 0x0C, 0x02, 0x85, 0x21, 0x00, 0x08, 0x00, 0x60)))
    put(image, 11, bytes((0x03, 0x09, 0x0B, 0x80)))  # 1.2 V; two ranks of x8; 64 bits and 8; sensor
    put(image, 18, bytes((7, 13, 0xF8, 0x0F, 0x00, 0x00)))  # 0.833 ns with its fine unit; CL 10 to 18
    put(image, 24, bytes((110, 110, 110, 0x11, 0x00, 0x6E)))  # tRAS 256, tRC 366
    put(image, 30, b"".join(number.to_bytes(2, "little") for number in (2800, 2080, 1280)))
    put(image, 36, bytes((0x00, 168, 27, 40, 40, 0x00, 120, 0x00, 20, 60)))
    put(image, 117, bytes((0, 0xA3, 0xAC, 0, 0, 0, 0, 0, 0xD6)))  # tCK 875 - 42 = 833 ps
    put(image, 128, bytes((0x11, 0x11, 0x01)))
    put(image, 320, bytes((0x01, 0x98, 0x05, 0x21, 0x07)) + bytes.fromhex("deadbe01"))
    put(image, 329, b"TARN4E2400C17/16    ")
    put(image, 350, bytes((0x80, 0xCE)))
    return sealed(image)


def ddr5() -> bytes:
    """16 GiB, DDR5-5600 46-45-45, one rank of x8, no check bits."""
    image = bytearray(1024)
    put(image, 0, bytes((0x30, 0x10, 0x12, 0x02, 0x04, 0x00, 0x20, 0x62)))  # 16 Gbit, one die, x8
    put(image, 20, (357).to_bytes(2, "little") + (1010).to_bytes(2, "little"))
    put(image, 24, bytes((0x7A, 0xAD, 0, 0, 0)))
    for at, time_ps in ((30, 16000), (32, 16000), (34, 16000), (36, 32000), (38, 48000), (40, 30000)):
        put(image, at, time_ps.to_bytes(2, "little"))
    put(image, 42, (295).to_bytes(2, "little") + (160).to_bytes(2, "little") + (130).to_bytes(2, "little"))
    put(image, 234, bytes((0x00, 0x22)))  # one rank; two sub-channels of 32 bits
    put(image, 512, bytes((0x01, 0x98, 0x09, 0x25, 0x41)) + bytes.fromhex("5ca1ab1e"))
    put(image, 521, b"HOLLOWAY-5U5600C46-16".ljust(30))
    put(image, 552, bytes((0x80, 0xCE)))
    return sealed(image)
