"""Reports of NVIDIA's and AMD's tools against the same files looked up by regular expressions and JSON."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

from decoding.tally import Tally
from shipworthy.machine.parse import rocm_smi_json
from shipworthy.machine.parse.nvidia_smi import xml_report as nvidia_smi_xml
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import RemarkKind

GT_S = {"1": 2.5, "2": 5.0, "3": 8.0, "4": 16.0, "5": 32.0, "6": 64.0}
SILENT = ("", "N/A", "None", "REDACTED", "Requested functionality has been deprecated")


def measure(folder: Path) -> Tally:
    tally = Tally("gpu-readings")
    for file in sorted((folder / "nvidia-smi-xml").glob("*.xml")):
        _hold(tally, file, nvidia_smi_xml.parse, _nvidia(file.read_text("utf-8")))
    for file in sorted((folder / "rocm-smi-json").glob("*.json")):
        _hold(tally, file, rocm_smi_json.parse, _rocm(json.loads(file.read_text("utf-8"))))
    return tally


def _hold(
    tally: Tally, file: Path, parse: Callable[[tuple[Reply, ...]], Parsed], want: dict[str, object]
) -> None:
    tally.items += 1
    try:
        parsed = parse((Reply("report.1", f"/{file.name}", SourceOutcome.READ, file.read_bytes()),))
    except Exception as error:
        tally.crash(file.name, error)
        return
    tally.unsupported += sum(r.count for r in parsed.remarks if r.kind is RemarkKind.NOT_UNDERSTOOD)
    place = want.pop("place")
    tally.hold(file.name, "place", [place], [s.place for s in parsed.sightings])
    got = {f.name: f.value for s in parsed.sightings for f in s.said}
    for name, value in want.items():
        tally.hold(file.name, name, value, got.get(name))


def _nvidia(text: str) -> dict[str, object]:
    card = text[text.index("<gpu id") :]

    def first(tag: str, after: str = "") -> str:
        tail = card[card.index(f"<{after}>") :] if after and f"<{after}>" in card else "" if after else card
        match = re.search(rf"<{tag}>\s*([^<]*?)\s*</{tag}>", tail)
        return "" if match is None or match[1] in SILENT else match[1]

    def number(text: str, unit: str, of: int = 1) -> float | None:
        if not text[:1].isdigit() or not text.endswith(unit):
            return None
        return float(text.removesuffix(unit)) * of

    place = re.search(r'<gpu id="0000(\S+?)"', card)
    ids = first("pci_device_id")
    known = bool(ids) and not ids.startswith("0000")
    serial, part = first("serial"), first("gpu_part_number")
    power = "gpu_power_readings" if "<gpu_power_readings>" in card else "power_readings"
    limit = first("current_power_limit", power) or first("enforced_power_limit", power)
    active = re.findall(r"<clocks_(?:throttle|event)_reason_(\w+)>Active<", card)
    return {
        "place": "pci:" + place[1].lower() if place else None,
        "model": first("product_name"),
        "vendor_id": f"0x{ids[4:].lower()}" if known else None,
        "device_id": f"0x{ids[:4].lower()}" if known else None,
        "memory_bytes": number(first("total", "fb_memory_usage"), "MiB", 1 << 20),
        "visible_memory_bytes": number(first("total", "bar1_memory_usage"), "MiB", 1 << 20),
        "link_speed_gt_s": GT_S.get(first("current_link_gen")),
        "link_width": number(first("current_link_width"), "x"),
        "path_speed_max_gt_s": GT_S.get(first("max_link_gen")),
        "path_width_max": number(first("max_link_width"), "x"),
        "link_max_speed_gt_s": GT_S.get(first("max_device_link_gen")),
        "vbios_version": first("vbios_version") or None,
        "uuid": first("uuid") or None,
        "serial": serial if serial.strip("0") else None,
        "chip_part_number": part if part.strip("0-") else None,
        "driver_version": m[1] if (m := re.search(r"<driver_version>(.*?)</", text)) else None,
        "power_limit_w": number(limit, "W"),
        "power_limit_default_w": number(first("default_power_limit", power), "W"),
        "power_limit_max_w": number(first("max_power_limit", power), "W"),
        "temperature_c": number(first("gpu_temp"), "C"),
        "temperature_slowdown_c": number(first("gpu_temp_slow_threshold"), "C"),
        "temperature_shutdown_c": number(first("gpu_temp_max_threshold"), "C"),
        "temperature_target_c": number(first("gpu_target_temperature"), "C"),
        "fan_percent": number(first("fan_speed"), "%"),
        "core_clock_mhz": number(first("graphics_clock", "clocks"), "MHz"),
        "memory_clock_mhz": number(first("mem_clock", "clocks"), "MHz"),
        "core_clock_max_mhz": number(first("graphics_clock", "max_clocks"), "MHz"),
        "ecc": first("current_ecc") or None,
        "pcie_replays": number(first("replay_counter"), ""),
        "throttle_reasons": ", ".join(a.replace("_", " ") for a in active)
        or ("none" if "reasons>" in card else None),
    }


def _rocm(report: dict[str, dict[str, str]]) -> dict[str, object]:
    card = report["card0"]

    def known(key: str) -> str | None:
        value = card.get(key, "N/A")
        return None if value == "N/A" else value

    power = card["Average Graphics Package Power (W)"]
    return {
        "place": f"pci:{card['PCI Bus']}",
        "device_id": card.get("Device ID", card.get("GPU ID")),
        "revision_id": card.get("Device Rev"),
        "memory_bytes": int(card["VRAM Total Memory (B)"]),
        "visible_memory_bytes": int(card["VIS_VRAM Total Memory (B)"]),
        "vbios_version": known("VBIOS version"),
        "serial": known("Serial Number"),
        "unique_id": known("Unique ID"),
        "memory_vendor": known("GPU memory vendor"),
        "sku": known("Card SKU"),
        "power_limit_w": float(card["Max Graphics Package Power (W)"]),
        "power_w": float(power) if power[0].isdigit() else None,
        "temperature_c": float(card["Temperature (Sensor edge) (C)"]),
        "junction_temperature_c": float(card["Temperature (Sensor junction) (C)"]),
        "memory_temperature_c": float(card["Temperature (Sensor memory) (C)"]),
        "core_clock_mhz": int(card["sclk clock speed:"].strip("()").removesuffix("Mhz")),
        "driver_link_width": int(card["pcie clock level"].rsplit("x", 1)[1].strip(")")),
        "driver_version": report["system"]["Driver version"],
    }
