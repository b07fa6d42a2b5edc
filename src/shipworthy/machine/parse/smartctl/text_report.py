"""The text that `smartctl -a` or `-x` prints, versions 5.x to 7.5, as a source: ATA, NVMe and SCSI drives.

No standard: lines of `Key: value`, then tables. Numbers have the separators of the locale that printed them
(comma, point, space, no-break and narrow no-break space). The text does not say which device it is of; the
name of the file may.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from shipworthy.machine.parse.ata import smart as ata_smart
from shipworthy.machine.parse.ata.smart import Attribute
from shipworthy.machine.parse.smartctl.json_drive import self_test_facts, statistic_facts
from shipworthy.machine.parse.smartctl.json_report import place_of
from shipworthy.machine.parse.smartctl.text_drive import drive_facts
from shipworthy.machine.parse.smartctl.text_numbers import whole
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import PartKind, RemarkKind

NAME = "smartctl-text"
MOST_BYTES = 1 << 20
MOST_LINES = 10_000
MOST_REPORTS = 100
MOST_ATTRIBUTES = 255
MOST_LINE = 300

_BEGIN = re.compile(r"smartctl (?:pre-)?\d+\.\d+")
_MARKS = re.compile(
    rb"^smartctl (?:pre-)?\d+\.\d+|^=== START OF (INFORMATION|READ SMART DATA|SMART DATA) ", re.M
)
_KEY = re.compile(r"([A-Za-z][A-Za-z0-9 /()._,-]{1,60}?) ?:(?:\s+(.*)|$)")
_ATTRIBUTE = re.compile(
    r"\s*(\d{1,3}) (\S+)\s+(0x[0-9a-f]{4}|[-POSRCK+]{6,7})"
    r"\s+(\d{1,3}|---)\s+(\d{1,3}|---)\s+(\d{1,3}|---)\s+(\S.*)"
)
_STATISTIC = re.compile(
    r" {0,2}(?:0x)?([0-9a-f]{1,2}) +0x([0-9a-f]{3}) +\d +(-?\d{1,18}|-)~? +(?:[-~NDCV]{3} +)?\S"
)
_NVME_SELF_TEST = re.compile(r" {0,2}\d{1,2} +(?:Short|Extended|Vendor\S*) +(\S.*)")
_COLUMNS = re.compile(r"  +")
_FAULT = re.compile(
    r"((?:Read|Write|ATA_\S+|SMART READ|Smartctl|scsiModePage\S*|Device open|INQUIRY)\b.*?\bfailed\b.*"
    r"|Smartctl open device: .*"
    r"|Warning! .* error: invalid SMART checksum\..*"
    r"|Warning: This result is based on an Attribute check\."
    r"|SMART Status not supported: .*"
    r"|Device is in \S+ mode, exit\(\d\).*)"
)
_DEVICE = re.compile(
    r"/dev/([A-Za-z0-9/]+)|(?:^|[^a-z0-9])(sd[a-z]{1,3}|sg\d{1,3}|nvme\d+(?:n\d+)?|hd[a-z])(?=[^a-z0-9]|$)"
)
_OF_TABLES = frozenset(" #0123456789")
_LOOSE = ("Manufactured in", "Accumulated power on time")
"""Lines without a colon behind their key."""
_FAILED_TEST = re.compile(r"fail|fatal|error", re.I)


@dataclass
class Report:
    """One report, line by line put where it belongs."""

    values: dict[str, str] = field(default_factory=dict)
    tables: dict[str, str] = field(default_factory=dict)
    attributes: list[Attribute] = field(default_factory=list)
    statistics: dict[tuple[int, int], int] = field(default_factory=dict)
    self_tests: list[tuple[str, bool]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    device: str = ""
    version: str = ""


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report, by smartctl's first line or a heading."""
    del name
    return head.lstrip()[:1] != b"{" and bool(_MARKS.search(head))


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file; it may hold several reports, one after another."""
    return parsed_each(replies, _parse_file)


def _parse_file(reply: Reply) -> Parsed:
    found: list[Sighting] = []
    remarks: list[Remark] = []
    pieces = _reports_in(reply.data)
    if not pieces:
        remarks.append(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "file", "no report of smartctl's in it"))
    cut = _left_out(reply.data, pieces)
    if cut:
        remarks.append(remark(reply.id, RemarkKind.CUT_SHORT, "file", cut))
    for position, lines in enumerate(pieces, 1):
        sightings, notes = _sightings(read_lines(lines), reply, position, len(pieces))
        found += sightings
        remarks += notes
    return Parsed(tuple(found), remarks=tuple(remarks))


def text_of(data: bytes) -> str:
    """Return the text: UTF-8, else Latin-1, in which every byte is a sign."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _reports_in(data: bytes) -> list[list[str]]:
    """Return the lines of each report; each begins with the version or, if that is cut off, its section."""
    reports: list[list[str]] = []
    begun = True
    for whole_line in text_of(data[:MOST_BYTES]).split("\n", MOST_LINES)[:MOST_LINES]:
        line = whole_line.rstrip("\r")[:MOST_LINE]
        head = bool(_BEGIN.match(line))
        section = line.startswith("=== START OF")
        if begun and (head or not reports or line.startswith("=== START OF INFORMATION")):
            if len(reports) == MOST_REPORTS:
                break
            reports.append([])
            begun = False
        reports[-1].append(line)
        begun = begun or section or (not head and _is_of_a_report(line))
    return reports if begun else reports[:-1]


def _is_of_a_report(line: str) -> bool:
    return bool(_FAULT.match(line) or _KEY.match(line))


def _left_out(data: bytes, reports: list[list[str]]) -> str:
    """Return what of a file was more than is read; nothing if all of it was."""
    if len(data) > MOST_BYTES:
        return f"only the first {MOST_BYTES} bytes are read"
    if data.count(b"\n") > MOST_LINES:
        return f"only the first {MOST_LINES} lines are read"
    return f"only the first {MOST_REPORTS} reports are read" if len(reports) == MOST_REPORTS else ""


def read_lines(lines: list[str]) -> Report:
    """Return the lines put where they belong. The first value of a key counts."""
    report = Report()
    for line in lines:
        version = _BEGIN.match(line)
        if version:
            report.version = version[0]
        _read_line(report, line)
    return report


def _read_line(report: Report, line: str) -> None:
    fault = _FAULT.match(line)
    if fault:
        report.faults.append(fault[1])
        return
    if line[:1] in _OF_TABLES and (
        _read_attribute(report, line) or _read_statistic(report, line) or _read_self_test(report, line)
    ):
        return
    if line.startswith("/dev/") and not report.device:
        report.device = line.split(":")[0].split(" ")[0].removeprefix("/dev/")
    pair = _KEY.match(line)
    if pair:
        _keep(report.values, re.sub(r"\s+", " ", pair[1]), pair[2] or "")
    elif line.startswith("No Errors Logged"):
        report.tables.setdefault("errors", "0")
    elif line.startswith(_LOOSE):
        key = next(key for key in _LOOSE if line.startswith(key))
        _keep(report.values, key, line[len(key) :])
    elif " = " in line:
        key, _, value = line.partition(" = ")
        _keep(report.values, key.strip(), value)


def _keep(values: dict[str, str], key: str, value: str) -> None:
    """`SMART support is` stands twice, and what it says second is whether it is enabled."""
    if key == "SMART support is" and key in values:
        key = "SMART enabled is"
    values.setdefault(key, value.strip())


def _read_attribute(report: Report, line: str) -> bool:
    match = _ATTRIBUTE.fullmatch(line)
    if match is None:
        return False
    rest = match[7].split()
    old = match[3].startswith("0x")
    if len(rest) < (4 if old else 2) or len(report.attributes) == MOST_ATTRIBUTES:
        if len(report.unread) < MOST_ATTRIBUTES:
            report.unread.append(f"attribute {match[1]}: no raw value, or one of too many")
        return True
    failed, raw = (rest[2], rest[3:]) if old else (rest[0], rest[1:])
    state = "now" if failed.lower() in ("now", "failing_now") else "past" if "past" in failed.lower() else ""
    value, worst, limit = (None if one == "---" else int(one) for one in (match[4], match[5], match[6]))
    report.attributes.append(
        Attribute(int(match[1]), value, worst, limit, None, 0, match[2], " ".join(raw), state)
    )
    return True


def _read_statistic(report: Report, line: str) -> bool:
    match = _STATISTIC.match(line)
    if match is None:
        return False
    if match[3] != "-" and int(match[3]) >= 0:
        report.statistics.setdefault((int(match[1], 16), int(match[2], 16)), int(match[3]))
    return True


def _read_self_test(report: Report, line: str) -> bool:
    """`# 1  Short offline  Completed: read failure  90%  …`, or NVMe's ` 0   Short  Completed …`."""
    columns = _COLUMNS.split(line)
    nvme = _NVME_SELF_TEST.match(line)
    if line.startswith("#") and len(columns) > 3:
        outcome = columns[2] if columns[0] != "#" else columns[3]
    elif nvme:
        outcome = _COLUMNS.split(nvme[1])[0]
    else:
        return False
    good = outcome.startswith(("Completed without error", "Completed  ")) or outcome == "Completed"
    report.self_tests.append((outcome, not good and bool(_FAILED_TEST.search(outcome))))
    return True


def _sightings(report: Report, reply: Reply, position: int, of: int) -> tuple[list[Sighting], list[Remark]]:
    """Return what a report says, what is believed first in front."""
    place, also = _place(report, reply, position, of)
    where = report.device or f"report {position}"
    block = whole(report.values.get("Sector Size", report.values.get("Sector Sizes", "")))
    statistics = statistic_facts(report.statistics, block or 512)
    by_statistics = {field.name for field in statistics if field.value is not None}
    model = report.values.get("Device Model", "")
    meant, left = ata_smart.attribute_facts(report.attributes, model, told_better=by_statistics)
    groups: list[tuple[Said, ...]] = [
        drive_facts(report.values, report.tables),
        statistics,
        (*meant, *self_test_facts(report.self_tests)),
    ]
    found = [
        Sighting(kind=PartKind.STORAGE, place=place, source=reply.id, said=group, also_at=also)
        for group in groups
        if group
    ]
    remarks = [remark(reply.id, kind, where, detail[:MOST_LINE]) for kind, detail in left]
    remarks += [remark(reply.id, RemarkKind.NOT_UNDERSTOOD, where, one) for one in report.unread]
    for fault in dict.fromkeys(report.faults):
        checksum = "checksum" in fault
        kind = RemarkKind.BAD_CHECKSUM if checksum else RemarkKind.NOT_ANSWERED
        remarks.append(remark(reply.id, kind, where, fault[:MOST_LINE]))
    if not groups[0] and not report.faults:
        remarks.append(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, where, "nothing of a drive in it"))
    return found, remarks


def _place(report: Report, reply: Reply, position: int, of: int) -> tuple[str, tuple[str, ...]]:
    """By the device that the text names, else by the one in the file's name where it has one report."""
    device = report.device
    kind = ""
    if not device and of == 1:
        name = reply.locator.rsplit("/", 1)[-1]
        match = _DEVICE.search(name.replace("_", " "))
        device = (match[1] or match[2]) if match else ""
    return place_of(device, kind, f"{reply.id}/{position}")


def describe(data: bytes) -> tuple[Section, ...]:
    """Return the keys and values of each report, and its tables."""
    sections: list[Section] = []
    for position, lines in enumerate(_reports_in(data), 1):
        report = read_lines(lines)
        where = f"report {position}"
        sections.append(Section(report.version or "smartctl", where, tuple(report.values.items())))
        rows = tuple(
            (
                f"{one.id} {one.name}",
                f"value {one.value}, worst {one.worst}, threshold {one.threshold}, "
                f"raw {one.text}{', failing ' + one.state if one.state else ''}",
            )
            for one in report.attributes
        )
        statistics = tuple((f"page {p:02x}h at {at}", value) for (p, at), value in report.statistics.items())
        for title, fields in (("attributes", rows), ("device statistics", statistics)):
            if fields:
                sections.append(Section(title, where, fields))
    return tuple(sections)
