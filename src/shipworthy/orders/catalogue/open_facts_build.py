"""Open part records to facts: boards, graphics cards, cases, coolers."""

from __future__ import annotations

import re
from typing import Any

from shipworthy.model.catalogue import BoardFacts, CaseFacts, CoolerFacts, GraphicsFacts, M2Place, SlotPlace
from shipworthy.orders.catalogue.open_facts import counted_outputs, outputs_in, size_as_named
from shipworthy.orders.catalogue.open_values import IMPLAUSIBLE, OpenRecord
from shipworthy.words.pictures import OUTPUTS
from shipworthy.words.versions import says_wireless

_GIB = 2**30
_DEFAULT_GENERATION = "4.0"
_LENGTHS = (30, 42, 60, 80, 110)  # of M.2 cards, in mm (PCI Express M.2 Specification, 2.1)
_M2_CODE = re.compile(r"(?<!\d)(?:22|25|30)(?P<length>30|42|60|80|110)(?!\d)")


def board(record: OpenRecord) -> BoardFacts:
    usb = record.counts(
        "usb_headers", *("usb_2_0", "usb_3_2_gen_1", "usb_3_2_gen_2", "usb_3_2_gen_2x2", "usb_4", "usb_4_80g")
    )
    sata = record.counts("storage_devices", "sata_6_gb_s", "sata_3_gb_s")
    fans = record.counts("fan_headers", "case_fan", "cpu_fan", "cpu_opt", "pump")
    lights = record.counts("rgb_headers", "argb_5v", "rgb_12v")
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
        fan_headers=fans["case_fan"] + fans["cpu_fan"] + fans["cpu_opt"] if fans else None,
        pump_headers=fans["pump"] if fans else None,
        lighting_5v=lights["argb_5v"] if lights else None,
        lighting_12v=lights["rgb_12v"] if lights else None,
        usb_2_headers=usb["usb_2_0"] if usb else None,
        usb_a_headers=usb["usb_3_2_gen_1"] if usb else None,
        usb_c_headers=sum(usb[name] for name in usb if "gen_2" in name or "usb_4" in name) if usb else None,
        outputs=_rear_outputs(record),
        wireless=_wireless(record),
        network_mbit_s=_network(record),
        rear_connectors=record.flag("back_connect_connectors"),
    )


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
    old = record.text("memory.ram_type") in ("DDR", "DDR1", "DDR2", "DDR3")
    if old and found.group()[0] >= "4":
        record.note(key, IMPLAUSIBLE, f"{text} with {record.text('memory.ram_type')}")
        return ""
    return f"{found.group()[0]}.0"


def _m2(record: OpenRecord) -> tuple[M2Place, ...] | None:
    """Return the places for M.2 cards; None where none are listed, as nobody may have."""
    places = []
    for row in _rows(record, "m2_slots"):
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
        key = str(row.get("key") or "")
        places.append(
            M2Place(interface=", ".join(kinds), key=key, lengths=_lengths(record, str(row.get("size") or "")))
        )
    return tuple(places) or None


def _lengths(record: OpenRecord, text: str) -> tuple[int, ...]:
    """Return the lengths that a place takes: `2242/2260/2280` lists them, `2242-2280` is from, to."""
    found = [int(match["length"]) for match in _M2_CODE.finditer(text)]
    if re.fullmatch(r"\s*\d{4,5}\s*-\s*\d{4,5}\s*", text) and len(found) == 2:
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
    pins = [re.fullmatch(r"(\d)[ -]pin", text) for text in _texts(record.raw("power_connectors.cpu_power"))]
    return tuple(int(match[1]) for match in pins if match) if all(pins) else ()


def _texts(found: object) -> list[str]:
    return [text for text in found if isinstance(text, str)] if isinstance(found, list) else []


def _rear_outputs(record: OpenRecord) -> tuple[str, ...] | None:
    ports = _texts(record.raw("back_panel_ports"))
    found: list[str] = []
    for port in ports:
        if re.search(r"\bin(?:put)?\b", port, re.I):
            continue  # a way in for pictures, which a board passes on
        if any(pattern.search(port) for name, pattern in OUTPUTS if name != "USB-C"):
            found += outputs_in(port)
    return tuple(found) or None


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


def graphics(record: OpenRecord) -> GraphicsFacts:
    maker, chip = record.text("chipset_manufacturer"), record.text("chipset")
    plugs = record.counts("power_connectors", "pcie_6_pin", "pcie_8_pin", "pcie_12VHPWR", "pcie_12V_2x6")
    names = {
        "pcie_6_pin": "6-pin",
        "pcie_8_pin": "8-pin",
        "pcie_12VHPWR": "12VHPWR",
        "pcie_12V_2x6": "12V-2x6",
    }
    return GraphicsFacts(
        chip=f"{maker} {chip}" if maker and not chip.startswith(maker) else chip,
        memory_bytes=size_as_named(record, "memory", _GIB, 1024),
        length_mm=record.number("length", 50, 500),
        slots=record.number("total_slot_width", 0.5, 6),
        board_w=record.number("tdp", 5, 1500),
        plugs=tuple(names[key] for key, count in plugs.items() for _ in range(count)) if plugs else None,
        interface=record.text("interface"),
        outputs=counted_outputs(record, "video_outputs") or None,
    )


def case(record: OpenRecord) -> CaseFacts:
    type_c, type_a = _front_usb(record)
    if record.raw("weight"):
        record.note("weight", "the unit is not told, and is not always the same", record.raw("weight"))
    return CaseFacts(
        boards=record.texts("supported_motherboard_form_factors"),
        supplies=record.texts("supported_power_supply_form_factors"),
        supply_length_mm=record.number("max_psu_length", 80, 500),
        graphics_length_mm=record.number("max_video_card_length", 100, 800),
        cooler_height_mm=record.number("max_cpu_cooler_height", 20, 300),
        slots=record.count("expansion_slots", 20),
        bays_25=record.count("internal_2_5_bays", 60),
        bays_35=record.count("internal_3_5_bays", 60),
        front_usb_c=type_c,
        front_usb_a=type_a,
        rear_connector_boards=record.flag("supports_rear_connecting_motherboard"),
    )


def _front_usb(record: OpenRecord) -> tuple[int | None, int | None]:
    """Return how many ports of type C and of type A the front has. A row without a count is one port of type
    C, as cases have one; of type A its count is not known."""
    rows = _texts(record.raw("front_usb_ports"))
    prose = record.raw("front_panel_usb")
    if not rows and isinstance(prose, str):
        rows = [row for row in re.split(r"\s{2,}|,|(?<=[AC])(?=USB)", prose) if row.strip()]
    rows = [row for row in rows if "USB" in row.upper() or "TYPE" in row.upper()]
    if not rows:
        return None, None
    counts = [_front_count(row) for row in rows]
    is_c = [bool(re.search(r"(?:type|USB)[ -]?C\b", row, re.I)) for row in rows]
    type_c = sum(count or 1 for count, c in zip(counts, is_c, strict=True) if c)
    of_a = [count for count, c in zip(counts, is_c, strict=True) if not c]
    return type_c, None if None in of_a else sum(filter(None, of_a))


def _front_count(row: str) -> int | None:
    count = re.match(r"\s*([1-8])\s?x(?![\w.])", row, re.I) or re.search(
        r"(?<![\w.])x\s?([1-8])\s*$", row.strip(), re.I
    )
    return int(count[1]) if count else None


def cooler(record: OpenRecord) -> CoolerFacts:
    liquid = record.raw("water_cooled")
    liquid = liquid if isinstance(liquid, bool) else None
    lights = [text for text in record.texts("lighting") if text not in ("None", "Display")]
    return CoolerFacts(
        sockets=record.texts("cpu_sockets"),
        height_mm=record.number("height", 15, 250) if liquid is False else None,  # else it is a pump's
        liquid=liquid,
        radiator_mm=record.number("radiator_size", 80, 600) if liquid is not False else None,
        fans=record.count("fan_quantity", 12),
        fan_mm=record.number("fan_size", 30, 250),
        lighting="5 V" if "ARGB" in lights else "",
    )
