"""What ATA drives answered, to sightings: identity, statistics, SMART attributes, health and power mode.

Standards and layouts are named where the pages are read, in `pages` and `smart`.
"""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.machine.listing import Listing, said, why_absent
from shipworthy.machine.parse.ata import smart as ata_smart
from shipworthy.machine.parse.ata.pages import (
    PAGE_BYTES,
    asleep,
    health_passed,
    identify_facts,
    logical_block_bytes,
    statistics_facts,
    sum_holds,
    words_text,
)
from shipworthy.machine.parse.block import BLOCK, block_place
from shipworthy.machine.parse.drive_pages import page_remarks
from shipworthy.machine.raw import Parsed, Reply, remark, reply_named, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind

_CHECK_CONDITION = "SCSI status 0x02, host 0x00"
_IDENTIFY_NAMES = tuple(field.name for field in identify_facts(b""))
_STATISTICS_NAMES = tuple(field.name for field in statistics_facts(b"", 512))
_LATER_PAGES = {"statistics-04": 4, "statistics-05": 5, "statistics-06": 6, "statistics-07": 7}
_SMART_NAMES = ("power_on_hours", "power_cycles")
"""What is asked of SMART data, whatever attributes a drive has: whether it is new."""


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `ata` (which drives there are), then `ata.<device>.<request>` of each."""
    head = reply_read(replies, "ata")
    if head is None:
        return Parsed()
    listing = Listing(head.data, head.id)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for name in listing.names(BLOCK):
        place = block_place(listing, name)
        identify = reply_named(replies, f"ata.{name}.identify")
        if place is None or identify is None:
            continue
        drive = _Drive(name, place, replies, identify)
        found += drive.sightings()
        remarks += drive.remarks
    return Parsed(tuple(found), remarks=tuple(remarks))


class _Drive:
    """One drive's replies. What it was not asked, as it sleeps, leaves no sighting but a remark."""

    def __init__(self, name: str, place: str, replies: tuple[Reply, ...], identify: Reply) -> None:
        self.name, self.place, self.replies, self.identify = name, place, replies, identify
        self.remarks: list[Remark] = []

    def reply(self, request: str) -> Reply | None:
        return reply_named(self.replies, f"ata.{self.name}.{request}")

    def sightings(self) -> list[Sighting]:
        self._power_mode()
        found = [self._identity(), self._statistics()]
        found += [self._later_page(request, page) for request, page in _LATER_PAGES.items()]
        found += [self._health(), self._attributes()]
        return [sighting for sighting in found if sighting is not None]

    def _identity(self) -> Sighting | None:
        reply = self.identify
        if _is_no_drive(reply, self.place):
            return None
        if reply.outcome is SourceOutcome.FAILED:
            self._remark(reply, RemarkKind.NOT_ANSWERED, f"{reply.locator}: {reply.error}")
        if reply.read and len(reply.data) >= PAGE_BYTES and not sum_holds(reply.data):
            self._remark(reply, RemarkKind.BAD_CHECKSUM, "IDENTIFY DEVICE")
        return self._told(reply, _IDENTIFY_NAMES, identify_facts)

    def _statistics(self) -> Sighting | None:
        reply = self.reply("statistics")
        if reply is None:
            return None
        block = self._block_bytes()
        return self._told(reply, _STATISTICS_NAMES, lambda data: statistics_facts(data, block))

    def _by_statistics(self) -> set[str]:
        """Return the facts that the general page of statistics has a value of."""
        reply = self.reply("statistics")
        fields = statistics_facts(reply.data, 512) if reply is not None and reply.read else ()
        return {field.name for field in fields if field.value is not None}

    def _later_page(self, request: str, page: int) -> Sighting | None:
        """A page that the drive lists, and so should give."""
        reply = self.reply(request)
        if reply is None or not reply.read:
            return None
        return self._told(reply, (), lambda data: statistics_facts(data, 512, page))

    def _power_mode(self) -> None:
        reply = self.reply("power-mode")
        if reply is not None and reply.read and asleep(reply.data):
            self._remark(reply, RemarkKind.NOT_ANSWERED, "the drive sleeps and was not woken")

    def _health(self) -> Sighting | None:
        reply = self.reply("smart-status")
        if reply is None or not reply.read:
            return None
        passed = health_passed(reply.data)
        if passed is None:
            self._remark(reply, RemarkKind.NOT_UNDERSTOOD, f"no status in the sense {reply.data[:32].hex()}")
        return self._told(reply, (), lambda _: (said("health_passed", passed),))

    def _attributes(self) -> Sighting | None:
        reply, thresholds = self.reply("smart"), self.reply("smart-thresholds")
        if reply is None:
            return None
        limits = thresholds.data if thresholds is not None and thresholds.read else b""
        if limits and not ata_smart.sum_holds(limits) and thresholds is not None:
            self._remark(thresholds, RemarkKind.BAD_CHECKSUM, "SMART thresholds")
            limits = b""
        if reply.read and not ata_smart.sum_holds(reply.data):
            self._remark(reply, RemarkKind.BAD_CHECKSUM, "SMART data")
            fields = tuple(said(name, Absent.IMPLAUSIBLE) for name in _SMART_NAMES)
            return Sighting(kind=PartKind.STORAGE, place=self.place, source=reply.id, said=fields)
        return self._told(reply, _SMART_NAMES, lambda data: self._meant(reply, data, limits))

    def _meant(self, reply: Reply, data: bytes, limits: bytes) -> tuple[Said, ...]:
        model = words_text(self.identify.data, 27, 46)
        attributes = ata_smart.attributes_of(data, limits)
        fields, left = ata_smart.attribute_facts(
            attributes, model if isinstance(model, str) else "", told_better=self._by_statistics()
        )
        for kind, detail in left:
            self._remark(reply, kind, detail)
        status = ata_smart.self_test_word(data[363])
        return (*fields, said("self_test_last", status))

    def _block_bytes(self) -> int:
        return logical_block_bytes(self.identify.data) if len(self.identify.data) >= PAGE_BYTES else 512

    def _told(
        self, reply: Reply, names: tuple[str, ...], facts: Callable[[bytes], tuple[Said, ...]]
    ) -> Sighting:
        if reply.read and not reply.id.endswith(".smart-status"):  # which is sense data, and no page
            self.remarks += page_remarks(reply, PAGE_BYTES, self.name)
        fields = facts(reply.data) if reply.read else tuple(said(n, _why(reply)) for n in names)
        return Sighting(kind=PartKind.STORAGE, place=self.place, source=reply.id, said=fields)

    def _remark(self, reply: Reply, kind: RemarkKind, detail: str) -> None:
        self.remarks.append(remark(reply.id, kind, self.name, detail))


def _why(reply: Reply) -> Absent:
    """A drive that answers a command with CHECK CONDITION has no such thing; a bus that fails is another."""
    refused = reply.outcome is SourceOutcome.FAILED and reply.error.endswith(_CHECK_CONDITION)
    return Absent.NOT_OFFERED if refused else why_absent(reply)


def _is_no_drive(reply: Reply, place: str) -> bool:
    """What hangs on a USB bridge or a SCSI host need not be an ATA drive: no answer says nothing of it."""
    return not reply.read and "/ata-" not in place
