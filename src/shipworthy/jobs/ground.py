"""Where the loads may work: folders, and the drives with what is left of their write budgets."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from shipworthy.jobs.ledger import STORAGE, attempt_folders, written_by_place, written_by_serial
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.facts import Part
from shipworthy.model.plan import Plan
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind, WholeDrive
from shipworthy.stress.loads.storage_budget import KEPT_SHARE
from shipworthy.stress.protocol import Drive, Ground

ENDURANCE_CAPACITIES = 600
"""Rated endurance in capacities: 600 TB written for each TB, common practice for consumer drives with three
bits a cell. A drive does not tell its own; who knows it gives it as `rated_bytes`."""
BUDGET_SHARE = 0.002  # of the rated endurance (the tool's own rule: a test costs no more of a drive's life)


@dataclass(frozen=True)
class Grant:
    """What a person has allowed with the whole of a drive, by typing its serial."""

    serial: str
    whole: WholeDrive


@dataclass(frozen=True)
class Ask:
    """What the ground is made for.

    own: the folder of this attempt or unit half. records: of all attempts; None where there are none here.
    steps_ended: of the plan. rated_bytes: a drive's rated endurance by serial, where it is known.
    """

    plan: Plan
    own: Path
    work_folders: Sequence[Path]
    records: Path | None = None
    grants: tuple[Grant, ...] = ()
    steps_ended: int = 0
    rated_bytes: Mapping[str, int] | None = None


def budget_bytes(capacity_bytes: int, rated_bytes: int | None = None) -> int:
    """Return how much burn-ins may write to a drive: one capacity, or a share of its endurance if less."""
    rated = capacity_bytes * ENDURANCE_CAPACITIES if rated_bytes is None else rated_bytes
    return min(capacity_bytes, int(rated * BUDGET_SHARE))


def ground_for(reading: Reading, root: Root, ask: Ask) -> Ground:
    """Return the ground for the rest of a plan. Raises Trouble for a serial that is no drive's, or two's.

    The steps that are left share what is left: where the plan would write more, each gets an even part, so
    that together they stay within it.
    """
    parts = reading.of_kind(PartKind.STORAGE)
    granted = _granted(parts, ask.grants, root)
    folders = [ask.own, *(attempt_folders(ask.records) if ask.records else ())]
    by_serial = written_by_serial(folders, map(serial_of, parts))
    by_place = written_by_place(ask.own)
    drives = []
    for part in parts:
        serial = serial_of(part)
        own = sum(by_place.get(place, 0) for place in (part.place, *part.also_at))
        written_bytes = by_serial[serial] if serial else own
        drives.append(_drive(part, written_bytes, granted.get(serial, WholeDrive.NOTHING), root, ask))
    return Ground(work_folders=tuple(map(str, ask.work_folders)), drives=tuple(drives))


def serial_of(part: Part) -> str:
    return part.text("serial").strip()


def left_bytes(budget_bytes: int, written_bytes: int, plan: Plan, steps_ended: int) -> int:
    """Return what each step may write at most: all that is left, or an even part where the plan would write
    into the share of the budget that is kept (`stress.loads.storage_budget`)."""
    left = max(0, budget_bytes - written_bytes)
    wanted = [
        request.write_budget_bytes
        for step in plan.steps[steps_ended:]
        for request in step.loads
        if request.load == STORAGE and request.write_budget_bytes
    ]
    return left if sum(wanted) <= left - budget_bytes // KEPT_SHARE else left // max(1, len(wanted))


def _drive(part: Part, written_bytes: int, whole: WholeDrive, root: Root, ask: Ask) -> Drive:
    capacity = int(part.number("size_bytes") or part.number("capacity_bytes") or 0)
    serial = serial_of(part)
    budget = budget_bytes(capacity, (ask.rated_bytes or {}).get(serial))
    drive = Drive(
        place=part.place,
        serial=serial,
        capacity_bytes=capacity,
        write_left_bytes=left_bytes(budget, written_bytes, ask.plan, ask.steps_ended) if capacity else None,
        whole=whole,
    )
    return _blank(drive, root) if whole is WholeDrive.WRITE else drive


def _blank(drive: Drive, root: Root) -> Drive:
    """Return the drive as a blank one; Trouble, with the reason, if it is not. It is only read for that."""
    import msgspec

    from shipworthy.stress.loads.storage_drive import drive_node, open_drive, why_not_blank

    place = open_drive(drive_node(drive, writing=True, root=root), writing=False)
    try:
        why = why_not_blank(place, int.from_bytes(os.urandom(7), "big"))
    finally:
        os.close(place.descriptor)
    if why:
        mend = "Only a blank drive is written whole. Look whether it is the one that you mean."
        raise Trouble(f"the drive {drive.serial} is not blank: {why}", drive.place, mend)
    return msgspec.structs.replace(drive, blank=True)


def _granted(parts: Sequence[Part], grants: tuple[Grant, ...], root: Root) -> dict[str, WholeDrive]:
    """Return what is allowed by serial: writing, which includes reading, if both were given."""
    if grants and not root.live:
        raise Trouble("a recorded machine has no drive to work on", root.folder, "Leave the serials out.")
    found: dict[str, WholeDrive] = {}
    for grant in grants:
        serial = grant.serial.strip()
        having = [part for part in parts if serial and serial_of(part) == serial]
        if len(having) != 1:
            known = ", ".join(filter(None, map(serial_of, parts))) or "no drive here shows one"
            what = "no drive shows" if not having else "several drives show"
            raise Trouble(f"{what} the serial {serial!r}", "drives", f"There are: {known}.")
        if found.get(serial) is not WholeDrive.WRITE:
            found[serial] = grant.whole
    return found
