"""A file with one page of an ATA drive as a source: IDENTIFY DEVICE, device statistics, SMART data."""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.machine.parse.ata import smart as ata_smart
from shipworthy.machine.parse.ata.pages import PAGE_BYTES, identify_facts, statistics_facts, sum_holds
from shipworthy.machine.parse.drive_pages import told
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import PartKind, RemarkKind


def parse_identify(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one page of IDENTIFY DEVICE."""
    return _dumps(replies, identify_facts, sum_holds)


def parse_statistics(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is page 01h of the log of device statistics. The drive's block is taken as 512 bytes."""
    return _dumps(replies, lambda data: statistics_facts(data, 512), lambda _: True)


def parse_smart(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one page of SMART data, or that and its thresholds. The drive's model is not known."""

    def facts(data: bytes) -> tuple[Said, ...]:
        attributes = ata_smart.attributes_of(data[:PAGE_BYTES], data[PAGE_BYTES:])
        return ata_smart.attribute_facts(attributes, "")[0]

    return _dumps(replies, facts, ata_smart.sum_holds)


def _dumps(
    replies: tuple[Reply, ...], facts: Callable[[bytes], tuple[Said, ...]], holds: Callable[[bytes], bool]
) -> Parsed:
    def parse_one(reply: Reply) -> Parsed:
        wrong: tuple[Remark, ...] = ()
        if len(reply.data) < PAGE_BYTES:
            detail = f"{len(reply.data)} of {PAGE_BYTES} bytes"
            wrong = (remark(reply.id, RemarkKind.CUT_SHORT, "page", detail),)
        elif not holds(reply.data):
            wrong = (remark(reply.id, RemarkKind.BAD_CHECKSUM, "page"),)
        place = f"file:{reply.id}"
        said_of_it = Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=facts(reply.data))
        return Parsed((said_of_it,), remarks=wrong)

    return parsed_each(replies, parse_one)


def describe_identify(data: bytes) -> tuple[Section, ...]:
    """Return the fields of IDENTIFY DEVICE."""
    return (Section("IDENTIFY DEVICE", "0", told(identify_facts(data))),)


def describe_statistics(data: bytes) -> tuple[Section, ...]:
    """Return the fields of page 01h of the log of device statistics."""
    return (Section("Device statistics, page 01h", "0", told(statistics_facts(data, 512))),)


def describe_smart(data: bytes) -> tuple[Section, ...]:
    """The page of SMART data, and behind it, if it is there, that of its thresholds."""
    return ata_smart.sections(data[:PAGE_BYTES], data[PAGE_BYTES:])
