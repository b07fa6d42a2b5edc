"""The report of `nvidia-smi -q -x`: what NVIDIA's driver says of each of its cards (NVML).

Form: XML whose elements differ between versions 10 to 13 of its DTD: power limits stand below
`power_readings` or `gpu_power_readings`, reasons below `clocks_throttle_reasons` or
`clocks_event_reasons`, ECC by single_bit and double_bit or by sram and dram. A value is text with its unit.
Two links are told apart (NVML's documentation, from memory): `max_link_gen` and `max_link_width` are what
card and slot can do together, `max_device_link_gen` is the card's own.
"""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

from shipworthy.machine.listing import said
from shipworthy.machine.parse.graphics import product_name, resizable_bar
from shipworthy.machine.parse.nvidia_smi.xml_values import (
    count,
    margin,
    power,
    quantity,
    summed,
    temperature,
    text_of,
    whole,
    word,
    yes,
)
from shipworthy.machine.parse.opening import opened_xml
from shipworthy.machine.parse.pci.config_words import SPEEDS_GT_S
from shipworthy.machine.parse.pci.links import offered
from shipworthy.machine.parse.units import MIB
from shipworthy.machine.raw import Fault, Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

NAME = "nvidia-smi-xml"
MOST_BYTES = 8 << 20

_PLACE = re.compile(r"([0-9A-Fa-f]{4,8}):([0-9A-Fa-f]{2}):([0-9A-Fa-f]{2})\.([0-7])")


def recognises(name: str, head: bytes) -> bool:
    """Return whether a file is such a report: its root element is `nvidia_smi_log`."""
    del name
    return b"<nvidia_smi_log" in head


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one report, be it a file or what the tool answered just now."""
    return parsed_each(replies, _parse_report)


def _parse_report(reply: Reply) -> Parsed:
    root = opened_xml(reply.data, MOST_BYTES)
    if isinstance(root, Fault):
        return Parsed(remarks=(root.remark(reply.id),))
    if root.tag != "nvidia_smi_log":
        return Parsed(remarks=(remark(reply.id, RemarkKind.BAD_HEADER, "file", str(root.tag)[:80]),))
    found: list[Sighting] = []
    remarks: list[Remark] = []
    driver = said("driver_version", word(text_of(root, "driver_version")))
    for card in root.findall("gpu"):
        place = place_of(card)
        if place is None:
            remarks.append(remark(reply.id, RemarkKind.BAD_VALUE, "gpu", card.get("id", "")[:80]))
            continue
        fields = (*card_facts(card), *offered(driver))
        found.append(Sighting(kind=PartKind.GRAPHICS, place=place, source=reply.id, said=fields))
    return Parsed(tuple(found), remarks=tuple(remarks))


def place_of(card: Element) -> str | None:
    """Return the place of a card: `00000000:0C:00.0` is `pci:0000:0c:00.0`."""
    match = _PLACE.fullmatch(text_of(card, "pci/pci_bus_id") or card.get("id", ""))
    if match is None:
        return None
    domain = match[1].lstrip("0").rjust(4, "0")
    return f"pci:{domain}:{match[2]}:{match[3]}.{match[4]}".lower()


def card_facts(card: Element) -> tuple[Said, ...]:
    """Return what is said of one card."""
    memory = whole(text_of(card, "fb_memory_usage/total"), "MiB", of=MIB)
    visible = whole(text_of(card, "bar1_memory_usage/total"), "MiB", of=MIB)
    both = isinstance(memory, int) and isinstance(visible, int)
    bar = resizable_bar(int(memory), int(visible), ()) if both else None
    part_number = word(text_of(card, "board_part_number"))
    return (
        said("model", product_name(text_of(card, "product_name")) or None),
        said("memory_bytes", memory),
        *_ids(card),
        *_links(card),
        *offered(
            said("visible_memory_bytes", visible),
            said("resizable_bar", bar),
            said("vbios_version", word(text_of(card, "vbios_version"))),
            said("serial", word(text_of(card, "serial"))),
            said("uuid", word(text_of(card, "uuid"))),
            said("part_number", part_number),
            said("chip_part_number", _part_number(text_of(card, "gpu_part_number"))),
            said("architecture", word(text_of(card, "product_architecture"))),
        ),
        *_power(card),
        *_temperatures(card),
        *_clocks(card),
        *_errors(card),
    )


def _part_number(text: str) -> str | Absent:
    """Of zeros alone it is a placeholder with hyphens."""
    return Absent.NOT_OFFERED if text and not text.strip("0-") else word(text)


def _ids(card: Element) -> tuple[Said, ...]:
    """`221610DE`: device, then vendor."""
    device, vendor = _pair(text_of(card, "pci/pci_device_id"))
    card_device, card_vendor = _pair(text_of(card, "pci/pci_sub_system_id"))
    return (
        said("vendor_id", vendor),
        said("device_id", device),
        said("subsystem_vendor_id", card_vendor),
        said("subsystem_device_id", card_device),
    )


def _pair(text: str) -> tuple[str | Absent, str | Absent]:
    match = re.fullmatch(r"(?:0x)?([0-9A-Fa-f]{4})([0-9A-Fa-f]{4})", text)
    if match is None:
        why = word(text)
        reason = why if isinstance(why, Absent) else Absent.IMPLAUSIBLE
        return reason, reason
    if int(match[2], 16) in (0x00DE, 0):  # blanked out by a person or a hypervisor: no vendor has it
        return Absent.IMPLAUSIBLE, Absent.IMPLAUSIBLE
    return f"0x{match[1].lower()}", f"0x{match[2].lower()}"


def _links(card: Element) -> tuple[Said, ...]:
    info = card.find("pci/pci_gpu_link_info")
    return (
        said("link_speed_gt_s", _speed(text_of(info, "pcie_gen/current_link_gen"))),
        said("link_width", _lanes(text_of(info, "link_widths/current_link_width"))),
        *offered(
            said("link_max_speed_gt_s", _speed(text_of(info, "pcie_gen/max_device_link_gen"))),
            said("path_speed_max_gt_s", _speed(text_of(info, "pcie_gen/max_link_gen"))),
            said("path_width_max", _lanes(text_of(info, "link_widths/max_link_width"))),
            said("host_link_max_speed_gt_s", _speed(text_of(info, "pcie_gen/max_host_link_gen"))),
            said("pcie_replays", count(text_of(card, "pci/replay_counter"))),
        ),
    )


def _speed(text: str) -> float | Absent:
    generation = count(text)
    if isinstance(generation, Absent):
        return generation
    return SPEEDS_GT_S.get(generation, Absent.IMPLAUSIBLE)


def _lanes(text: str) -> int | Absent:
    lanes = whole(text, "x")
    return lanes if isinstance(lanes, Absent) or 0 < lanes <= 32 else Absent.IMPLAUSIBLE


def _power(card: Element) -> tuple[Said, ...]:
    """The limit in force, the card's default, and the range that it can be set in."""
    readings = card.find("gpu_power_readings")
    if readings is None:
        readings = card.find("power_readings")
    drawn = text_of(readings, "instant_power_draw", "average_power_draw", "power_draw")
    return offered(
        said("power_limit_w", power(text_of(readings, "current_power_limit", "enforced_power_limit"))),
        said("power_limit_default_w", power(text_of(readings, "default_power_limit"))),
        said("power_limit_min_w", power(text_of(readings, "min_power_limit"))),
        said("power_limit_max_w", power(text_of(readings, "max_power_limit"))),
        said("power_w", power(drawn)),
        said("throttle_reasons", _reasons(card)),
    )


def _reasons(card: Element) -> str | Absent:
    """Why the clocks are lower than they could be; idling is one of the reasons."""
    folder = card.find("clocks_event_reasons")
    if folder is None:
        folder = card.find("clocks_throttle_reasons")
    if folder is None:
        return Absent.NOT_OFFERED
    active = [
        re.sub(r"^clocks_(?:event|throttle)_reason_", "", str(reason.tag)).replace("_", " ")
        for reason in folder
        if (reason.text or "").strip() == "Active"
    ]
    return ", ".join(active) or "none"


def _temperatures(card: Element) -> tuple[Said, ...]:
    """Each limit is another thing: what the card aims at, where it slows down, where it shuts off.

    Newer cards give no limits but a margin: degrees that are left, and at which margin (below 0) they slow
    down and shut off. Which temperature that would be is not computed: the card does not say it.
    """
    found = card.find("temperature")
    return offered(
        said("temperature_c", temperature(text_of(found, "gpu_temp"))),
        said("temperature_target_c", temperature(text_of(found, "gpu_target_temperature"))),
        said("temperature_operating_max_c", temperature(text_of(found, "gpu_temp_max_gpu_threshold"))),
        said("temperature_slowdown_c", temperature(text_of(found, "gpu_temp_slow_threshold"))),
        said("temperature_shutdown_c", temperature(text_of(found, "gpu_temp_max_threshold"))),
        said("temperature_margin_c", margin(text_of(found, "gpu_temp_tlimit"))),
        said("temperature_slowdown_margin_c", margin(text_of(found, "gpu_temp_slow_tlimit_threshold"))),
        said("temperature_shutdown_margin_c", margin(text_of(found, "gpu_temp_max_tlimit_threshold"))),
        said("memory_temperature_c", temperature(text_of(found, "memory_temp"))),
        said("memory_temperature_max_c", temperature(text_of(found, "gpu_temp_max_mem_threshold"))),
        said("fan_percent", quantity(text_of(card, "fan_speed"), "%")),
    )


def _clocks(card: Element) -> tuple[Said, ...]:
    return offered(
        said("core_clock_mhz", whole(text_of(card, "clocks/graphics_clock"), "MHz")),
        said("memory_clock_mhz", whole(text_of(card, "clocks/mem_clock"), "MHz")),
        said("core_clock_max_mhz", whole(text_of(card, "max_clocks/graphics_clock"), "MHz")),
        said("memory_clock_max_mhz", whole(text_of(card, "max_clocks/mem_clock"), "MHz")),
        said("performance_state", word(text_of(card, "performance_state"))),
    )


def _errors(card: Element) -> tuple[Said, ...]:
    """Errors of the card's memory over its life (aggregate), and the pages and rows taken out of use."""
    ever, pages = card.find("ecc_errors/aggregate"), card.find("retired_pages")
    rows = card.find("remapped_rows")
    return offered(
        said("ecc", word(text_of(card, "ecc_mode/current_ecc"))),
        said("ecc_corrected", _ecc(ever, ("single_bit/total",), "correctable")),
        said("ecc_uncorrected", _ecc(ever, ("double_bit/total",), "uncorrectable")),
        said(
            "retired_pages_corrected",
            count(text_of(pages, "multiple_single_bit_retirement/retired_count")),
        ),
        said("retired_pages_uncorrected", count(text_of(pages, "double_bit_retirement/retired_count"))),
        said("retired_pages_pending", yes(text_of(pages, "pending_retirement", "pending_blacklist"))),
        said("remapped_rows_corrected", count(text_of(rows, "remapped_row_corr"))),
        said("remapped_rows_uncorrected", count(text_of(rows, "remapped_row_unc"))),
        said("remapped_rows_pending", yes(text_of(rows, "remapped_row_pending"))),
        said("remapped_rows_failure", yes(text_of(rows, "remapped_row_failure"))),
    )


def _ecc(folder: Element | None, totals: tuple[str, ...], ending: str) -> int | Absent:
    """Older cards give a total, newer ones a count for each memory (`sram_…`, `dram_…`)."""
    if folder is None:
        return Absent.NOT_OFFERED
    total = text_of(folder, *totals)
    if total:
        return count(total)
    pattern = re.compile(rf"[sd]ram_{ending}(?:_\w+)?")
    return summed([count((one.text or "").strip()) for one in folder if pattern.fullmatch(str(one.tag))])
