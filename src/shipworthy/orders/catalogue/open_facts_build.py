"""Open part records to facts: graphics cards, cases, coolers."""

from __future__ import annotations

import re

from shipworthy.model.catalogue import CaseFacts, CoolerFacts, GraphicsFacts
from shipworthy.orders.catalogue.open_facts import card_outputs, size_as_named
from shipworthy.orders.catalogue.open_values import TYPE_A, OpenRecord, texts_in

_GIB = 2**30
_OF_MINI_ITX = {"mini-itx", "thin-mini-itx", "mini-dtx"}
_SLOTS_OF_BOARDS = {4: _OF_MINI_ITX, 7: _OF_MINI_ITX | {"dtx", "flex-atx", "micro-atx"}}
"""A case with so many slots takes larger boards than these: microATX has 4 slots, ATX 7 (both specifications,
from memory); cases for Mini-ITX have up to 3, for a thick card."""
_ANY_PLUG = re.compile(r"\bgen\s?2|\bUSB\s?4|Thunderbolt|USB\s?3\.[12]\b(?!\s?gen)", re.IGNORECASE)
"""Faster than 5 Gbit/s, or of a speed that is not told: without a word on its plug it may be of type C."""


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
        outputs=card_outputs(record),
    )


def case(record: OpenRecord) -> CaseFacts:
    type_c, type_a = _front_usb(record)
    if record.raw("weight"):
        record.note("weight", "the unit is not told, and is not always the same", record.raw("weight"))
    return CaseFacts(
        boards=_boards(record),
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


def _boards(record: OpenRecord) -> tuple[str, ...]:
    """Return the form factors that a case lists; none where it has the slots of a larger board than any of
    them, as the list is then not whole."""
    listed = record.texts("supported_motherboard_form_factors")
    slots = record.count("expansion_slots", 20)
    if not listed or slots is None:
        return listed
    for larger, smaller in _SLOTS_OF_BOARDS.items():
        if slots >= larger and {form.casefold().replace(" ", "-") for form in listed} <= smaller:
            record.note(
                "supported_motherboard_form_factors", "smaller ones than it has slots for", record.name
            )
            return ()
    return listed


def _front_usb(record: OpenRecord) -> tuple[int | None, int | None]:
    """Return how many ports of type C and of type A the front has. A row without a count is one port of type
    C, as cases have one; of type A its count is not known."""
    rows = texts_in(record.raw("front_usb_ports"))
    prose = record.raw("front_panel_usb")
    if not rows and isinstance(prose, str):
        rows = [row for row in re.split(r"\s{2,}|,|(?<=[AC])(?=USB)", prose) if row.strip()]
    rows = [row for row in rows if "USB" in row.upper() or "TYPE" in row.upper()]
    if not rows:
        return None, None
    counts = [_front_count(row) for row in rows]
    is_c = [bool(re.search(r"(?:type|USB)[ -]?C\b", row, re.I)) for row in rows]
    type_c = sum(count or 1 for count, c in zip(counts, is_c, strict=True) if c)
    may_be_c = any(_ANY_PLUG.search(row) and not TYPE_A.search(row) for row in rows)
    of_a = [count for count, c in zip(counts, is_c, strict=True) if not c]
    return type_c or (None if may_be_c else 0), None if None in of_a else sum(filter(None, of_a))


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
