"""One small page of every kind, built here from the standards' layouts as the parsers name them.

So that a lone clone feeds every decoder too, and that structures are there that few real tables have. Names
in them are invented.
"""

from __future__ import annotations

import io
import struct
import tarfile
from binascii import crc_hqx
from collections.abc import Iterable, Iterator

from shipworthy.sim import parts, smbios
from shipworthy.sim.edid import edid
from shipworthy.sim.unit import smbios_table

CORES = 8


def smbios_tables() -> Iterator[bytes]:
    """The unit's table in the three forms that files have: with entry points, bare, with Windows' header."""
    table = smbios_table(parts.fitted(), CORES)
    yield smbios.entry_point(table).ljust(32, b"\0") + table
    yield table
    yield bytes([0, 3, 6, 0]) + len(table).to_bytes(4, "little") + table
    old = bytearray(
        b"_SM_\0\x1f\x02\x08" + bytes(8) + b"_DMI_\0" + struct.pack("<HIHB", len(table), 32, 40, 40)
    )
    yield bytes(old.ljust(32, b"\0")) + table


# Displays (VESA E-EDID 1.4, CTA-861, DisplayID)


def with_sum(block: bytes) -> bytes:
    """Return 128 bytes whose last makes them sum to 0."""
    body = block[:127].ljust(127, b"\0")
    return body + bytes([-sum(body) % 256])


def display() -> bytes:
    """A display with a collection of data blocks and a DisplayID section with two timings and a tile."""
    base = bytearray(edid(parts.fitted().screen))
    base[126] = 2
    blocks = (
        b"\x45\x10\x1f\x04\x13\x22",  # video: five modes
        b"\x23\x09\x07\x07",  # sound: two channels of PCM
        b"\x83\x01\x00\x00",  # speakers
        b"\x68\x03\x0c\x00\x10\x00\x38\x3c\x20",  # HDMI
        b"\x67\xd8\x5d\xc4\x01\x78\x80\x03",  # HDMI Forum
        b"\xe2\x00\xca\xe3\x05\xc0\x00\xe6\x06\x05\x01\x61\x51\x33",  # video capability, colours, HDR
        b"\xe4\x0f\x00\x00\x08",
    )
    data = b"".join(blocks)
    collection = with_sum(bytes([2, 3, 4 + len(data), 0x71]) + data + bytes(base[54:72]))
    timing = (24150 - 1).to_bytes(3, "little") + b"\x88" + struct.pack("<8H", *_ROW)
    section = b"\x03\x00" + bytes([len(timing)]) + timing
    section += b"\x12\x00\x16" + bytes([0x82, 0x10, 0, 0]) + struct.pack("<HH5B", 1919, 2159, 0, 0, 0, 0, 0)
    section += b"NVK" + struct.pack("<HI", 77, 4711)
    head = bytes([0x12, len(section), 3, 0]) + section
    return with_sum(bytes(base)) + collection + with_sum(b"\x70" + head + bytes([-sum(head) % 256]))


def further_display() -> bytes:
    """DisplayID 2.0: product, parameters, and a timing of each type; a second section of the 1.x types."""
    base = bytearray(edid(parts.fitted().screen))
    base[126] = 2
    modern = (
        b"\x20\x00\x0f\x00\x1b\xc5\x4d\x00\x67\x12\x00\x00\x0a\x19\x03TRN",
        b"\x21\x80\x1d" + struct.pack("<4H", 600, 340, 2560, 1440) + bytes(19) + b"\x02\x78",
        b"\x22\x00\x14" + (241500 - 1).to_bytes(3, "little") + b"\x88" + struct.pack("<8H", *_ROW),
        b"\x24\x00\x06" + b"\x00" + struct.pack("<HHB", 1919, 1079, 59),
        b"\x2a\x00\x06" + b"\x00" + struct.pack("<HHB", 3839, 2159, 143),
        b"\x23\x40\x02\x10\x1f",
    )
    older = (
        b"\x01\x00\x0c" + struct.pack("<4H", 5970, 3360, 2560, 1440) + b"\x00\x78\x4d\x77",
        b"\x04\x00\x0b" + (14850 - 1).to_bytes(3, "little") + b"\x80\xef\x22\x43\x37\x04\x2c\x24",
        b"\x05\x00\x03\x04\xef\x3b",
        b"\x06\x00\x02\x52\x55",
        b"\x0a\x00\x05A-771",
        b"\x0f\x00\x0a" + bytes(10),
    )
    sections = [bytes([0x20, len(data), 4, 0]) + data for data in (b"".join(modern),)]
    sections += [bytes([0x13, len(data), 3, 0]) + data for data in (b"".join(older),)]
    blocks = (with_sum(b"\x70" + head + bytes([-sum(head) % 256])) for head in sections)
    return with_sum(bytes(base)) + b"".join(blocks)


_ROW = (2559, 159, 47, 31, 1439, 59, 2, 4)  # a timing in DisplayID's order, each number stored less one


# Memory modules (JESD21-C 4.1.2.11 and 4.1.2.L, JESD400-5)


def sealed(image: bytes) -> bytes:
    """Return an SPD whose check sums hold, where it is long enough to have them."""
    found = bytearray(image)
    kind = found[2] if len(found) > 2 else 0
    covered = 117 if kind == 0x0B and found[0] & 0x80 else 126
    areas = [(0, 510)] if kind == 0x12 else [(0, covered)] if kind == 0x0B else [(0, 126), (128, 254)]
    for begin, end in areas:
        at = 126 if begin == 0 and kind != 0x12 else end
        if len(found) >= at + 2:
            found[at : at + 2] = crc_hqx(bytes(found[begin:end]), 0).to_bytes(2, "little")
    return bytes(found)


def _image(size: int, pieces: Iterable[tuple[int, bytes]]) -> bytes:
    image = bytearray(size)
    for at, piece in pieces:
        image[at : at + len(piece)] = piece
    return sealed(bytes(image))


def ddr3() -> bytes:
    """4 GiB, DDR3-1600, with two profiles of the maker's."""
    head = bytes.fromhex("92130b02042100010311010800000a00fc006e786e306e118620083c3c00f08305")
    return _image(
        256,
        (
            (0, head),
            (117, bytes.fromhex("019802162300000bad")),
            (128, b"NORVIK-3U1600C11  "),
            (176, bytes.fromhex("0c4a0712010e010c002a0f8c0000008c8c002158800000")),
            (220, bytes.fromhex("2d0a820000008282002140800000")),
        ),
    )


def ddr4() -> bytes:
    """16 GiB, DDR4-2400, two ranks."""
    return _image(
        512,
        (
            (0, bytes.fromhex("23110c0285210008006000030b0b80000000070df80f00006e6e6e11006ef00a20080005")),
            (36, bytes.fromhex("00a81b2828007800143c")),
            (117, bytes.fromhex("00a3ac0000000000d6")),
            (128, bytes.fromhex("111101")),
            (320, bytes.fromhex("0198052107deadbe01")),
            (329, b"TARN4E2400C17/16    "),
            (384, bytes.fromhex("0c4a0520") + bytes(5) + bytes.fromhex("87000006f80f00003a3a3a11006e")),
        ),
    )


def ddr5() -> bytes:
    """16 GiB, DDR5-5600."""
    times = struct.pack("<6H", 16000, 16000, 16000, 32000, 48000, 30000)
    return _image(
        1024,
        (
            (0, bytes.fromhex("3010120204002062")),
            (20, struct.pack("<HH", 357, 1010) + bytes.fromhex("7aad000000") + b"\0" + times),
            (42, struct.pack("<HHH", 295, 160, 130)),
            (234, bytes.fromhex("0022")),
            (512, bytes.fromhex("01980925415ca1ab1e")),
            (521, b"HOLLOWAY-5U5600C46-16".ljust(30)),
            (640, b"\x0c\x4a\x30\x01\x01" + b"norvik tarn holloway skogdata "),
        ),
    )


# Drives (ACS, SPC, SBC, MMC)


def summed(page: bytes) -> bytes:
    """Return a page of 512 bytes that sum to 0; another length as it is."""
    return page[:511] + bytes([-sum(page[:511]) % 256]) if len(page) == 512 else page


def _swapped(text: str, length: int) -> bytes:
    raw = text.ljust(length).encode("ascii")
    return b"".join(raw[at : at + 2][::-1] for at in range(0, length, 2))


def ata_identify() -> bytes:
    words = {60: 0xFFFF, 61: 0x0FFF, 76: 0x850E, 77: 0x0006, 82: 0x706B, 83: 0x7C61, 84: 0x6163, 85: 0x7069}
    words |= {86: 0xBC01, 87: 0x6163, 100: 0x8AB0, 101: 0x746C, 102: 1, 106: 0x6003, 108: 0x5000, 109: 0xABCD}
    words |= {128: 0x0021, 168: 2, 169: 1, 217: 7200, 222: 0x10FF, 255: 0x00A5}
    page = bytearray(512)
    for number, value in words.items():
        struct.pack_into("<H", page, 2 * number, value)
    page[20:40], page[46:54], page[54:94] = (
        _swapped("SK-0007712", 20),
        _swapped("F1.02", 8),
        _swapped("Skogdata Sill 3TB", 40),
    )
    return summed(bytes(page))


def ata_statistics() -> bytes:
    page = bytearray(512)
    page[0:3] = b"\1\0\1"
    for position in range(1, 40):
        struct.pack_into("<Q", page, 8 * position, 0xC0 << 56 | 1000 * position)
    return bytes(page)


def ata_smart() -> bytes:
    page = bytearray(512)
    page[0] = 16
    for row, number in enumerate((1, 3, 4, 5, 7, 9, 10, 12, 187, 190, 194, 197, 198, 199, 241, 242)):
        raw = (row * 977).to_bytes(6, "little")
        page[2 + 12 * row : 14 + 12 * row] = bytes([number, 0x33, 0, 100 - row, 100 - row]) + raw + b"\0"
    return summed(bytes(page))


def scsi_pages() -> Iterator[bytes]:
    """INQUIRY, and its pages 80h, 83h, B1h."""
    yield b"\x00\x00\x06\x12\x5b\x00\x00\x02" + b"SKOGDATASILL SAS 3TB    F102" + bytes(60)
    yield b"\x00\x80\x00\x0aSK-0007712"
    names = (
        b"\x01\x03\x00\x08\x50\x00\xab\xcd\x00\x00\x00\x01\x61\x93\x00\x08\x50\x00\xab\xcd\x00\x00\x00\x02"
    )
    names += b"\x02\x01\x00\x10SKOGDATA00077120\x03\x28\x00\x04eui."
    yield b"\x00\x83" + len(names).to_bytes(2, "big") + names
    yield b"\x00\xb1\x00\x3c\x1c\x20\x00\x02" + bytes(56)


def optical_configuration() -> bytes:
    """GET CONFIGURATION of a writer with a disc in it."""
    profiles = b"".join(
        code.to_bytes(2, "big") + b"\1\0" for code in (0x08, 0x09, 0x0A, 0x10, 0x11, 0x1B, 0x43)
    )
    features = [
        (0x0000, profiles),
        (0x0001, b"\0\0\0\7\1\0\0\0"),
        (0x0003, b"\x29\0\0\0"),
        (0x001F, bytes(4)),
    ]
    features += [(0x0107, b"\0\0\0\x1f"), (0x0108, b"QUARREL-000812  "), (0x010C, b"20240115120000\0\0")]
    body = b"".join(struct.pack(">HBB", code, 3, len(data)) + data for code, data in features)
    return struct.pack(">IxxH", 4 + len(body), 0x0010) + body


# Buses and links (PCI Express, USB, linux/ethtool.h)


def pci_express() -> bytes:
    """A card of 4096 bytes: power, PCI Express, errors, serial, resizable BAR, and what follows on them."""
    space = bytearray(4096)
    struct.pack_into("<HHHHI", space, 0, 0x7A52, 0x0C71, 0x0406, 0x0010, 0x030000C1)
    struct.pack_into("<HH", space, 0x2C, 0x7E5A, 0xB601)
    space[0x34] = 0x40
    struct.pack_into("<BBHH", space, 0x40, 0x01, 0x50, 0x0003, 0x0008)
    struct.pack_into("<BBHIQ", space, 0x50, 0x05, 0x60, 0x0080, 0xFEE00000, 0)
    struct.pack_into("<BBH", space, 0x60, 0x10, 0xA0, 0x0002)
    struct.pack_into("<IHHIHH", space, 0x64, 0x8001, 0x2810, 0, 0x00400D04, 0x0040, 0x1081)
    struct.pack_into("<IH", space, 0x8C, 0x1E, 0x0004)
    struct.pack_into("<BBH", space, 0xA0, 0x11, 0x00, 0x8003)
    chain = (
        (0x0001, 0x100),
        (0x0003, 0x150),
        (0x0015, 0x200),
        (0x000B, 0x240),
        (0x0019, 0x280),
        (0x001E, 0x300),
    )
    for (number, at), (_, following) in zip(chain, [*chain[1:], (0, 0)], strict=True):
        struct.pack_into("<I", space, at, number | 1 << 16 | following << 20)
    struct.pack_into("<6I", space, 0x104, 1 << 14, 0x100000, 0x462030, 0x41, 0x2000, 0)
    struct.pack_into("<Q", space, 0x154, 0x001122FFFE334455)
    struct.pack_into("<4I", space, 0x204, 0x7F << 12, 8 << 8 | 2 << 5, 0b110 << 4, 1 << 8 | 2)
    return bytes(space)


def usb_hub() -> bytes:
    device = bytes.fromhex("120110020900014005e3081020040102 0001".replace(" ", ""))
    configuration = bytes.fromhex("0902290001010 0e032".replace(" ", ""))
    for setting in (1, 2):
        configuration += bytes([9, 4, 0, setting - 1, 1, 9, 0, setting, 0]) + bytes.fromhex("0705810301000c")
    return device + configuration


def usb_sound() -> bytes:
    """Two functions, one of them bound by an interface association, with descriptors of their class."""
    device = bytes.fromhex("12010002ef020140f41a10b1000101020301")
    interfaces = bytes.fromhex("080b00020100000009040000000101000009240100010900020101")
    interfaces += bytes.fromhex(
        "0904010102010200000705010d4000010725010000000009040200010300000 0".replace(" ", "")
    )
    interfaces += bytes.fromhex("09211101000122340007058203080010")
    total = 9 + len(interfaces)
    return device + bytes([9, 2]) + total.to_bytes(2, "little") + bytes([3, 1, 0, 0x80, 50]) + interfaces


def usb_capabilities() -> bytes:
    """BOS: USB 2.0 extension, SuperSpeed, SuperSpeedPlus of two lanes, container."""
    pieces = bytes.fromhex("071002 06000000") + bytes.fromhex("0a100300 0e00 01 0a ff07".replace(" ", ""))
    pieces += bytes.fromhex("1410 0a00 01000000 00110000 30400a00 b0400a00".replace(" ", ""))
    pieces += bytes([20, 16, 4, 0]) + bytes(range(16))
    return bytes([5, 15]) + (5 + len(pieces)).to_bytes(2, "little") + b"\x04" + pieces


def ethtool_settings() -> bytes:
    """ETHTOOL_GLINKSETTINGS: 2.5 Gbit/s of twisted pair, three masks of two words."""
    head = struct.pack("<II8B", 0x4C, 2500, 1, 0, 1, 1, 0, 0, 0, 2).ljust(48, b"\0")
    modes = (1 << 47 | 0x2EF).to_bytes(8, "little")
    return head + modes * 2 + (0x2F).to_bytes(8, "little")


# The stream of the privileged capture (ustar)


def privileged_stream() -> bytes:
    found = io.BytesIO()
    members = {
        "sys/firmware/dmi/tables/DMI": smbios_table(parts.fitted(), 2)[:700],
        "sys/class/dmi/id/product_serial": b"SK-1\n",
        "sys/bus/pci/devices/0000:01:00.0/config": bytes(64),
        "replies/nvme0/smart-log.bin": bytes(512),
        "dmesg.txt": b"[    0.000000] Linux\n",
        "replies/privileged.json": b'{"version":1,"unix_time":0,"root":true,"not_read":[]}',
    }
    with tarfile.open(fileobj=found, mode="w", format=tarfile.USTAR_FORMAT) as tar:
        for name, data in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            tar.addfile(info, io.BytesIO(data))
    return found.getvalue()
