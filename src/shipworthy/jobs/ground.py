"""Where the loads may work: folders, and the drives with what is left of their write budgets."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from shipworthy.jobs.ledger import (
    STORAGE,
    attempt_folders,
    folders_beside,
    seeds_in,
    written_by_place,
    written_by_serial,
)
from shipworthy.machine.attached import Attached, attached_drives
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.facts import Part
from shipworthy.model.plan import Plan
from shipworthy.model.policy import Endurance
from shipworthy.model.reading import Reading
from shipworthy.model.words import PartKind, WholeDrive
from shipworthy.stress.loads.storage import BLANK_DRIVE
from shipworthy.stress.loads.storage_budget import KEPT_SHARE
from shipworthy.stress.protocol import Drive, Ground

ENDURANCE_CAPACITIES = 600
"""Rated endurance in capacities: 600 TB written for each TB, common practice for consumer drives with three
bits a cell. A drive does not tell its own; a shop's policy can (`endurance`)."""
BUDGET_SHARE = 0.002  # of the rated endurance (the tool's own rule: a test costs no more of a drive's life)


@dataclass(frozen=True)
class Grant:
    """What a person has allowed with the whole of a drive, by typing its serial."""

    serial: str
    whole: WholeDrive


@dataclass(frozen=True)
class Ask:
    """What the ground is made for.

    own: the folder of this attempt or unit half. records: of all attempts; None where there are none here,
    and the folders beside the own one are looked at instead.
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

    A drive that has been put in another's place since the reading was taken has a budget of its own. The
    steps that are left share what is left: where the plan would write more, each gets an even part, so that
    together they stay within it.
    """
    parts = reading.of_kind(PartKind.STORAGE)
    granted = _granted(parts, ask.grants, root)
    there = _there(parts, root)
    _refuse_what_has_gone(granted, there)
    folders = [ask.own, *(attempt_folders(ask.records) if ask.records else folders_beside(ask.own))]
    by_serial = written_by_serial(folders, (one.serial for one in there))
    by_place = written_by_place(ask.own)
    drives = []
    for one in there:
        own = sum(by_place.get(place, 0) for place in one.places)
        written_bytes = by_serial[one.serial] if one.serial else own
        drives.append(_drive(one, written_bytes, granted.get(one.serial, WholeDrive.NOTHING), root, ask))
    return Ground(work_folders=tuple(map(str, ask.work_folders)), drives=tuple(drives))


@dataclass(frozen=True)
class _There:
    """A drive. places: all by which it is known; the first is that of its block device, where it has one."""

    places: tuple[str, ...]
    serial: str
    capacity_bytes: int


def _there(parts: Sequence[Part], root: Root) -> list[_There]:
    """Return the drives as they are attached now, then those of the reading that are not."""
    now = {one.place: one for one in attached_drives(root)}
    found = []
    for part in parts:
        places = (part.place, *part.also_at)
        here = [one for place in places if (one := now.pop(place, None)) is not None]
        another = next((one for one in here if _is_another(one, part)), None)
        if another is not None:
            found.append(_There((another.place,), another.serial, another.size_bytes))
        else:
            own = tuple(one.place for one in here)
            told = part.number("size_bytes") or part.number("capacity_bytes")
            capacity = int(told or max((one.size_bytes for one in here), default=0))  # a card put in since
            found.append(_There(tuple(dict.fromkeys(own + places)), serial_of(part), capacity))
    return found + [_There((one.place,), one.serial, one.size_bytes) for one in now.values()]


def _is_another(one: Attached, part: Part) -> bool:
    """Whether a drive shows a serial that no source told of the part when it was read."""
    fact = part.fact("serial")
    told = [] if fact is None else [fact.value, *(witness.value for witness in fact.witnesses)]
    serials = {str(value).strip() for value in told if value is not None}
    return bool(one.serial and serials) and one.serial not in serials


def _refuse_what_has_gone(granted: Mapping[str, WholeDrive], there: Sequence[_There]) -> None:
    serials = {one.serial for one in there}
    for serial in granted:
        if serial not in serials:
            mend = "Take the reading again, and type the serial again."
            raise Trouble(f"another drive is in the place of the drive {serial}", "drives", mend)


def rated_by_serial(parts: Sequence[Part], endurance: Sequence[Endurance]) -> dict[str, int]:
    """Return the rated endurance in bytes of each drive whose model a policy names; the least of several."""
    found: dict[str, int] = {}
    for part in parts:
        model, serial = part.text("model").casefold(), serial_of(part)
        rated = [one.rated_bytes for one in endurance if one.model.casefold() in model]
        if serial and rated:
            found[serial] = min(rated)
    return found


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


def _drive(one: _There, written_bytes: int, whole: WholeDrive, root: Root, ask: Ask) -> Drive:
    capacity = one.capacity_bytes
    budget = budget_bytes(capacity, (ask.rated_bytes or {}).get(one.serial))
    drive = Drive(
        place=one.places[0],
        serial=one.serial,
        capacity_bytes=capacity,
        write_left_bytes=left_bytes(budget, written_bytes, ask.plan, ask.steps_ended) if capacity else None,
        whole=whole,
    )
    return _blank(drive, root, ask) if whole is WholeDrive.WRITE else drive


def _blank(drive: Drive, root: Root, ask: Ask) -> Drive:
    """Return the drive as a blank one; Trouble, with the reason, if it is not. It is only read for that. What
    this very burn-in has written to it before it was cut off counts as blank."""
    import msgspec

    from shipworthy.stress.loads.storage_drive import drive_node, open_the, why_not_blank
    from shipworthy.stress.loads.storage_own import OwnPatterns

    drive_node(drive, writing=True, root=root)  # it has to show its serial
    place = open_the(drive, writing=False, root=root)
    own = OwnPatterns(
        [
            f"{seed}/{step.step}/{request.load}/{drive.place}"
            for seed in seeds_in(ask.own)
            for step in ask.plan.steps
            for request in step.loads
            if (request.load, request.variant) == (STORAGE, BLANK_DRIVE)
        ]
    )
    try:
        why = why_not_blank(place, int.from_bytes(os.urandom(7), "big"), own)
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
