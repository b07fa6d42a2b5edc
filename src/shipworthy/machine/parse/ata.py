"""ATA IDENTIFY DEVICE and the device statistics to facts.

Standard: INCITS ACS (ATA Command Set). Word numbers as seen in EDK II's Atapi.h and in smartmontools,
which cites ATA8-ACS to ACS-5 (check values, storage.md).
"""

from __future__ import annotations

from shipworthy.machine.listing import Listing, said, why_absent
from shipworthy.machine.parse.nvme import ascii_text
from shipworthy.machine.parse.wiring import ata_port_folder, storage_place
from shipworthy.machine.raw import Parsed, Reply, reply_named
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

PAGE_BYTES = 512
IDENTIFY_NAMES = (
    "model",
    "serial",
    "firmware_version",
    "size_bytes",
    "logical_block_bytes",
    "rotation_rpm",
    "technology",
    "sata_max_gbit_s",
    "sata_now_gbit_s",
    "form_factor",
)
STATISTICS_NAMES = ("power_cycles", "power_on_hours", "written_bytes", "read_bytes")

_SATA_GBIT_S = {1: 1.5, 2: 3.0, 3: 6.0}
_FORM_FACTORS = {
    1: "5.25 inch",
    2: "3.5 inch",
    3: "2.5 inch",
    4: "1.8 inch",
    5: "under 1.8 inch",
    6: "mSATA",
    7: "M.2",
    8: "MicroSSD",
    9: "CFast",
}


def word(data: bytes, number: int) -> int:
    """Return a word of a page: 16 bits, little-endian."""
    return int.from_bytes(data[2 * number : 2 * number + 2], "little")


def words_text(data: bytes, first: int, last: int) -> str | Absent:
    """Return the text in a range of words, whose two bytes each are swapped."""
    swapped = b"".join(data[2 * n : 2 * n + 2][::-1] for n in range(first, last + 1))
    return ascii_text(swapped)


def sum_holds(data: bytes) -> bool:
    """Return whether the page's checksum holds; one without the signature 0xA5 in word 255 has none."""
    return data[510] != 0xA5 or sum(data[:PAGE_BYTES]) % 256 == 0


def identify_facts(data: bytes) -> tuple[Said, ...]:
    """IDENTIFY DEVICE, 512 bytes. All fields implausible where the page is short or its checksum wrong."""
    if len(data) < PAGE_BYTES or not sum_holds(data):
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in IDENTIFY_NAMES)
    block = logical_block_bytes(data)
    rotation = word(data, 217)
    values = (
        words_text(data, 27, 46),
        words_text(data, 10, 19),
        words_text(data, 23, 26),
        sectors(data) * block or Absent.NOT_OFFERED,
        block,
        rotation if 0x0401 <= rotation <= 0xFFFE else Absent.NOT_OFFERED,
        "solid state"
        if rotation == 1
        else "spinning"
        if 0x0401 <= rotation <= 0xFFFE
        else Absent.NOT_OFFERED,
        _sata_max_gbit_s(data),
        _SATA_GBIT_S.get(word(data, 77) >> 1 & 7, Absent.NOT_OFFERED)
        if _tells_sata(data)
        else Absent.NOT_OFFERED,
        _FORM_FACTORS.get(word(data, 168) & 0x0F, Absent.NOT_OFFERED),
    )
    return tuple(said(name, value) for name, value in zip(IDENTIFY_NAMES, values, strict=True))


def sectors(data: bytes) -> int:
    """Return the number of logical sectors: words 100-103 where 48-bit addressing is on, else 60-61."""
    large = int.from_bytes(data[200:208], "little") if word(data, 83) >> 10 & 1 else 0
    return large or int.from_bytes(data[120:124], "little")


def logical_block_bytes(data: bytes) -> int:
    """Return the size of a logical sector: 512, or words 117-118 (in words) where 106 says so."""
    sizes = word(data, 106)
    if sizes >> 14 == 1 and sizes >> 12 & 1:
        return 2 * int.from_bytes(data[234:238], "little") or 512
    return 512


def _tells_sata(data: bytes) -> bool:
    """Word 76 is of SATA where it is neither 0 nor all ones, and its bit 0 is 0."""
    return word(data, 76) not in (0, 0xFFFF) and not word(data, 76) & 1


def _sata_max_gbit_s(data: bytes) -> float | Absent:
    if not _tells_sata(data):
        return Absent.NOT_OFFERED
    best = max((bit for bit in (1, 2, 3) if word(data, 76) >> bit & 1), default=0)
    return _SATA_GBIT_S.get(best, Absent.NOT_OFFERED)


def statistics_facts(data: bytes, block_bytes: int) -> tuple[Said, ...]:
    """Device Statistics log (04h), page 01h: power cycles at 8, hours at 16, sectors written 24, read 40.

    A statistic is a quadword whose top byte has flags: bit 7 supported, bit 6 valid.
    """
    if len(data) < PAGE_BYTES or data[2] != 1:
        return tuple(said(name, Absent.IMPLAUSIBLE) for name in STATISTICS_NAMES)

    def statistic(at: int, bits: int) -> int | Absent:
        flags = data[at + 7]
        if flags & 0xC0 != 0xC0:
            return Absent.NOT_OFFERED
        return int.from_bytes(data[at : at + 8], "little") & (1 << bits) - 1

    def size(at: int) -> int | Absent:
        count = statistic(at, 48)
        return count if isinstance(count, Absent) else count * block_bytes

    values = (statistic(8, 32), statistic(16, 32), size(24), size(40))
    return tuple(said(name, value) for name, value in zip(STATISTICS_NAMES, values, strict=True))


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `ata` (which drives there are), then `ata.<device>.identify` and `.statistics` of each."""
    head = reply_named(replies, "ata")
    if head is None or not head.read:
        return Parsed()
    listing = Listing(head.data, head.id)
    found: list[Sighting] = []
    for name in listing.names("/sys/block"):
        path = listing.target(f"/sys/block/{name}")
        place = None if path is None else drive_place(listing, path)
        identify = reply_named(replies, f"ata.{name}.identify")
        if place is None or identify is None:
            continue
        found.append(_identify_sighting(identify, place))
        statistics = reply_named(replies, f"ata.{name}.statistics")
        if statistics is not None:
            found.append(_statistics_sighting(statistics, place, identify))
    return Parsed(tuple(found))


def _identify_sighting(reply: Reply, place: str) -> Sighting:
    absent = tuple(said(n, why_absent(reply)) for n in IDENTIFY_NAMES)
    fields = identify_facts(reply.data) if reply.read else absent
    return Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=fields)


def _statistics_sighting(reply: Reply, place: str, identify: Reply) -> Sighting:
    block = logical_block_bytes(identify.data) if len(identify.data) >= PAGE_BYTES else 512
    absent = tuple(said(n, why_absent(reply)) for n in STATISTICS_NAMES)
    fields = statistics_facts(reply.data, block) if reply.read else absent
    return Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=fields)


def drive_place(listing: Listing, path: str) -> str | None:
    """Return the place of an ATA drive, told as the block source tells it; None if it is no such drive."""
    folder = ata_port_folder(path)
    if folder is None:
        return None
    return storage_place(path, ata_port=listing.number(f"{folder}/port_no"))
