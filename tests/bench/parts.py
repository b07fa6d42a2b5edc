"""The parts of the virtual PC: what the tests put in, and must find again. Invented, but for QEMU's names."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

from tests.machine.spd_bytes import ddr3, sealed

MIB, GIB = 1 << 20, 1 << 30

PROCESSOR = "Maren C5 2-Core Processor"
FIRMWARE = {"vendor": "Fjord Firmware", "version": "F12b", "date": "03/14/2026", "release": "5.27"}
SYSTEM = {
    "manufacturer": "Workshop One",
    "product": "Desk 7",
    "version": "1.0",
    "serial": "WS1-000123",
    "uuid": "6f1d1f2a-5b0f-4d39-9c60-0c4a4d5b7e01",
    "sku": "D7",
    "family": "Desk",
}
BOARD = {
    "manufacturer": "Halden Boards",
    "product": "HB650-M",
    "version": "Rev 1.1",
    "serial": "HB65000077",
    "asset": "A-77",
}
CASE = {"manufacturer": "Brekke Cases", "version": "2", "serial": "BC-0042", "asset": "C-42", "sku": "MT-B"}


@dataclass(frozen=True)
class Module:
    """A memory slot and what is in it; nothing if size_mib is 0."""

    locator: str
    bank: str
    size_mib: int = 0
    maker: str = ""
    serial: str = ""
    part_number: str = ""
    speed_mt_s: int = 0
    configured_mt_s: int = 0
    first_address: int = 0
    """Where it begins in the processor's memory; each module answers for one stretch, none take turns."""

    @property
    def place(self) -> str:
        return f"smbios:{self.locator}/{self.bank}"

    def structure(self, handle: int, array: int) -> bytes:
        """Return the SMBIOS structure (type 17, DSP0134 7.18, as of version 2.8: 40 bytes)."""
        strings = [
            text for text in (self.locator, self.bank, self.maker, self.serial, self.part_number) if text
        ]

        def number(text: str) -> int:
            return strings.index(text) + 1 if text else 0

        width = 64 if self.size_mib else 0xFFFF
        fixed = struct.pack(
            "<BBHHHHHHBBBBBHHBBBBBIHHHH",
            *(17, 40, handle, array, 0xFFFE, width, width, self.size_mib, 9, 0),
            *(number(self.locator), number(self.bank), 0x18 if self.size_mib else 2, 0x80, self.speed_mt_s),
            *(number(self.maker), number(self.serial), 0, number(self.part_number)),
            *(1 if self.size_mib else 0, 0, self.configured_mt_s, 1500, 1500, 1500),
        )
        return fixed + b"".join(text.encode() + b"\0" for text in strings) + b"\0"

    def holds(self, address: int) -> bool:
        return 0 <= address - self.first_address < self.size_mib * MIB

    def addresses(self, handle: int, module: int, range_: int) -> bytes:
        """Return the structure of the addresses it answers for (type 20, 7.21: 35 bytes), not interleaved."""
        first, last = self.first_address >> 10, (self.first_address + self.size_mib * MIB >> 10) - 1
        ends = struct.pack("<II", first, last)
        return struct.pack("<BBH8sHHBBBQQ", 20, 35, handle, ends, module, range_, 1, 0, 0, 0, 0) + b"\0\0"


MODULES = (
    Module("DIMM_A1", "BANK 0"),
    Module("DIMM_A2", "BANK 1", 2048, "Norvik Memory", "0A1B2C3D", "NVK2G-1600C11", 1600, 1333),
    Module("DIMM_B1", "BANK 2"),
    # this firmware prints the serial's bytes in the reverse order, as some do; below it is the devices' hole
    Module("DIMM_B2", "BANK 3", 2048, "Norvik Memory", "3E2C1B0A", "NVK2G-1600C11", 1600, 1333, 4 * GIB),
)
FITTED = tuple(module for module in MODULES if module.size_mib)
SPD_SERIALS = ("0A1B2C3D", "0A1B2C3E")
MEMORY_BYTES = 4 * GIB


@dataclass(frozen=True)
class Drive:
    """A drive's image and what it says of itself."""

    image: str
    size_bytes: int
    model: str
    serial: str


NVME = Drive("nvme0.img", 4 * GIB, "QEMU NVMe Ctrl", "NV1T-55010")
DISK = Drive("sata0.img", 2 * GIB, "SKOGDATA HD2000", "SKG-1007")
SSD = Drive("sata1.img", 1 * GIB, "SKOGDATA SSD-1", "SKG-2008")
STICK = Drive("usb0.img", 256 * MIB, "QEMU QEMU HARDDISK", "USBSTICK01")
DRIVES = (NVME, DISK, SSD, STICK)
DISK_FIRMWARE, DISK_WWN = "FW31", "0x5000c500a1b2c3d4"
CARD_MAC = "02:57:53:31:00:7b"
SCREEN = (2560, 1440)


def spd(serial: str) -> bytes:
    """Return a module's SPD: DDR3-1600 11-11-11, 2 GiB in one rank of 2 Gbit chips."""
    image = bytearray(ddr3())
    image[4] = 0x03
    image[122:126] = bytes.fromhex(serial)
    image[128:146] = FITTED[0].part_number.encode().ljust(18)
    return sealed(bytes(image))


def smbios_arguments(folder: Path) -> list[str]:
    """Write the memory's structures as files and return QEMU's arguments for all SMBIOS structures.

    QEMU's own modules would all have one serial, so its structures of types 16 and 17 are replaced.
    """
    array, first, addresses, array_addresses = 0x1000, 0x1100, 0x1200, 0x1300  # the last is QEMU's own
    maximum_kib = 128 << 20
    files = {
        "array.bin": struct.pack("<BBHBBBIHHQ", 16, 23, array, 3, 3, 3, maximum_kib, 0xFFFE, 4, 0) + b"\0\0"
    }
    for index, module in enumerate(MODULES):
        files[f"module-{index}.bin"] = module.structure(first + index, array)
        if module.size_mib:
            files[f"addresses-{index}.bin"] = module.addresses(
                addresses + index, first + index, array_addresses
            )
    for name, data in files.items():
        (folder / name).write_bytes(data)
    structures = [
        _structure(0, FIRMWARE, "uefi=on"),
        _structure(1, SYSTEM),
        _structure(2, BOARD, "location=Base"),
        _structure(3, CASE),
        f"type=4,sock_pfx=SKT,manufacturer=Maren,version={PROCESSOR},part=C5,max-speed=4650,current-speed=3700",
        "type=11,value=order:2026-0417",
        "type=41,designation=Onboard Video,kind=video,instance=1,pcidev=vga0",
        *(f"file={name}" for name in files),
    ]
    return [word for structure in structures for word in ("-smbios", structure)]


def _structure(number: int, fields: dict[str, str], *more: str) -> str:
    return ",".join((f"type={number}", *(f"{name}={value}" for name, value in fields.items()), *more))
