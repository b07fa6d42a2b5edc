"""Retail records and pair tables for `bench/matching.py`: what was sold, and what a machine with it says.

The folder is laid out as `reference/names`: pair tables (a retail record against the strings that real
machines gave for it) and the open part records, which tell the facts of each and which siblings it has.
Nothing here knows how the comparison works.
"""

from __future__ import annotations

import csv
import json
import lzma
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part
from shipworthy.model.reading import Configuration, Reading, Tool
from shipworthy.model.time import Moment
from shipworthy.model.words import Absent, Category, PartKind

Row = dict[str, str]
_LBA_BASE, _LBA_STEP = 97_696_368, 1_953_504  # IDEMA LBA1-03: blocks of 512 bytes, from 50 GB upward


@dataclass(frozen=True)
class Retail:
    """A retail record. facts: what the record says apart from its name, where it says it."""

    record_id: str
    maker: str
    name: str
    series: str = ""
    numbers: tuple[str, ...] = ()
    facts: tuple[tuple[str, Scalar], ...] = ()

    def fact(self, name: str) -> Scalar | None:
        return next((value for key, value in self.facts if key == name), None)


@dataclass(frozen=True)
class Device:
    """What one machine says of a part: its strings, the facts that it states, and the parts of a reading."""

    strings: tuple[str, ...]
    states: tuple[tuple[str, Scalar], ...]
    parts: tuple[Part, ...] = field(repr=False)


@dataclass(frozen=True)
class Pair:
    """A retail record and a device that really is that part."""

    retail: Retail
    device: Device


@dataclass(frozen=True)
class Table:
    """One category: its open records, and its pairs."""

    title: str
    category: Category
    records: tuple[Retail, ...]
    pairs: tuple[Pair, ...]


def part(kind: PartKind, place: str, **said: Scalar | None) -> Part:
    """Return a part with these facts; None for one that is not offered."""
    facts = tuple(
        Fact(name=name, source="names", absent=Absent.NOT_OFFERED)
        if value is None
        else Fact(name=name, source="names", value=value)
        for name, value in said.items()
    )
    return Part(kind=kind, place=place, facts=facts)


def reading(parts: Iterable[Part]) -> Reading:
    """Return a reading of a machine with these parts and no other."""
    taken = Moment(
        utc=datetime(2026, 3, 2, tzinfo=UTC), boot_id=None, monotonic_s=0.0, clock_synchronised=None
    )
    return Reading(
        reading_id="names",
        nonce=None,
        taken=taken,
        took_s=0.0,
        simulated=False,
        tool=Tool(name="bench", version="1"),
        sources=(),
        parts=tuple(parts),
        ports=(),
        configuration=Configuration.of({}),
    )


# Open records


def _known(**facts: Scalar | None) -> tuple[tuple[str, Scalar], ...]:
    """Open records write 0, nothing or `Unknown` for what they do not know."""
    return tuple((name, value) for name, value in facts.items() if value not in (None, 0, "", "Unknown"))


def _processor_facts(record: dict[str, Any]) -> tuple[tuple[str, Scalar], ...]:
    return _known(cores=(record.get("cores") or {}).get("total"), socket=record.get("socket"))


def _board_facts(record: dict[str, Any]) -> tuple[tuple[str, Scalar], ...]:
    memory = (record.get("memory") or {}).get("ram_type")
    return _known(socket=record.get("socket"), form=record.get("form_factor"), memory=memory)


def _memory_facts(record: dict[str, Any]) -> tuple[tuple[str, Scalar], ...]:
    modules = record.get("modules") or {}
    return _known(
        size=modules.get("capacity_gb"),
        count=modules.get("quantity"),
        type=record.get("ram_type"),
        speed=record.get("speed"),
        timings=record.get("cas_latency"),
        form=record.get("form_factor"),
    )


def _storage_facts(record: dict[str, Any]) -> tuple[tuple[str, Scalar], ...]:
    solid = {"SSD": "solid state", "HDD": "spinning", "SSHD": "spinning"}.get(
        record.get("storage_type") or ""
    )
    interface = record.get("interface") or ""
    words = [word for word in ("SATA", "SAS") if word in interface]
    attached = "NVMe" if record.get("nvme") else words[0] if words else None
    size = _whole_gb(record["metadata"]["name"]) or record.get("capacity")
    return _known(size=size, technology=solid, interface=attached, form=record.get("form_factor"))


def _whole_gb(name: str) -> int | None:
    """The records' capacity is cut to whole TB: 1.5 TB stands in the name alone."""
    match = re.search(r"\b(\d+\.\d+)\s?TB\b", name)
    return round(float(match[1]) * 1000) if match else None


_FACTS: dict[str, Callable[[dict[str, Any]], tuple[tuple[str, Scalar], ...]]] = {
    "CPU": _processor_facts,
    "Motherboard": _board_facts,
    "RAM": _memory_facts,
    "Storage": _storage_facts,
}


@cache
def open_records(folder: Path, name: str) -> dict[str, Retail]:
    """Return the open records of a kind by their id."""
    text = lzma.decompress((folder / "open-db" / f"{name}.jsonl.xz").read_bytes()).decode("utf-8")
    found = {}
    for line in text.splitlines():
        record = json.loads(line)
        said = record["metadata"]
        if said.get("name"):
            found[record["opendb_id"]] = Retail(
                record_id=record["opendb_id"],
                maker=said.get("manufacturer") or "",
                name=said["name"][:500],
                series=said.get("series") or "",
                numbers=tuple(filter(None, said.get("part_numbers") or ())),
                facts=_FACTS[name](record),
            )
    return found


# Devices


def _processor(row: Row, retail: Retail) -> Device:
    model = row["cpu_model_name_reported"]
    return Device((model,), (), (part(PartKind.PROCESSOR, "socket:0", model=model),))


def _board(row: Row, retail: Retail) -> Device:
    maker, model = row["dmi_board_manufacturer"], row["dmi_board_product"].strip()
    return Device((model,), (), (part(PartKind.BOARD, "board", maker=maker, model=model),))


def _drive(row: Row, retail: Retail) -> Device:
    """The drive's own name, and the size, technology and interface that any drive tells."""
    model, size = row["device_model_string"], retail.fact("size")
    told = {name: retail.fact(name) for name in ("technology", "interface")}
    told = {name: "NVMe" if told["interface"] == "NVMe" else value for name, value in told.items()}
    size_bytes = _drive_bytes(int(size)) if isinstance(size, int) else None
    states = _known(size=size, technology=retail.fact("technology"), interface=retail.fact("interface"))
    return Device(
        (model,), states, (part(PartKind.STORAGE, "drive", model=model, size_bytes=size_bytes, **told),)
    )


def _drive_bytes(size_gb: int) -> int:
    return 512 * (_LBA_BASE + _LBA_STEP * (size_gb - 50)) if size_gb >= 50 else size_gb * 10**9


def _modules(row: Row, retail: Retail) -> Device:
    """The kit's modules as one of them showed itself: speed as found, profile on or off."""
    kind = row["dmi_type"] if row["dmi_type"].startswith("DDR") else None
    count, size = int(row["retail_modules"]), _size_bytes(row["dmi_size"])
    running, rated = _rate(row["dmi_configured_speed"]), _rate(row["dmi_speed"])
    number = row["dmi_part_number"].strip()
    parts = tuple(
        part(
            PartKind.MEMORY_MODULE,
            f"smbios:{slot}",
            size_bytes=size,
            type=kind,
            maker=row["dmi_manufacturer"].strip() or None,
            part_number=number or None,
            configured_speed_mt_s=running,
            firmware_speed_mt_s=rated,
        )
        for slot in range(count)
    )
    states = _known(count=count, size=size // 2**30, type=kind, running=running, rated=rated)
    return Device((number,), states, (*_old_table(row), *parts))


def _old_table(row: Row) -> tuple[Part, ...]:
    """The version of a table without that line, which tables have since SMBIOS 2.7, be it `Unknown`
    (DSP0134 7.18; of 5,981 modules in 2,489 desktops of linuxhw/DMI every one keeps to it)."""
    if row["dmi_configured_speed"]:
        return ()
    return (part(PartKind.FIRMWARE, "firmware", smbios_version="2.6"),)


def _size_bytes(text: str) -> int:
    number, unit = text.split()
    return int(number) * {"MB": 2**20, "GB": 2**30}[unit]


def _rate(text: str) -> int | None:
    digits = text.split()[0] if text.split() else ""
    return int(digits) if digits.isdigit() and int(digits) else None


_TABLES: tuple[tuple[Category, str, str, Callable[[Row, Retail], Device]], ...] = (
    (Category.PROCESSOR, "CPU", "cpu-retail-to-device-pairs.tsv", _processor),
    (Category.BOARD, "Motherboard", "board-retail-to-device-pairs.tsv", _board),
    (Category.STORAGE, "Storage", "storage-retail-to-device-pairs.tsv", _drive),
    (Category.MEMORY, "RAM", "ram-retail-to-device-pairs.tsv", _modules),
)
CATEGORIES = tuple(category.value for category, *_ in _TABLES)


def table_of(folder: Path, title: str) -> Table:
    """Return the table of a category. A pair whose record is not among the open ones is made of its row."""
    category, name, file, device_of = next(row for row in _TABLES if row[0].value == title)
    records = open_records(folder, name)
    pairs = []
    with (folder / file).open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines, delimiter="\t"):
            retail = records.get(row["opendb_id"]) or _of_row(row)
            pairs.append(Pair(retail, device_of(row, retail)))
    return Table(title, category, tuple(records.values()), tuple(pairs))


def _of_row(row: Row) -> Retail:
    size = row.get("retail_module_gb") or row.get("retail_capacity") or ""
    facts = _known(
        size=int(size) if size.isdigit() else None,
        count=int(row["retail_modules"]) if "retail_modules" in row else None,
        type=row.get("retail_type"),
        speed=int(row["retail_speed"]) if row.get("retail_speed", "").isdigit() else None,
        socket=row.get("socket"),
    )
    numbers = tuple(filter(None, row["retail_part_numbers"].split("|")))
    maker = row.get("retail_manufacturer") or row["retail_name"].split()[0]
    return Retail(row["opendb_id"], maker, row["retail_name"], "", numbers, facts)
