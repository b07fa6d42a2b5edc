"""Siblings from real data: the part that is nearest to another and is not it. Chosen by a seeded hash.

Processors: names that kernels gave (joined machines, the tables of pairs, the list of lscpu). Graphics:
devices of the same maker in `pci.ids`. Drives, revisions and speeds: those of the other joined machines.
"""

from __future__ import annotations

import csv
import hashlib
import lzma
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import machines_stated as stated
from machines_sets import LOG, SMBIOS, Machine
from rapidfuzz import fuzz, process

T = TypeVar("T")
SEED = "shipworthy/machines/1"
_MODEL = re.compile(r"(?<![\w.])([A-Z]{0,3}\d?-?[A-Z]?\d{3,5})([A-Z]{0,3}\d?[A-Z]?)(?![\w.])")
_SPINS = re.compile(
    r"(?:WDC WD\d|WD\d|ST\d|HGST H|Hitachi H|HITACHI H|TOSHIBA (?:MQ|DT|MK|HD)|SAMSUNG H[DM]|Max?tor)"
)
"""How makers' own names of spinning drives begin (common practice)."""
_IS_GRAPHICS = re.compile(r"\[(?:GeForce|Quadro|Radeon|FirePro|Tesla|Arc|Iris|NVS|HD|UHD)\b")
_IS_NONE = re.compile(r"Audio|USB|UCSI|Bridge|Switch|Secondary")
_FASTEST_MT_S = 10_000  # above it is no speed of memory: two machines say 32768 and 38808


def _is_card(name: str) -> bool:
    return bool(_IS_GRAPHICS.search(name)) and not _IS_NONE.search(name)


def rank(*words: str) -> int:
    """Return a number that is the same for the same words at any time."""
    return int.from_bytes(hashlib.sha256("/".join((SEED, *words)).encode("utf-8")).digest()[:8], "big")


def pick(choices: Sequence[T], *words: str) -> T | None:
    """Return one of the choices by the hash of the words; None if there is none."""
    return choices[rank(*words) % len(choices)] if choices else None


def technology(drive: stated.Drive) -> str:
    """Return how a drive stores, where its name in the log tells; empty where it does not."""
    if drive.family in ("nvd", "nda"):
        return "NVMe"
    if re.search(r"\bSSD\b", drive.name, re.I):
        return "solid state"
    return "spinning" if _SPINS.match(drive.name) else ""


@dataclass
class Siblings:
    """What there is to choose from."""

    processors: list[str] = field(default_factory=list)
    drives: dict[str, list[stated.Drive]] = field(default_factory=lambda: defaultdict(list))
    speeds: dict[str, list[int]] = field(default_factory=dict)
    versions: list[str] = field(default_factory=list)
    chips: dict[str, dict[str, str]] = field(default_factory=dict)

    def processor(self, name: str, seed: str) -> str | None:
        """Return a processor whose model has another suffix; where there is none, the nearest in letters."""
        own = _MODEL.search(_bare(name))
        if own is None:
            return None
        others = [n for n in self.processors if (m := _MODEL.search(_bare(n))) and m[0] != own[0]]
        suffixed = [n for n in others if (m := _MODEL.search(_bare(n))) and m[1] == own[1]]
        if suffixed:
            return pick(suffixed, seed)
        near = process.extract(_bare(name), {n: _bare(n) for n in others}, scorer=fuzz.ratio, limit=3)
        return pick([found[2] for found in near], seed)

    def smaller_drive(self, drive: stated.Drive, seed: str) -> stated.Drive | None:
        """Return a smaller drive, of the same maker if there is one, and of the nearest such size."""
        size = drive.size_bytes or 0
        smaller = [d for d in self.drives[drive.family] if d.size_bytes and d.size_bytes < 0.9 * size]
        same = [d for d in smaller if d.name.split()[:1] == drive.name.split()[:1]] or smaller
        most = max((d.size_bytes or 0 for d in same), default=0)
        return pick([d for d in same if d.size_bytes == most], seed)

    def other_technology(self, drive: stated.Drive, seed: str) -> stated.Drive | None:
        """Return a drive on the same bus that stores in another way, of the nearest size."""
        own = technology(drive)
        others = [d for d in self.drives[drive.family] if d.size_bytes and technology(d) not in ("", own)]
        if not own or not others:
            return None
        others.sort(key=lambda d: (abs((d.size_bytes or 0) - (drive.size_bytes or 0)), d.name))
        return pick(others[:3], seed)

    def slower(self, module: stated.Module) -> int | None:
        """Return the next lower speed at which memory of that type runs in some machine."""
        own = module.speed_mt_s or 0
        return max((s for s in self.speeds.get(module.kind, ()) if s < 0.97 * own), default=None)

    def chip(self, display: stated.Display, seed: str) -> tuple[str, str] | None:
        """Return id and name of another chip of the maker, one of the five with the nearest names."""
        names = self.chips.get(display.vendor, {})
        if not display.name or display.device not in names:
            return None
        own = stated.product(display.name)
        others = {d: n for d, n in names.items() if stated.product(n) != own and _is_card(n)}
        near = process.extract(display.name, others, scorer=fuzz.ratio, limit=5)
        chosen = pick(near, seed)
        return (chosen[2], chosen[0]) if chosen else None


def gather(data: Path, machines: Iterable[Machine]) -> Siblings:
    """Return all siblings that the reference data have."""
    found = Siblings(chips=_chips(data / "names" / "pci.ids.xz"))
    names, versions = set(_listed_processors(data)), set()
    speeds: dict[str, set[int]] = defaultdict(set)
    for machine in machines:
        firmware, log = machine.text(SMBIOS), machine.text(LOG)
        if name := stated.processor_of_kernel(log):
            names.add(name)
        for drive in stated.drives(log):
            if drive.size_bytes and "Removable" not in drive.how:
                found.drives[drive.family].append(drive)
        for module in stated.modules(firmware):
            if module.speed_mt_s and module.speed_mt_s < _FASTEST_MT_S:
                speeds[module.kind].add(module.speed_mt_s)
        version = stated.board(firmware)[2]
        if tells_revision(version):
            versions.add(version)
    found.processors, found.versions = sorted(names), sorted(versions)
    found.speeds = {kind: sorted(told) for kind, told in speeds.items()}
    return found


def tells_revision(version: str) -> bool:
    """Whether a board's version is one: two numbers with a dot between, and no place that is left open."""
    return bool(re.fullmatch(r"(?:rev(?:ision)?|ver(?:sion)?|v)?\.? ?\d{1,2}\.\d{1,2}[a-z]?", version, re.I))


def _bare(name: str) -> str:
    return " ".join(re.sub(r"\((?:R|TM|tm)\)|\bCPU\b|@.*|[\d.]+ ?GHz", " ", name).split())


def _listed_processors(data: Path) -> Iterable[str]:
    for file, column in (
        ("names/cpu-retail-to-device-pairs.tsv", "cpu_model_name_reported"),
        ("cpu/lscpu-index.tsv", "model_name_line"),
    ):
        path = data / file
        if path.is_file():
            with path.open(encoding="utf-8", newline="") as rows:
                yield from (row[column] for row in csv.DictReader(rows, delimiter="\t") if row[column])


def _chips(path: Path) -> dict[str, dict[str, str]]:
    """Return the devices of the makers of graphics in `pci.ids`, by vendor and device."""
    found: dict[str, dict[str, str]] = {"10de": {}, "1002": {}, "8086": {}}
    vendor = ""
    with lzma.open(path, "rt", encoding="utf-8", errors="replace") as lines:
        for line in lines:
            if line[:1] not in "\t#\n":
                vendor = line[:4].lower()
            elif line[:1] == "\t" and line[1:2] != "\t" and vendor in found:
                found[vendor][line[1:5].lower()] = line[5:].strip()
    return found
