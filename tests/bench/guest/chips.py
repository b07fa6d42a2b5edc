"""Chips on a pretended SMBus inside the guest: real kernel drivers over registers that the test writes.

lm75 at 48h; adt7475 at 2Eh with three temperatures, four fans and two voltages. The adt7475's driver looks
at its registers at most every 2 s.
"""

import ctypes
import fcntl
import os
import pathlib
import subprocess

I2C_SLAVE_FORCE, I2C_SMBUS = 0x0706, 0x0720  # linux/i2c-dev.h
BYTE_DATA, WORD_DATA = 2, 3
CONFIGURATION = (
    *((0x3D, 0x75), (0x3E, 0x41), (0x3F, 0x69)),  # device, company, version of an adt7475
    *((0x40, 1), (0x7C, 1), (0x7D, 0), (0x21, 0xA0), (0x22, 0xC0)),  # started, four fans, two voltages
)


class Data(ctypes.Union):
    _fields_ = [("byte", ctypes.c_uint8), ("word", ctypes.c_uint16), ("block", ctypes.c_uint8 * 34)]


class Message(ctypes.Structure):
    _fields_ = [
        ("write", ctypes.c_char),
        ("command", ctypes.c_uint8),
        ("size", ctypes.c_uint32),
        ("data", ctypes.POINTER(Data)),
    ]


class Chips:
    def __init__(self, modules=()):
        """modules: (address, bytes) of memory modules' SPD, at 50h and up, of 256 bytes each."""
        addresses = ["0x2e", "0x48", *(hex(address) for address, _ in modules)]
        subprocess.run(["modprobe", "i2c-stub", "chip_addr=" + ",".join(addresses)], check=True)
        subprocess.run(["modprobe", "-a", "i2c-dev", "lm75", "adt7475", "at24"], check=True)
        buses = pathlib.Path("/sys/bus/i2c/devices").glob("i2c-*")
        self.bus = next(bus for bus in buses if "stub" in (bus / "name").read_text())
        self.device = os.open("/dev/" + self.bus.name, os.O_RDWR)
        self.lm75(30)
        for register, value in CONFIGURATION:
            self.put(0x2E, register, value)
        for index in range(3):
            self.temperature(index, 30)
        for index, rpm in enumerate((1200, 900, 0, 2400)):
            self.fan(index, rpm)
        for address, data in modules:
            for register, value in enumerate(data):
                self.put(address, register, value)
        for words in ("lm75 0x48", "adt7475 0x2e", *(f"spd {address:#x}" for address, _ in modules)):
            (self.bus / "new_device").write_text(words)

    def put(self, address, register, value, size=BYTE_DATA):
        fcntl.ioctl(self.device, I2C_SLAVE_FORCE, address)
        data = Data()
        if size == WORD_DATA:
            data.word = value
        else:
            data.byte = value
        fcntl.ioctl(self.device, I2C_SMBUS, Message(b"\0", register, size, ctypes.pointer(data)))

    def lm75(self, celsius):
        """The register's high byte comes first: whole degrees above, halves in bit 7 of the low byte."""
        value = (int(celsius * 2) << 7) & 0xFFFF
        self.put(0x48, 0, (value & 0xFF) << 8 | value >> 8, WORD_DATA)

    def temperature(self, index, celsius):
        self.put(0x2E, 0x25 + index, celsius & 0xFF)

    def fan(self, index, rpm):
        """The chip counts periods of 90 kHz: 5,400,000 a minute over the speed; all ones: it stands."""
        count = 5_400_000 // rpm if rpm else 0xFFFF
        self.put(0x2E, 0x28 + 2 * index, count & 0xFF)
        self.put(0x2E, 0x29 + 2 * index, count >> 8)
