"""Counters of errors that the kernel keeps: PCI Express, memory controllers, throttling for heat.

Reading them asks no device: the kernel counts when an error is reported to it. Sources:
Documentation/ABI/testing/sysfs-bus-pci-devices-aer, sysfs-devices-edac; for throttling the kernel's
arch/x86/kernel/cpu/mce/therm_throt.c (from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from shipworthy.machine.capture.edac import CONTROLLER, FOLDER, MODULE, ROW
from shipworthy.machine.capture.files import names_in
from shipworthy.machine.capture.value_file import ValueFile
from shipworthy.machine.root import Root

PCI, CPUS = "/sys/bus/pci/devices", "/sys/devices/system/cpu"
_AER = {
    "aer_dev_correctable": "pcie correctable errors",
    "aer_dev_nonfatal": "pcie non-fatal errors",
    "aer_dev_fatal": "pcie fatal errors",
}
CORRECTED, UNCORRECTED = "corrected memory errors", "uncorrected memory errors"
THROTTLING = "thermal throttling"
_CPU = re.compile(r"cpu\d+")
_CHANNEL = re.compile(r"(ch\d+)_(ce|ue)_count")


@dataclass(frozen=True)
class Counter:
    """One counter: what it counts, of which part (places as in the reading), and its file."""

    name: str
    place: str
    file: ValueFile

    def read(self) -> int | None:
        """Return the count; None where there is none now."""
        return total(self.file.text())


def list_counters(root: Root) -> tuple[Counter, ...]:
    """Return all counters of errors that the machine has."""
    found = [*_of_pci(root), *_of_memory(root), *_of_processors(root)]
    return tuple(Counter(name, place, ValueFile(root, path, keep=False)) for name, place, path in found)


def total(text: str) -> int | None:
    """Return a counter's number: the only one, or of lines `name number` that named `TOTAL_ERR_…`, else their
    sum. None for a text that is neither."""
    if text.isdecimal():
        return int(text)
    rows = [line.rsplit(" ", 1) for line in text.splitlines()]
    if not rows or not all(len(row) == 2 and row[1].isdecimal() for row in rows):
        return None
    whole = [int(number) for name, number in rows if name.startswith("TOTAL_ERR")]
    return whole[0] if whole else sum(int(number) for _, number in rows)


Found = tuple[str, str, str]


def _of_pci(root: Root) -> list[Found]:
    found: list[Found] = []
    for address in names_in(root, PCI):
        folder = f"{PCI}/{address}"
        names = names_in(root, folder)
        found += [(_AER[name], f"pci:{address}", f"{folder}/{name}") for name in _AER if name in names]
    return found


def _of_memory(root: Root) -> list[Found]:
    """By module where the driver tells them apart; of the whole controller only what it could not place."""
    found: list[Found] = []
    for controller in filter(CONTROLLER.fullmatch, names_in(root, FOLDER)):
        folder, place = f"{FOLDER}/{controller}", f"edac:{controller}"
        modules = _modules(root, folder, place)
        found += modules
        ends = ("ce_noinfo_count", "ue_noinfo_count") if modules else ("ce_count", "ue_count")
        names = names_in(root, folder)
        found += [
            (CORRECTED if name.startswith("ce") else UNCORRECTED, place, f"{folder}/{name}")
            for name in ends
            if name in names
        ]
    return found


def _modules(root: Root, folder: str, place: str) -> list[Found]:
    found: list[Found] = []
    rows: list[Found] = []
    for entry in names_in(root, folder):
        below = f"{folder}/{entry}"
        if match := MODULE.fullmatch(entry):
            at = f"{place}/{match[1]}-{entry.removeprefix(match[1])}"
            found += [
                (CORRECTED, at, f"{below}/dimm_ce_count"),
                (UNCORRECTED, at, f"{below}/dimm_ue_count"),
            ]
        elif ROW.fullmatch(entry):
            for match in filter(None, map(_CHANNEL.fullmatch, names_in(root, below))):
                at = f"{place}/csrow-{entry.removeprefix('csrow')}-channel-{match[1].removeprefix('ch')}"
                rows.append((CORRECTED if match[2] == "ce" else UNCORRECTED, at, f"{below}/{match[0]}"))
    return found or rows


def _of_processors(root: Root) -> list[Found]:
    """Of a package once, by its first processor; of a core each, where there is no counter of the package."""
    found: dict[str, Found] = {}
    for cpu in filter(_CPU.fullmatch, names_in(root, CPUS)):
        folder = f"{CPUS}/{cpu}"
        names = names_in(root, f"{folder}/thermal_throttle")
        package = ValueFile(root, f"{folder}/topology/physical_package_id", keep=False).text()
        if "package_throttle_count" in names:
            place, name = f"socket:{package if package.isdecimal() else '0'}", "package_throttle_count"
        elif "core_throttle_count" in names:
            place, name = f"cpu:{cpu[3:]}", "core_throttle_count"
        else:
            continue
        found.setdefault(place, (THROTTLING, place, f"{folder}/thermal_throttle/{name}"))
    return list(found.values())
