"""Reports of lshw, lscpu and lsblk against counts of our own; and twelve servers that should be alike."""

from __future__ import annotations

import ast
import json
import re
import xml.etree.ElementTree as ET  # files of the reference data, on purpose not by the reader's own library
from collections import Counter
from pathlib import Path
from typing import Any

from decoding.cpu import facts, members, reply
from decoding.tally import Tally
from shipworthy.machine.parse import lsblk_json, lscpu_text
from shipworthy.machine.parse.lshw_xml import source as lshw_xml
from shipworthy.model.words import PartKind

IDENTITY = ("serial", "ipv4", "uuid")
MEASURED = re.compile(r"bandwidth|loops|bogomips|_IOps$|_KBps$")
OTHERS = ("lspci", "smartctl", "ethtool", "megacli", "nvlink", "findmnt")  # other readers', or none's


def measure(folder: Path) -> Tally:
    tally = Tally(folder.name)
    for file in sorted((*folder.glob("gpud/*"), *folder.glob("redhat-cip-hardware/*"))):
        data = file.read_bytes()
        if file.name == "identical-servers.tar.xz":
            _identical(tally, file)
            continue
        tally.items += 1
        try:
            if lshw_xml.recognises(file.name, data[:4096]):
                _lshw(tally, file.name, data)
            elif lscpu_text.recognises(file.name, data[:4096]):
                _lscpu(tally, file.name, data)
            elif lsblk_json.recognises(file.name, data[:4096]):
                _lsblk(tally, file.name, data)
            else:
                tally.unsupported += 1
                if not any(word in file.name for word in (*OTHERS, "lsblk.3.txt")):
                    tally.hold(file.name, "recognised", True, False)
        except Exception as error:
            tally.crash(file.name, error)
    return tally


def _text(node: ET.Element, tag: str) -> str:
    return " ".join((node.findtext(tag) or "").split())


def _lshw(tally: Tally, item: str, data: bytes) -> None:
    parsed = lshw_xml.parse(reply("lshw-xml", data))
    nodes = list(ET.fromstring(data).iter("node"))
    by_place = {sighting.place: {s.name: s.value for s in sighting.said} for sighting in parsed.sightings}
    kinds = Counter(sighting.kind for sighting in parsed.sightings)
    functions = [n for n in nodes if _text(n, "businfo").startswith("pci@")]
    tally.hold(item, "functions", len(functions), sum(place.startswith("pci:") for place in by_place))
    for node in functions:
        got = by_place.get(_text(node, "businfo").replace("pci@", "pci:"), {})
        tally.hold(item, "product", _text(node, "product"), got.get("model"))
        tally.hold(item, "vendor", _text(node, "vendor"), got.get("maker"))
    banks = [n for n in nodes if (n.get("id") or "").startswith("bank:")]
    tally.hold(item, "modules", len(banks), kinds[PartKind.MEMORY_MODULE])
    modules = [v for place, v in by_place.items() if place.startswith("smbios:")]
    sizes = sum(int(_text(n, "size") or 0) for n in banks)
    tally.hold(item, "bytes of modules", sizes, sum(int(m["size_bytes"] or 0) for m in modules))
    tally.hold(item, "bytes of memory", sizes, by_place["memory"]["fitted_bytes"])
    slots = {_text(n, "slot") for n in nodes if n.get("class") == "processor"}
    tally.hold(item, "processors", len(slots), kinds[PartKind.PROCESSOR])
    drives = {
        _text(n, "logicalname").removeprefix("/dev/"): n
        for n in nodes
        if n.get("class") == "disk" and n.get("id") != "medium"
    }
    tally.hold(item, "drives", len(drives), kinds[PartKind.STORAGE])
    for name, node in drives.items():
        got = by_place.get(f"node:{name}", {})
        tally.hold(item, f"{name} product", _text(node, "product") or None, got.get("model"))
        tally.hold(item, f"{name} serial", _text(node, "serial") or None, got.get("serial"))
        tally.hold(item, f"{name} size", int(_text(node, "size") or 0) or None, got.get("size_bytes"))
    system = next(n for n in nodes if n.get("class") == "system")
    tally.hold(item, "system serial", _text(system, "serial"), by_place["system"]["serial"])
    tally.hold(item, "system model", _text(system, "product").split(" (")[0], by_place["system"]["model"])


def _lscpu(tally: Tally, item: str, data: bytes) -> None:
    parsed = lscpu_text.parse(reply("lscpu-text", data))
    got = facts(parsed)
    said = dict(re.findall(r"^(.+?): +(.*)$", data.decode(), re.MULTILINE))
    cores, each = int(said["Core(s) per socket"]), int(said["Thread(s) per core"])
    tally.hold(item, "sockets", int(said["Socket(s)"]), len(got))
    tally.hold(item, "cores", (cores, cores * each), (got[0]["cores"], got[0]["threads"]))
    tally.hold(item, "name", said["Model name"], got[0]["model"])
    contradicts = int(said["CPU(s)"]) != int(said["Socket(s)"]) * cores * each
    tally.hold(item, "contradiction named", contradicts, bool(parsed.remarks))


def _disks(nodes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    below = [disk for node in nodes for disk in _disks(node.get("children", []))]
    return [node for node in nodes if node["type"] == "disk"] + below


def _lsblk(tally: Tally, item: str, data: bytes) -> None:
    got = {str(drive["kernel_name"]): drive for drive in facts(lsblk_json.parse(reply("lsblk-json", data)))}
    disks = {disk["name"].rsplit("/", 1)[-1]: disk for disk in _disks(json.loads(data)["blockdevices"])}
    tally.hold(item, "disks", sorted(disks), sorted(got))
    for name, disk in disks.items():
        drive = got.get(name, {})
        for key, field in (("model", "model"), ("serial", "serial")):
            if key in disk:
                want = " ".join((disk[key] or "").split()) or None
                tally.hold(f"{item} {name}", key, want, drive.get(field))
        exact = isinstance(disk["size"], int)
        tally.hold(f"{item} {name}", "size", disk["size"] or None if exact else None, drive.get("size_bytes"))
        if not exact:
            tally.hold(f"{item} {name}", "size about", True, bool(drive.get("size_about_bytes")))


def _identical(tally: Tally, archive: Path) -> None:
    """Lists of (class, name, field, value). What differs is identity, a measurement, or real."""
    machines: dict[str, dict[tuple[str, ...], str]] = {}
    for name, data in members(archive):
        tally.items += 1
        try:
            rows = ast.literal_eval(data.decode())
            machines[name] = {tuple(row[:-1]): row[-1] for row in rows}
        except Exception as error:
            tally.crash(name, error)
    kinds: Counter[str] = Counter()
    real: set[tuple[str, ...]] = set()
    for key in set().union(*machines.values()):
        if len({machine.get(key) for machine in machines.values()}) > 1:
            word = "identity" if key[2] in IDENTITY else "measured" if MEASURED.search(key[2]) else "real"
            kinds[word] += 1
            real |= {key} if word == "real" else set()
    tally.notes |= {f"identical servers: fields that differ, {word}": n for word, n in sorted(kinds.items())}
    sizes = Counter(
        sum(int(v) for k, v in m.items() if k[0] == "memory" and k[1].startswith("bank") and k[2] == "size")
        for m in machines.values()
    )
    for size, count in sorted(sizes.items()):
        tally.notes[f"identical servers: {count} with memory of (bytes)"] = size
    tally.hold("identical servers", "real differences are of memory", {"memory"}, {key[0] for key in real})
    for name, machine in machines.items():
        banks = {key[1] for key in machine if key[0] == "memory" and key[1].startswith("bank:")}
        empty = {bank for bank in banks if "[empty]" in machine["memory", bank, "description"]}
        filled = {bank for bank in banks if ("memory", bank, "size") in machine}
        tally.hold(name, "a slot is filled or empty", banks, empty ^ filled)
