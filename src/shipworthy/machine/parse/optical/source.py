"""Optical drives: what they are, which discs they take, and which kind lies in them.

Sources: sysfs, /proc/sys/dev/cdrom/info (what the kernel's driver found), and the drive's own answer to
GET CONFIGURATION.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said, text_or_silence, why_absent
from shipworthy.machine.parse.block import BLOCK, block_place
from shipworthy.machine.parse.optical.mmc import (
    FIRMWARE,
    SERIAL,
    Configuration,
    firmware_date,
    profile_word,
    read_configuration,
    text_of,
)
from shipworthy.machine.parse.wiring import interface_of
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Parsed, Reply, remark, reply_named, reply_read, text_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

_NAME = re.compile(r"sr\d+")
MOST_INFO, MOST_ROWS = 1 << 14, 64  # the kernel's table has 24 rows, and at most eight signs a drive
_CAN = (("Can read DVD", "reads_dvd"), ("Can write CD-R", "writes_cd"), ("Can write DVD-R", "writes_dvd"))


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `optical`, `optical.info`, `optical.<drive>.get-configuration`."""
    reply = reply_read(replies, "optical")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    table = read_info(text_read(replies, "optical.info"))
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for name in listing.names(BLOCK):
        place = block_place(listing, name) if _NAME.fullmatch(name) else None
        if place is None:
            continue
        # of one source the first word is believed: the drive's own, the driver's, sysfs's
        kind = PartKind.OPTICAL_DRIVE
        answer = reply_named(replies, f"optical.{name}.get-configuration")
        if answer is not None:
            said_by_it = _answered(answer, remarks)
            found.append(Sighting(kind=kind, place=place, source=answer.id, said=said_by_it))
        if name in table:
            said_by_driver = _abilities(table[name])
            found.append(Sighting(kind=kind, place=place, source="optical.info", said=said_by_driver))
        fields = _fields(listing, name)
        found.append(Sighting(kind=kind, place=place, source=reply.id, said=fields))
    return Parsed(tuple(found), remarks=tuple(remarks))


def _fields(listing: Listing, name: str) -> tuple[Said, ...]:
    folder = f"{BLOCK}/{name}/device"
    page = listing.data(f"{folder}/vpd_pg80")
    serial = text_of(page[4:])
    return (
        said("kernel_name", name),
        said("interface", interface_of(listing.target(f"{BLOCK}/{name}") or "")),
        listing.said("maker", f"{folder}/vendor", _text),
        listing.said("model", f"{folder}/model", _text),
        listing.said("firmware_version", f"{folder}/rev", _text),
        said("serial", serial if serial is not None and not is_placeholder(serial) else None),
    )


def _text(text: str) -> str | Absent:
    return Absent.NOT_OFFERED if text == "ATA" else text_or_silence(text)


def read_info(text: str) -> dict[str, dict[str, str]]:
    """Return what the kernel's table says, by drive. Its columns are drives, its rows are abilities."""
    rows: list[tuple[str, list[str]]] = []
    for line in text[:MOST_INFO].splitlines()[:MOST_ROWS]:
        name, found, rest = line.partition(":")
        if found and rest.split() and not name.startswith("CD-ROM information"):
            rows.append((name.strip(), rest.split()))
    drives = next((words for name, words in rows if name == "drive name"), [])
    return {
        drive: {name: words[column] for name, words in rows if len(words) == len(drives)}
        for column, drive in enumerate(drives)
    }


def _abilities(table: dict[str, str]) -> tuple[Said, ...]:
    return tuple(said(fact, table[row] == "1") for row, fact in _CAN if table.get(row) in ("0", "1"))


def _answered(reply: Reply, remarks: list[Remark]) -> tuple[Said, ...]:
    if not reply.read:
        return (said("profiles", why_absent(reply)), said("media_profile", why_absent(reply)))
    configuration = read_configuration(reply.data)
    if configuration is None:
        detail = f"{len(reply.data)} bytes"
        remarks.append(remark(reply.id, RemarkKind.CUT_SHORT, "header", detail))
        return (said("profiles", Absent.IMPLAUSIBLE), said("media_profile", Absent.IMPLAUSIBLE))
    if configuration.fault is not None:
        fault = configuration.fault
        remarks.append(remark(reply.id, fault.kind, f"at {fault.where}", fault.detail))
    return _of_configuration(configuration)


def _of_configuration(configuration: Configuration) -> tuple[Said, ...]:
    now, words = configuration.current_profile, [profile_word(p) for p in configuration.profiles]
    serial = text_of(configuration.data_of(SERIAL))
    fields = (
        said("media_profile", Absent.NOT_FITTED if now is None else profile_word(now)),
        said("profiles", ", ".join(words) or None),
        said("serial", serial if serial is not None and not is_placeholder(serial) else None),
        said("firmware_date", firmware_date(configuration.data_of(FIRMWARE))),
    )
    if not words:
        return fields
    return (
        *fields,
        said("reads_dvd", any(word.startswith("DVD") for word in words)),
        said("reads_bd", any(word.startswith("BD") for word in words)),
        said("writes_cd", any(word in ("CD-R", "CD-RW") for word in words)),
        said("writes_dvd", any(word.startswith(("DVD-R ", "DVD+R")) for word in words)),
        said("writes_bd", any(word.startswith(("BD-R ", "BD-RE")) for word in words)),
    )
