"""Reports of `sensors -j`: chips of sensors, with a value and the limits of each channel.

Source: sensors(1), and libsensors' way to write a chip: name, bus and address, `k10temp-pci-00c3`. On PCI the
address is bus, device and function in 16 bits, the domain above them. Some versions print what is no JSON
(`nan`, a comma before a closing brace, lines of errors among it) and the same name twice: both are mended,
and named.
"""

from __future__ import annotations

import json
import math
import re
from typing import Any

from shipworthy.machine.listing import said
from shipworthy.machine.parse.sensors.limits import ENDS, FROM_CHANNEL, limit_word
from shipworthy.machine.parse.sensors.sanity import HIGHEST_RPM, implausible_temperature
from shipworthy.machine.raw import Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "sensors-json"
MOST_BYTES = 160 << 10  # a report of 512 cores has 90 kB
_CHIP = re.compile(r"(.+)-(pci|isa|acpi|virtual|hid|mdio|scsi|i2c-\d+|spi-\d+)-([0-9a-f]{1,8})")
_KEY = re.compile(r"(temp|fan|in|power|curr|energy|humidity|freq|pwm|intrusion)(\d+)_(\w+)")
_UNITS = {"temp": "c", "fan": "rpm", "in": "v", "power": "w", "curr": "a"}
FROM_LABEL = "driver or configuration"  # sensors(1) shows what its own configuration renames, too
_BEGIN = re.compile(r'\{\s*"([^"\n]{3,80})"\s*:\s*\{')


class _Pairs(list[tuple[str, Any]]):
    """An object of JSON with all its names, those given twice too."""


def recognises(name: str, head: bytes) -> bool:
    """An object whose first name is a chip's, with what every chip has in it."""
    del name
    text = head.decode("utf-8", "replace")
    match = _BEGIN.search(text)
    return match is not None and _CHIP.fullmatch(match[1]) is not None


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report. A sighting for each chip."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    whole, mended = _decoded(reply.data)
    remarks = [remark(reply.id, kind, "file", detail) for kind, detail in mended]
    seen: set[str] = set()
    found: list[Sighting] = []
    for name, chip in whole:
        if name in seen:
            detail = "a chip named twice: the first counts"
            remarks.append(remark(reply.id, RemarkKind.REPEATED, name, detail))
        elif isinstance(chip, _Pairs) and _CHIP.fullmatch(name):
            seen.add(name)
            fields, wrong = _chip_facts(name, chip)
            place = chip_place(name)
            found.append(Sighting(kind=PartKind.SENSOR_CHIP, place=place, source=reply.id, said=fields))
            remarks += [
                remark(reply.id, RemarkKind.BAD_VALUE, f"{name}: {where}", detail) for where, detail in wrong
            ]
    return Parsed(tuple(found), remarks=tuple(remarks))


def chip_place(name: str) -> str:
    """Return the place of a chip: its PCI function or I2C address where its name tells them."""
    match = _CHIP.fullmatch(name)
    if match is None:
        return f"chip:{name}"
    address = int(match[3], 16)
    if match[2] == "pci":
        bus, device = address >> 8 & 0xFF, address >> 3 & 0x1F
        return f"pci:{address >> 16:04x}:{bus:02x}:{device:02x}.{address & 7}"
    if match[2].startswith("i2c-"):
        return f"i2c:{match[2][4:]}-{address:04x}"
    return f"chip:{name}"


def _decoded(data: bytes) -> tuple[_Pairs, list[tuple[RemarkKind, str]]]:
    """Return the chips, and what had to be mended."""
    if len(data) > MOST_BYTES:
        return _Pairs(), [(RemarkKind.NOT_UNDERSTOOD, f"more than {MOST_BYTES} bytes")]
    text = data.decode("utf-8", "replace")
    for mended in (text, _mended(text)):
        try:
            whole = json.loads(mended, object_pairs_hook=_Pairs)
        except (ValueError, RecursionError):
            continue
        if isinstance(whole, _Pairs):
            same = mended is text or mended == text
            return whole, [] if same else [(RemarkKind.BAD_VALUE, "it was no JSON before it was mended")]
    return _Pairs(), [(RemarkKind.NOT_UNDERSTOOD, "no JSON object of chips")]


def _mended(text: str) -> str:
    lines = [line for line in text.splitlines() if not line.startswith(("ERROR", "Can't"))]
    text = re.sub(r'(":[ \t]*)-?(?:nan|inf)\b', r"\1null", "\n".join(lines))
    return re.sub(r",(\s*[}\]])", r"\1", text)


def _chip_facts(name: str, chip: _Pairs) -> tuple[tuple[Said, ...], list[tuple[str, str]]]:
    match = _CHIP.fullmatch(name)
    prefix = match[1] if match else name
    facts = {"name": said("name", prefix)}
    wrong: list[tuple[str, str]] = []
    channels: dict[str, None] = {}
    for label, feature in chip:
        if label == "Adapter" and isinstance(feature, str):
            facts["adapter"] = said("adapter", feature or None)
        elif isinstance(feature, _Pairs):
            channel, found, bad = _feature(prefix, label, feature)
            if channel in channels:
                bad.append((channel, "named twice: the first counts"))
            elif channel:
                channels[channel] = None
                facts |= {one.name: one for one in found}
            wrong += bad
    facts["channels"] = said("channels", ", ".join(channels) or None)
    return tuple(facts.values()), wrong


def _feature(chip: str, label: str, feature: _Pairs) -> tuple[str, list[Said], list[tuple[str, str]]]:
    """Return the channel, its facts, and what is wrong with its numbers."""
    keys = [(match, value) for key, value in feature if (match := _KEY.fullmatch(key))]
    if not keys:
        return "", [], []
    kind, number = keys[0][0][1], keys[0][0][2]
    channel = f"{kind}{number}"
    origin = FROM_CHANNEL if label == channel else FROM_LABEL
    found = [said(f"{channel}_label", label), said(f"{channel}_label_origin", origin)]
    wrong: list[tuple[str, str]] = []
    for match, value in keys:
        word = _word(chip, kind, match[3])
        if f"{match[1]}{match[2]}" != channel or word is None or isinstance(value, bool):
            continue
        if not isinstance(value, int | float | None):
            wrong.append((match[0], "no number"))
            continue
        limit = match[3] not in ("input", "average")
        value = math.inf if isinstance(value, int) and abs(value) > 1 << 60 else value
        reason = _why_not(kind, value, limit=limit)
        if value is not None and reason is None:
            found.append(said(f"{channel}{word}_{_UNITS[kind]}", round(float(value), 3)))
        elif value is not None and limit and value <= 0:
            continue  # a limit of nothing is none
        else:
            found.append(said(f"{channel}{word}_{_UNITS[kind]}", Absent.IMPLAUSIBLE))
            wrong.append((match[0], f"{value}: {reason}"))
    return channel, found, wrong


def _word(chip: str, kind: str, end: str) -> str | None:
    """Return what stands between channel and unit in a fact's name; None for what is no fact."""
    if kind not in _UNITS:
        return None
    if end in ("input", "average"):
        return ""
    if kind == "temp":
        return f"_{limit_word(chip, end)}" if end in ENDS else None
    return {"max": "_high", "crit": "_critical", "cap": "_high", "min": "_low"}.get(end)


def _why_not(kind: str, value: float | None, *, limit: bool) -> str | None:
    """Why a number of that kind cannot be so; limits of other kinds than temperature have no bounds."""
    if value is None or not math.isfinite(value):
        return "no number"
    if kind == "temp":
        return implausible_temperature(value) or ("no limit" if limit and value <= 0 else None)
    if kind == "fan" and not 0 <= value <= HIGHEST_RPM:
        return f"above {HIGHEST_RPM} turns a minute" if value > 0 else "below 0"
    return None
