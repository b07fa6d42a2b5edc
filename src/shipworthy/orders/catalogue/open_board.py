"""Open part records to facts: boards."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from shipworthy.model.catalogue import BoardFacts, M2Place, SlotPlace
from shipworthy.orders.catalogue.open_facts import outputs_in
from shipworthy.orders.catalogue.open_values import IMPLAUSIBLE, TYPE_A, OpenRecord, texts_in
from shipworthy.words.pictures import OUTPUTS
from shipworthy.words.versions import says_wireless

_GIB = 2**30
_DEFAULT_GENERATION = "4.0"
_LENGTHS = (30, 42, 60, 80, 110)  # of M.2 cards, in mm (PCI Express M.2 Specification, 2.1)
_M2_CODE = re.compile(r"(?<!\d)(?:22|25|30)(?P<length>30|42|60|80|110)(?!\d)")
_FROM_TO = re.compile(r"\s*\d{4,5}\s*-\s*\d{4,5}\s*")
_ONE_SIZE = re.compile(r"\s*\d{4,5}\s*")
_USB4 = re.compile(r"\bUSB\s?4(?!\d|\s?[x×])|\bThunderbolt|\b[48]0\s?Gb(?:it)?(?:/s|ps)\b", re.IGNORECASE)
_TYPE_C = re.compile(
    r"(?:(?P<count>\d)\s?[x×]\s?)?(?:USB[\s®]{0,2})?\b(?:type[\s-]?C|USB-C)\b", re.IGNORECASE
)
_COUNTED = re.compile(r"\s*(?P<count>\d)\s?[x×]")
_PICTURES = re.compile(r"\bDP\b|\bdisplay\s?ports?\b", re.IGNORECASE)
_OLD_MEMORY = ("DDR", "DDR1", "DDR2", "DDR3")
_FASTER_THAN_A = ("usb_3_2_gen_2", "usb_3_2_gen_2x2", "usb_4")
"""Headers for more than 5 Gbit/s are those of type C, of 20 pins: common practice."""


def board(record: OpenRecord) -> BoardFacts:
    usb = record.counts("usb_headers", "usb_2_0", "usb_3_2_gen_1", *_FASTER_THAN_A, "usb_4_80g") or {}
    sata = record.counts("storage_devices", "sata_6_gb_s", "sata_3_gb_s")
    fans = record.counts("fan_headers", "case_fan", "cpu_fan", "cpu_opt", "pump") or {}
    lights = record.counts("rgb_headers", "argb_5v", "rgb_12v") or {}
    return BoardFacts(
        socket=record.text("socket"),
        chipset=record.text("chipset"),
        form_factor=record.text("form_factor"),
        memory_type=record.text("memory.ram_type"),
        memory_slots=record.count("memory.slots", 64),
        memory_most_bytes=record.scaled("memory.max", _GIB, 2**16),
        m2=_m2(record),
        sata_ports=sum(sata.values()) if sata else None,
        slots=_slots(record),
        processor_plugs=_plugs(record),
        fan_headers=_fan_headers(fans),
        pump_headers=fans.get("pump"),
        lighting_5v=lights.get("argb_5v"),
        lighting_12v=lights.get("rgb_12v"),
        usb_2_headers=usb.get("usb_2_0"),
        usb_a_headers=usb.get("usb_3_2_gen_1"),
        usb_c_headers=_usb_c_headers(record, usb),
        outputs=_rear_outputs(record),
        wireless=_wireless(record),
        network_mbit_s=_network(record),
        rear_connectors=record.flag("back_connect_connectors"),
    )


def _fan_headers(fans: Mapping[str, int]) -> int | None:
    """Return how many there are; None where those for the processor or for the case are not counted."""
    if "case_fan" not in fans or "cpu_fan" not in fans:
        return None
    return fans["case_fan"] + fans["cpu_fan"] + fans.get("cpu_opt", 0)


def _usb_c_headers(record: OpenRecord, usb: Mapping[str, int]) -> int | None:
    """Return how many there are; None where the record does not say that there is none.

    It counts by speed. Of several headers for 5 Gbit/s one may be of type C (common practice), and of one
    board one record says none and another one: a zero is what the form begins with. So it counts where
    somebody verified the record, and of boards that are older than the header (2016, from memory).
    """
    found = sum(usb.get(name, 0) for name in (*_FASTER_THAN_A, "usb_4_80g"))
    whole = all(name in usb for name in _FASTER_THAN_A) and usb.get("usb_3_2_gen_1", 2) < 2
    sure = record.by_hand or record.text("memory.ram_type") in _OLD_MEMORY
    return found if found or (whole and sure) else None


def _dated(record: OpenRecord) -> bool:
    """Whether generations of PCI Express in a record mean anything: 4.0 is what its form begins with."""
    tables = [record.raw("m2_slots"), record.raw("pcie_slots")]
    said = {
        str(row.get("gen") or row.get("interface"))
        for table in tables
        if isinstance(table, list)
        for row in table
        if isinstance(row, dict)
    }
    told = any(_DEFAULT_GENERATION not in text for text in said)
    return told or record.by_hand or isinstance(record.raw("fan_headers"), dict)


def _generation(record: OpenRecord, key: str, text: str) -> str:
    """Return a generation, if it can be believed; boards for DDR3 came before PCI Express 4.0 (2017)."""
    found = re.search(r"(?<![\d.])[1-7](?:\.0)?(?![\d.])", text)
    if not found:
        return ""
    if not _dated(record):
        record.note(key, "the generation that every record begins with", text)
        return ""
    old = record.text("memory.ram_type") in _OLD_MEMORY
    if old and found.group()[0] >= "4":
        record.note(key, IMPLAUSIBLE, f"{text} with {record.text('memory.ram_type')}")
        return ""
    return f"{found.group()[0]}.0"


def _m2(record: OpenRecord) -> tuple[M2Place, ...] | None:
    """Return the places for M.2 cards; None where none are listed, as nobody may have."""
    places = []
    for rows in _m2_rows(record):
        row = rows[0]
        text = str(row.get("interface") or "")
        lanes = re.search(r"x\s?(?P<lanes>[124])\b", text)
        generation = _generation(
            record, "m2_slots.interface", re.sub(r"SATA.*?(?=PCI|$)|x\s?\d", " ", text, flags=re.I)
        )
        pcie = (
            f"PCIe {generation} x{lanes['lanes']}"
            if generation and lanes
            else "PCIe"
            if "PC" in text.upper()
            else ""
        )
        kinds = [kind for kind in (pcie, "SATA" if "SATA" in text.upper() else "") if kind]
        lengths = {length for row in rows for length in _lengths(record, _size(row))}
        key = str(row.get("key") or "")
        places.append(M2Place(interface=", ".join(kinds), key=key, lengths=tuple(sorted(lengths))))
    return tuple(places) or None


def _m2_rows(record: OpenRecord) -> Iterator[Sequence[dict[str, Any]]]:
    """Yield the rows of each place. What a maker writes as `2242/2260/2280` stands there as two rows that are
    alike but for the size, `2242-2260` and `2280`, unless somebody verified the record by hand."""
    rows = _rows(record, "m2_slots")
    while rows:
        both = len(rows) > 1 and not record.by_hand and _is_one_place(*rows[:2])
        if both:
            record.note("m2_slots", "two rows of one place", f"{_size(rows[0])} and {_size(rows[1])}")
        yield rows[: 1 + both]
        rows = rows[1 + both :]


def _is_one_place(row: dict[str, Any], following: dict[str, Any]) -> bool:
    alike = all(row.get(name) == following.get(name) for name in ("interface", "key"))
    return alike and bool(_FROM_TO.fullmatch(_size(row)) and _ONE_SIZE.fullmatch(_size(following)))


def _size(row: dict[str, Any]) -> str:
    return str(row.get("size") or "")


def _lengths(record: OpenRecord, text: str) -> tuple[int, ...]:
    """Return the lengths that a place takes: `2242/2260/2280` lists them, `2242-2280` is from, to."""
    found = [int(match["length"]) for match in _M2_CODE.finditer(text)]
    if _FROM_TO.fullmatch(text) and len(found) == 2:
        found = [length for length in _LENGTHS if min(found) <= length <= max(found)]
    if text.strip() and not found:
        record.note("m2_slots.size", "no size of M.2 cards", text)
    return tuple(sorted(set(found)))


def _slots(record: OpenRecord) -> tuple[SlotPlace, ...] | None:
    slots: list[SlotPlace] = []
    for row in _rows(record, "pcie_slots"):
        lanes, count = row.get("lanes"), row.get("quantity")
        if lanes not in (1, 2, 4, 8, 16) or not isinstance(count, int) or not 1 <= count <= 16:
            record.note("pcie_slots", IMPLAUSIBLE, row)
            return None  # a list of which a part is wrong counts nothing
        generation = _generation(record, "pcie_slots.gen", str(row.get("gen") or ""))
        slots += [SlotPlace(generation=generation, lanes=lanes)] * count
    return tuple(slots) or None


def _rows(record: OpenRecord, key: str) -> list[dict[str, Any]]:
    found = record.raw(key)
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def _plugs(record: OpenRecord) -> tuple[int, ...]:
    pins = [re.fullmatch(r"(\d)[ -]pin", text) for text in texts_in(record.raw("power_connectors.cpu_power"))]
    return tuple(int(match[1]) for match in pins if match) if all(pins) else ()


def _rear_outputs(record: OpenRecord) -> tuple[str, ...] | None:
    ports = texts_in(record.raw("back_panel_ports"))
    found: list[str] = []
    for port in ports:
        if re.search(r"\bin(?:put)?\b", port, re.I):
            continue  # a way in for pictures, which a board passes on
        if of_type_c := _pictures_by_type_c(port):
            found += ["USB-C"] * of_type_c
        elif any(pattern.search(port) for name, pattern in OUTPUTS if name != "USB-C"):
            found += outputs_in(port)
    return tuple(found) or None


def _pictures_by_type_c(port: str) -> int:
    """Return how many USB-C sockets of a row give pictures: USB4 and Thunderbolt do (their specifications,
    from memory), any other where the row says so (`with DP Alt mode`). Such a one is no DisplayPort."""
    fast = _USB4.search(port)
    if not fast and not (_TYPE_C.search(port) and _PICTURES.search(port)):
        return 0
    of_all = None if TYPE_A.search(port) else _COUNTED.match(port)  # of both kinds it counts both
    counts = (match["count"] for match in (_TYPE_C.search(port), of_all) if match)
    return next((int(count) for count in counts if count), 1)


def _wireless(record: OpenRecord) -> bool | None:
    told = record.text("wireless_networking")
    if told == "None":
        named = says_wireless(record.name)
        if named:
            record.note("wireless_networking", "says otherwise than the name", record.name)
        return None if named else False
    return True if told else None


def _network(record: OpenRecord) -> int | None:
    speeds = [
        re.match(r"(\d+(?:\.\d+)?) Gb/s", str(row.get("speed"))) for row in _rows(record, "onboard_ethernet")
    ]
    found = [round(float(match[1]) * 1000) for match in speeds if match]
    return max(found) if found else None
