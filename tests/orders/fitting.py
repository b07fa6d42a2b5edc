"""A build of an invented shop in which every rule is met, and builds that differ from it in what is named."""

from __future__ import annotations

from typing import Any

import msgspec

from shipworthy.model.catalogue import (
    BoardFacts,
    CaseFacts,
    CoolerFacts,
    DisplayFacts,
    FanFacts,
    GraphicsFacts,
    M2Place,
    MemoryFacts,
    ProcessorFacts,
    RadiatorPlace,
    SlotPlace,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.fit import BuildLine, FitFinding
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.fit.build import Build
from shipworthy.orders.fit.runner import rules

GIB = 2**30
SHARED = ("SATA 3", "SATA 4")
YES, NO, OPEN, NOT_ASKED = (
    Outcome.CONFORMS,
    Outcome.DIFFERS,
    Outcome.CANNOT_TELL,
    Outcome.NOT_CHECKED,
)

_PARTS: dict[str, tuple[Category, str, Any]] = {
    "cpu": (
        Category.PROCESSOR,
        "Tarn C7 8-core processor",
        ProcessorFacts(
            socket="AM5",
            family="Zen 4",
            cores=8,
            threads=16,
            tdp_w=120,
            limit_w=160,
            graphics=True,
            memory_types=("DDR5",),
            memory_most_bytes=128 * GIB,
            cooler_included=False,
            ecc=True,
        ),
    ),
    "board": (
        Category.BOARD,
        "Marl B650 board",
        BoardFacts(
            socket="AM5",
            chipset="B650",
            form_factor="ATX",
            memory_type="DDR5",
            memory_form="DIMM",
            memory_slots=4,
            memory_most_bytes=128 * GIB,
            memory_stated_mt_s=("2=5200", "4=3600"),
            m2=(
                M2Place(interface="PCIe 5.0 x4", key="M", lengths=(60, 80)),
                M2Place(
                    interface="PCIe 4.0 x4, SATA", key="M", lengths=(80,), shares_with=("SATA 3", "SATA 4")
                ),
            ),
            sata_ports=4,
            slots=(SlotPlace(generation="4.0", lanes=16), SlotPlace(generation="3.0", lanes=1)),
            processor_plugs=(8, 4),
            fan_headers=6,
            fan_header_a=1.0,
            lighting_5v=2,
            lighting_12v=1,
            usb_2_headers=1,
            usb_a_headers=1,
            usb_c_headers=1,
            outputs=("HDMI", "DisplayPort"),
            wireless=False,
            rear_connectors=False,
            sockets=1,
            ecc=False,
            registered=False,
        ),
    ),
    "memory": (
        Category.MEMORY,
        "Fennec kit",
        MemoryFacts(
            type="DDR5",
            form="DIMM",
            modules=2,
            module_bytes=16 * GIB,
            speed_mt_s=6000,
            ecc=False,
            registered=False,
            height_mm=34,
        ),
    ),
    "drive": (
        Category.STORAGE,
        "Sable drive",
        StorageFacts(
            capacity_bytes=10**12,
            technology="solid state",
            interface="NVMe",
            link="PCIe 4.0 x4",
            form_factor="M.2-2280",
        ),
    ),
    "disk": (
        Category.STORAGE,
        "Sable disk",
        StorageFacts(capacity_bytes=4 * 10**12, technology="spinning", interface="SATA", form_factor='3.5"'),
    ),
    "gpu": (
        Category.GRAPHICS,
        "Corrie 12 graphics",
        GraphicsFacts(
            chip="Corrie 12",
            memory_bytes=12 * GIB,
            length_mm=280,
            height_mm=130,
            slots=2.5,
            board_w=300,
            supply_least_w=650,
            plugs=("8-pin", "8-pin"),
            interface="PCIe 4.0 x16",
            outputs=("HDMI", "DisplayPort", "DisplayPort"),
            support_included=False,
        ),
    ),
    "psu": (
        Category.POWER_SUPPLY,
        "Osprey supply",
        SupplyFacts(
            watts=850,
            grade="80 PLUS Gold",
            form_factor="ATX",
            length_mm=150,
            main_plugs=1,
            processor_plugs=2,
            pcie_8_plugs=4,
            pcie_leads=3,
            pcie_16_plugs=1,
            pcie_16_w=600,
            sata_plugs=6,
            atx_version="3.1",
            rail_12v_a=(70.8,),
        ),
    ),
    "case": (
        Category.CASE,
        "Brant case",
        CaseFacts(
            boards=("ATX", "Micro-ATX", "Mini-ITX"),
            supplies=("ATX",),
            supply_length_mm=200,
            graphics_length_mm=340,
            graphics_height_mm=160,
            cooler_height_mm=165,
            radiators=(
                RadiatorPlace(place="front", longest_mm=360),
                RadiatorPlace(place="top", longest_mm=240),
            ),
            slots=7,
            bays_25=2,
            bays_35=2,
            front_usb_c=1,
            front_usb_a=2,
            fans_fitted=2,
            fan_places=6,
            rear_connector_boards=False,
        ),
    ),
    "cooler": (
        Category.COOLER,
        "Harrier tower",
        CoolerFacts(
            sockets=("AM5", "LGA1700"),
            height_mm=158,
            liquid=False,
            memory_height_mm=40,
            fans=1,
            rated_w=220,
            lighting="none",
        ),
    ),
    "fans": (
        Category.FAN,
        "Harrier fan",
        FanFacts(size_mm=120, rpm=1500, current_a=0.2, lighting="5 V", pack=1),
    ),
    "screen": (
        Category.DISPLAY,
        "Loom screen",
        DisplayFacts(inputs=("HDMI", "DisplayPort")),
    ),
}


def line(name: str, category: Category, text: str, facts: Any = None, quantity: int = 1) -> BuildLine:
    return BuildLine(line=name, category=category, quantity=quantity, text=text, facts=facts)


def build(
    changes: dict[str, Any] | None = None, *, without: str = "", more: tuple[BuildLine, ...] = ()
) -> Build:
    """Return the build with facts changed, by `line.field` (`psu.watts`; `.quantity` and `.text` too).

    without: names of lines that are left out. more: further lines.
    """
    lines = []
    for name, (category, text, facts) in _PARTS.items():
        if name in without.split():
            continue
        wanted = {k.split(".")[1]: v for k, v in (changes or {}).items() if k.split(".")[0] == name}
        quantity, words = wanted.pop("quantity", 1), wanted.pop("text", text)
        lines.append(line(name, category, words, msgspec.structs.replace(facts, **wanted), quantity))
    return Build((*lines, *more))


def asked(rule_name: str, of: Build) -> tuple[FitFinding, ...]:
    """Return what one rule finds."""
    (rule,) = (rule for rule in rules() if rule.name == rule_name)
    return tuple(rule.check(rule, of))


def outcome(rule_name: str, of: Build) -> Outcome:
    """Return the worst that one rule finds: what differs before what cannot be told."""
    found = {finding.outcome for finding in asked(rule_name, of)}
    return next((word for word in (NO, OPEN, YES) if word in found), NOT_ASKED)
