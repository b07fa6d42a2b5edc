"""What this machine and this account cannot read or do, and how to mend it."""

from __future__ import annotations

import os
import resource
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from shipworthy.jobs.errands import Bench, passing_folder
from shipworthy.jobs.unit import UnitFolder, read_unit
from shipworthy.machine.root import Root
from shipworthy.machine.sensors import list_columns
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.reading import RawRow, Reading, SourceOutcome
from shipworthy.model.words import PartKind, RemarkKind
from shipworthy.record.keys import TrustList, load_key

DISK_FLOOR_BYTES = 2 * 2**30
"""Free space below which a burn-in and its record get cramped (our choice)."""


EVERYWHERE = ("cpuinfo", "meminfo", "smbios.table", "block", "pci")
"""Rows that give something on every PC."""
_ORDER = (SourceOutcome.FAILED, SourceOutcome.REFUSED, SourceOutcome.ABSENT, SourceOutcome.EMPTY)


@dataclass(frozen=True)
class Complaint:
    """One thing that cannot be read or done. code and values make the sentence, with how to mend it."""

    code: str
    values: tuple[Value, ...] = ()


def doctor(root: Root, bench: Bench) -> tuple[Complaint, ...]:
    """Return everything that stands in the way of a whole job, in the order of the job. Changes nothing."""
    with passing_folder() as folder:
        reading = read_unit(UnitFolder(folder), root, nonce=None, clock=bench.clock)
    return (
        *_unread(reading),
        *_not_decoded(reading),
        *_modules(reading),
        *_sensors(root),
        *_parts(reading),
        *_room(bench.records),
        *_keys(bench),
    )


def _unread(reading: Reading) -> Iterator[Complaint]:
    """One complaint for each source that is refused or fails, however many files of it are concerned. What is
    not there is none, unless every PC has it: most lack a battery, a TPM or a second maker's tool."""
    told: set[tuple[str, SourceOutcome]] = set()
    rows = [row for row in reading.sources if row.outcome is not SourceOutcome.READ and _matters(row)]
    for row in sorted(rows, key=lambda row: _ORDER.index(row.outcome)):
        if (row.source, row.outcome) in told:
            continue
        told.add((row.source, row.outcome))
        if row.outcome is SourceOutcome.ABSENT and row.error.endswith("not installed"):
            yield Complaint("doctor.no-tool", values(source=row.source, locator=row.locator))
        elif row.outcome is SourceOutcome.ABSENT and row.id.endswith(".names"):
            yield Complaint("doctor.no-names", values(source=row.source, locator=row.locator))
        else:
            yield Complaint(
                f"doctor.source-{row.outcome.value}",
                values(source=row.source, locator=row.locator, error=row.error or "no more is known"),
            )


def _matters(row: RawRow) -> bool:
    if row.outcome in (SourceOutcome.REFUSED, SourceOutcome.FAILED):
        return True
    return row.id in EVERYWHERE or row.error.endswith("not installed") or row.id == "pci.names"


def _modules(reading: Reading) -> Iterator[Complaint]:
    """The modules' own chips tell their profiles; only a driver of the bus can reach them."""
    fitted = any(part.value("size_bytes") is not None for part in reading.of_kind(PartKind.MEMORY_MODULE))
    served = any(
        row.id.startswith("spd.") and row.outcome is not SourceOutcome.ABSENT for row in reading.sources
    )
    if fitted and not served:
        yield Complaint("doctor.no-spd")


def _not_decoded(reading: Reading) -> Iterator[Complaint]:
    """What a decoder of this tool made a mistake with: its bytes are there, and say nothing."""
    for remark in reading.remarks:
        if remark.kind is RemarkKind.DECODER_FAILED:
            told = values(source=remark.source, where=remark.where, detail=remark.detail, count=remark.count)
            yield Complaint("reading.decoder-failed", told)


def _sensors(root: Root) -> Iterator[Complaint]:
    quantities = {column.quantity for column in list_columns(root)}
    for quantity in ("temperature", "fan"):
        if quantity not in quantities:
            yield Complaint(f"doctor.no-{quantity}")


def _parts(reading: Reading) -> Iterator[Complaint]:
    kinds = {part.kind for part in reading.parts}
    for kind in (PartKind.MEMORY_MODULE, PartKind.STORAGE, PartKind.BOARD, PartKind.DISPLAY):
        if kind not in kinds:
            yield Complaint("doctor.no-part", values(kind=kind.value))
    silent = sum(1 for part in reading.of_kind(PartKind.STORAGE) if part.value("power_on_hours") is None)
    if silent:
        yield Complaint("doctor.no-drive-counters", values(count=silent))


def _room(records: Path) -> Iterator[Complaint]:
    place = next(p for p in (records.absolute(), *records.absolute().parents) if p.exists())
    if not os.access(place, os.W_OK):
        yield Complaint("doctor.cannot-write", values(folder=str(records)))
    else:
        state = os.statvfs(place)
        free_bytes = state.f_bavail * state.f_frsize
        if free_bytes < DISK_FLOOR_BYTES:
            yield Complaint("doctor.little-space", values(free_bytes=free_bytes, folder=str(records)))
    soft, _ = resource.getrlimit(resource.RLIMIT_MEMLOCK)
    if os.geteuid() != 0 and soft != resource.RLIM_INFINITY:
        yield Complaint("doctor.memlock", values(limit_bytes=soft))
    online = os.cpu_count() or 1
    usable = len(os.sched_getaffinity(0))
    if usable < online:
        yield Complaint("doctor.fewer-cpus", values(usable=usable, online=online))


def _keys(bench: Bench) -> Iterator[Complaint]:
    for code, check in (
        ("doctor.no-key", lambda: load_key(bench.key)),
        ("doctor.no-trust-list", lambda: TrustList.load(bench.trust)),
    ):
        try:
            check()
        except Trouble as trouble:
            yield Complaint(code, values(why=trouble.what, file=trouble.where))
