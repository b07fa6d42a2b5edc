"""Memory modules by their SPD, the small memory in which a module's maker wrote what it is.

The kernel's drivers read it: at24 (a device named `spd`, DDR3, 256 bytes), ee1004 (DDR4, 512) and spd5118
(DDR5, 1024). Which generation an image is of, byte 2 says (JESD21-C, 4.1.2; names from decode-dimms 4.3).
"""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.spd import ddr3 as spd_ddr3
from shipworthy.machine.parse.spd import ddr4 as spd_ddr4
from shipworthy.machine.parse.spd import ddr5 as spd_ddr5
from shipworthy.machine.parse.spd.common import Decoded, is_blank
from shipworthy.machine.parse.wiring import device_place
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Fault, Parsed, Reply, Section, remark, reply_named, reply_read
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind

DEVICES = "/sys/bus/i2c/devices"

DDR3, DDR4, DDR5 = 0x0B, 0x0C, 0x12
_GENERATIONS: dict[int, tuple[str, Callable[[bytes], Decoded]]] = {
    DDR3: ("DDR3", spd_ddr3.decode),
    DDR4: ("DDR4", spd_ddr4.decode),
    DDR5: ("DDR5", spd_ddr5.decode),
}
_OTHERS = {
    0x04: "SDRAM",
    0x07: "DDR",
    0x08: "DDR2",
    0x09: "DDR2 FB-DIMM",
    0x0E: "DDR4E",
    0x0F: "LPDDR3",
    0x10: "LPDDR4",
    0x11: "LPDDR4X",
    0x13: "LPDDR5",
    0x15: "LPDDR5X",
    0xF1: "LPDDR3",  # an early number for it that is still about
}


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `spd` (which modules the kernel knows on its buses), then `spd.<bus>-<address>` of each."""
    head = reply_read(replies, "spd")
    if head is None:
        return Parsed()
    listing = Listing(head.data, head.id)
    sightings: list[Sighting] = []
    remarks: list[Remark] = []
    for name in listing.names(DEVICES):
        reply = reply_named(replies, f"spd.{name}")
        if reply is None:
            continue
        if not reply.read:
            remarks.append(_unread(reply))
            continue
        found = decode(reply.data)
        place = module_place(listing.target(f"{DEVICES}/{name}"), name)
        if found.said:
            sightings.append(
                Sighting(kind=PartKind.MEMORY_MODULE, place=place, source=reply.id, said=found.said)
            )
        remarks += [fault.remark(reply.id) for fault in found.faults]
    return Parsed(tuple(sightings), remarks=tuple(remarks))


def module_place(path: str | None, name: str) -> str:
    """Return the place of an SPD: its adapter's wired place where the kernel tells one, else its number."""
    place = device_place(path) if path is not None else ""
    return place if place.endswith(f"/i2c-{name}") and ":" in place else f"i2c:{name}"


_WHY_UNREAD = {
    SourceOutcome.ABSENT: "no driver serves it",
    SourceOutcome.EMPTY: "it is blank",
    SourceOutcome.REFUSED: "this account may not read it",
}


def _unread(reply: Reply) -> Remark:
    """An SPD that gave nothing tells of no module, as nobody could say which: the firmware lists them all."""
    detail = _WHY_UNREAD.get(reply.outcome, reply.error)
    return remark(reply.id, RemarkKind.NOT_ANSWERED, reply.locator, detail)


def decode(data: bytes) -> Decoded:
    """Return what an image of any generation says, and what is wrong with it or left over of it."""
    kind = data[2] if len(data) > 2 else None
    if kind is None or is_blank(data):
        return Decoded(faults=(Fault(RemarkKind.CUT_SHORT, f"bytes 0-{len(data)}", "no image at all"),))
    if kind in _GENERATIONS:
        return _GENERATIONS[kind][1](data)
    if kind in _OTHERS:
        detail = f"memory of the kind {_OTHERS[kind]}"
        return Decoded((said("type", _OTHERS[kind]),), (Fault(RemarkKind.NOT_UNDERSTOOD, "byte 2", detail),))
    return Decoded(faults=(Fault(RemarkKind.BAD_HEADER, "byte 2", f"0x{kind:02X} is no kind of memory"),))


def describe(data: bytes) -> tuple[Section, ...]:
    """Return an image as it lies there, for people: fields, other timings, and what was not decoded."""
    found = decode(data)
    size = f"bytes 0-{len(data) - 1}" if data else "no bytes"
    fields = tuple((s.name, s.value if s.value is not None else f"({s.absent})") for s in found.said)
    sections = [Section("memory module", size, fields)]
    if found.further:
        sections.append(Section("other timings", size, found.further))
    if found.faults:
        rows = tuple((f"{fault.kind} at {fault.where}", fault.detail) for fault in found.faults)
        sections.append(Section("faults and bytes not decoded", size, rows))
    return tuple(sections)


def same_serial(a: str, b: str) -> bool:
    """Return whether two spellings mean one module's serial, as SPD and SMBIOS write it.

    An SPD has four bytes. Firmware prints them as hexadecimal digits in their order or in the reverse, with
    or without `0x` and leading zeros, some as a decimal number, and some after maker, place and date (nine
    bytes, a module's identity). A placeholder is no serial and matches nothing, not even itself.
    Serials that are no such number (of makers who print letters of their own) match as they are.
    """
    if is_placeholder(a) or is_placeholder(b):
        return False
    one, other = _bare(a), _bare(b)
    if not one or not other:
        return False
    if one == other:
        return True
    return bool(_readings(one) & _readings(other))


def _bare(text: str) -> str:
    """Return a serial in capitals without blanks, signs between and `0x`."""
    text = "".join(sign for sign in text.upper() if sign.isascii() and sign.isalnum())
    return text.removeprefix("0X")


def _readings(text: str) -> frozenset[int]:
    """Return the numbers that a spelling can mean, with their bytes reversed; none if it is no number.

    Up to eight digits are hexadecimal (a decimal number that short is taken for one, and then matches only
    its like). Nine and ten decimal digits are a decimal number.
    """
    if any(sign not in "0123456789ABCDEF" for sign in text):
        return frozenset()
    if len(text) == _IDENTITY_DIGITS:
        text = text[-8:]
    if len(text) <= 8:
        number = int(text, 16)
    elif len(text) <= 10 and text.isdigit():
        number = int(text)
    else:
        return frozenset()
    data = number.to_bytes(8, "big")[-4:] if number < 1 << 32 else b""
    if len(data) - data.count(0) < _BYTES_THAT_TELL:  # of small numbers the reverse may be another module's
        return frozenset((number,)) if data else frozenset()
    return frozenset((number, int.from_bytes(data, "little")))


_IDENTITY_DIGITS = 18
_BYTES_THAT_TELL = 3
