"""Worked examples for every rule of fit: met, not met, and a fact missing. Figures by hand.

The whole build of `fitting` meets every rule that asks something of it; each example changes what it names.
Values from outside: connectors 75, 150 and up to 600 W (Intel 336521 Table 3-5), slot 75 W; the others are
the build's own, invented.
"""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from shipworthy.model.catalogue import (
    FACTS_OF,
    BoardFacts,
    CardFacts,
    DisplayFacts,
    M2Place,
    MemoryFacts,
    RadiatorPlace,
    SlotPlace,
    StorageFacts,
)
from shipworthy.model.fit import FitWeight
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.fit import fit_of
from shipworthy.orders.fit.build import Build
from shipworthy.orders.fit.m2 import m2_plan
from shipworthy.orders.fit.runner import rules
from tests.orders.fitting import GIB, NO, NOT_ASKED, OPEN, YES, asked, build, line, outcome

LIQUID = {
    "cooler.liquid": True,
    "cooler.height_mm": None,
    "cooler.radiator_mm": 240,
    "cooler.radiator_thickness_mm": 30,
}
FRONT_ONLY = {**LIQUID, "case.radiators": (RadiatorPlace(place="front", longest_mm=360),)}
FOUR = {"memory.modules": 4, "memory.module_bytes": 8 * GIB}
DDR3_IN_DDR3L = {"memory.type": "DDR3", "board.memory_type": "DDR3L"}
DDR3_ON_SKYLAKE = {"memory.type": "DDR3", "cpu.memory_types": ("DDR4-2133", "DDR3L-1600")}
HUB = (line("hub", Category.ACCESSORY, "PWM fan hub"),)
SECOND_KIT = (line("kit-2", Category.MEMORY, "another", MemoryFacts(type="DDR5", form="DIMM", modules=2)),)
WIFI_CARD = (line("wifi", Category.NETWORK, "card", CardFacts(interface="PCIe 2.0 x1", wireless=True)),)
SOME_CARD = (line("card", Category.NETWORK, "card", CardFacts()),)
SOUND_CARD = (line("sound", Category.SOUND, "sound card", CardFacts(interface="PCIe 2.0 x1")),)
SATA_SSD = StorageFacts(interface="SATA", form_factor='2.5"', technology="solid state")
ON_1151 = {"cpu.socket": "LGA 1151", "board.socket": "LGA 1151"}
ON_AM4 = {"cpu.socket": "AM4", "board.socket": "AM4"}
SHARED_IN_ONE_WORD = M2Place(
    interface="PCIe 4.0 x4", key="M", lengths=(80,), shares_with=("SATA ports 3 and 4",)
)
LONGEST_ONLY = M2Place(interface="PCIe 4.0 x4", key="M", lengths=(110,))
LONG_AND_SHORT = M2Place(interface="PCIe 4.0 x4", key="M", lengths=(42, 110))
SHARING = M2Place(interface="PCIe 4.0 x4", key="M", lengths=(80,), shares_with=("SATA 3", "SATA 4"))
KEY_E = M2Place(interface="PCIe 3.0 x1", key="E", lengths=(30, 80))
SATA_ONLY = M2Place(interface="SATA", key="M", lengths=(80,))
M2_SATA = line("s", Category.STORAGE, "s", StorageFacts(interface="SATA", form_factor="M.2-2280"))
MSATA = {"disk.interface": "SATA", "disk.form_factor": "mSATA", "disk.technology": "solid state"}
SATA_M2 = {"drive.interface": "SATA", "drive.link": ""}
SIXTEEN = {"gpu.plugs": ("12V-2x6",), "gpu.board_w": 450}

EXAMPLES: list[tuple[str, Outcome, dict[str, Any], dict[str, Any]]] = [
    ("parts.complete", YES, {}, {}),
    ("parts.complete", OPEN, {}, {"without": "psu"}),
    ("parts.complete", OPEN, {}, {"without": "cpu"}),
    ("parts.single", YES, {}, {}),
    ("parts.single", OPEN, {"board.quantity": 2}, {}),
    # processor
    ("processor.socket", YES, {}, {}),
    ("processor.socket", YES, {"cpu.socket": "LGA 1700", "board.socket": "FCLGA1700"}, {}),
    ("processor.socket", YES, {"cpu.socket": "1700", "board.socket": "LGA1700"}, {}),
    ("processor.socket", YES, {"cpu.socket": "FM2", "board.socket": "FM2+"}, {}),
    ("processor.socket", NO, {"cpu.socket": "FM2+", "board.socket": "FM2"}, {}),
    ("processor.socket", NO, {"cpu.socket": "LGA 1700"}, {}),
    ("processor.socket", NO, {"cpu.socket": "LGA 2011", "board.socket": "LGA 2011-3"}, {}),
    ("processor.socket", OPEN, {"cpu.socket": ""}, {}),
    ("processor.socket", OPEN, {"board.socket": "a word that nobody knows"}, {}),
    ("processor.chipset", YES, {}, {}),
    ("processor.chipset", YES, {"cpu.family": "Raphael", "board.chipset": "AMD B650"}, {}),
    ("processor.chipset", NO, {**ON_1151, "board.chipset": "Z270", "cpu.family": "Coffee Lake"}, {}),
    ("processor.chipset", YES, {**ON_1151, "board.chipset": "Z370", "cpu.family": "Coffee Lake"}, {}),
    ("processor.chipset", NO, {**ON_1151, "board.chipset": "Z370", "cpu.family": "Kaby Lake"}, {}),
    ("processor.chipset", NO, {**ON_AM4, "board.chipset": "B550", "cpu.family": "Zen+"}, {}),
    ("processor.chipset", NOT_ASKED, {"cpu.socket": "LGA 1700"}, {}),  # the socket's rule fails
    ("processor.chipset", OPEN, {"board.chipset": ""}, {}),
    ("processor.chipset", OPEN, {"cpu.family": "Zen 19"}, {}),
    ("processor.chipset", OPEN, {"cpu.text": "Xeon something"}, {}),
    ("processor.firmware", YES, {}, {}),
    ("processor.firmware", NO, {"cpu.family": "Zen 5"}, {}),
    ("processor.firmware", NO, {"board.firmware_least": ("Zen 4=F3",)}, {}),
    ("processor.firmware", OPEN, {"cpu.family": ""}, {}),
    ("processor.count", YES, {}, {}),
    ("processor.count", NO, {"cpu.quantity": 2}, {}),
    ("processor.count", NO, {"cpu.quantity": 2, "board.sockets": None}, {}),
    ("processor.count", YES, {"cpu.quantity": 2, "board.sockets": 2}, {}),
    ("processor.count", OPEN, {"cpu.quantity": 2, "board.sockets": None, "board.socket": "LGA 3647"}, {}),
    # memory
    ("memory.type", YES, {}, {}),
    ("memory.type", NO, {"memory.type": "DDR4"}, {}),
    ("memory.type", NO, {"memory.type": "DDR4", "board.memory_type": ""}, {}),  # AM5 has no other
    ("memory.type", OPEN, {"board.memory_type": "", "board.socket": "LGA 1700"}, {}),
    ("memory.type", YES, {"memory.type": "DDR5-5600"}, {}),
    ("memory.type", YES, {"memory.type": "DDR5 SDRAM", "board.memory_type": "DDR 5"}, {}),
    ("memory.type", NO, {"memory.type": "DDR4 SDRAM"}, {}),
    ("memory.type", OPEN, {"memory.type": "fast"}, {}),
    ("memory.type", OPEN, {"board.memory_type": "DDR4 or DDR5", "board.socket": "LGA 1700"}, {}),
    ("memory.type", YES, {"memory.type": "DDR3L", "board.memory_type": "DDR3L"}, {}),
    ("memory.type", YES, {"memory.type": "DDR3L", "board.memory_type": "DDR3"}, {}),
    ("memory.type", NO, {**DDR3_IN_DDR3L, "memory.volts": 1.5}, {}),
    ("memory.type", NO, {**DDR3_IN_DDR3L, "memory.volts": 1.65}, {}),
    ("memory.type", YES, {**DDR3_IN_DDR3L, "memory.volts": 1.35}, {}),  # a list's word for DDR3L
    ("memory.type", OPEN, {**DDR3_IN_DDR3L, "memory.volts": None}, {}),
    ("memory.type", YES, {"memory.type": "DDR3", "board.memory_type": "DDR3", "memory.volts": 1.65}, {}),
    ("memory.type", NO, {"memory.type": "DDR3L", "board.memory_type": "DDR4"}, {}),
    ("memory.type", NO, {"memory.type": "DDR4", "board.memory_type": "DDR3L", "memory.volts": 1.35}, {}),
    ("memory.type", NO, {"memory.type": "DDR3L", "board.memory_type": "LPDDR3"}, {}),
    ("memory.processor-type", YES, {}, {}),
    ("memory.processor-type", YES, {"memory.type": "DDR3L", "cpu.memory_types": ("DDR3-1600",)}, {}),
    ("memory.processor-type", NO, {**DDR3_ON_SKYLAKE, "memory.volts": 1.5}, {}),
    ("memory.processor-type", YES, {**DDR3_ON_SKYLAKE, "memory.volts": 1.35}, {}),
    ("memory.processor-type", OPEN, {**DDR3_ON_SKYLAKE, "memory.volts": None}, {}),
    ("memory.processor-type", OPEN, {"memory.type": "DDR3", "cpu.memory_types": ("DDR3L", "new")}, {}),
    ("memory.processor-type", NO, {"memory.type": "DDR4"}, {}),
    ("memory.processor-type", OPEN, {"cpu.memory_types": ()}, {}),
    ("memory.processor-type", YES, {"cpu.memory_types": ("DDR4-3200", "DDR5-5600")}, {}),
    ("memory.processor-type", OPEN, {"cpu.memory_types": ("DDR4", "new")}, {}),
    ("memory.form", YES, {}, {}),
    ("memory.form", YES, {"memory.form": "288-pin DIMM", "board.memory_form": ""}, {}),
    ("memory.form", NO, {"memory.form": "SO-DIMM"}, {}),
    ("memory.form", NO, {"memory.form": "260-pin SO-DIMM", "board.memory_form": ""}, {}),
    ("memory.form", OPEN, {"board.memory_form": "", "board.form_factor": "Mini-ITX"}, {}),
    ("memory.form", OPEN, {"memory.form": ""}, {}),
    ("memory.slots", YES, {"memory.quantity": 2}, {}),
    ("memory.slots", NO, {"memory.quantity": 3}, {}),
    ("memory.slots", OPEN, {"memory.modules": None}, {}),
    ("memory.slots", OPEN, {"board.memory_slots": None}, {}),
    ("memory.capacity", YES, {"memory.module_bytes": 64 * GIB}, {}),
    ("memory.capacity", NO, {"memory.module_bytes": 96 * GIB}, {}),
    ("memory.capacity", OPEN, {"memory.module_bytes": None}, {}),
    ("memory.processor-capacity", YES, {}, {}),
    ("memory.processor-capacity", NO, {"memory.module_bytes": 96 * GIB}, {}),
    ("memory.processor-capacity", OPEN, {"cpu.memory_most_bytes": None}, {}),
    ("memory.four-modules", NOT_ASKED, {}, {}),
    ("memory.four-modules", NO, FOUR, {}),
    ("memory.four-modules", YES, {**FOUR, "memory.speed_mt_s": 3600}, {}),
    ("memory.four-modules", NO, {**FOUR, "board.memory_stated_mt_s": ()}, {}),  # the platform's table
    ("memory.four-modules", OPEN, {**FOUR, "board.memory_stated_mt_s": (), "cpu.family": "Zen 19"}, {}),
    ("memory.four-modules", OPEN, {**FOUR, "memory.speed_mt_s": None}, {}),
    ("memory.four-modules", NOT_ASKED, {**FOUR, "memory.type": "DDR4"}, {}),  # on a board for DDR5
    ("memory.four-modules", NO, {**FOUR, "memory.type": ""}, {}),
    ("memory.mixed", YES, {}, {}),
    ("memory.mixed", NO, {"memory.quantity": 2}, {}),
    ("memory.mixed", NO, {}, {"more": SECOND_KIT}),
    ("memory.mixed", OPEN, {"memory.quantity": 2, "memory.modules": None}, {}),
    ("memory.registered", YES, {}, {}),
    ("memory.registered", NO, {"memory.registered": True}, {}),
    ("memory.registered", NO, {"memory.registered": True, "board.registered": None}, {}),
    ("memory.registered", NO, {"board.registered": None, "board.socket": "sTR5"}, {}),
    ("memory.registered", OPEN, {"board.registered": None, "board.socket": "LGA 2011"}, {}),
    ("memory.registered", OPEN, {"memory.registered": None}, {}),
    ("memory.ecc", YES, {}, {}),
    ("memory.ecc", NO, {"memory.ecc": True}, {}),
    ("memory.ecc", YES, {"memory.ecc": True, "board.ecc": True}, {}),
    ("memory.ecc", NO, {"memory.ecc": True, "board.ecc": True, "cpu.ecc": False}, {}),
    ("memory.ecc", OPEN, {"memory.ecc": True, "board.ecc": None}, {}),
    ("memory.under-cooler", YES, {}, {}),
    ("memory.under-cooler", NO, {"memory.height_mm": 44}, {}),
    ("memory.under-cooler", YES, {**LIQUID, "memory.height_mm": 44}, {}),
    ("memory.under-cooler", OPEN, {"memory.height_mm": None}, {}),
    # case
    ("board.form-factor", YES, {}, {}),
    ("board.form-factor", YES, {"board.form_factor": "mATX", "case.boards": ("ATX",)}, {}),
    ("board.form-factor", NO, {"case.boards": ("Mini-ITX",)}, {}),
    ("board.form-factor", NO, {"board.form_factor": "Micro ATX", "case.boards": ("Mini-ITX",)}, {}),
    ("board.form-factor", YES, {"board.form_factor": "Mini ITX", "case.boards": ("Mini-ITX",)}, {}),
    ("board.form-factor", NO, {"board.form_factor": "EATX"}, {}),
    ("board.form-factor", YES, {"board.form_factor": "EATX", "case.boards": ("E-ATX",)}, {}),
    ("board.form-factor", OPEN, {"board.form_factor": "SSI EEB", "case.boards": ("E-ATX",)}, {}),
    ("board.form-factor", OPEN, {"board.form_factor": "Own-ATX"}, {}),
    ("board.form-factor", OPEN, {"case.boards": ("Own size",)}, {}),
    ("board.form-factor", OPEN, {"case.boards": ()}, {}),
    ("board.depth", YES, {}, {}),
    ("board.depth", NO, {"board.form_factor": "E-ATX"}, {}),
    ("board.depth", OPEN, {"board.form_factor": ""}, {}),
    ("board.rear-connectors", YES, {}, {}),
    ("board.rear-connectors", NO, {"board.rear_connectors": True}, {}),
    ("board.rear-connectors", OPEN, {"board.rear_connectors": True, "case.rear_connector_boards": None}, {}),
    ("supply.form-factor", YES, {}, {}),
    ("supply.form-factor", NO, {"case.supplies": ("SFX", "SFX-L")}, {}),
    ("supply.form-factor", OPEN, {"psu.form_factor": "SFX"}, {}),  # with a plate
    ("supply.form-factor", OPEN, {"psu.form_factor": "Own"}, {}),
    ("supply.form-factor", OPEN, {"case.supplies": ()}, {}),
    ("supply.length", YES, {"psu.length_mm": 200}, {}),
    ("supply.length", NO, {"psu.length_mm": 200.5}, {}),
    ("supply.length", OPEN, {"case.supply_length_mm": None}, {}),
    ("fans.places", YES, {"fans.quantity": 4}, {}),
    ("fans.places", NO, {"fans.quantity": 5}, {}),
    ("fans.places", NO, {"fans.quantity": 1000}, {}),
    ("fans.places", NO, {"fans.pack": 3, "fans.quantity": 2}, {}),
    ("fans.places", OPEN, {"fans.pack": None}, {}),
    ("fans.places", OPEN, LIQUID, {}),
    # graphics
    ("graphics.length", YES, {"gpu.length_mm": 340}, {}),
    ("graphics.length", NO, {"gpu.length_mm": 341}, {}),
    ("graphics.length", OPEN, {"gpu.length_mm": None}, {}),
    ("graphics.behind-radiator", NOT_ASKED, {}, {}),
    ("graphics.behind-radiator", YES, LIQUID, {}),  # it goes to the top
    ("graphics.behind-radiator", YES, {**FRONT_ONLY, "cooler.radiator_mm": 360, "gpu.length_mm": 285}, {}),
    ("graphics.behind-radiator", OPEN, {**FRONT_ONLY, "cooler.radiator_mm": 360, "gpu.length_mm": 286}, {}),
    ("graphics.behind-radiator", NO, {**FRONT_ONLY, "cooler.radiator_mm": 360, "gpu.length_mm": 311}, {}),
    ("graphics.behind-radiator", OPEN, {**FRONT_ONLY, "cooler.radiator_thickness_mm": None}, {}),
    ("graphics.front-fans", YES, {"gpu.length_mm": 315}, {}),
    ("graphics.front-fans", OPEN, {"gpu.length_mm": 316}, {}),
    ("graphics.front-fans", OPEN, {"case.graphics_length_mm": None}, {}),
    ("graphics.height", YES, {}, {}),
    ("graphics.height", NO, {"gpu.height_mm": 161}, {}),
    ("graphics.height", OPEN, {"gpu.height_mm": None}, {}),
    ("graphics.slots", YES, {"case.slots": 3}, {}),
    ("graphics.slots", NO, {"case.slots": 2}, {}),
    ("graphics.slots", OPEN, {"gpu.slots": None}, {}),
    ("graphics.slots", NO, {"case.slots": 3}, {"more": WIFI_CARD}),
    ("graphics.slots", OPEN, {"case.slots": 3}, {"more": SOME_CARD}),  # a slot, or USB
    ("graphics.slots", YES, {"case.slots": 4}, {"more": SOME_CARD}),
    ("graphics.support", YES, {}, {}),
    ("graphics.support", NO, {"gpu.length_mm": 320}, {}),
    ("graphics.support", YES, {"gpu.length_mm": 320, "gpu.support_included": True}, {}),
    (
        "graphics.support",
        YES,
        {"gpu.slots": 3.5},
        {"more": (line("s", Category.ACCESSORY, "Graphics card support bracket"),)},
    ),
    ("graphics.support", OPEN, {"gpu.length_mm": 320, "gpu.support_included": None}, {}),
    ("cards.slots", YES, {}, {}),
    ("cards.slots", NO, {"gpu.quantity": 3}, {}),
    ("cards.slots", OPEN, {"gpu.quantity": 2}, {}),  # the second slot has one lane
    ("cards.slots", OPEN, {}, {"more": WIFI_CARD}),  # is it below the card?
    ("cards.slots", OPEN, {"board.slots": None}, {}),
    # cooler
    ("cooler.socket", YES, {}, {}),
    ("cooler.socket", YES, {"board.socket": "LGA 1851"}, {}),  # the holes of LGA 1700
    ("cooler.socket", NO, {"board.socket": "LGA 1200"}, {}),
    ("cooler.socket", OPEN, {"cooler.sockets": ("AM4",)}, {}),
    ("cooler.socket", OPEN, {"cooler.sockets": ("a new one",)}, {}),
    ("cooler.socket", OPEN, {"cooler.sockets": ()}, {}),
    ("cooler.height", YES, {"cooler.height_mm": 165}, {}),
    ("cooler.height", NO, {"cooler.height_mm": 166}, {}),
    ("cooler.height", OPEN, {"cooler.liquid": None}, {}),
    ("cooler.height", OPEN, {"case.cooler_height_mm": None}, {}),
    ("cooler.radiator", NOT_ASKED, {}, {}),
    ("cooler.radiator", YES, {**LIQUID, "cooler.radiator_mm": 360}, {}),
    ("cooler.radiator", NO, {**LIQUID, "cooler.radiator_mm": 420}, {}),
    ("cooler.radiator", OPEN, {**LIQUID, "cooler.radiator_mm": 280}, {}),  # wider than 120
    ("cooler.radiator", OPEN, {**LIQUID, "case.radiators": None}, {}),
    ("cooler.rated", YES, {}, {}),
    ("cooler.rated", NO, {"cooler.rated_w": 150}, {}),
    ("cooler.rated", OPEN, {"cooler.rated_w": None}, {}),
    (
        "cooler.rated",
        OPEN,
        {"cpu.limit_w": None},
        {},
    ),  # 220 W is above its thermal figure, which is the least
    ("cooler.rated", NO, {"cpu.limit_w": None, "cooler.rated_w": 119}, {}),
    ("cooler.presence", YES, {}, {}),
    ("cooler.presence", YES, {"cpu.cooler_included": True}, {"without": "cooler"}),
    ("cooler.presence", OPEN, {}, {"without": "cooler"}),
    ("cooler.presence", OPEN, {"cpu.cooler_included": None}, {"without": "cooler"}),
    # drives
    ("storage.m2", YES, {"drive.quantity": 2}, {}),
    ("storage.m2", NO, {"drive.quantity": 3}, {}),
    ("storage.m2", NO, {"drive.form_factor": "M.2-22110"}, {}),
    ("storage.m2", YES, {"drive.interface": "SATA", "drive.link": ""}, {}),
    ("storage.m2", NO, {"drive.interface": "SATA", "drive.link": "", "drive.quantity": 2}, {}),
    ("storage.m2", NO, {"board.m2": ()}, {}),
    (
        "storage.m2",
        NO,
        {**SATA_M2, "board.m2": (M2Place(interface="PCIe 4.0 x4", key="M", lengths=(80,)),)},
        {},
    ),
    ("storage.m2", OPEN, {**SATA_M2, "board.m2": (M2Place(interface="PCIe", key="M", lengths=(80,)),)}, {}),
    ("storage.m2", NO, {"board.m2": (M2Place(interface="PCIe", key="E", lengths=(80,)),)}, {}),
    ("storage.m2", OPEN, {"board.m2": (M2Place(interface="PCIe", key="M"),)}, {}),
    # a place for the longest takes shorter ones too, which nobody listed; one for 80 mm no longer ones
    ("storage.m2", OPEN, {"board.m2": (LONGEST_ONLY,)}, {}),
    ("storage.m2", YES, {"board.m2": (LONGEST_ONLY,), "drive.form_factor": "M.2-22110"}, {}),
    ("storage.m2", NO, {"board.m2": (LONG_AND_SHORT,)}, {}),
    ("storage.m2", NO, {"drive.form_factor": "M.2-2230"}, {}),
    ("storage.m2", OPEN, {"board.m2": None}, {}),
    ("storage.m2", OPEN, {"drive.form_factor": ""}, {}),
    ("storage.m2-speed", YES, {}, {}),
    ("storage.m2-speed", OPEN, {"board.m2": (M2Place(interface="PCIe", key="M", lengths=(80,)),)}, {}),
    ("storage.m2-speed", OPEN, {"drive.link": ""}, {}),
    ("storage.m2-speed", NO, {"drive.link": "PCIe 5.0 x4", "drive.quantity": 2}, {}),
    ("storage.sata", YES, {"disk.quantity": 4}, {}),
    ("storage.sata", NO, {"disk.quantity": 5}, {}),
    ("storage.sata", OPEN, {"disk.interface": ""}, {}),
    ("storage.sata", NOT_ASKED, {**MSATA, "board.sata_ports": 0}, {}),
    ("storage.sata", OPEN, {"board.sata_ports": None}, {}),
    ("storage.sharing", YES, {"disk.quantity": 4}, {}),  # the drive goes where nothing is lost
    ("storage.sharing", NO, {"disk.quantity": 3, "drive.quantity": 2}, {}),  # 4 ports - 2
    ("storage.sharing", YES, {"disk.quantity": 2, "drive.quantity": 2}, {}),
    ("storage.sharing", NO, {"disk.quantity": 4, "board.m2": (SHARING, KEY_E)}, {}),  # E is for Wi-Fi
    ("storage.sharing", NO, {"disk.quantity": 4, "board.m2": (SHARING, SATA_ONLY)}, {}),
    ("storage.sharing", YES, {"disk.quantity": 2, "board.m2": (SHARING, KEY_E)}, {}),
    # the drive of the free place's kind is the other one
    ("storage.sharing", NO, {"disk.quantity": 4, "board.m2": (SHARING, SATA_ONLY)}, {"more": (M2_SATA,)}),
    ("storage.sharing", YES, {"disk.quantity": 2, "board.m2": (SHARING, SATA_ONLY)}, {"more": (M2_SATA,)}),
    ("storage.sharing", OPEN, {"disk.quantity": 4, "board.m2": (SHARING, M2Place(interface="PCIe"))}, {}),
    ("storage.sharing", OPEN, {"board.m2": (M2Place(interface="PCIe 4.0 x4", key="M", lengths=(80,)),)}, {}),
    # a port that two places name is lost once; ports that share one word are lost each
    ("storage.sharing", YES, {"disk.quantity": 2, "drive.quantity": 2, "board.m2": (SHARING, SHARING)}, {}),
    ("storage.sharing", NO, {"disk.quantity": 3, "drive.quantity": 2, "board.m2": (SHARING, SHARING)}, {}),
    ("storage.sharing", NO, {"disk.quantity": 3, "board.m2": (SHARED_IN_ONE_WORD,)}, {}),
    ("storage.sharing", YES, {"disk.quantity": 2, "board.m2": (SHARED_IN_ONE_WORD,)}, {}),
    ("storage.bays", YES, {"disk.quantity": 2}, {}),
    ("storage.bays", NO, {"disk.quantity": 3}, {}),
    ("storage.bays", YES, {}, {"more": (line("s", Category.STORAGE, "ssd", SATA_SSD, 2),)}),
    ("storage.bays", OPEN, {}, {"more": (line("s", Category.STORAGE, "ssd", SATA_SSD, 3),)}),
    ("storage.bays", NO, {}, {"more": (line("s", Category.STORAGE, "ssd", SATA_SSD, 4),)}),
    ("storage.bays", OPEN, {"case.bays_35": None}, {}),
    ("storage.leads", YES, {"disk.quantity": 6}, {}),
    ("storage.leads", NO, {"disk.quantity": 7}, {}),
    ("storage.leads", OPEN, {"psu.sata_plugs": None}, {}),
    ("storage.leads", NOT_ASKED, {**MSATA, "psu.sata_plugs": 0}, {}),
    ("storage.interface", YES, {}, {}),
    ("storage.interface", OPEN, {"disk.interface": "SAS"}, {}),
    ("storage.interface", OPEN, MSATA, {}),  # a slot that few boards have
    ("storage.interface", OPEN, {"disk.interface": ""}, {}),
    # plugs
    ("supply.main-plug", YES, {}, {}),
    ("supply.main-plug", NO, {"psu.main_plugs": 0}, {}),
    ("supply.main-plug", OPEN, {"psu.main_plugs": None}, {}),
    ("supply.processor-plugs", YES, {}, {}),
    ("supply.processor-plugs", NO, {"psu.processor_plugs": 0}, {}),
    ("supply.processor-plugs", OPEN, {"psu.processor_plugs": 1}, {}),
    ("supply.processor-plugs", OPEN, {"board.processor_plugs": ()}, {}),
    ("graphics.plug-power", YES, {"gpu.board_w": 375}, {}),  # 75 + 2 x 150
    ("graphics.plug-power", OPEN, {"gpu.board_w": 376}, {}),
    ("graphics.plug-power", OPEN, {"gpu.plugs": ()}, {}),  # 75 W at most from the slot
    ("graphics.plug-power", YES, {"gpu.plugs": (), "gpu.board_w": 75}, {}),
    ("graphics.plug-power", OPEN, {"gpu.plugs": None}, {}),
    ("graphics.plugs", YES, {}, {}),
    ("graphics.plugs", YES, {"gpu.plugs": ("8-pin", "6-pin"), "psu.pcie_8_plugs": 2}, {}),
    ("graphics.plugs", NO, {"psu.pcie_8_plugs": 1}, {}),
    ("graphics.plugs", YES, SIXTEEN, {}),
    ("graphics.plugs", OPEN, {**SIXTEEN, "psu.pcie_16_plugs": 0}, {}),  # an adapter of three: 375 W by 150
    ("graphics.plugs", NO, {**SIXTEEN, "psu.pcie_16_plugs": 0, "psu.pcie_8_plugs": 2}, {}),
    ("graphics.plugs", YES, {"gpu.plugs": (), "gpu.board_w": 70, "psu.pcie_8_plugs": 0}, {}),
    ("graphics.plugs", OPEN, {"gpu.plugs": ()}, {}),  # and 300 W: the record is wrong
    ("graphics.plugs", OPEN, {"gpu.plugs": ("Molex",)}, {}),
    ("graphics.plugs", OPEN, {"psu.pcie_8_plugs": None}, {}),
    ("graphics.sixteen-pin-power", NOT_ASKED, {}, {}),
    ("graphics.sixteen-pin-power", YES, SIXTEEN, {}),
    ("graphics.sixteen-pin-power", NO, {**SIXTEEN, "psu.pcie_16_w": 300}, {}),
    ("graphics.sixteen-pin-power", OPEN, {**SIXTEEN, "gpu.board_w": 500, "psu.pcie_16_w": 450}, {}),
    ("graphics.sixteen-pin-power", OPEN, {**SIXTEEN, "psu.pcie_16_w": None}, {}),
    ("graphics.leads", YES, {}, {}),
    ("graphics.leads", NO, {"psu.pcie_leads": 1}, {}),
    ("graphics.leads", YES, {"psu.pcie_leads": 1, "gpu.board_w": 225}, {}),
    ("graphics.leads", OPEN, {"psu.pcie_leads": None}, {}),
    # a 16-pin plug is one lead; its adapter for 450 W wants three plugs of 8 pins, so three leads
    ("graphics.leads", YES, {**SIXTEEN, "psu.pcie_leads": 1}, {}),
    ("graphics.leads", YES, {**SIXTEEN, "psu.pcie_16_plugs": 0}, {}),
    ("graphics.leads", NO, {**SIXTEEN, "psu.pcie_16_plugs": 0, "psu.pcie_leads": 2}, {}),
    ("graphics.leads", OPEN, {**SIXTEEN, "psu.pcie_16_plugs": None}, {}),
    ("graphics.leads", YES, {**SIXTEEN, "psu.pcie_16_plugs": 0, "psu.pcie_leads": 1, "gpu.board_w": 200}, {}),
    ("graphics.leads", OPEN, {**SIXTEEN, "psu.pcie_16_plugs": 0, "gpu.board_w": None}, {}),
    # headers
    ("headers.front-usb-c", YES, {}, {}),
    ("headers.front-usb-c", NO, {"board.usb_c_headers": 0}, {}),
    ("headers.front-usb-c", YES, {"board.usb_c_headers": None, "case.front_usb_c": 0}, {}),
    ("headers.front-usb-c", OPEN, {"board.usb_c_headers": None}, {}),
    ("headers.front-usb-a", YES, {}, {}),
    ("headers.front-usb-a", NO, {"case.front_usb_a": 5}, {}),
    ("headers.front-usb-a", OPEN, {"case.front_usb_a": 4}, {}),  # two of them may be USB 2.0
    ("headers.front-usb-a", OPEN, {"case.front_usb_a": None}, {}),
    ("lighting.volts", YES, {}, {}),
    ("lighting.volts", YES, {"fans.lighting": "12 V"}, {}),
    ("lighting.volts", NO, {"board.lighting_5v": 0}, {}),
    ("lighting.volts", NO, {"fans.lighting": "12V", "board.lighting_12v": 0}, {}),
    ("lighting.volts", OPEN, {"fans.lighting": "RGB"}, {}),  # said of both
    ("lighting.volts", OPEN, {"board.lighting_5v": None}, {}),
    (
        "lighting.volts",
        OPEN,
        {"board.lighting_5v": 0},
        {"more": (line("h", Category.ACCESSORY, "ARGB lighting controller"),)},
    ),
    ("fans.headers", YES, {"fans.quantity": 3}, {}),  # 3 + 2 in the case + 1 of the cooler
    ("fans.headers", NO, {"fans.quantity": 4}, {}),
    ("fans.headers", YES, {"fans.quantity": 4}, {"more": HUB}),
    ("fans.headers", OPEN, {"board.fan_headers": None}, {}),
    ("fans.current", YES, {"fans.current_a": 1.0}, {}),
    ("fans.current", NO, {"fans.current_a": 1.1}, {}),
    ("fans.current", YES, {"fans.current_a": 0.5, "fans.quantity": 9}, {}),  # two on a header
    ("fans.current", NO, {"fans.current_a": 0.5, "fans.quantity": 10}, {}),  # three: 1.5 A
    ("fans.current", OPEN, {"fans.current_a": None}, {}),
    ("fans.current", OPEN, {}, {"more": HUB}),
    # displays
    ("displays.picture", YES, {}, {}),
    ("displays.picture", YES, {}, {"without": "gpu"}),
    ("displays.picture", NO, {"cpu.graphics": False}, {"without": "gpu"}),
    ("displays.picture", OPEN, {"cpu.graphics": None}, {"without": "gpu"}),
    ("displays.picture", OPEN, {"board.outputs": ("Monitor",)}, {"without": "gpu"}),  # a word nobody knows
    ("displays.picture", NO, {"board.outputs": ()}, {"without": "gpu"}),
    ("displays.count", YES, {"screen.quantity": 3}, {}),
    ("displays.count", NO, {"screen.quantity": 4, "gpu.outputs": ("HDMI", "HDMI", "DVI")}, {}),
    ("displays.count", OPEN, {"screen.quantity": 4}, {}),  # a DisplayPort drives two by a hub
    ("displays.count", OPEN, {"gpu.outputs": None}, {}),
    ("displays.count", YES, {"screen.quantity": 2, "gpu.outputs": ("2xHDMI2.1",)}, {}),
    ("displays.count", YES, {"screen.quantity": 2, "gpu.outputs": ("HDMI", "HDMI", "Aux")}, {}),
    ("displays.count", OPEN, {"screen.quantity": 2, "gpu.outputs": ("HDMI", "Monitor")}, {}),
    ("displays.kind", YES, {"screen.quantity": 3}, {}),
    ("displays.kind", NO, {"screen.inputs": ("HDMI",), "screen.quantity": 2}, {}),
    ("displays.kind", NO, {"screen.inputs": ("VGA",)}, {}),
    ("displays.kind", OPEN, {"screen.inputs": None}, {}),
    ("displays.kind", YES, {"screen.inputs": ("HDMI2.1",)}, {}),
    ("displays.kind", YES, {"screen.inputs": ("DSub",), "gpu.outputs": ("VGA",)}, {}),
    ("displays.kind", YES, {"screen.inputs": ("USB Type C",), "gpu.outputs": ("USB-C",)}, {}),
    ("displays.kind", OPEN, {"screen.inputs": ("SCART",)}, {}),
    ("displays.kind", OPEN, {"screen.inputs": ("VGA",), "gpu.outputs": ("HDMI", "Monitor")}, {}),
    # accessories
    ("accessories.antennas", YES, {}, {}),
    ("accessories.antennas", OPEN, {"board.wireless": True}, {}),
    (
        "accessories.antennas",
        YES,
        {"board.wireless": True},
        {"more": (line("a", Category.ACCESSORY, "Two antennas"),)},
    ),
    ("accessories.antennas", OPEN, {"board.wireless": None}, {}),
    ("accessories.antennas", OPEN, {}, {"more": SOME_CARD}),
    ("accessories.antennas", YES, {}, {"more": SOUND_CARD}),
    ("accessories.cord", OPEN, {}, {}),
    ("accessories.cord", YES, {}, {"more": (line("c", Category.CABLE, "Mains cord, type F"),)}),
    ("accessories.cord", YES, {}, {"more": (line("c", Category.CABLE, "Cord set, type G"),)}),
    ("accessories.cord", OPEN, {}, {"more": (line("c", Category.ACCESSORY, "Cordless mouse"),)}),
    ("accessories.cord", OPEN, {}, {"more": (line("c", Category.CABLE, "PCIe power cable, 8-pin"),)}),
    ("accessories.cord", YES, {}, {"more": (line("c", Category.CABLE, "Mains lead, UK 3-pin plug"),)}),
    ("accessories.sata-cables", OPEN, {}, {}),
    ("accessories.sata-cables", YES, {}, {"more": (line("c", Category.CABLE, "SATA data cable"),)}),
    ("accessories.m2-screws", OPEN, {}, {}),
    ("accessories.m2-screws", YES, {}, {"more": (line("c", Category.ACCESSORY, "M.2 screw set"),)}),
    # power: known 160 + 300 + 2.4 = 462 W; with the assumed 40, 15, 10, 8, 10, 6 and 3: 554 W
    ("power.sustained", YES, {"psu.watts": 555}, {}),
    ("power.sustained", OPEN, {"psu.watts": 550}, {}),
    ("power.sustained", NO, {"psu.watts": 460}, {}),
    ("power.sustained", OPEN, {"gpu.board_w": None}, {}),
    ("power.sustained", OPEN, {"psu.watts": None}, {}),
    ("power.margin", YES, {"psu.watts": 670}, {}),  # 554.4 x 1.2 = 665.3
    ("power.margin", OPEN, {"psu.watts": 660}, {}),
    ("power.margin", NO, {"psu.watts": 550}, {}),  # 462.4 x 1.2 = 554.9
    ("power.margin", NOT_ASKED, {"psu.watts": 400}, {}),  # too weak even without
    ("power.margin", OPEN, {"cpu.limit_w": None, "cpu.tdp_w": None}, {}),
    ("power.excursion", YES, {}, {}),
    # 300 x 1.8 + 160 x 1.5 + 94.4 = 874 W for 1 ms; 500 x 1.45 = 725; surely 782 W
    ("power.excursion", NO, {"psu.watts": 500, "psu.pcie_16_plugs": 0}, {}),
    ("power.excursion", OPEN, {"psu.atx_version": ""}, {}),
    ("power.excursion", YES, {"psu.atx_version": "", "psu.watts": 1000}, {}),
    ("power.rail", YES, {}, {}),
    ("power.rail", NO, {"psu.rail_12v_a": (20.0, 18.0)}, {}),  # 456 W of 462
    ("power.rail", OPEN, {"psu.rail_12v_a": (30.0, 30.0)}, {}),
    ("power.rail", OPEN, {"psu.rail_12v_a": ()}, {}),
    ("power.card-recommends", YES, {}, {}),
    ("power.card-recommends", NO, {"psu.watts": 600}, {}),
    ("power.card-recommends", OPEN, {"gpu.supply_least_w": None}, {}),
]


@pytest.mark.parametrize(
    ("rule", "want", "changes", "with_lines"), EXAMPLES, ids=[f"{e[0]}-{i}" for i, e in enumerate(EXAMPLES)]
)
def test_a_worked_example(
    rule: str, want: Outcome, changes: dict[str, Any], with_lines: dict[str, Any]
) -> None:
    assert outcome(rule, build(changes, **with_lines)) is want


NEVER_DIFFER = {
    *("parts.complete", "parts.single", "storage.interface", "graphics.plug-power", "cooler.presence"),
    *("graphics.front-fans", "accessories.antennas", "accessories.cord", "accessories.sata-cables"),
    "accessories.m2-screws",
}
"""What these ask is open or settled: no fact shows that it is not so."""


def test_every_rule_has_an_example_each_way() -> None:
    seen = {(rule, want) for rule, want, _, _ in EXAMPLES}
    for rule in rules():
        assert (rule.name, YES) in seen, rule.name
        assert ((rule.name, NO) in seen) is (rule.name not in NEVER_DIFFER), rule.name
        assert (rule.name, OPEN) in seen, rule.name


BOARDS_OWN_LIST = ("processor.firmware", "board.firmware_least")
"""Without the board's own list the chipset's table answers: which families it knew from the start."""


@pytest.mark.parametrize(
    ("rule", "want", "changes", "with_lines"),
    [example for example in EXAMPLES if example[1] in (NO, OPEN)],
)
def test_law_taking_a_fact_away_never_makes_a_pass(
    rule: str, want: Outcome, changes: dict[str, Any], with_lines: dict[str, Any]
) -> None:
    of = build(changes, **with_lines)
    for position, one in enumerate(of.lines):
        for name in one.facts.__struct_fields__ if one.facts else ():
            blank = {name: getattr(type(one.facts)(), name)}
            lines = list(of.lines)
            lines[position] = msgspec.structs.replace(one, facts=msgspec.structs.replace(one.facts, **blank))
            if (rule, f"{one.category.value}.{name}") != BOARDS_OWN_LIST:
                assert outcome(rule, Build(tuple(lines))) is not YES, (one.line, name)


def test_the_whole_build_fits_and_nothing_warns() -> None:
    fit = fit_of(build())
    assert fit.fits
    assert [f.rule for f in fit.findings if f.fails or f.warns] == []


def test_a_warning_does_not_make_a_build_that_does_not_fit() -> None:
    fit = fit_of(build(FOUR))
    assert [f.rule for f in fit.findings if f.warns] == ["memory.four-modules"]
    assert fit.fits


def test_what_destroys_a_part_is_said_as_a_caution() -> None:
    (found,) = [f for f in asked("lighting.volts", build({"board.lighting_5v": 0})) if f.outcome is NO]
    assert found.code == "fit.lighting.volts.danger"
    assert found.weight is FitWeight.MUST


def test_a_build_of_nothing_is_never_a_pass() -> None:
    fit = fit_of(build(without="cpu board memory drive disk gpu psu case cooler fans screen"))
    assert {f.outcome for f in fit.findings} == {OPEN, NOT_ASKED}
    assert {f.rule for f in fit.findings if f.outcome is OPEN} == {"parts.complete"}


def test_a_build_of_which_nothing_is_known_conforms_in_presence_only() -> None:
    """Lines without a single fact: nothing but their being there can be told."""
    blank = fit_of(
        build(
            without="cpu board memory drive disk gpu psu case cooler fans screen",
            more=tuple(
                line(c.value.replace(" ", "-"), c, "something", kind()) for c, kind in FACTS_OF.items()
            ),
        )
    )
    told = {f.rule for f in blank.findings if f.outcome is YES}
    assert told == {
        "parts.complete",
        "parts.single",
        "processor.count",
        "memory.mixed",
        "displays.picture",
        "cooler.presence",
    }
    assert not any(f.outcome is NO for f in blank.findings)


def test_a_second_screen_of_another_kind_finds_the_socket_that_is_left() -> None:
    vga_too = (line("s2", Category.DISPLAY, "old", DisplayFacts(inputs=("HDMI",))),)
    assert outcome("displays.kind", build({"screen.quantity": 2}, more=vga_too)) is YES


def test_a_cooler_on_a_narrow_server_socket_is_asked_for() -> None:
    of = build({"board.socket": "LGA 2011-3 Narrow", "cooler.sockets": ("LGA 2011-3",)})
    assert outcome("cooler.socket", of) is OPEN


def test_lighting_of_the_cooler_is_asked_like_that_of_fans() -> None:
    of = build({"cooler.lighting": "ARGB", "board.lighting_5v": 0})
    assert [f.outcome for f in asked("lighting.volts", of)] == [NO, NO]


def test_the_plan_of_m2_places_is_what_the_rule_says_it_can_be() -> None:
    def plan(of: Build) -> dict[str, list[int]] | None:
        (board,) = of.of(BoardFacts)
        found = m2_plan(of, board)
        return None if found is None else {name: [n for n, _ in got] for name, got in found.items()}

    assert plan(build()) == {"drive": [1]}
    assert plan(build(SATA_M2)) == {"drive": [2]}  # the first place speaks PCIe only
    assert plan(build({"drive.quantity": 2})) == {"drive": [1, 2]}
    assert plan(build({"drive.quantity": 3})) is None
    assert plan(build({"board.m2": (KEY_E, SHARING)})) == {"drive": [2]}
    assert plan(build({"board.m2": (KEY_E,)})) is None
    short = M2Place(interface="PCIe 5.0 x4", key="M", lengths=(30,))
    assert plan(build({"board.m2": (short, SHARING)})) == {"drive": [2]}
    second = line("s", Category.STORAGE, "s", StorageFacts(interface="SATA", form_factor="M.2-2280"))
    both = M2Place(interface="PCIe 5.0 x4, SATA", key="M", lengths=(80,))
    assert plan(build({"board.m2": (both, SHARING)}, more=(second,))) == {"drive": [2], "s": [1]}
    twice = build({"board.m2": (SATA_ONLY, SATA_ONLY), **SATA_M2, "drive.quantity": 2})
    assert plan(twice) == {"drive": [1, 2]}


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("Xeon E-2276G", "server"),
        ("Core i9-9900", None),
    ],  # boards with Z370 start neither of these, for two reasons
)
def test_a_server_processor_is_not_said_to_be_of_a_family_that_the_board_does_not_know(
    text: str, code: str | None
) -> None:
    of = build({**ON_1151, "board.chipset": "Z370", "cpu.family": "Kaby Lake", "cpu.text": text})
    (found,) = asked("processor.chipset", of)
    assert found.code == f"fit.processor.chipset.{code or 'differs'}"


@pytest.mark.parametrize(
    ("rule", "changes", "lines"),
    [
        ("storage.m2", {"drive.quantity": 3}, {"board", "drive"}),
        ("storage.sata", {"disk.quantity": 9}, {"board", "disk"}),
        ("storage.leads", {"disk.quantity": 9}, {"psu", "disk"}),
        ("storage.bays", {"disk.quantity": 9}, {"case", "disk"}),  # and not the M.2 drive
        ("displays.count", {"screen.quantity": 9, "gpu.outputs": ("HDMI",)}, {"gpu", "screen"}),
        ("parts.single", {"case.quantity": 2}, {"case"}),
    ],
)
def test_a_finding_about_a_count_names_the_lines_that_were_counted(
    rule: str, changes: dict[str, Any], lines: set[str]
) -> None:
    found = [f for f in asked(rule, build(changes)) if f.outcome is not YES]
    assert [set(f.lines) for f in found] == [lines]


def test_two_bare_slots_hold_two_cards_whatever_is_between() -> None:
    of = build(
        {"board.slots": (SlotPlace(lanes=16), SlotPlace(lanes=8)), "gpu.quantity": 2, "gpu.slots": 2.0}
    )
    assert outcome("cards.slots", of) is YES
    assert outcome("graphics.slots", of) is YES
