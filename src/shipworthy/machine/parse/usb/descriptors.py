"""USB descriptors as a device gave them: device, configurations, and its capabilities (BOS).

Standard: USB 3.2 specification, chapter 9, tables 9-11 to 9-30 (from memory, held against linux/usb/ch9.h).
All numbers are little-endian. Any bytes whatever are taken; what is cut short or has a length of less than
two ends the list and is named.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from shipworthy.machine.parse.usb.words import CAPABILITIES, DESCRIPTORS, TRANSFERS, class_word
from shipworthy.machine.raw import Fault, Section
from shipworthy.model.words import RemarkKind

DEVICE, CONFIGURATION, INTERFACE, ENDPOINT, ASSOCIATION, BOS, CAPABILITY = 1, 2, 4, 5, 11, 15, 16
SUPERSPEED, SUPERSPEED_PLUS = 0x03, 0x0A
MOST_DESCRIPTORS = 2048  # a camera with every format has some hundreds
_SPEED_BITS = ((3, 5000.0), (2, 480.0), (1, 12.0), (0, 1.5))  # wSpeedsSupported
_EXPONENT_MBIT = (1e-6, 1e-3, 1.0, 1e3)  # lane speed exponent: bit/s, kbit/s, Mbit/s, Gbit/s


@dataclass(frozen=True)
class Descriptor:
    """One descriptor: where it lies, its kind, and all its bytes."""

    at: int
    kind: int
    data: bytes


def split(data: bytes) -> tuple[tuple[Descriptor, ...], Fault | None]:
    """Return the descriptors in their order, and what was wrong, at its offset, if the bytes do not
    end with one."""
    found: list[Descriptor] = []
    at = 0
    while at < len(data):
        length = data[at]
        if len(found) >= MOST_DESCRIPTORS:
            return tuple(found), Fault(RemarkKind.NOT_UNDERSTOOD, str(at), f"more than {MOST_DESCRIPTORS}")
        if length < 2:
            return tuple(found), Fault(RemarkKind.BAD_LENGTH, str(at), f"length {length}")
        if at + length > len(data):
            return tuple(found), Fault(
                RemarkKind.CUT_SHORT, str(at), f"{length} bytes, {len(data) - at} left"
            )
        found.append(Descriptor(at, data[at + 1], data[at : at + length]))
        at += length
    return tuple(found), None


def of_kind(descriptors: tuple[Descriptor, ...], kind: int, least: int) -> tuple[Descriptor, ...]:
    """Return the descriptors of a kind that have at least so many bytes."""
    return tuple(one for one in descriptors if one.kind == kind and len(one.data) >= least)


def bcd(number: int) -> str:
    """Return a version such as 0x0210 as `2.10`."""
    return f"{number >> 8:x}.{number & 0xFF:02x}"


def self_powered(data: bytes, configuration: int | None) -> bool | None:
    """Return whether the configuration in use says that the device has a supply of its own; None if it does
    not say. In USB 2.0 bit 6 of bmAttributes."""
    for one in of_kind(split(data)[0], CONFIGURATION, 9):
        if configuration in (None, one.data[5]):
            return bool(one.data[7] & 0x40)
    return None


def capability_mbit_s(bos: bytes) -> float | None:
    """Return the fastest speed that a device's capabilities name; None if they name none.

    Of SuperSpeedPlus the speed is of one lane: how many lanes a device has is not told there.
    """
    speeds: list[float] = []
    for one in of_kind(split(bos)[0], CAPABILITY, 3):
        if one.data[2] == SUPERSPEED and len(one.data) >= 10:
            supported = struct.unpack_from("<H", one.data, 4)[0]
            speeds += [speed for bit, speed in _SPEED_BITS if supported >> bit & 1]
        elif one.data[2] == SUPERSPEED_PLUS and len(one.data) >= 16:
            speeds += _lane_speeds(one.data)
    return max(speeds, default=None)


def _lane_speeds(data: bytes) -> list[float]:
    count = min((data[4] & 0x1F) + 1, (len(data) - 12) // 4)
    words = struct.unpack_from(f"<{count}I", data, 12)
    return [(word >> 16) * _EXPONENT_MBIT[word >> 4 & 3] for word in words]


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every descriptor, field by field, for people; of `descriptors` or of `bos_descriptors`."""
    descriptors, fault = split(data)
    sections = [_section(one) for one in descriptors]
    if fault is not None:
        sections.append(Section("fault", fault.where, ((fault.kind.value, fault.detail),)))
    return tuple(sections)


def _section(one: Descriptor) -> Section:
    title = DESCRIPTORS.get(one.kind, f"kind 0x{one.kind:02x}")
    if one.kind == CAPABILITY and len(one.data) >= 3:
        title = f"capability: {CAPABILITIES.get(one.data[2], f'0x{one.data[2]:02x}')}"
    layout = _LAYOUTS.get(one.kind)
    if layout is None or len(one.data) < struct.calcsize(layout[0]):
        return Section(title, str(one.at), (("bytes", one.data.hex(" ")),))
    values = struct.unpack_from(layout[0], one.data)
    fields = [
        (name, _word(one.kind, name, value)) for name, value in zip(layout[1].split(), values, strict=True)
    ]
    rest = one.data[struct.calcsize(layout[0]) :]
    if rest:
        fields.append(("rest", rest.hex(" ")))
    return Section(title, str(one.at), tuple(fields))


_LAYOUTS = {
    DEVICE: (
        "<BBHBBBBHHHBBBB",
        "bLength bDescriptorType bcdUSB bDeviceClass bDeviceSubClass bDeviceProtocol bMaxPacketSize0 idVendor"
        " idProduct bcdDevice iManufacturer iProduct iSerialNumber bNumConfigurations",
    ),
    CONFIGURATION: (
        "<BBHBBBBB",
        "bLength bDescriptorType wTotalLength bNumInterfaces bConfigurationValue iConfiguration bmAttributes"
        " bMaxPower",
    ),
    INTERFACE: (
        "<BBBBBBBBB",
        "bLength bDescriptorType bInterfaceNumber bAlternateSetting bNumEndpoints bInterfaceClass"
        " bInterfaceSubClass bInterfaceProtocol iInterface",
    ),
    ENDPOINT: (
        "<BBBBHB",
        "bLength bDescriptorType bEndpointAddress bmAttributes wMaxPacketSize bInterval",
    ),
    ASSOCIATION: (
        "<BBBBBBBB",
        "bLength bDescriptorType bFirstInterface bInterfaceCount bFunctionClass bFunctionSubClass"
        " bFunctionProtocol iFunction",
    ),
    BOS: ("<BBHB", "bLength bDescriptorType wTotalLength bNumDeviceCaps"),
    0x30: ("<BBBBH", "bLength bDescriptorType bMaxBurst bmAttributes wBytesPerInterval"),
}


def _word(kind: int, name: str, value: int) -> str | int:
    if name.startswith("bcd"):
        return bcd(value)
    if name in ("idVendor", "idProduct"):
        return f"0x{value:04x}"
    if name in ("bDeviceClass", "bInterfaceClass", "bFunctionClass"):
        return f"0x{value:02x} {class_word(value)}"
    if name == "bEndpointAddress":
        return f"0x{value:02x} endpoint {value & 15} {'in' if value & 0x80 else 'out'}"
    if name == "bmAttributes":
        return f"0x{value:02x} {TRANSFERS[value & 3]}" if kind == ENDPOINT else f"0x{value:02x}"
    return value
