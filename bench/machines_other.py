"""The three kinds of changes for which the joined machines have no witness, or which no order speaks of.

- A used drive: the boot logs have no counters. A joined machine is read together with the report of one drive
  of `smart-json` (smartctl's JSON). The order is of that drive; the unaltered report has the counters of a
  new one in place of its own, and the planted change is the report as it came, with thousands of hours.
- A narrowed link: the PCI lists state the lanes of a card's own end and not which port it hangs on, so what
  the other end could do is not stated, and nobody can tell (kind *by the list*). No set has a tree of sysfs
  with the links of a card, so the tree of a desktop (`linux-sysfs/ghw`) is given link files for its card and
  the ports above it, all with as many lanes; each in turn is narrowed (kind *by the tree*).
- Swapped slots: an order sells no slots. Two readings of the machine are held against each other, as a record
  is against what the machine is now. Two modules that differ in what the firmware says of them change places.
"""

from __future__ import annotations

import json
import re
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import machines_stated as stated
from machines_plant import Planted, put
from machines_sets import LOG, PCI, SMBIOS, Machine, read_folder
from machines_siblings import Siblings, pick

from shipworthy.model.policy import Policy
from shipworthy.model.reading import Reading

SMART, TREE = "smart-json", "linux-sysfs/ghw/linux-amd64-amd-ryzen-1600.tar.gz"
NEW_HOURS, NEW_CYCLES = 1, 5
_LINK = re.compile(r"\blink x(\d+)\(x(\d+)\)")


@dataclass(frozen=True)
class Pair:
    """A machine as it was sold, and with the change. carried: whether the raw text states the change."""

    name: str
    before: Reading
    after: Reading
    was: str
    now: str
    carried: bool


# A used drive


def used_drives(data: Path, machines: list[Machine], policy: Policy) -> Iterator[Pair | None]:
    """Yield each drive of the reports in a machine, as new and as it came; None where one tells no hours."""
    (most_hours,) = (one.value for one in policy.limits if one.quantity == "storage/power_on_hours")
    for path in sorted((data / SMART).rglob("*.json")):
        try:
            report = json.loads(path.read_bytes())
        except ValueError:
            yield None
            continue
        hours = report.get("power_on_time", {}).get("hours") if isinstance(report, dict) else None
        machine = pick(machines, path.name)
        if machine is None or not isinstance(hours, int) or not report.get("model_name"):
            yield None
            continue
        before, after = (_with_report(machine, json.dumps(one)) for one in (_as_new(report), report))
        yield Pair(
            f"{machine.name} with {path.name}",
            before,
            after,
            f"{NEW_HOURS} h",
            f"{hours} h",
            carried=hours > most_hours,
        )


def _with_report(machine: Machine, report: str) -> Reading:
    def fill(folder: Path) -> None:
        for name in (SMBIOS, LOG, PCI):
            (folder / name).write_bytes(machine.files[name])
        (folder / "smartctl.json").write_text(report, "utf-8")

    return read_folder(fill)


def _as_new(report: dict[str, Any]) -> dict[str, Any]:
    """Return a report with the counters of a new drive wherever it has a counter of use or of defects."""
    new: dict[str, Any] = json.loads(json.dumps(report))
    new["power_on_time"] = {"hours": NEW_HOURS}
    if "power_cycle_count" in new:
        new["power_cycle_count"] = NEW_CYCLES
    log = new.get("nvme_smart_health_information_log")
    if isinstance(log, dict):
        for name, value in (("power_on_hours", NEW_HOURS), ("power_cycles", NEW_CYCLES)):
            log |= {name: value} if name in log else {}
        for name in log:
            if name.startswith(("data_units", "host_", "media_errors", "num_err", "controller_busy")):
                log[name] = min(log[name], 1000) if isinstance(log[name], int) else log[name]
        log |= {"media_errors": 0, "percentage_used": 0, "critical_warning": 0, "available_spare": 100}
    for row in new.get("ata_smart_attributes", {}).get("table", []):
        if row.get("id") == 9:
            row["raw"] = {"value": NEW_HOURS, "string": str(NEW_HOURS)}
        elif row.get("id") not in (190, 194):
            count = NEW_CYCLES if row.get("id") in (4, 12) else 0
            row["raw"] = {"value": count, "string": str(count)}
            row |= {"value": 100, "worst": 100}
    for page in ("ata_device_statistics", "scsi_error_counter_log", "ata_smart_error_log", "temperature"):
        new.pop(page, None)
    for name in ("endurance_used", "scsi_grown_defect_list", "ata_smart_self_test_log"):
        new.pop(name, None)
    return new


# A narrowed link


def narrowed_by_list(machine: Machine, siblings: Siblings) -> Planted | None:
    """Halve the lanes of a card that has all of its own."""
    del siblings
    pci = machine.text(PCI)
    whole = [
        (display, match)
        for display in stated.displays(pci)
        if (match := _LINK.search(pci[slice(*display.span)])) and match[1] == match[2] != "1"
    ]
    chosen = pick(whole, machine.name, "link")
    if chosen is None:
        return None
    display, match = chosen
    half = int(match[1]) // 2
    changed = _LINK.sub(f"link x{half}(x{match[2]})", pci[slice(*display.span)], count=1)
    texts = {PCI: put(pci, display.span, changed)}
    return Planted(machine.altered(texts), f"x{match[1]}", f"x{half}", frozenset())


def narrowed_by_tree(data: Path) -> Iterator[Pair]:
    """Yield a desktop's tree with the lanes of one end of its card's way narrowed, each end in turn."""
    archive = data / TREE
    ends = 0
    while True:
        for width in (8, 4, 1):
            before, count = _tree(archive, -1, 16)
            if ends >= count:
                return
            after, _ = _tree(archive, ends, width)
            yield Pair(f"{archive.name}, end {ends}", before, after, "x16", f"x{width}", carried=True)
        ends += 1


def _tree(archive: Path, narrowed: int, width: int) -> tuple[Reading, int]:
    count = 0

    def fill(folder: Path) -> None:
        nonlocal count
        with tarfile.open(archive) as tar:
            tar.extractall(folder, filter="tar")
        cards = sorted(p.resolve() for p in (folder / "sys/class/drm").glob("card?/device") if p.exists())
        card = next((p for p in cards if (p / "class").is_file()), None)
        way = [] if card is None else [card, *(p for p in card.parents if (p / "class").is_file())]
        count = len(way)
        for number, end in enumerate(way):
            lanes = width if number == narrowed else 16
            for name, value in (
                ("current_link_width", lanes),
                ("max_link_width", 16),
                ("current_link_speed", "8.0 GT/s PCIe"),
                ("max_link_speed", "8.0 GT/s PCIe"),
            ):
                (end / name).write_text(f"{value}\n")

    return read_folder(fill), count


# Swapped slots


def swapped(machine: Machine) -> Pair | None:
    """Exchange what lies in two slots whose modules the firmware tells apart; any two where it does not."""
    firmware = machine.text(SMBIOS)
    there = stated.modules(firmware)
    if len(there) < 2:
        return None
    different = [m for m in there[1:] if _told(firmware, m) != _told(firmware, there[0])]
    other = pick(different or there[1:], machine.name, "swap")
    assert other is not None
    one, two = (firmware[slice(*m.span)] for m in (there[0], other))
    text = put(firmware, other.span, _at_place_of(one, two))
    text = put(text, there[0].span, _at_place_of(two, one))
    after = machine.altered({SMBIOS: text})
    return Pair(
        machine.name,
        machine.reading("all"),
        after.reading("all"),
        there[0].part_number,
        other.part_number,
        carried=bool(different),
    )


def _told(firmware: str, module: stated.Module) -> tuple[str, ...]:
    """What the configuration of a machine says of a module. Part numbers that only count are none."""
    block = firmware[slice(*module.span)]
    names = ("Size", "Part Number", "Configured Memory Speed", "Configured Clock Speed")
    told = (stated.field_of(block, name) for name in names)
    return tuple("" if re.search(r"Part_?Num", text) else text for text in told)


def _at_place_of(module: str, place: str) -> str:
    """Return a module's structure with the slot's own words: handle, locators."""
    first, _, rest = module.partition("\n")
    del first
    for name in ("Locator", "Bank Locator"):
        own = f"\t{name}: {stated.field_of(place, name)}".replace("\\", r"\\")
        rest = re.sub(rf"^\t{name}:.*$", own, rest, flags=re.M)
    return place.partition("\n")[0] + "\n" + rest
