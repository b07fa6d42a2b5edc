"""The unit half: read and burn in. Needs no key, no order and no database, and writes one folder.

The same functions serve both shapes of a bench: on one machine the folder is the open attempt's own, on
two it is a plain folder on a stick or a share that the bench half takes in later (see `jobs.take`).
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import msgspec

from shipworthy import __version__
from shipworthy.analysis import Segment
from shipworthy.jobs.ground import Ask, Grant, ground_for
from shipworthy.jobs.resuming import (
    may_go_on,
    read_drive_counts,
    refuse_to_resume,
    steps_ended,
    what_happened,
)
from shipworthy.machine.reading import INDEX, read_configuration, reread, take_reading
from shipworthy.machine.root import Root
from shipworthy.model.base import (
    Trouble,
    decode,
    decode_lines,
    digest_of,
    encode,
    encode_pretty,
    read_bytes,
    read_record,
)
from shipworthy.model.plan import Plan
from shipworthy.model.progress import Sink, progress
from shipworthy.model.reading import Configuration, Privilege, RawRow, Reading, Tool
from shipworthy.model.runlog import LogLine, read_log
from shipworthy.model.time import Clock, uuid7
from shipworthy.model.words import Ending
from shipworthy.record.files import AppendLog, disk_trouble, write_whole
from shipworthy.record.locks import Held, Lock
from shipworthy.stress.engine import run_plan
from shipworthy.stress.plans import check_plan
from shipworthy.stress.power_cycles import Surroundings, awaited_in

TOOL = Tool(name="shipworthy", version=__version__)
IDENTITY = ("board/serial", "system/serial", "system/uuid")
SERIALS = ("board/serial", "system/serial")
"""What shows that a changed machine is the same one. Not the UUID: firmware that was never given one has
everybody's."""
MOST_READING_BYTES = 64 << 20
READING_FILE = "reading.json"
LOCK = ".burning-in"
READING, READING_AFTER, BURN_IN, SPECIMEN = "reading", "reading-after", "burn-in", "specimen"


class Into(Protocol):
    """Where the unit half writes: an open attempt, or a plain folder."""

    @property
    def folder(self) -> Path: ...

    def write(self, name: str, data: bytes) -> None: ...

    def log(self, name: str) -> AppendLog: ...


@dataclass(frozen=True)
class UnitFolder:
    """A plain folder of the unit half's own."""

    folder: Path

    def write(self, name: str, data: bytes) -> None:
        write_whole(self._place(name), data)

    def log(self, name: str) -> AppendLog:
        return AppendLog(self._place(name))

    def _place(self, name: str) -> Path:
        """Return where a file goes, with its folder made. Raises Trouble where that cannot be."""
        path = self.folder / name
        with disk_trouble(path.parent):
            path.parent.mkdir(parents=True, exist_ok=True)
        return path


def read_unit(
    into: Into,
    root: Root,
    *,
    nonce: str | None,
    clock: Clock,
    under: str = READING,
    outside_sources: tuple[str, ...] = (),
) -> Reading:
    """Take a reading of a machine into `<folder>/<under>/` and return it.

    Only the machine we run on, or one that is marked as simulated, can carry an attempt's nonce: a
    reading made from recorded files is compared, and never releases.
    """
    if nonce is not None and not (root.live or root.simulated):
        raise Trouble(
            "a recorded machine cannot carry an attempt's nonce",
            root.folder,
            "Read it without a nonce; it can be compared, but never releases.",
        )

    def keep(name: str, data: bytes) -> None:
        into.write(f"{under}/{name}", data)

    return take_reading(root, keep, nonce=nonce, clock=clock, also=outside_sources)


def read_specimen(into: Into, root: Root, *, clock: Clock) -> Reading:
    """Take a reading without anything personal into `<folder>/specimen/`, for a bug report or a test."""
    from shipworthy.machine.specimen import take_specimen  # all decoders, which no other reading needs

    def keep(name: str, data: bytes) -> None:
        into.write(f"{SPECIMEN}/{name}", data)

    return take_specimen(root, keep, host=os.uname().nodename, clock=clock)


def read_again(into: Into, folder: Path) -> Reading:
    """Make a reading's folder again from its raw files, by today's decoders, into `<folder>/reading/`.

    It keeps the moment of the first and no nonce: what was read later than asked for never releases.
    """
    _refuse_what_no_reading_holds(folder)
    reading = msgspec.structs.replace(reread(folder), nonce=None)
    for row in reading.sources:
        if row.file is not None:
            into.write(f"{READING}/{row.file}", read_bytes(folder / row.file))
    into.write(f"{READING}/{INDEX}", read_bytes(folder / INDEX))
    into.write(f"{READING}/reading.json", encode_pretty(reading))
    return reading


def _refuse_what_no_reading_holds(folder: Path) -> None:
    """Raise Trouble for a stranger's reading that reaches out of its folder, or is larger than any is."""
    index = folder / INDEX
    for name in (READING_FILE, INDEX):
        if (folder / name).is_file() and (folder / name).stat().st_size > MOST_READING_BYTES:
            raise Trouble("is larger than any of a reading", folder / name, "Restore it from a good copy.")
    inside = folder.resolve()
    for row in decode_lines(read_bytes(index), RawRow, index)[0]:
        if row.file is None:
            continue
        file = folder / row.file
        if ".." in row.file.split("/") or not row.file.startswith("raw/"):
            raise Trouble(
                "the index names a file that is none of a reading", row.file, "Ask for a good copy."
            )
        if not file.resolve().is_relative_to(inside):
            raise Trouble("this raw file leads out of the reading", row.file, "Ask for a good copy.")
        if file.is_file() and file.stat().st_size > MOST_READING_BYTES:
            raise Trouble("is larger than any of a reading", row.file, "Restore it from a good copy.")


@dataclass(frozen=True)
class BurnIn:
    """What a burn-in needs beside its plan.

    work_folders: where the storage load may write a file of its own, one for each drive to be loaded.
    grants: what a person has allowed with whole drives. records: the folder of all attempts, over which a
    drive's write budget is counted; None where there is none, as on the unit half. rated_bytes: a drive's
    rated endurance by serial, where it is known.
    """

    root: Root
    clock: Clock
    show: Sink
    stop: threading.Event
    work_folders: tuple[Path, ...]
    outside_loads: tuple[str, ...] = ()
    grants: tuple[Grant, ...] = ()
    records: Path | None = None
    rated_bytes: Mapping[str, int] | None = None


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Let nobody else burn in into a unit half's folder meanwhile. Raises Trouble where somebody does."""
    try:
        with disk_trouble(folder):
            lock = Lock.take(folder / LOCK)
    except Held as held:
        mend = "Wait until it has ended, or stop it with Ctrl-C in its terminal."
        raise Trouble(f"{held.holder} burns in into this folder", folder, mend) from None
    try:
        yield
    finally:
        lock.remove()


def burn_in_unit(into: Into, plan: Plan, job: BurnIn) -> Ending:
    """Run a plan into `<folder>/burn-in/`, or take up one that was interrupted, and return how it ended.

    A run that has come to an end is not run again. An interrupted one goes on in a new segment, at the
    first step that had not ended; one that waits for an announced restart looks for it first.
    """
    reading = read_record(into.folder / READING / "reading.json", Reading)
    segments = read_segments(into.folder)
    began = job.clock.now()
    if not segments:
        check_plan(plan, job.outside_loads)
        plan = decode(encode(plan), Plan, "the plan")  # as it will be read again: whole seconds become floats
        into.write(f"{BURN_IN}/plan.json", encode_pretty(plan))
    else:
        plan = read_record(into.folder / BURN_IN / "plan.json", Plan)
        if not may_go_on(segments[-1].ending):
            return segments[-1].ending
    _refuse_lesser_rights(reading)
    _refuse_another_machine(reading, read_configuration(job.root, job.clock), job.root)
    asked = Ask(
        plan,
        into.folder,
        job.work_folders,
        job.records,
        job.grants,
        steps_ended(segments),
        job.rated_bytes,
    )
    ground = ground_for(reading, job.root, asked)
    first = next((s.start for s in segments if s.start), None)
    number = len(segments) + 1
    file_number = len(list((into.folder / BURN_IN).glob("log-*.jsonl"))) + 1  # one may hold no whole line
    with into.log(f"{BURN_IN}/log-{file_number:03d}.jsonl") as log:

        def write(line: LogLine) -> None:
            log.append(encode(line))

        if segments:
            happened = what_happened(segments, began)
            if happened is not None:
                job.show(happened)
            job.show(progress("run.burn-in-taken-up", segment=number))
        return run_plan(
            plan,
            root=job.root,
            clock=job.clock,
            nonce=reading.nonce,
            segment=number,
            first_step=min(steps_ended(segments), len(plan.steps)),
            seed=first.seed if first else int.from_bytes(os.urandom(7), "big"),
            run_id=first.run_id if first else uuid7(job.clock),
            tool=TOOL,
            write=write,
            show=job.show,
            ground=ground,
            digest=digest_of(read_bytes(into.folder / BURN_IN / "plan.json")),
            read_configuration=lambda: read_configuration(job.root, job.clock),
            stop=job.stop,
            outside_loads=job.outside_loads,
            around=Surroundings(
                sync=log.sync,
                read_drives=lambda: read_drive_counts(job.root),
                awaited=awaited_in(segment.lines for segment in segments),
            ),
        )


def resume_unit(into: Into, job: BurnIn) -> Ending:
    """Take up the burn-in in `<folder>/burn-in/` and return how it ended.

    Raises Trouble for one that was never begun, or has come to its end.
    """
    refuse_to_resume(into.folder, read_segments(into.folder))
    plan = read_plan_of(into.folder)
    assert plan is not None, "a plan is written before the first segment"
    return burn_in_unit(into, plan, job)


def read_segments(folder: Path) -> tuple[Segment, ...]:
    """Return the segments of a run log in an attempt's or a unit half's folder, in order.

    A segment whose very first line was torn is left out: nothing of it was ever written.
    """
    paths = sorted((folder / BURN_IN).glob("log-*.jsonl"))
    read = [(path, *read_log(read_bytes(path), path)) for path in paths]
    return tuple(
        Segment(file=f"{BURN_IN}/{path.name}", lines=tuple(lines), torn=bool(torn))
        for path, lines, torn in read
        if lines
    )


def read_plan_of(folder: Path) -> Plan | None:
    """Return the plan that a folder's burn-in ran; None if none was run."""
    path = folder / BURN_IN / "plan.json"
    return decode(read_bytes(path), Plan, path) if path.exists() else None


def plan_digest_of(folder: Path) -> str | None:
    """Return the digest of the plan as it is kept: an older version's has fewer keys than today's."""
    path = folder / BURN_IN / "plan.json"
    return digest_of(read_bytes(path)) if path.exists() else None


def another_machine(one: Configuration, other: Configuration) -> bool:
    """Whether two configurations are of two machines: another identity, or less than half in common.

    With the same serial and nothing against it, it is the same machine however much has changed: a card that
    is added gives every bus behind it another number.
    """
    changes = one.changes_to(other)
    mine, its = ({item.key: item.value for item in c.items} for c in (one, other))
    if any(mine[key] != its[key] for key in IDENTITY if key in mine and key in its):
        return True
    same = any(key in mine and mine[key] == its.get(key) for key in SERIALS)
    return not same and len(changes) > len(one.items) / 2


def _refuse_lesser_rights(reading: Reading) -> None:
    """What root read and this account cannot would look like a machine that has changed."""
    if os.geteuid() != 0 and any(row.privilege is Privilege.ROOT for row in reading.sources):
        raise Trouble(
            "the reading was taken with root's rights, and this account has none",
            READING,
            "Run the burn-in with the same rights, or take the reading again without root's.",
        )


def _refuse_another_machine(reading: Reading, now: Configuration, root: Root) -> None:
    """A bench half that has taken in a unit's folder must not burn in itself by mistake."""
    if another_machine(reading.configuration, now):
        key, was, is_now = reading.configuration.changes_to(now)[0]
        raise Trouble(
            f"this is not the machine that was read: {key} was {was} and is {is_now} here",
            root.folder,
            "Run the burn-in on the unit, into the folder that holds its reading.",
        )
