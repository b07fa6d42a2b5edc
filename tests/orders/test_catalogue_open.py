"""Open part records to typed facts. The records here are invented; the last tests read the real ones."""

from __future__ import annotations

import json
import lzma
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.base import Trouble, encode
from shipworthy.model.catalogue import (
    BoardFacts,
    CardFacts,
    CaseFacts,
    CataloguePart,
    CoolerFacts,
    DisplayFacts,
    GraphicsFacts,
    M2Place,
    MemoryFacts,
    ProcessorFacts,
    SlotPlace,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.words import Category
from shipworthy.orders.catalogue import open_values
from shipworthy.orders.catalogue.lists import list_of
from shipworthy.orders.catalogue.open_facts import outputs_in
from shipworthy.orders.catalogue.open_records import KINDS, SOURCE, open_files, open_parts
from shipworthy.orders.catalogue.open_values import Notes
from shipworthy.orders.catalogue.records import Wrong

GIB = 2**30
BY_HAND = "2026-01-02T03:04:05.000Z"


def read(folder: Path, kind: str, *trees: object, notes: Notes | None = None) -> list[CataloguePart | Wrong]:
    file = folder / f"{kind}.jsonl"
    file.write_text("".join(json.dumps(tree) + "\n" for tree in trees), "utf-8")
    return [part for _, part in open_parts(file, notes or Notes())]


def facts(folder: Path, kind: str, name: str = "Kittiwake One", by_hand: bool = False, **tree: Any) -> Any:
    """Return the facts of one record, and what was noted of it as (key, reason)."""
    notes = Notes()
    meta = {"name": name, "manufacturer": "Kittiwake", "part_numbers": ["KW-0001"]}
    if by_hand:
        meta["last_manually_spec_verified_at"] = BY_HAND
    (part,) = read(folder, kind, {"opendb_id": "id-1", "metadata": meta, **tree}, notes=notes)
    assert isinstance(part, CataloguePart), part
    assert list_of(encode(part) + b"\n", Path("x.jsonl")).parts == (part,)  # what is made is what is read
    return part.facts, {(key, why) for _, key, why in notes.counts}


def test_a_record_keeps_its_id_numbers_and_source(tmp_path: Path) -> None:
    meta = {
        "name": "Kittiwake  Gust 80 ",
        "manufacturer": "Kittiwake",
        "series": "Gust",
        "part_numbers": ["KW-G80", "kw g80", "KW-G80-B        88231-7", "OC", "3.1", None],
    }
    notes = Notes()
    (part,) = read(tmp_path, "SoundCard", {"opendb_id": "id-1", "metadata": meta}, notes=notes)
    assert isinstance(part, CataloguePart)
    assert (part.part_id, part.name, part.series) == ("id-1", "Kittiwake Gust 80", "Gust")
    assert part.part_numbers == ("KW-G80", "KW-G80-B", "88231-7")
    assert part.source == f"{SOURCE}, SoundCard"
    assert notes.counts[(Category.SOUND, "metadata.part_numbers", "too short to tell a part")] == 2


def test_a_processor(tmp_path: Path) -> None:
    told, noted = facts(
        tmp_path,
        "CPU",
        socket="LGA 1700",
        coreFamily="Kelp Lake",
        cores={"total": 14, "performance": 6, "efficiency": 8, "threads": 20},
        specifications={
            "tdp": 125,
            "ppt": 0,
            "integratedGraphics": {"model": "None"},
            "memory": {"types": ["DDR5", "DDR4"], "maxSupport": 192},
            "includesCooler": False,
            "eccSupport": True,
        },
    )
    assert told == ProcessorFacts(
        socket="LGA 1700",
        family="Kelp Lake",
        performance_cores=6,
        efficiency_cores=8,
        cores=14,
        threads=20,
        tdp_w=125.0,
        graphics=False,
        memory_types=("DDR5", "DDR4"),
        memory_most_bytes=192 * GIB,
        ecc=True,
    )
    assert noted == {("specifications.ppt", open_values.ZERO)}


def test_graphics_of_a_processor_whose_name_denies_them_are_not_known(tmp_path: Path) -> None:
    cores = {"integratedGraphics": {"model": "Kelp Graphics"}}
    assert facts(tmp_path, "CPU", "Kittiwake 7 7500F", specifications=cores)[0].graphics is None
    assert facts(tmp_path, "CPU", "Kittiwake 7 7500", specifications=cores)[0].graphics is True


def test_a_no_counts_where_somebody_verified_the_record(tmp_path: Path) -> None:
    record = {"specifications": {"includesCooler": False}}
    assert facts(tmp_path, "CPU", **record)[0].cooler_included is None
    assert facts(tmp_path, "CPU", by_hand=True, **record)[0].cooler_included is False


def test_memory(tmp_path: Path) -> None:
    record: dict[str, Any] = {
        "ram_type": "DDR5",
        "form_factor": "288-pin DIMM",
        "capacity": 32,
        "modules": {"quantity": 2, "capacity_gb": 16},
        "speed": 6000,
        "cas_latency": 30,
        "voltage": None,
        "ecc": "Non-ECC",
        "registered": "Unbuffered",
        "height": 0,
    }
    told, noted = facts(tmp_path, "RAM", **record)
    assert told == MemoryFacts(
        type="DDR5",
        form="DIMM",
        modules=2,
        module_bytes=16 * GIB,
        speed_mt_s=6000,
        timings="CL30",
        ecc=False,
        registered=False,
    )
    assert noted == {("height", open_values.ZERO)}
    assert facts(tmp_path, "RAM", **{**record, "timings": "30-36-36-76"})[0].timings == "30-36-36-76"
    wrong, noted = facts(tmp_path, "RAM", **{**record, "capacity": 64})
    assert (wrong.modules, wrong.module_bytes) == (None, None)
    assert ("capacity", "is not that of its modules") in noted


@pytest.mark.parametrize(
    ("name", "listed", "told"),
    [
        ("Fennec Registered 32GB (1x32GB)", "Unbuffered", None),
        ("Fennec RDIMM 32GB", "Unbuffered", None),
        ("Fennec UDIMM 32GB", "Registered", None),
        ("Fennec Registered 32GB (1x32GB)", "Registered", True),
        ("Fennec 32GB (1x32GB)", "Unbuffered", False),
        ("Fennec 32GB (1x32GB)", "", None),
    ],
)
def test_memory_is_not_unbuffered_that_is_called_registered(
    tmp_path: Path, name: str, listed: str, told: bool | None
) -> None:
    found, noted = facts(tmp_path, "RAM", name, registered=listed)
    assert found.registered is told
    assert (("registered", "says otherwise than the name") in noted) == (bool(listed) and told is None)


def test_a_drive(tmp_path: Path) -> None:
    told, _ = facts(
        tmp_path,
        "Storage",
        "Kittiwake Squall 2TB SSD w/Heatsink",
        capacity=2000,
        storage_type="SSD",
        interface="M.2 PCIe 4.0 x4",
        nvme=True,
        form_factor="M.2-2280",
    )
    assert told == StorageFacts(
        capacity_bytes=2 * 10**12,
        technology="solid state",
        interface="NVMe",
        link="PCIe 4.0 x4",
        form_factor="M.2-2280",
        heatsink=True,
    )
    disk, _ = facts(tmp_path, "Storage", "Kittiwake 8TB HDD 7200RPM", capacity=8000, storage_type="HDD")
    assert (disk.technology, disk.rpm, disk.interface) == ("spinning", 7200, "")


@pytest.mark.parametrize(("said", "told"), [("w/Heat Sink", True), ("no heatsink", None), ("", None)])
def test_a_drive_has_the_heatsink_that_its_name_says(tmp_path: Path, said: str, told: bool | None) -> None:
    drive, _ = facts(tmp_path, "Storage", f"Kittiwake Squall 2TB SSD {said}", capacity=2000)
    assert drive.heatsink is told


def test_a_size_that_the_name_contradicts_is_not_known(tmp_path: Path) -> None:
    told, noted = facts(tmp_path, "Storage", "Kittiwake 1.2TB SSD", capacity=1000)
    assert told.capacity_bytes is None
    assert noted == {("capacity", "says otherwise than the name")}
    assert facts(tmp_path, "Storage", "Kittiwake 1TB SSD", capacity=1024)[0].capacity_bytes == 1024 * 10**9


def supply_of(folder: Path, **connectors: int | None) -> Any:
    return facts(folder, "PSU", wattage=850, efficiency_rating="80+ Gold", connectors=connectors)


def test_a_supply_whose_zeros_were_counted(tmp_path: Path) -> None:
    told, noted = supply_of(
        tmp_path, atx_24_pin=1, eps_8_pin=2, molex_4_pin=3, pcie_12vhpwr=0, pcie_6_plus_2_pin=4, sata=8
    )
    assert told == SupplyFacts(
        watts=850.0,
        grade="Gold",
        main_plugs=1,
        processor_plugs=2,
        pcie_8_plugs=4,
        pcie_16_plugs=0,
        sata_plugs=8,
        drive_plugs=3,
    )
    assert noted == set()


def test_a_supply_whose_zeros_nobody_counted(tmp_path: Path) -> None:
    told, noted = supply_of(tmp_path, atx_24_pin=1, eps_8_pin=0, molex_4_pin=0, pcie_6_plus_2_pin=0, sata=8)
    assert told == SupplyFacts(watts=850.0, grade="Gold", main_plugs=1, sata_plugs=8)
    assert len(noted) == 1
    told, noted = supply_of(tmp_path, atx_24_pin=0, eps_8_pin=0, sata=0)
    assert told == SupplyFacts(watts=850.0, grade="Gold")
    assert noted == {("connectors", open_values.ALL_ZERO)}


@pytest.mark.parametrize(
    ("watts", "plugs", "by_hand", "told"),
    [
        (750, 0, False, None),  # it has plain ones of 6 pins, for which the form has no field
        (400, 0, False, None),
        (300, 0, False, 0),
        (750, 0, True, 0),
        (750, 1, False, 1),
    ],
)
def test_a_strong_supply_is_not_without_a_plug_for_a_card(
    tmp_path: Path, watts: int, plugs: int, by_hand: bool, told: int | None
) -> None:
    counts = {"atx_24_pin": 1, "eps_8_pin": 1, "pcie_6_plus_2_pin": plugs, "pcie_12vhpwr": 0, "sata": 6}
    found, noted = facts(tmp_path, "PSU", by_hand=by_hand, wattage=watts, connectors=counts)
    assert (found.pcie_8_plugs, found.pcie_16_plugs) == (told, 0)
    assert (noted == set()) == (told is not None)


def test_a_card_for_pictures(tmp_path: Path) -> None:
    record: dict[str, Any] = {
        "chipset": "Heron HX 670 Ti",
        "chipset_manufacturer": "Heron",
        "memory": 12,
        "length": 320,
        "total_slot_width": 2.5,
        "tdp": 285,
        "interface": "PCIe 4.0 x16",
        "power_connectors": {"pcie_6_pin": 1, "pcie_8_pin": 2, "pcie_12VHPWR": 0},
        "video_outputs": {"displayport_1_4a": 3, "hdmi_2_1": 1, "vga": 0},
    }
    told, _ = facts(tmp_path, "GPU", **record)
    assert told == GraphicsFacts(
        chip="Heron HX 670 Ti",
        memory_bytes=12 * GIB,
        length_mm=320.0,
        slots=2.5,
        board_w=285.0,
        plugs=("6-pin", "8-pin", "8-pin"),
        interface="PCIe 4.0 x16",
        outputs=("DisplayPort", "DisplayPort", "DisplayPort", "HDMI"),
    )
    none, noted = facts(
        tmp_path,
        "GPU",
        power_connectors={"pcie_6_pin": 0, "pcie_8_pin": 0},
        video_outputs={"vga": 0},
        length=0,
    )
    assert (none.plugs, none.outputs, none.length_mm) == (None, None, None)
    assert {key for key, _ in noted} == {"power_connectors", "video_outputs", "length"}
    assert facts(tmp_path, "GPU", length=9)[1] == {("length", open_values.IMPLAUSIBLE)}


@pytest.mark.parametrize(
    ("counts", "by_hand", "outputs"),
    [
        ({"hdmi_2_1": 1}, False, None),  # of a card with three more that the form was not told
        ({"hdmi_2_1": 1, "displayport_1_4a": 1}, False, None),
        ({"hdmi_2_1": 1, "displayport_1_4a": 1}, True, ("HDMI", "DisplayPort")),
        ({"hdmi_2_1": 1, "displayport_1_4a": 2}, False, ("HDMI", "DisplayPort", "DisplayPort")),
    ],
)
def test_a_card_of_one_or_two_outputs_is_believed_where_somebody_verified_it(
    tmp_path: Path, counts: dict[str, int], by_hand: bool, outputs: tuple[str, ...] | None
) -> None:
    told, noted = facts(tmp_path, "GPU", by_hand=by_hand, video_outputs=counts)
    assert told.outputs == outputs
    assert (("video_outputs", "not all are counted") in noted) == (outputs is None)


BOARD: dict[str, Any] = {
    "socket": "AM5",
    "chipset": "K650",
    "form_factor": "Micro ATX",
    "memory": {"ram_type": "DDR5", "slots": 4, "max": 128},
    "m2_slots": [
        {"interface": "PCIe 5.0 x4", "key": "M", "size": "2242-2280"},
        {"interface": "PCIe 4.0 x4 & SATA", "key": "M", "size": "2280/22110"},
    ],
    "pcie_slots": [{"gen": "5.0", "lanes": 16, "quantity": 1}, {"gen": "4.0", "lanes": 1, "quantity": 2}],
    "storage_devices": {"sata_6_gb_s": 4, "sata_3_gb_s": 0},
    "usb_headers": {"usb_2_0": 2, "usb_3_2_gen_1": 1, "usb_3_2_gen_2": 1},
    "fan_headers": {"case_fan": 3, "cpu_fan": 1, "pump": 1},
    "rgb_headers": {"argb_5v": 2},
    "power_connectors": {"cpu_power": ["8-pin", "4-pin"]},
    "back_panel_ports": ["1 x HDMI port", "2 x DisplayPort 1.4", "1 x DisplayPort In port", "4 x USB 2.0"],
    "onboard_ethernet": [{"speed": "1 Gb/s"}, {"speed": "2.5 Gb/s"}],
    "wireless_networking": "Wi-Fi 7",
    "back_connect_connectors": False,
}


def test_a_board(tmp_path: Path) -> None:
    told, noted = facts(tmp_path, "Motherboard", **BOARD)
    assert told == BoardFacts(
        socket="AM5",
        chipset="K650",
        form_factor="Micro ATX",
        memory_type="DDR5",
        memory_slots=4,
        memory_most_bytes=128 * GIB,
        m2=(
            M2Place(interface="PCIe 5.0 x4", key="M", lengths=(42, 60, 80)),
            M2Place(interface="PCIe 4.0 x4, SATA", key="M", lengths=(80, 110)),
        ),
        sata_ports=4,
        slots=(
            SlotPlace(generation="5.0", lanes=16),
            SlotPlace(generation="4.0", lanes=1),
            SlotPlace(generation="4.0", lanes=1),
        ),
        processor_plugs=(8, 4),
        fan_headers=4,
        pump_headers=1,
        lighting_5v=2,
        usb_2_headers=2,
        usb_a_headers=1,
        usb_c_headers=1,
        outputs=("HDMI", "DisplayPort", "DisplayPort"),
        wireless=True,
        network_mbit_s=2500,
    )
    assert noted == set()


def test_a_generation_that_every_record_begins_with_is_not_known(tmp_path: Path) -> None:
    slots = {
        "pcie_slots": [{"gen": "4.0", "lanes": 16, "quantity": 1}],
        "m2_slots": [{"interface": "PCIe 4.0 x4"}],
    }
    told, noted = facts(tmp_path, "Motherboard", **slots)
    assert told.slots == (SlotPlace(lanes=16),)
    assert told.m2 == (M2Place(interface="PCIe"),)
    assert len(noted) == 2
    by_hand, _ = facts(tmp_path, "Motherboard", by_hand=True, **slots)
    assert by_hand.slots == (SlotPlace(generation="4.0", lanes=16),)
    old, noted = facts(tmp_path, "Motherboard", by_hand=True, memory={"ram_type": "DDR3"}, **slots)
    assert old.slots == (SlotPlace(lanes=16),)
    assert ("pcie_slots.gen", open_values.IMPLAUSIBLE) in noted


def test_empty_lists_and_groups_of_zero_are_not_known(tmp_path: Path) -> None:
    told, _ = facts(
        tmp_path,
        "Motherboard",
        m2_slots=[],
        pcie_slots=[],
        storage_devices={"sata_6_gb_s": 0, "sata_3_gb_s": 0},
        usb_headers={"usb_2_0": 0},
        back_panel_ports=["1 x 1 Gb/s"],
        power_connectors={"cpu_power": []},
    )
    assert told == BoardFacts()


def test_what_a_group_does_not_name_is_not_none_of_it(tmp_path: Path) -> None:
    told, _ = facts(
        tmp_path, "Motherboard", rgb_headers={"argb_5v": 2}, fan_headers={"cpu_fan": 1, "pump": None}
    )
    assert (told.lighting_5v, told.lighting_12v) == (2, None)
    assert (told.fan_headers, told.pump_headers) == (None, None)
    told, _ = facts(
        tmp_path,
        "Motherboard",
        rgb_headers={"argb_5v": 2, "rgb_12v": 0},
        fan_headers={"cpu_fan": 1, "case_fan": 2, "pump": 0},
    )
    assert (told.lighting_5v, told.lighting_12v) == (2, 0)
    assert (told.fan_headers, told.pump_headers) == (3, 0)


@pytest.mark.parametrize(
    ("usb", "headers"),
    [
        ({"usb_3_2_gen_1": 1, "usb_3_2_gen_2": 1, "usb_3_2_gen_2x2": 0, "usb_4": 0}, 1),
        ({"usb_3_2_gen_1": 2, "usb_3_2_gen_2x2": 1}, 1),
        ({"usb_3_2_gen_1": 1, "usb_3_2_gen_2": 0, "usb_3_2_gen_2x2": 0, "usb_4": 0}, 0),
        ({"usb_3_2_gen_1": 0, "usb_3_2_gen_2": 0, "usb_3_2_gen_2x2": 0, "usb_4": 0, "usb_4_80g": 0}, 0),
        ({"usb_3_2_gen_1": 2, "usb_3_2_gen_2": 0, "usb_3_2_gen_2x2": 0, "usb_4": 0}, None),  # one may be C
        ({"usb_3_2_gen_1": 1}, None),
        ({"usb_3_2_gen_1": 1, "usb_3_2_gen_2": None, "usb_3_2_gen_2x2": 0, "usb_4": 0}, None),
        ({}, None),
    ],
)
def test_headers_of_type_c_are_none_only_where_the_record_says_so(
    tmp_path: Path, usb: dict[str, int | None], headers: int | None
) -> None:
    told, _ = facts(tmp_path, "Motherboard", by_hand=True, usb_headers={"usb_2_0": 2, **usb})
    assert told.usb_c_headers == headers


def test_a_zero_of_headers_counts_where_somebody_verified_it_and_of_boards_older_than_the_header(
    tmp_path: Path,
) -> None:
    none = {"usb_3_2_gen_1": 1, "usb_3_2_gen_2": 0, "usb_3_2_gen_2x2": 0, "usb_4": 0}

    def headers(kind: str, usb: dict[str, int]) -> int | None:
        told, _ = facts(tmp_path, "Motherboard", usb_headers=usb, memory={"ram_type": kind})
        found: int | None = told.usb_c_headers
        return found

    assert headers("DDR3", none) == 0
    assert headers("DDR4", none) is None  # of many a board with one nobody filled it in
    assert headers("", none) is None
    assert headers("DDR4", {**none, "usb_3_2_gen_2": 1}) == 1
    assert headers("DDR3", {**none, "usb_3_2_gen_1": 2}) is None


def m2_place(size: str, interface: str = "PCIe 4.0 x4", key: str = "M") -> dict[str, str]:
    return {"interface": interface, "key": key, "size": size}


@pytest.mark.parametrize(
    ("rows", "lengths"),
    [
        (("2242-2260", "2280"), [(42, 60, 80)]),
        (("2260-2280", "2280", "2280-22110", "2280", "2280"), [(60, 80), (80, 110), (80,)]),
        (("2280", "2280"), [(80,), (80,)]),  # two alike are two
        (("2280", "2242-2260"), [(80,), (42, 60)]),  # the other way round nobody writes one
        (("2242-2260", "2242-2260", "2280"), [(42, 60), (42, 60, 80)]),
        (("2242/2260", "2280"), [(42, 60), (80,)]),
        (("2242-2260", "2230-2242"), [(42, 60), (30, 42)]),
    ],
)
def test_a_place_for_m2_that_stands_in_two_rows_is_one(
    tmp_path: Path, rows: tuple[str, ...], lengths: list[tuple[int, ...]]
) -> None:
    told, noted = facts(tmp_path, "Motherboard", m2_slots=[m2_place(size) for size in rows])
    assert [place.lengths for place in told.m2] == lengths
    assert (("m2_slots", "two rows of one place") in noted) == (len(lengths) < len(rows))


def test_rows_that_differ_in_more_than_size_and_rows_that_somebody_verified_are_places_each(
    tmp_path: Path,
) -> None:
    for other in (m2_place("2280", "PCIe 3.0 x4"), m2_place("2280", key="E")):
        assert len(facts(tmp_path, "Motherboard", m2_slots=[m2_place("2242-2260"), other])[0].m2) == 2
    both = [m2_place("2242-2260"), m2_place("2280")]
    assert len(facts(tmp_path, "Motherboard", by_hand=True, m2_slots=both)[0].m2) == 2


@pytest.mark.parametrize(
    ("port", "outputs"),
    [
        ("2 x USB4 Type-C Ports (40 Gb/s)", ("USB-C", "USB-C")),
        ("2 x USB4® USB Type-C® ports (DisplayPort (Note))", ("USB-C", "USB-C")),  # and no DisplayPort
        ("1 x Thunderbolt 4 USB-C port (Supports DisplayPort)", ("USB-C",)),
        ("USB 40Gbps Type-C", ("USB-C",)),
        ("2 x USB4", ("USB-C", "USB-C")),
        ("1 x USB 20Gbps port (USB Type-C with DP Alt mode)", ("USB-C",)),
        ("5 x USB 10Gbps ports (4 x Type-A + 1 x USB Type-C with DP Alt mode)", ("USB-C",)),
        ("2 x USB 10Gbps ports (Type-A + USB Type-C with DP Alt mode)", ("USB-C",)),  # two, of which one is C
        ("1 x USB 10Gbps Type-C port", None),  # it may give pictures or not
        ("4 x USB 3.2 Gen 1 Type-A", None),
        ("2 x DisplayPort 1.4", ("DisplayPort", "DisplayPort")),
        ("1 x DisplayPort In port", None),
    ],
)
def test_sockets_of_usb_that_give_pictures(
    tmp_path: Path, port: str, outputs: tuple[str, ...] | None
) -> None:
    told, _ = facts(tmp_path, "Motherboard", back_panel_ports=[port])
    assert told.outputs == outputs


def test_a_board_called_wifi_is_not_without_it(tmp_path: Path) -> None:
    assert facts(tmp_path, "Motherboard", "Ibis WIFI", wireless_networking="None")[0].wireless is None
    assert facts(tmp_path, "Motherboard", "Ibis", wireless_networking="None")[0].wireless is False
    assert facts(tmp_path, "Motherboard", "Ibis")[0].wireless is None


def test_a_case(tmp_path: Path) -> None:
    told, noted = facts(
        tmp_path,
        "PCCase",
        supported_motherboard_form_factors=["ATX", "Micro ATX"],
        max_video_card_length=400,
        max_cpu_cooler_height=0,
        expansion_slots=7,
        internal_2_5_bays=0,
        internal_3_5_bays=2,
        front_usb_ports=["1x USB 3.2 Gen 2 Type-C  ", "2x USB 3.0"],
        weight=15.28,
    )
    assert told == CaseFacts(
        boards=("ATX", "Micro ATX"),
        graphics_length_mm=400.0,
        slots=7,
        bays_35=2,
        front_usb_c=1,
        front_usb_a=2,
    )
    assert {key for key, _ in noted} == {"max_cpu_cooler_height", "internal_2_5_bays", "weight"}


@pytest.mark.parametrize(
    ("listed", "slots", "whole"),
    [
        (["Mini-ITX"], 3, True),  # a thick card
        (["Mini-ITX"], 4, False),  # the slots of microATX
        (["Mini-ITX", "Thin Mini-ITX"], 7, False),
        (["Micro ATX", "Mini-ITX"], 5, True),
        (["Micro ATX", "Mini-ITX"], 7, False),  # the slots of ATX
        (["ATX"], 8, True),
        (["Mini-ITX"], 0, True),  # not told
        (["Cube", "Mini-ITX"], 7, True),  # a word that may be a large one
    ],
)
def test_a_list_of_boards_that_are_smaller_than_the_cases_slots_is_not_whole(
    tmp_path: Path, listed: list[str], slots: int, whole: bool
) -> None:
    told, noted = facts(tmp_path, "PCCase", supported_motherboard_form_factors=listed, expansion_slots=slots)
    assert told.boards == (tuple(listed) if whole else ())
    key = ("supported_motherboard_form_factors", "smaller ones than it has slots for")
    assert (key in noted) == (not whole)


@pytest.mark.parametrize(
    ("prose", "type_c", "type_a"),
    [
        ("USB 3.2 Gen 2 Type-C              USB 3.2 Gen 1 Type-A", 1, None),
        ("USB 3.2 Gen 1 Type-AUSB 2.0 Type-A", 0, None),
        ("USB 3.0 x 2", 0, 2),
        ("2 x USB 3.0, 1 x USB Type-C", 1, 2),
        ("1 x USB 3.2 Gen 2, 2 x USB 3.0", None, 3),  # of either plug
        ("1 x USB 3.2 Gen 2 Type-A, 2 x USB 3.2 Gen 1", 0, 3),
        ("1 x USB 3.2, 2 x USB 2.0", None, 3),
        ("None", None, None),
        ("", None, None),
    ],
)
def test_ports_at_the_front_in_prose(
    tmp_path: Path, prose: str, type_c: int | None, type_a: int | None
) -> None:
    told, _ = facts(tmp_path, "PCCase", front_panel_usb=prose)
    assert (told.front_usb_c, told.front_usb_a) == (type_c, type_a)


def test_coolers(tmp_path: Path) -> None:
    air, _ = facts(
        tmp_path, "CPUCooler", cpu_sockets=["AM4", "AM5"], height=158, water_cooled=False, radiator_size=0
    )
    assert air == CoolerFacts(sockets=("AM4", "AM5"), height_mm=158.0, liquid=False)
    liquid, _ = facts(
        tmp_path, "CPUCooler", height=56, water_cooled=True, radiator_size=240, lighting=["ARGB"]
    )
    assert liquid == CoolerFacts(liquid=True, radiator_mm=240.0, lighting="5 V")


def test_displays_and_cards(tmp_path: Path) -> None:
    display, _ = facts(
        tmp_path,
        "Monitor",
        screen_size=27,
        resolution={"horizontalRes": 2560, "verticalRes": 1440},
        refresh_rate=0,
        connectors="2 x HDMI 2.11 x DisplayPort 1.4      1 x USB Type-C",
    )
    assert display == DisplayFacts(
        inches=27.0, width_px=2560, height_px=1440, inputs=("HDMI", "HDMI", "DisplayPort", "USB-C")
    )
    card, _ = facts(tmp_path, "NetworkCard", "Tern X2 2 x 10 Gb/s Ethernet PCIe x8")
    assert card == CardFacts(interface="PCIe x8", lanes=8, network_mbit_s=10_000)
    assert facts(tmp_path, "NetworkCard", "Tern Gigabit USB Type-C")[0] == CardFacts(
        interface="USB", network_mbit_s=1000
    )


@pytest.mark.parametrize(
    ("prose", "outputs"),
    [
        ("1 x HDMI", ("HDMI",)),
        ("HDMI, DisplayPort", ("HDMI", "DisplayPort")),
        ("1 x D-Sub (VGA)", ("VGA",)),
        ("1 x HDMI1 x DisplayPort", ("HDMI", "DisplayPort")),
        ("3 x audio", ()),
        ("", ()),
        (None, ()),
    ],
)
def test_outputs_in_prose(prose: object, outputs: tuple[str, ...]) -> None:
    assert outputs_in(prose) == outputs


# What is no record


def test_a_bad_line_is_named_and_the_others_are_read(tmp_path: Path) -> None:
    good = b'{"opendb_id": "a", "metadata": {"name": "Kittiwake"}}\n'
    file = tmp_path / "OS.jsonl"
    file.write_bytes(
        b"[1]\n" + good + b'{"opendb_id": "b"\n' + b"\xff\n" + b'{"metadata": {"name": "x"}}\n'
        b'{"opendb_id": "c"}\n' + b"x" * 2_500_000 + b"\n" + good.replace(b'"a"', b'"d"')
    )
    found = [part for _, part in open_parts(file, Notes())]
    parts = [part.part_id for part in found if isinstance(part, CataloguePart)]
    assert parts == ["a", "d"]
    assert len(found) == 8
    assert "a line of more than 1 MB" in str(found[6])


def test_packed_files_are_read_and_broken_ones_refused(tmp_path: Path) -> None:
    file = tmp_path / "OS.jsonl.xz"
    data = lzma.compress(b'{"opendb_id": "a", "metadata": {"name": "Kittiwake"}}\n')
    file.write_bytes(data)
    assert len(list(open_parts(file, Notes()))) == 1
    for bad in (data[:-8], b"no xz", data[:20] + b"\0" * 8 + data[28:]):
        file.write_bytes(bad)
        with pytest.raises(Trouble):
            list(open_parts(file, Notes()))


def test_a_file_that_unpacks_without_end_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipworthy.orders.catalogue.open_records.MOST_BYTES", 3_000_000)
    file = tmp_path / "OS.jsonl.xz"
    file.write_bytes(lzma.compress(b" \n" * 2_000_000))
    with pytest.raises(Trouble) as caught:
        list(open_parts(file, Notes()))
    assert "holds more than 3 MB" in caught.value.what
    file.write_bytes(lzma.compress(b"x" * 8_000_000))
    with pytest.raises(Trouble):
        list(open_parts(file, Notes()))


def test_only_files_of_known_names_are_records(tmp_path: Path) -> None:
    for name in ("CPU.jsonl", "RAM.jsonl.xz", "parts.jsonl", "CPU.txt", "SOURCE.md"):
        (tmp_path / name).touch()
    assert [file.name for file in open_files(tmp_path)] == ["CPU.jsonl", "RAM.jsonl.xz"]
    assert open_files(tmp_path / "parts.jsonl") == ()


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)
_KEYS = sorted(
    {key for tree in (BOARD,) for key in tree} | {"cores", "specifications", "modules", "capacity", "length"}
)


@given(st.sampled_from(sorted(KINDS)), st.dictionaries(st.sampled_from(_KEYS), _JSON, max_size=6))
def test_no_values_break_the_mapping(kind: str, tree: dict[str, Any]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        meta = {"name": "Kittiwake One", "part_numbers": ["KW-0001"]}
        (part,) = read(Path(folder), kind, {"opendb_id": "a", "metadata": meta, **tree})
        if isinstance(part, CataloguePart):
            assert list_of(encode(part) + b"\n", Path("x.jsonl")).parts == (part,)


# The real ones


def test_every_open_record_becomes_a_part_that_can_be_read_again(reference: Path) -> None:
    folder = reference / "names" / "open-db"
    if not folder.is_dir():
        pytest.skip("no open part records beside this checkout")
    notes = Notes()
    parts = []
    for file in open_files(folder):
        found = [part for _, part in open_parts(file, notes)]
        assert [part for part in found if isinstance(part, Wrong)] == [], file.name
        parts += found
    assert len(parts) > 15_000
    listed = list_of(
        b"".join(encode(part) + b"\n" for part in parts if isinstance(part, CataloguePart)), Path("x.jsonl")
    )
    assert (listed.faults, list(listed.parts)) == ((), parts)
    assert notes.counts
