"""The report of `rocm-smi -a --json`: what AMD's driver says of each of its cards.

Form: an object of `card0`, `card1` … and `system`. Keys are sentences with their unit in brackets and
change between versions: the device is `GPU ID` to 5.7 and `Device ID` from 6.0; `Card model` is the
subsystem's id to 6.0.2, the device's id in 6.1.2, and the vendor's in 4.3, which gives it as series, too.
The levels of all clocks share the keys `0`, `1` …, so that later ones overwrite earlier ones: not used.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from shipworthy.machine.listing import said, text_or_silence
from shipworthy.machine.parse.graphics import (
    card_power_w,
    chip_temperature_c,
    name_card,
    naming_facts,
    resizable_bar,
)
from shipworthy.machine.parse.opening import opened_json
from shipworthy.machine.parse.wiring import PCI_FUNCTION
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import Fault, Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "rocm-smi-json"
MOST_BYTES = 8 << 20

_CARD = re.compile(r"card\d{1,3}")
_LINK = re.compile(r"\d+ \((\d+(?:\.\d+)?)GT/s x(\d+)\)")
_ID = re.compile(r"0x[0-9a-fA-F]{2,4}")


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report: an object that begins with a card and its ids or firmware."""
    del name
    start = head.lstrip()
    return bool(re.match(rb'\{\s*"card\d+"\s*:', start)) and (
        b"VBIOS version" in start or b'"GPU ID"' in start or b'"Device ID"' in start
    )


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    report = read_report(reply.data)
    if report is None:
        return Parsed(remarks=(remark(reply.id, RemarkKind.BAD_HEADER, "file"),))
    found: list[Sighting] = []
    remarks: list[Remark] = []
    driver = report.get("system", {}).get("Driver version", "")
    for name in sorted(key for key in report if _CARD.fullmatch(key)):
        place = place_of(report[name])
        if place is None:
            remarks.append(remark(reply.id, RemarkKind.BAD_VALUE, f"{name}, PCI Bus"))
            continue
        fields = tuple(card_facts(report[name], driver))
        found.append(Sighting(kind=PartKind.GRAPHICS, place=place, source=reply.id, said=fields))
        remarks += _remarks(report[name], name, reply.id)
    return Parsed(tuple(found), remarks=tuple(remarks))


def read_report(data: bytes) -> dict[str, dict[str, str]] | None:
    """Return the cards of a report, each with its texts; None if it is none. What is no text is left out."""
    report = opened_json(data, MOST_BYTES, dict[str, dict[str, object]])
    if isinstance(report, Fault):
        return None
    return {
        name: {key.strip(): value.strip() for key, value in card.items() if isinstance(value, str)}
        for name, card in report.items()
    }


def place_of(card: Mapping[str, str]) -> str | None:
    """Return the place of a card; None where its address is none."""
    address = card.get("PCI Bus", "").lower()
    return f"pci:{address}" if PCI_FUNCTION.fullmatch(address) else None


def card_facts(card: Mapping[str, str], driver: str) -> Iterator[Said]:
    """Yield what is said of one card."""
    memory, visible = _number(card, "VRAM Total Memory (B)"), _number(card, "VIS_VRAM Total Memory (B)")
    device, subsystem = _device_id(card), _subsystem_id(card)
    maker = card.get("Card Vendor", card.get("Card vendor", ""))
    yield said("vendor_id", "0x1002" if device is not None else None)
    yield said("device_id", device)
    if subsystem is not None:
        yield said("subsystem_device_id", subsystem)
    if _ID.fullmatch(card.get("Device Rev", "")):
        yield said("revision_id", card["Device Rev"].lower())
    yield from _names(card, memory)
    if maker and not _ID.fullmatch(maker) and not is_placeholder(maker):
        yield said("maker", maker)
    yield said("memory_bytes", memory)
    if visible is not None:
        yield said("visible_memory_bytes", visible)
    bar = resizable_bar(memory, visible, ())
    if bar is not None:
        yield said("resizable_bar", bar)
    yield from _link(card)
    yield from _texts(card, driver)
    yield from _measured(card)


def _names(card: Mapping[str, str], memory: int | None) -> tuple[Said, ...]:
    """The series is the device's name in a list, not the card's: it can name several products."""
    for key in ("Device Name", "Card Series", "Card series"):
        name = card.get(key, "")
        if name and not _ID.fullmatch(name) and not is_placeholder(name):
            return naming_facts(name_card(((), False), name, "", memory))
    return ()


def _device_id(card: Mapping[str, str]) -> str | None:
    for key in ("Device ID", "GPU ID"):
        if _ID.fullmatch(card.get(key, "")):
            return card[key].lower()
    return None


def _subsystem_id(card: Mapping[str, str]) -> str | None:
    """`Card model` is it only where it is neither the vendor's nor the device's id."""
    for key in ("Subsystem ID", "Card model"):
        text = card.get(key, "").lower()
        if _ID.fullmatch(text) and text not in ("0x1002", _device_id(card)):
            return text
    return None


def _link(card: Mapping[str, str]) -> Iterator[Said]:
    """The level that the driver has chosen. It is not what the link's registers hold."""
    match = _LINK.fullmatch(card.get("pcie clock level", ""))
    if match is not None:
        yield said("driver_link_speed_gt_s", float(match[1]))
        yield said("driver_link_width", int(match[2]))
    replays = _number(card, "PCIe Replay Count")
    if replays is not None:
        yield said("pcie_replays", replays)


def _texts(card: Mapping[str, str], driver: str) -> Iterator[Said]:
    for key, field in (
        ("VBIOS version", said("vbios_version", _text(card, "VBIOS version"))),
        ("Serial Number", said("serial", _text(card, "Serial Number"))),
        ("Unique ID", said("unique_id", _text(card, "Unique ID"))),
        ("GPU memory vendor", said("memory_vendor", _text(card, "GPU memory vendor"))),
        ("Card SKU", said("sku", _text(card, "Card SKU"))),
        ("GFX Version", said("architecture", _text(card, "GFX Version"))),
    ):
        if key in card and field.value is not None:
            yield field
    if driver and not is_placeholder(driver):
        yield said("driver_version", driver)


def _text(card: Mapping[str, str], key: str) -> str | Absent:
    return text_or_silence(card.get(key, ""))


def _measured(card: Mapping[str, str]) -> Iterator[Said]:
    limit = _decimal(card, "Max Graphics Package Power (W)")
    power = _decimal(card, "Average Graphics Package Power (W)")
    edge, junction, memory = (
        _decimal(card, f"Temperature (Sensor {sensor}) (C)") for sensor in ("edge", "junction", "memory")
    )
    if limit is not None:
        yield said("power_limit_w", card_power_w(limit))
    if power is not None:
        yield said("power_w", card_power_w(power))
    if edge is not None:
        yield said("temperature_c", chip_temperature_c(edge))
    if junction is not None:
        yield said("junction_temperature_c", chip_temperature_c(junction))
    if memory is not None:
        yield said("memory_temperature_c", chip_temperature_c(memory))
    core, clock = _clock(card, "sclk clock speed:"), _clock(card, "mclk clock speed:")
    if core is not None:
        yield said("core_clock_mhz", core)
    if clock is not None:
        yield said("memory_clock_mhz", clock)


def _number(card: Mapping[str, str], key: str) -> int | None:
    text = card.get(key, "")
    return int(text) if re.fullmatch(r"\d{1,18}", text) else None


def _decimal(card: Mapping[str, str], key: str) -> float | None:
    text = card.get(key, "")
    return float(text) if re.fullmatch(r"\d{1,6}(?:\.\d{1,6})?", text) else None


def _clock(card: Mapping[str, str], key: str) -> int | None:
    """`(500Mhz)`; 0 is a clock that stands still, which an idle core's does."""
    match = re.fullmatch(r"\((\d{1,6})Mhz\)", card.get(key, ""))
    return int(match[1]) if match else None


def _remarks(card: Mapping[str, str], name: str, source: str) -> Iterator[Remark]:
    """Name what is plainly another thing than its key says."""
    for key in ("Card series", "Card Series"):
        if _ID.fullmatch(card.get(key, "")):
            yield remark(source, RemarkKind.BAD_VALUE, f"{name}, {key}", card[key])
    levels = sum(key.isdigit() for key in card)
    if levels:
        yield remark(
            source,
            RemarkKind.NOT_UNDERSTOOD,
            f"{name}, levels",
            "levels of several clocks under the same keys",
            count=levels,
        )
