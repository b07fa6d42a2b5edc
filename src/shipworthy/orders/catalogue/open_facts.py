"""Open part records to facts: processors, memory, drives, supplies, displays, cards.

Lengths are given there in mm, power in W, memory in GB of 2^30 bytes, drives in GB of 10^9.
"""

from __future__ import annotations

import re

from shipworthy.model.catalogue import (
    CardFacts,
    DisplayFacts,
    MemoryFacts,
    ProcessorFacts,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.orders.catalogue.open_values import IMPLAUSIBLE, OpenRecord
from shipworthy.words.drive_names import says_heatsink
from shipworthy.words.pictures import OUTPUTS, says_no_graphics
from shipworthy.words.registered import find_registered
from shipworthy.words.sizes import Base, find_sizes

_GIB, _GB = 2**30, 10**9
_NETWORK = re.compile(r"\b(?P<number>\d+(?:\.\d+)?)\s?(?P<unit>[GM])b(?:it)?/s|\b(?P<lone>Gigabit)\b", re.I)
_FOR_A_CARD_W = 400
"""Supplies of so much have a plug for a graphics card (common practice)."""
_OUTPUTS_OF_A_CARD = 3
"""At least so many have most cards (common practice)."""
_SLOT = re.compile(
    r"\b(?:PCIe(?:\s(?P<generation>\d)\.0)?\sx(?P<lanes>\d+)|(?P<other>PCI(?:-X)?|USB))\b(?!e)"
)


def processor(record: OpenRecord) -> ProcessorFacts:
    cores = record.raw("specifications.integratedGraphics.model")
    graphics = None if not isinstance(cores, str) or not cores else cores != "None"
    if graphics and says_no_graphics(record.name):
        record.note("specifications.integratedGraphics.model", "says otherwise than the name", record.name)
        graphics = None
    return ProcessorFacts(
        socket=record.text("socket"),
        family=record.text("coreFamily") or record.text("microarchitecture"),
        performance_cores=record.count("cores.performance", 512) if record.raw("cores.efficiency") else None,
        efficiency_cores=record.count("cores.efficiency", 512),
        cores=record.count("cores.total", 1024),
        threads=record.count("cores.threads", 2048),
        tdp_w=record.number("specifications.tdp", 1, 1000),
        limit_w=record.number("specifications.ppt", 1, 2000),
        graphics=graphics,
        memory_types=record.texts("specifications.memory.types"),
        memory_most_bytes=record.scaled("specifications.memory.maxSupport", _GIB, 2**16),
        cooler_included=record.flag("specifications.includesCooler"),
        ecc=record.flag("specifications.eccSupport"),
    )


def memory(record: OpenRecord) -> MemoryFacts:
    form = record.text("form_factor")
    modules = record.count("modules.quantity", 32)
    each = record.scaled("modules.capacity_gb", _GIB, 2048)
    total = size_as_named(record, "capacity", _GIB, 2**16)
    if modules and each and modules * each != total:
        record.note("capacity", "is not that of its modules", record.name)
        modules = each = None
    timings = record.text("timings")
    latency = record.count("cas_latency", 100)
    if not timings and latency:
        timings = f"CL{latency}"
    return MemoryFacts(
        type=record.text("ram_type").replace("DDR1", "DDR"),
        form="SO-DIMM" if "SO-DIMM" in form else "DIMM" if "DIMM" in form else "",
        modules=modules,
        module_bytes=each,
        speed_mt_s=record.count("speed"),
        timings=timings,
        volts=record.number("voltage", 0.8, 3.5),
        ecc={"ECC": True, "Non-ECC": False}.get(record.text("ecc")),
        registered=_registered(record),
        height_mm=record.number("height", 15, 80),
        lighting=True
        if record.raw("rgb") is True or "ARGB" in record.texts("lighting")
        else record.flag("rgb"),
    )


def _registered(record: OpenRecord) -> bool | None:
    told = {"Registered": True, "Unbuffered": False}.get(record.text("registered"))
    named = find_registered(record.name)
    if told is None or named is None or named[0] == told:
        return told
    record.note("registered", "says otherwise than the name", record.name)
    return None


def storage(record: OpenRecord) -> StorageFacts:
    interface = record.text("interface")
    link = re.search(r"PCIe \d\.0 x\d+", interface)
    technology = {"SSD": "solid state", "HDD": "spinning", "SSHD": "hybrid"}.get(
        record.text("storage_type"), ""
    )
    rpm = re.search(r"\b(\d{4,5})\s?rpm\b", record.name, re.I)
    if "PCIe" in interface and record.raw("nvme") is False:
        record.note("nvme", "says otherwise than the interface", f"{interface} ({record.name})")
    return StorageFacts(
        capacity_bytes=size_as_named(record, "capacity", _GB, 10**6),
        technology=technology,
        interface=_drive_interface(record, interface),
        link=link.group() if link else "",
        form_factor=record.text("form_factor"),
        rpm=int(rpm[1]) if rpm and technology == "spinning" else None,
        heatsink=True if says_heatsink(record.name) else None,
    )


def size_as_named(record: OpenRecord, key: str, unit: int, most: float) -> int | None:
    """Return a size in bytes; None, with a note, where the name of the part gives other sizes only."""
    size = record.scaled(key, unit, most)
    named = [one.size_bytes for one in find_sizes(record.name, Base.BINARY if unit == _GIB else Base.DECIMAL)]
    if size and named and not any(abs(one - size) <= 0.03 * size for one in named):  # 1 TB, 1000 and 1024 GB
        record.note(key, "says otherwise than the name", record.name)
        return None
    return size


def _drive_interface(record: OpenRecord, interface: str) -> str:
    for name in ("SATA", "SAS"):
        if name in interface:
            return name
    if record.raw("nvme") is True:
        return "NVMe"
    if interface:
        record.note("interface", "does not tell how the drive speaks", interface)
    return ""


def supply(record: OpenRecord) -> SupplyFacts:
    plugs = record.counts(
        "connectors",
        *("atx_24_pin", "eps_8_pin", "molex_4_pin", "pcie_12vhpwr", "pcie_6_plus_2_pin", "sata"),
    )
    plugs = plugs or {}
    # Every supply for a PC feeds a processor and drives: where those are not counted, nobody counted on.
    whole = bool(plugs.get("eps_8_pin") and plugs.get("sata"))
    if plugs and not whole:
        record.note("connectors", "not all are counted, so a zero stands for not known", record.name)

    def counted(name: str) -> int | None:
        return plugs.get(name) or (plugs.get(name) if whole else None)

    watts = record.number("wattage", 50, 5000)
    grade = record.text("efficiency_rating").removeprefix("80+").strip()
    version = re.search(r"\bATX\s?(?P<version>[23]\.\d+)\b", record.name, re.I)
    return SupplyFacts(
        watts=watts,
        grade=grade if grade else "80 PLUS" if record.text("efficiency_rating") else "",
        form_factor=record.text("form_factor"),
        length_mm=record.number("length", 60, 400),
        main_plugs=plugs.get("atx_24_pin") or None,
        processor_plugs=counted("eps_8_pin"),
        pcie_8_plugs=_card_plugs(record, watts, counted("pcie_6_plus_2_pin")),
        pcie_16_plugs=counted("pcie_12vhpwr"),
        sata_plugs=counted("sata"),
        drive_plugs=counted("molex_4_pin"),
        modular=record.text("modular"),
        atx_version=version["version"] if version else "",
    )


def _card_plugs(record: OpenRecord, watts: float | None, counted: int | None) -> int | None:
    """Return how many plugs of 6+2 pins a supply has; not none of them where it is strong enough for a card:
    the form has no field for plain plugs of 6 pins, which older ones have instead."""
    if counted == 0 and not record.by_hand and (watts is None or watts >= _FOR_A_CARD_W):
        record.note("connectors.pcie_6_plus_2_pin", "none, of a supply that is made for a card", record.name)
        return None
    return counted


def display(record: OpenRecord) -> DisplayFacts:
    inputs = outputs_in(record.raw("connectors")) or _counted_outputs(record)
    if record.raw("connectors") and not inputs:
        record.note("connectors", "names no input of pictures", record.raw("connectors"))
    return DisplayFacts(
        inches=record.number("screen_size", 5, 120),
        width_px=record.count("resolution.horizontalRes"),
        height_px=record.count("resolution.verticalRes"),
        hertz=record.number("refresh_rate", 24, 1000),
        inputs=inputs or None,
    )


def card(record: OpenRecord) -> CardFacts:
    """Of these a record holds nothing but its name."""
    slot = _SLOT.search(record.name)
    found = [_mbit_s(match) for match in _NETWORK.finditer(record.name)]
    lanes = int(slot["lanes"]) if slot and slot["lanes"] else None
    if lanes not in (None, 1, 2, 4, 8, 16):
        record.note("metadata.name", IMPLAUSIBLE, record.name)
        lanes = None
    return CardFacts(
        interface=slot.group() if slot else "",
        lanes=lanes,
        network_mbit_s=max(found, default=None),
    )


def _mbit_s(match: re.Match[str]) -> int:
    if match["lone"]:
        return 1000
    return round(float(match["number"]) * (1000 if match["unit"].upper() == "G" else 1))


def outputs_in(text: object) -> tuple[str, ...]:
    """Return the outputs, or inputs, of pictures in a row of prose (`1 x HDMI 2.0   2 x DisplayPort`)."""
    if not isinstance(text, str):
        return ()
    found: list[str] = []
    # Rows of a web page run together: a count begins the next one, also straight behind a version.
    for piece in re.split(r"\s{2,}|[,;\n]|(?<=[\w)])(?=[1-9]\s?x\s)", text):
        count = re.match(r"\s*(\d)\s?x\s?", piece)
        for name, pattern in OUTPUTS:
            if pattern.search(piece):
                found += [name] * (int(count[1]) if count else 1)
                break
    return tuple(found)


def card_outputs(record: OpenRecord) -> tuple[str, ...] | None:
    """Return the outputs of a graphics card; None of fewer than three that nobody verified by hand.

    The form has no field for most kinds of DVI, and a zero stands there for what nobody filled in, so that of
    many a card for three displays one or two outputs are counted.
    """
    found = counted_outputs(record, "video_outputs")
    if found and len(found) < _OUTPUTS_OF_A_CARD and not record.by_hand:
        record.note("video_outputs", "not all are counted", f"{', '.join(found)} ({record.name})")
        return None
    return found or None


def _counted_outputs(record: OpenRecord) -> tuple[str, ...]:
    return counted_outputs(record, "video_outputs")


def counted_outputs(record: OpenRecord, group: str) -> tuple[str, ...]:
    """Return the outputs of a group of counts by version; the versions there are not to be relied on."""
    tree = record.raw(group)
    if not isinstance(tree, dict):
        return ()
    counts = record.counts(group, *tree) or {}
    kinds = {"displayport": "DisplayPort", "hdmi": "HDMI", "dvi": "DVI", "vga": "VGA", "usb": "USB-C"}
    return tuple(
        kinds[key.split("_")[0]] for key, n in counts.items() if key.split("_")[0] in kinds for _ in range(n)
    )
