"""A file with a USB device's descriptors as a source: `descriptors` of sysfs, device and configurations."""

from __future__ import annotations

import struct

from shipworthy.machine.listing import said
from shipworthy.machine.parse.usb import descriptors as usb_descriptors
from shipworthy.machine.parse.usb.descriptors import DEVICE, INTERFACE, bcd, of_kind, self_powered, split
from shipworthy.machine.parse.usb.words import PER_INTERFACE, class_word
from shipworthy.machine.raw import Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import PartKind

NAME = "usb-descriptors"
DEVICE_BYTES = 18
_PACKET_SIZES = (8, 9, 16, 32, 64)  # bMaxPacketSize0; 9 is the exponent that USB 3 has there
describe = usb_descriptors.describe


def recognises(name: str, head: bytes) -> bool:
    """Whether bytes begin with a device descriptor, by its length, kind and first packet's size."""
    del name
    return (
        len(head) >= DEVICE_BYTES and head[:2] == bytes([DEVICE_BYTES, DEVICE]) and head[7] in _PACKET_SIZES
    )


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file. Texts are not in descriptors: they only have numbers of them."""
    return parsed_each(replies, _parse_file)


def _parse_file(reply: Reply) -> Parsed:
    fault = split(reply.data)[1]
    remarks: tuple[Remark, ...] = ()
    if fault is not None:
        remarks = (remark(reply.id, fault.kind, f"descriptor at {fault.where}", fault.detail),)
    fields = _fields(reply.data)
    device = Sighting(kind=PartKind.USB_DEVICE, place=f"file:{reply.id}", source=reply.id, said=fields)
    return Parsed((device,) if fields else (), remarks=remarks)


def _fields(data: bytes) -> tuple[Said, ...]:
    descriptors = split(data)[0]
    devices = of_kind(descriptors, DEVICE, DEVICE_BYTES)
    if not devices:
        return ()
    device = devices[0].data
    version, vendor, product, release = struct.unpack_from("<H4xHHH", device, 2)
    interfaces = (one.data[5] for one in of_kind(descriptors, INTERFACE, 9))
    functions = dict.fromkeys(class_word(code) for code in (device[4], *interfaces) if code != PER_INTERFACE)
    return (
        said("vendor_id", f"0x{vendor:04x}"),
        said("device_id", f"0x{product:04x}"),
        said("device_release", bcd(release)),
        said("usb_version", bcd(version)),
        said("class", f"0x{device[4:7].hex()}"),
        said("functions", ", ".join(functions) or None),
        said("self_powered", self_powered(data, None)),
    )
