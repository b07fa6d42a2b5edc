"""Readings made by hand for tests of the comparison: parts with facts, and nothing captured."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Configuration, Privilege, RawRow, Reading, SourceOutcome, Tool
from shipworthy.model.time import Moment
from shipworthy.model.words import Absent, Aspect, Category, Origin, PartKind, Unit
from shipworthy.orders.expect import with_expectations

GIB = 2**30
MOMENT = Moment(utc=datetime(2026, 3, 2, tzinfo=UTC), boot_id=None, monotonic_s=0.0, clock_synchronised=None)
EVIDENCE = ("reading/reading.json",)
LISTINGS = ("/proc/cpuinfo", "/sys/block", "/sys/class/drm", "/sys/class/net", "/sys/bus/pci/devices")
LIMITS = (
    Limit(quantity="storage/power_on_hours", value=24, unit=Unit.HOURS, origin=Origin.SHOP),
    Limit(quantity="storage/power_cycles", value=50, unit=Unit.COUNT, origin=Origin.SHOP),
    Limit(quantity="storage/written_bytes", value=2e11, unit=Unit.BYTES, origin=Origin.SHOP),
)


def part(kind: PartKind, place: str, **said: Scalar | Absent) -> Part:
    facts = tuple(
        Fact(name=name, source="s", absent=value)
        if isinstance(value, Absent)
        else Fact(name=name, source="s", value=value)
        for name, value in said.items()
    )
    return Part(kind=kind, place=place, facts=facts)


def row(locator: str, outcome: SourceOutcome = SourceOutcome.READ) -> RawRow:
    return RawRow(
        id=locator,
        source="s",
        platform="linux",
        locator=locator,
        at=MOMENT,
        privilege=Privilege.ROOT,
        outcome=outcome,
    )


def machine(*parts: Part, rows: Iterable[RawRow] | None = None) -> Reading:
    return Reading(
        reading_id="reading-1",
        nonce=None,
        taken=MOMENT,
        took_s=0.0,
        simulated=False,
        tool=Tool(name="test", version="1"),
        sources=tuple(map(row, LISTINGS) if rows is None else rows),
        parts=parts,
        ports=(),
        configuration=Configuration.of({"firmware/version": "1.12"}),
    )


def processor(model: str = "Tarn C7", place: str = "socket:0", **said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {"cores": 8, "threads": 16, "online_cpus": "0-15"}
    return part(PartKind.PROCESSOR, place, model=model, **{**known, **said})


def module(slot: str, **said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {
        "size_bytes": 16 * GIB,
        "type": "DDR5",
        "configured_speed_mt_s": 6000,
        "firmware_speed_mt_s": 6000,
        "maker": "Fennec",
        "part_number": "FQ5-60-16X",
    }
    return part(PartKind.MEMORY_MODULE, f"smbios:{slot}", **{**known, **said})


def memory(usable_bytes: int) -> Part:
    return part(PartKind.MEMORY, "memory", usable_bytes=usable_bytes)


def drive(place: str = "pci:0000:04:00.0/nvme-ns-1", **said: Scalar | Absent) -> Part:
    known: dict[str, Scalar | Absent] = {
        "model": "Quarrel M2 1TB",
        "size_bytes": 1_000_204_886_016,
        "technology": "NVMe",
        "interface": "NVMe",
        "power_on_hours": 2,
        "power_cycles": 11,
        "written_bytes": 1_200_000_000,
        "media_errors": 0,
    }
    return part(PartKind.STORAGE, place, **{**known, **said})


def function(place: str = "pci:0000:04:00.0", **said: Scalar | Absent) -> Part:
    """A PCI function with four lanes on its whole way to the root, but for what is said."""
    known: dict[str, Scalar | Absent] = {
        "path_width": 4,
        "path_width_max": 4,
        "path_speed_max_gt_s": 16.0,
        "path_narrowed_at": "none",
    }
    return part(PartKind.PCI_DEVICE, place, **{**known, **said})


def line(category: Category, text: str, line_id: str = "1", **more: object) -> OrderLine:
    return OrderLine(line_id=line_id, category=category, text=text, **more)


def order(*lines: OrderLine) -> Order:
    return with_expectations(
        Order(order_id="KD-0412", shop="Kestrel Desk", units=("KD-0412-1",), lines=lines)
    )


def codes(comparison: Comparison, aspect: Aspect | None = None) -> list[str]:
    return [f.code for f in comparison.findings if aspect is None or f.aspect is aspect]


def finding(comparison: Comparison, aspect: Aspect, line_id: str = "1") -> Finding:
    (found,) = [f for f in comparison.findings if f.aspect is aspect and f.line == line_id]
    return found
