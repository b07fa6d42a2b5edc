"""SMART attributes of ATA drives: pages READ DATA (D0h) and READ THRESHOLDS (D1h), and what they mean.

Layout: 30 entries of 12 bytes from byte 2, the checksum in byte 511 (SFF-8035i; ACS leaves the entries to the
maker). Ids and the packing of raw values are common practice (smartmontools' default list and format names);
no standard gives them a meaning, so a raw value is a number here only where its packing is known.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from shipworthy.machine.listing import said
from shipworthy.machine.raw import Section
from shipworthy.model.facts import Said
from shipworthy.model.words import Absent, RemarkKind

PAGE_BYTES = 512
ENTRIES, ENTRY_BYTES, FIRST_AT = 30, 12, 2
MOST_HOURS = 262_980  # 30 years; serial ATA is from 2003

NAMES = {
    1: "Raw read error rate",
    5: "Reallocated sectors",
    9: "Power-on hours",
    12: "Power cycles",
    187: "Reported uncorrectable errors",
    188: "Command timeouts",
    190: "Airflow temperature",
    194: "Temperature",
    196: "Reallocation events",
    197: "Pending sectors",
    198: "Offline uncorrectable sectors",
    199: "Interface CRC errors",
    241: "Host writes",
    242: "Host reads",
}
"""Common practice: smartmontools' default list of attribute ids."""

_SELF_TEST = {
    0: "completed or none run",
    1: "aborted",
    2: "interrupted by a reset",
    3: "fatal or unknown error",
    4: "failed, element unknown",
    5: "failed, electrical",
    6: "failed, servo or seek",
    7: "failed, read",
    8: "failed, handling damage",
    15: "running",
}
"""High nibble of byte 363 (check values, storage.md)."""

_SECONDS_PER_COUNT = (
    (re.compile(r"FUJITSU (MH[GHJKNU]2\d{3}A|MHS20\d\dA|MHR20[24]0A|MH[TV]2\d{3}[AB]|MP[A-G]3\d{3}A)"), 1),
    (
        re.compile(
            r"FUJITSU MHZ2\d\d0BJ|HITACHI_DK(14FA|23)|TOSHIBA MK\d\d(51GSY|56GSY|61GSY|76GSX)"
            r"|Maxtor (2[BF]0|3\d{4}[HU]|4[ADGRW]|5(A|T|\d{4}[HU])|6[BEKLY]|7[LY]|[89]\d)"
        ),
        60,
    ),
    (
        re.compile(
            r"SAMSUNG (SV\d{4}[HN]|SP(04[05]1|08[0124]2|12[0145]3|16[0145]4)[CN]|SP0411N"
            r"|HM(0[468]0H|120I|1[026]0J)[CI]|MP0(302|402|603|804)H)"
        ),
        30,
    ),
)
"""Drives whose attribute 9 does not count hours. Source: smartmontools' drive database 7.3/5319, formats
`seconds`, `minutes` and `halfminutes` of attribute 9; for SP0411N also its own error log in `smart-text`,
which gives 9604 hours where the attribute has 1152645. Kept narrow: neighbours of such names count hours."""

_BYTES_PER_COUNT = (
    (re.compile(r"Samsung SSD 8|SAMSUNG MZ7"), 512),  # 25 of 25 drives exactly
    (re.compile(r"ST\d{3,5}[A-Z]{2}\d{3,4}"), 512),  # 20 of 22 within 3 %, the others within 8 %
    (re.compile(r"SK ?hynix SC"), 512),  # 5 of 5; the drive database of smartmontools 7.3 says GB
    (re.compile(r"TOSHIBA MQ01A|HGST HUH7"), 512),  # 4 of 4
    (re.compile(r"INTEL SSDS[AC]|SSDSC2BB\d{3}G7R"), 32 << 20),  # 23 of 23
    (re.compile(r"KINGSTON (SA400|SUV400|SV300|SMS200|SHFS37)"), 1 << 30),  # all 12
    (re.compile(r"WDC  ?WDS[0-9]{3}[GT][12][BR]0[AB]-"), 1 << 30),  # 4 of 4
)
"""What attributes 241 and 242 count. No standard says it, and the names that tools print are wrong often.
Source: measured on 249 reports of `smart-text`, against the log of device statistics of the same drive,
whose unit the standard gives (ACS, logical sectors). Families that contradict themselves are not here."""


@dataclass(frozen=True, slots=True)
class Attribute:
    """One attribute. raw: 48 bits as they lie there; None where a report gives its text only.

    text: what a report prints as raw value. state: `now` or `past` where a report says that it fails or did.
    """

    id: int
    value: int | None
    worst: int | None
    threshold: int | None
    raw: int | None = None
    flags: int = 0
    name: str = ""
    text: str = ""
    state: str = ""

    @property
    def failing(self) -> str:
        """`now`, `past` or nothing: value, or worst value, at or below a threshold that is not 0."""
        if self.state:
            return self.state
        if not self.threshold or self.value is None:
            return ""
        if 1 <= self.value <= 253 and self.value <= self.threshold:
            return "now"
        worst = self.worst
        return "past" if worst is not None and 1 <= worst <= 253 and worst <= self.threshold else ""


def sum_holds(page: bytes) -> bool:
    """Return whether all 512 bytes add up to 0 modulo 256."""
    return len(page) >= PAGE_BYTES and sum(page[:PAGE_BYTES]) % 256 == 0


def attributes_of(page: bytes, thresholds: bytes = b"") -> tuple[Attribute, ...]:
    """Return the attributes of a page of SMART data, with the thresholds of the other page."""
    limits = {
        thresholds[at]: thresholds[at + 1]
        for at in _entries(thresholds)
        if thresholds[at] and any(thresholds)
    }
    found = []
    for at in _entries(page):
        entry = page[at : at + ENTRY_BYTES]
        if entry[0]:
            flags, raw = int.from_bytes(entry[1:3], "little"), int.from_bytes(entry[5:11], "little")
            found.append(Attribute(entry[0], entry[3], entry[4], limits.get(entry[0]), raw, flags))
    return tuple(found)


def _entries(page: bytes) -> range:
    last = FIRST_AT + ENTRIES * ENTRY_BYTES
    return range(FIRST_AT, last, ENTRY_BYTES) if len(page) >= last else range(0)


def self_test_word(status: int) -> str:
    """Return what byte 363 says of the last self-test."""
    return _SELF_TEST.get(status >> 4, f"code {status >> 4}")


# What attributes mean

Left: TypeAlias = tuple[RemarkKind, str]
_AMOUNTS = (241, 242)  # what was written and read, which the device statistics tell too


def attribute_facts(
    attributes: Sequence[Attribute], model: str, *, told_better: Collection[str] = ()
) -> tuple[tuple[Said, ...], tuple[Left, ...]]:
    """Return the facts that attributes give, and what of their raw values gave no number.

    Only what is there is given; a drive without attribute 9 says nothing of hours here. model: as the drive
    names itself, for makers who count in units of their own. told_better: facts that the device statistics
    give, so that nothing is missed where the attribute is not understood.
    """
    found = tuple(_meanings({attribute.id: attribute for attribute in attributes}, model))
    left = (_left(attribute, field, told_better) for attribute, field in found)
    fields = (*(field for _, field in found), *failing_facts(attributes))
    return fields, tuple(one for one in left if one is not None)


def _meanings(by_id: Mapping[int, Attribute], model: str) -> Iterator[tuple[Attribute, Said]]:
    """Yield the fact that each attribute gives whose meaning is known, by its number and, where makers
    differ, its name."""
    if 9 in by_id:
        yield by_id[9], said("power_on_hours", hours(by_id[9], model))
    if 12 in by_id:
        yield by_id[12], said("power_cycles", count(by_id[12]))
    if _means(by_id.get(5), "realloc", "retired_block", "reallocate"):
        yield by_id[5], said("reallocated_sectors", low_word(by_id[5]))
    if _means(by_id.get(197), "pend"):
        yield by_id[197], said("pending_sectors", count(by_id[197]))
    if _means(by_id.get(198), "uncor"):
        yield by_id[198], said("uncorrectable_sectors", count(by_id[198]))
    if _means(by_id.get(199), "crc"):
        yield by_id[199], said("interface_crc_errors", count(by_id[199]))
    elif 199 not in by_id and 218 in by_id and "crc" in by_id[218].name.lower():
        yield by_id[218], said("interface_crc_errors", count(by_id[218]))
    if _means(by_id.get(187), "uncorrect"):
        yield by_id[187], said("media_errors", count(by_id[187]))
    temperature = by_id.get(194, by_id.get(190))
    if temperature is not None:
        yield temperature, said("temperature_c", celsius(temperature))
    if 241 in by_id:
        yield by_id[241], said("written_bytes", amount(by_id[241], model))
    if 242 in by_id:
        yield by_id[242], said("read_bytes", amount(by_id[242], model))


def _left(attribute: Attribute, field: Said, told_better: Collection[str]) -> Left | None:
    """Return what is to be said of a raw value that gave no number."""
    detail = f"attribute {attribute.id}: raw value {attribute.text or attribute.raw}"
    if field.absent is Absent.IMPLAUSIBLE:
        return RemarkKind.BAD_VALUE, detail
    is_told = attribute.id in _AMOUNTS and field.name in told_better
    return (RemarkKind.NOT_UNDERSTOOD, detail) if field.absent is Absent.NOT_OFFERED and not is_told else None


def failing_facts(attributes: Sequence[Attribute]) -> tuple[Said, ...]:
    """How many attributes fail now and have failed, and which. Nothing where no threshold is known."""
    if not any(a.threshold is not None or a.state for a in attributes):
        return ()
    now = [str(a.id) for a in attributes if a.failing == "now"]
    past = [str(a.id) for a in attributes if a.failing == "past"]
    fields = [said("attributes_failing_now", len(now)), said("attributes_failed_past", len(past))]
    if now or past:
        fields.append(said("failing_attributes", ", ".join((*now, *(f"{n} in the past" for n in past)))))
    return tuple(fields)


def _means(attribute: Attribute | None, *words: str) -> bool:
    """Whether an attribute has its common meaning: a report's name for it may say that it has another."""
    if attribute is None:
        return False
    name = attribute.name.lower()
    if not name or name.startswith("unknown"):
        return True
    return not name.startswith("bogus") and any(word in name for word in words)


def _number_in_text(attribute: Attribute) -> int | None:
    match = re.match(r"(\d{1,20})(?![\dxb])", attribute.text)
    return int(match[1]) if match else None


def count(attribute: Attribute) -> int | Absent:
    """Return a plain count. One that needs more than 32 bits has something packed beside it."""
    if attribute.text:
        number = _number_in_text(attribute)
        return Absent.NOT_OFFERED if number is None or number >> 32 else number
    raw = attribute.raw or 0
    return raw if raw >> 32 == 0 else Absent.NOT_OFFERED


def low_word(attribute: Attribute) -> int | Absent:
    """Return the count in the lowest of three words, as attribute 5 is commonly packed."""
    if attribute.text:
        return count(attribute)
    return (attribute.raw or 0) & 0xFFFF


def hours(attribute: Attribute, model: str) -> int | Absent:
    """Return the hours of attribute 9: its low 24 bits, as above them many makers keep parts of an hour.

    A report that prints `12h+34m` has counted already.
    """
    seconds = next((s for pattern, s in _SECONDS_PER_COUNT if pattern.match(model)), 3600)
    if attribute.text:
        found = re.match(r"(\d{1,20})(h\+\d+m(?:\+[\d.]+s)?)?(?: |$)", attribute.text)
        number = None if found is None else int(found[1]) * (3600 if found[2] else seconds) // 3600
    else:
        raw = attribute.raw or 0
        number = raw & 0xFFFFFF if seconds == 3600 else (raw & 0xFFFFFFFF) * seconds // 3600
    if number is None:
        return Absent.NOT_OFFERED
    return number if number <= MOST_HOURS else Absent.IMPLAUSIBLE


def celsius(attribute: Attribute) -> int | Absent:
    """Return the temperature in the lowest byte, signed; the bytes above hold the least and the most."""
    if attribute.text:
        found = re.match(r"(-?\d{1,3})(?: |$)", attribute.text)
        if found is None:
            return Absent.NOT_OFFERED
        degrees = int(found[1])
    else:
        degrees = int.from_bytes(((attribute.raw or 0) & 0xFF).to_bytes(1, "little"), "little", signed=True)
    return degrees if 0 < degrees <= 120 else Absent.IMPLAUSIBLE


def amount(attribute: Attribute, model: str) -> int | Absent:
    """Return the bytes that attribute 241 or 242 counts, for drives of which it is known what it counts."""
    unit = next((size for pattern, size in _BYTES_PER_COUNT if pattern.match(model)), None)
    number = _number_in_text(attribute) if attribute.text else attribute.raw
    if unit is None or number is None:
        return Absent.NOT_OFFERED
    return number * unit if number * unit < 1 << 60 else Absent.IMPLAUSIBLE


def sections(page: bytes, thresholds: bytes = b"") -> tuple[Section, ...]:
    """Return each attribute as it lies there, for people."""
    head = Section(
        "SMART data",
        "0",
        (
            ("revision", int.from_bytes(page[0:2], "little")),
            ("checksum_holds", sum_holds(page)),
            ("last_self_test", self_test_word(page[363]) if len(page) > 363 else "cut short"),
        ),
    )
    rows = []
    for attribute in attributes_of(page, thresholds):
        fields: list[tuple[str, str | int | float | bool]] = [
            ("flags", f"0x{attribute.flags:04x}"),
            ("value", attribute.value or 0),
            ("worst", attribute.worst or 0),
            ("threshold", "not known" if attribute.threshold is None else attribute.threshold),
            ("raw", attribute.raw or 0),
            ("failing", attribute.failing or "no"),
        ]
        title = f"attribute {attribute.id} {NAMES.get(attribute.id, '')}".strip()
        rows.append(Section(title, "", tuple(fields)))
    return (head, *rows)
