"""`smartctl --json` as a source: the same facts as the drives' own pages give.

Format: smartctl 7.0 to 7.4 (json_format_version 1.0). Keys were renamed between versions (`product` became
`scsi_product`) and each drive has only some. `exit_status` is a bit mask (smartctl(8), RETURN VALUES), in
which anything but the lowest bits is news of the drive and no failure to read it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.ata import smart as ata_smart
from shipworthy.machine.parse.ata.smart import Attribute
from shipworthy.machine.parse.block import block_place
from shipworthy.machine.parse.opening import opened_json
from shipworthy.machine.parse.smartctl.json_drive import (
    Json,
    drive_facts,
    get,
    number,
    statistics_facts,
    text,
)
from shipworthy.machine.parse.wiring import NVME_CONTROLLER
from shipworthy.machine.raw import Fault, Parsed, Reply, Section, parsed_each, remark, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind

NAME = "smartctl-json"
LEAST_VERSION = 7
MOST_BYTES = 2 << 20
MOST_REPORTS = 100
_DEEPEST = 20  # levels of a report that are looked into
_HEAD = re.compile(rb"\s*[\[{]")
_MARKS = (
    b'"json_format_version"',
    b'"smartctl"',
    b'"smart_status"',
    b'"ata_smart_attributes"',
    b'"ata_smart_data"',
    b'"ata_smart_error_log"',
    b'"nvme_smart_health_information_log"',
    b'"scsi_error_counter_log"',
)
"""Some keep the keys in the order of the alphabet, so that the first bytes have only some of these."""
_TOO_OLD = re.compile(rb"smartctl (?:pre-)?([0-9]+)\.([0-9]+)")

_CANNOT = {0: "the command line was not understood", 1: "the drive could not be opened, or it sleeps"}
_DRIVE_SAYS = {
    3: "failing",
    4: "attributes at or below their thresholds",
    5: "attributes were at or below their thresholds",
    6: "the error log has entries",
    7: "the self-test log has errors",
}


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report, by its first keys."""
    del name
    return bool(_HEAD.match(head)) and any(mark in head for mark in _MARKS)


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file; a file may hold one report or a list of them."""
    return parsed_each(replies, _parse_file)


def _parse_file(reply: Reply) -> Parsed:
    found: list[Sighting] = []
    reports, fault = decoded(reply)
    remarks = list(fault)
    for position, report in enumerate(reports, 1):
        where = device_name(report) or f"report {position}"
        place, also = node_place(report, f"{reply.id}/{position}")
        sightings, notes = read_report(report, reply.id, where, place, also)
        found += sightings
        remarks += notes
    return Parsed(tuple(found), remarks=tuple(remarks))


def parse_live(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `smartctl` (where drives are wired), then `smartctl.<device>`, printed for one drive."""
    head = reply_read(replies, "smartctl")
    if head is None:
        return Parsed()
    listing = Listing(head.data, head.id)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for reply in replies:
        name = reply.id.removeprefix("smartctl.")
        place = block_place(listing, name)
        if reply is head or place is None:
            continue
        if not reply.read:
            remarks.append(_not_answered(reply, name))
            continue
        reports, fault = decoded(reply)
        remarks += fault
        for report in reports[:1]:
            sightings, notes = read_report(report, reply.id, name, place, ())
            found += sightings
            remarks += notes
    return Parsed(tuple(found), remarks=tuple(remarks))


def _not_answered(reply: Reply, name: str) -> Remark:
    missing = reply.outcome is SourceOutcome.ABSENT
    detail = "smartctl is not installed" if missing else f"smartctl: {reply.error or reply.outcome.value}"
    return remark(reply.id, RemarkKind.NOT_ANSWERED, name, detail)


def decoded(reply: Reply) -> tuple[list[Json], tuple[Remark, ...]]:
    """Return the reports in a reply; where it is none, what is wrong with it."""
    old = _TOO_OLD.match(reply.data)
    if old is not None:
        detail = f"smartctl {old[1].decode()}.{old[2].decode()} printed text, not JSON"
        return [], (remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "file", detail),)
    value = opened_json(reply.data, MOST_BYTES, object)
    if isinstance(value, Fault):
        return [], (value.remark(reply.id),)
    listed = value if isinstance(value, list) else [value]
    reports = [one for one in listed[:MOST_REPORTS] if isinstance(one, dict)]
    known = [one for one in reports if "smartctl" in one or "device" in one or "model_name" in one]
    if not known:
        return [], (remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "file", "no report of smartctl's in it"),)
    if len(listed) > MOST_REPORTS:
        detail = f"only the first {MOST_REPORTS} reports are read"
        return known, (remark(reply.id, RemarkKind.CUT_SHORT, "file", detail),)
    return known, ()


def device_name(report: Json) -> str:
    """Return the device node that smartctl was asked about; empty if the report does not say."""
    return text(get(report, "device", "name")) or ""


def node_place(report: Json, otherwise: str) -> tuple[str, tuple[str, ...]]:
    """Return `node:sda`, or for one behind a RAID controller `node:bus/0/megaraid,16`.

    A report on an NVMe controller is on its first namespace too, as most have one.
    """
    return place_of(device_name(report), text(get(report, "device", "type")) or "", otherwise)


def place_of(device: str, kind: str, otherwise: str) -> tuple[str, tuple[str, ...]]:
    """Return the place, and others of the same, by a device's node and smartctl's type of it."""
    node = device.removeprefix("/dev/")
    if not node or not re.fullmatch(r"[A-Za-z0-9._/,:@-]{1,200}", node):
        return f"report:{otherwise}", ()
    if "," in kind:
        return f"node:{node}/{kind}", ()
    if NVME_CONTROLLER.fullmatch(node):
        return f"node:{node}", (f"node:{node}n1",)
    namespace = re.fullmatch(r"(nvme\d+)n1", node)
    return f"node:{node}", (f"node:{namespace[1]}",) if namespace else ()


def read_report(
    report: Json, source: str, where: str, place: str, also: tuple[str, ...]
) -> tuple[list[Sighting], list[Remark]]:
    """Return what a report says of its drive, what is believed first in front."""
    attributes = attributes_of(report)
    model = text(report.get("model_name")) or ""
    statistics = statistics_facts(report)
    by_statistics = {field.name for field in statistics if field.value is not None}
    meant, left = ata_smart.attribute_facts(attributes, model, told_better=by_statistics)
    parts: list[tuple[Said, ...]] = [drive_facts(report), statistics, meant, _status(report)]
    found = [
        Sighting(kind=PartKind.STORAGE, place=place, source=source, said=said_, also_at=also)
        for said_ in parts
        if said_
    ]
    remarks = [remark(source, kind, where, detail) for kind, detail in left]
    return found, remarks + list(_trouble(report, source, where))


def attributes_of(report: Json) -> tuple[Attribute, ...]:
    """Return the rows of the table of attributes."""
    table = get(report, "ata_smart_attributes", "table")
    found = []
    for row in table if isinstance(table, list) else []:
        one = number(get(row, "id"))
        if one is None:
            continue
        failed = (text(get(row, "when_failed")) or "").lower()
        found.append(
            Attribute(
                one,
                number(get(row, "value")),
                number(get(row, "worst")),
                number(get(row, "thresh")),
                number(get(row, "raw", "value")),
                number(get(row, "flags", "value")) or 0,
                text(get(row, "name")) or "",
                text(get(row, "raw", "string")) or "",
                "now" if failed in ("now", "failing_now") else "past" if failed == "past" else "",
            )
        )
    return tuple(found)


def _status(report: Json) -> tuple[Said, ...]:
    status = number(get(report, "smartctl", "exit_status"))
    return () if status is None else (said("smartctl_status", status_words(status)),)


def status_words(status: int) -> str:
    """Return what the upper bits of an exit status say of the drive; `nothing found` if none is set."""
    return "; ".join(word for bit, word in _DRIVE_SAYS.items() if status >> bit & 1) or "nothing found"


def _trouble(report: Json, source: str, where: str) -> list[Remark]:
    """Name what smartctl could not do, and its own messages."""
    status = number(get(report, "smartctl", "exit_status")) or 0
    remarks = [
        remark(source, RemarkKind.NOT_ANSWERED, where, word)
        for bit, word in _CANNOT.items()
        if status >> bit & 1
    ]
    if status >> 2 & 1:
        detail = "a command failed, or the checksum of an answer does not hold"
        remarks.append(remark(source, RemarkKind.BAD_CHECKSUM, where, detail))
    messages = get(report, "smartctl", "messages")
    for message in messages if isinstance(messages, list) else []:
        words = text(get(message, "string")) or ""
        if words and text(get(message, "severity")) != "information":
            remarks.append(remark(source, RemarkKind.NOT_ANSWERED, where, words[:300]))
    version = get(report, "smartctl", "version")
    if isinstance(version, list) and version and isinstance(version[0], int) and version[0] < LEAST_VERSION:
        remarks.append(remark(source, RemarkKind.NOT_UNDERSTOOD, where, f"smartctl {version[0]} is too old"))
    return remarks


def describe(data: bytes) -> tuple[Section, ...]:
    """Return every value of a report under its own path of keys, a section for each key at the top."""
    value = opened_json(data, MOST_BYTES, object)
    if not isinstance(value, dict):
        return ()
    return tuple(Section(str(key), str(key), tuple(_leaves(one, ""))) for key, one in value.items())


def _leaves(value: object, path: str, depth: int = 0) -> Iterator[tuple[str, str | int | float | bool]]:
    pairs: list[tuple[str, object]] = []
    if isinstance(value, dict):
        pairs = [(str(key), one) for key, one in value.items()]
    elif isinstance(value, list):
        pairs = [(str(position), one) for position, one in enumerate(value)]
    for key, one in pairs:
        if depth < _DEEPEST:
            yield from _leaves(one, f"{path}.{key}" if path else key, depth + 1)
    if isinstance(value, str | int | float | bool):
        yield path or "value", value
