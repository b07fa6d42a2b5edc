"""dmidecode's text as structures: handle, type, title, fields and lists; and what is wrong with the text.

The reports come in many states: a line of a field may have been masked as a whole, also the line that
begins a structure; versions about 3.1 forgot some line ends (`Specification Version: 2.0⇥Firmware …`).
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache

from shipworthy.machine.placeholders import is_placeholder
from shipworthy.model.words import Absent, RemarkKind

MOST_BYTES = 1 << 19  # the longest of 3,222 reports has 55 KB
MOST_STRUCTURES = 1000  # the most of them has 180
_HEAD = re.compile(r"Handle 0x([0-9A-F]{4,8}), DMI type ([0-9]{1,3}), ([0-9]{1,6}) bytes")
_VERSION = re.compile(r"SMBIOS ([0-9]{1,2}\.[0-9]{1,2})(?:\.[0-9]{1,2})? present")
_ANNOUNCED = re.compile(r"([0-9]{1,5}) structures occupying [0-9]+ bytes")
_WRONG_LENGTH = re.compile(r"Invalid entry length \(([0-9]+)\)")

TITLES = {
    "BIOS Information": 0,
    "System Information": 1,
    "Base Board Information": 2,
    "Chassis Information": 3,
    "Processor Information": 4,
    "Cache Information": 7,
    "Port Connector Information": 8,
    "System Slot Information": 9,
    "Physical Memory Array": 16,
    "Memory Device": 17,
    "Memory Array Mapped Address": 19,
    "Memory Device Mapped Address": 20,
    "Portable Battery": 22,
    "Cooling Device": 27,
    "Temperature Probe": 28,
    "Electrical Current Probe": 29,
    "System Power Supply": 39,
    "Onboard Device": 41,
    "TPM Device": 43,
}
"""The type that a title tells, for a structure whose first line was masked."""

MASKED = frozenset({"--", "...", "---"})
"""What stands in the place of a text that somebody took out of a report."""

_is_placeholder = lru_cache(maxsize=8192)(is_placeholder)


@dataclass(slots=True)
class TextStructure:
    """One structure as it was printed. handle and type are -1 where the line that tells them is spoilt.

    length: of its formatted area, in bytes; 0 where it is not told."""

    handle: int
    type: int
    report: Report
    length: int = 0
    title: str = ""
    fields: dict[str, str] = field(default_factory=dict)
    lists: dict[str, list[str]] = field(default_factory=dict)

    @property
    def where(self) -> str:
        return f"structure 0x{self.handle:04X}" if self.handle >= 0 else f"type {self.type}"

    def plain(self, label: str) -> str | Absent:
        """Return a text field as it stands; `Not Specified` is dmidecode's word for no text at all."""
        text = self.fields.get(label)
        if not text or text == "Not Specified":
            return Absent.NOT_OFFERED
        if text == "<BAD INDEX>":
            self.report.fault(RemarkKind.BAD_REFERENCE, f"type {self.type}", f"{label} names no text")
            return Absent.IMPLAUSIBLE
        return text

    def value(self, label: str, counted: bool = True) -> str | Absent:
        """Return the same, where a placeholder counts as silence. What somebody masked is not readable."""
        text = self.fields.get(label)
        if not text or text == "Not Specified":
            return Absent.NOT_OFFERED
        if not _is_placeholder(text) and text not in MASKED:
            return text
        if text == "<BAD INDEX>":
            return self.plain(label) if counted else Absent.IMPLAUSIBLE
        if counted:
            self.report.placeholder(text, f"type {self.type}, {label}")
        return Absent.NOT_READABLE if text in MASKED else Absent.NOT_OFFERED

    def word(self, label: str) -> str | Absent:
        """Return the word of an enumeration. `<OUT OF SPEC>`: a code that the printer did not know."""
        text = self.fields.get(label, "")
        if text in _SILENT:
            return Absent.NOT_OFFERED
        if text == "<OUT OF SPEC>":
            self.report.fault(RemarkKind.NOT_UNDERSTOOD, f"type {self.type}, {label}", text)
            return Absent.NOT_OFFERED
        return text


_SILENT = frozenset({"", "Other", "Unknown", "Reserved", "Not Specified"})


@dataclass(slots=True)
class Report:
    """A read report. faults: by kind, place and detail. unread: structures of a known type that give no
    part, and why. placeholders: how often each text; placeholder_at: the first field that has it.
    processors: by place. announced: how many structures there are, as the report says. version: of SMBIOS, as
    `2.7`; empty where the report does not say it."""

    structures: list[TextStructure] = field(default_factory=list)
    faults: Counter[tuple[RemarkKind, str, str]] = field(default_factory=Counter)
    placeholders: Counter[str] = field(default_factory=Counter)
    placeholder_at: dict[str, str] = field(default_factory=dict)
    unread: list[tuple[TextStructure, str]] = field(default_factory=list)
    by_type: dict[int, list[TextStructure]] = field(default_factory=dict)
    processors: dict[str, TextStructure] = field(default_factory=dict)
    announced: int | None = None
    version: str = ""

    def of_type(self, number: int) -> list[TextStructure]:
        return self.by_type.get(number, [])

    def fault(self, kind: RemarkKind, where: str, detail: str) -> None:
        self.faults[kind, where, detail] += 1

    def placeholder(self, text: str, where: str) -> None:
        self.placeholders[text] += 1
        self.placeholder_at.setdefault(text, where)


def read_report(data: bytes) -> Report:
    """Return the structures of a report, in order."""
    text = data[:MOST_BYTES].decode("utf-8", "replace").replace("\r", "")
    report = Report()
    current: TextStructure | None = None
    last = ""
    for line in text.split("\n"):
        if line[:1] == "\t":
            if current is None:
                continue
            if line[1:2] == "\t":
                if last:
                    current.lists.setdefault(last, []).append(line[2:].strip())
                continue
            name, colon, value = line[1:].partition(":")
            if not colon:
                _odd_field_line(report, current, line.strip())
                continue
            last = name
            if "\t" in value:
                value = _split_joined(current, value)
            current.fields.setdefault(name, value.strip())
        elif line[:9] == "Handle 0x":
            if len(report.structures) >= MOST_STRUCTURES:
                report.fault(RemarkKind.CUT_SHORT, f"structure {MOST_STRUCTURES}", "the rest is not read")
                break
            current, last = _begin(report, line), ""
        elif line:
            current = _other_line(report, current, line)
    if report.announced is not None and report.announced != len(report.structures):
        detail = f"{report.announced} structures announced, {len(report.structures)} printed"
        report.fault(RemarkKind.CUT_SHORT, "table", detail)
    for s in report.structures:
        report.by_type.setdefault(s.type, []).append(s)
    return report


def _begin(report: Report, line: str) -> TextStructure:
    head = _HEAD.match(line)
    s = (
        TextStructure(int(head[1], 16), int(head[2]), report, int(head[3]))
        if head
        else TextStructure(-1, -1, report)
    )
    if head is None:
        report.fault(RemarkKind.BAD_HEADER, "a line that begins a structure", line[:60])
    report.structures.append(s)
    return s


def _odd_field_line(report: Report, current: TextStructure, text: str) -> None:
    if text == "<TRUNCATED>":
        report.fault(RemarkKind.CUT_SHORT, current.where, text)
    elif not current.title:
        current.title = text  # some titles are printed after a tab
    else:
        report.fault(RemarkKind.NOT_UNDERSTOOD, f"type {current.type}", "a line that is no field")


def _split_joined(current: TextStructure, value: str) -> str:
    """Two fields in one line, as some versions print them: keep both."""
    value, *others = value.split("\t")
    for other in others:
        name, colon, rest = other.partition(":")
        if colon:
            current.fields.setdefault(name, rest.strip())
    return value


def _other_line(report: Report, current: TextStructure | None, line: str) -> TextStructure | None:
    """A line without a tab: a title, dmidecode's own complaint, or a masked line."""
    announced = _ANNOUNCED.match(line) if current is None else None
    version = _VERSION.match(line) if current is None else None
    if version:
        report.version = version[1]
    elif announced:
        report.announced = int(announced[1])
    elif _WRONG_LENGTH.match(line):
        where = current.where if current is not None else "table"
        report.fault(RemarkKind.BAD_LENGTH, where, line)
    elif line.startswith("Wrong DMI structures"):
        report.fault(RemarkKind.BAD_LENGTH, "table", line)
    elif current is not None and not current.title:
        current.title = line.strip()
    elif current is not None and line in TITLES:
        report.fault(RemarkKind.BAD_HEADER, f"type {TITLES[line]}", "the line with its handle is spoilt")
        current = TextStructure(-1, TITLES[line], report, title=line)
        report.structures.append(current)
    return current
