"""SCSI INQUIRY and its pages of vital product data: drives on SAS, on RAID controllers and behind USB.

Standard: SPC (INQUIRY; pages 80h unit serial number, 83h device identification) and SBC (B1h block device
characteristics); layouts from memory. The kernel keeps these pages in sysfs for any account.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.block import BLOCK, block_place, kind_of
from shipworthy.machine.parse.drive_pages import ascii_text, told
from shipworthy.machine.raw import Parsed, Reply, Section, remark, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, RemarkKind

INQUIRY_BYTES = 36
PAGES = {0x80: "vpd_pg80", 0x83: "vpd_pg83", 0xB1: "vpd_pgb1"}
_TYPES = {0x00: "disk", 0x05: "optical", 0x07: "optical", 0x0E: "disk"}
_FORM_FACTORS = {1: "5.25 inch", 2: "3.5 inch", 3: "2.5 inch", 4: "1.8 inch", 5: "under 1.8 inch"}


def inquiry_facts(data: bytes) -> tuple[Said, ...]:
    """Standard INQUIRY: type in bits 4:0 of byte 0, vendor at 8 (8), product 16 (16), revision 32 (4).

    A drive behind a translation of ATA is called `ATA`, which is no maker.
    """
    if len(data) < INQUIRY_BYTES or data[0] >> 5 == 3:  # 011b: no such device at this address
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in ("maker", "model", "firmware_version"))
    vendor = ascii_text(data[8:16])
    return (
        said("maker", Absent.NOT_OFFERED if vendor == "ATA" else vendor),
        said("model", ascii_text(data[16:32])),
        said("firmware_version", ascii_text(data[32:36])),
    )


def page_body(data: bytes, page: int) -> bytes | None:
    """Return what a page holds behind its four bytes of head; None if it is another page or cut short."""
    if len(data) < 4 or data[1] != page:
        return None
    length = int.from_bytes(data[2:4], "big")
    return data[4 : 4 + length] if len(data) >= 4 + length else None


def serial_facts(data: bytes) -> tuple[Said, ...]:
    """Page 80h: text."""
    body = page_body(data, 0x80)
    return (said("serial", Absent.IMPLAUSIBLE if body is None else ascii_text(body)),)


def identification_facts(data: bytes) -> tuple[Said, ...]:
    """Page 83h: the name (NAA, EUI-64) of the logical unit itself, and who carries it (SAS, USB, ATA)."""
    body = page_body(data, 0x83)
    if body is None:
        return (said("wwn", Absent.IMPLAUSIBLE),)
    names = {(kind, of): value for kind, of, value in designators(body)}
    naa, eui = names.get((3, 0)), names.get((2, 0))
    fields = [said("wwn", "0x" + naa.hex() if naa else None)]
    if eui:
        fields.append(said("eui64", "0x" + eui.hex()))
    return tuple(fields)


def designators(body: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Yield (type, association, value): byte 1 has them in bits 3:0 and 5:4, byte 3 the length."""
    at = 0
    while at + 4 <= len(body):
        length = body[at + 3]
        yield body[at + 1] & 0x0F, body[at + 1] >> 4 & 3, body[at + 4 : at + 4 + length]
        at += 4 + length


def characteristics_facts(data: bytes) -> tuple[Said, ...]:
    """Page B1h: rotation at 4 (2; 1 is solid state), form factor in bits 3:0 of byte 7."""
    body = page_body(data, 0xB1)
    if body is None or len(body) < 4:
        return (said("technology", Absent.IMPLAUSIBLE),)
    rotation = int.from_bytes(body[0:2], "big")
    spins = 0x0401 <= rotation <= 0xFFFE
    return (
        said("technology", "solid state" if rotation == 1 else "spinning" if spins else None),
        said("rotation_rpm", rotation if spins else None),
        said("form_factor", _FORM_FACTORS.get(body[3] & 0x0F)),
    )


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `scsi`: which drives there are, how they are wired, and the kernel's copies of their pages."""
    head = reply_read(replies, "scsi")
    if head is None:
        return Parsed()
    listing = Listing(head.data, head.id)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for name in listing.names(BLOCK):
        place = block_place(listing, name)
        if place is None:
            continue
        fields, faults = _of_drive(listing, f"{BLOCK}/{name}/device")
        if fields:
            found.append(Sighting(kind=kind_of(name), place=place, source=head.id, said=fields))
        remarks += [remark(head.id, RemarkKind.CUT_SHORT, name, fault) for fault in faults]
    return Parsed(tuple(found), remarks=tuple(remarks))


def _of_drive(listing: Listing, folder: str) -> tuple[tuple[Said, ...], list[str]]:
    inquiry = listing.data(f"{folder}/inquiry")
    fields: list[Said] = list(inquiry_facts(inquiry)) if inquiry else []
    faults = ["INQUIRY"] if inquiry and len(inquiry) < INQUIRY_BYTES else []
    for number, facts in (
        (0x80, serial_facts),
        (0x83, identification_facts),
        (0xB1, characteristics_facts),
    ):
        data = listing.data(f"{folder}/{PAGES[number]}")
        if data:
            fields += facts(data)
            faults += [f"page {number:02x}h"] if page_body(data, number) is None else []
    return tuple(fields), faults


def describe(data: bytes) -> tuple[Section, ...]:
    """One reply to INQUIRY, standard or a page that is known here, as its head says."""
    known = {0x80: serial_facts, 0x83: identification_facts, 0xB1: characteristics_facts}
    if len(data) >= 4 and data[1] in known and page_body(data, data[1]) is not None:
        return (Section(f"page {data[1]:02x}h", "0", told(known[data[1]](data))),)
    kind = _TYPES.get(data[0] & 0x1F, f"type {data[0] & 0x1F}") if data else "nothing"
    return (Section(f"INQUIRY, {kind}", "0", told(inquiry_facts(data))),)
