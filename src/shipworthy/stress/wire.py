"""What engine, guard and load processes say to one another: one JSON record a line.

Orders go down the guard's standard input. Reports come up one pipe that guard and loads share; a line
shorter than PIPE_BUF is written whole or not at all (POSIX write(2)), so lines never mix.
"""

from __future__ import annotations

import os
import select
from typing import Any, TypeAlias

import msgspec

from shipworthy.model.base import Record, Value
from shipworthy.model.plan import Limit
from shipworthy.stress.protocol import Answer, Job

PIPE_BUF_BYTES = select.PIPE_BUF


class Setup(Record, tag_field="kind", tag="setup"):
    """First order to the guard. The floors are in bytes; loads leave twice as much alone."""

    root: str
    work_folders: tuple[str, ...]
    limits: tuple[Limit, ...]
    memory_floor_bytes: int
    disk_floor_bytes: int


class Child(Record):
    """One load process to start."""

    entry: str
    job: Job
    cpus: tuple[int, ...] = ()
    environment: tuple[Value, ...] = ()
    begin_share: float = 0.0  # of the step's time: when it begins to work …
    end_share: float = 1.0  # … and ends


class Begin(Record, tag_field="kind", tag="begin"):
    """Start a step's loads. They make ready and wait; the step's time runs from `Go` on, or from now
    where it has no loads. limits: of this step, beside the plan's."""

    step: str
    seconds: float
    children: tuple[Child, ...]
    limits: tuple[Limit, ...] = ()


class Go(Record, tag_field="kind", tag="go"):
    """All loads of the step are ready: let them begin at the same moment."""


class Repeat(Record, tag_field="kind", tag="repeat"):
    """Let one target of a load do one round again."""

    load: str
    target: str
    round: int


class Halt(Record, tag_field="kind", tag="halt"):
    """Stop the loads now; they may finish the block they are at."""


Order: TypeAlias = Setup | Begin | Go | Repeat | Halt


class Ping(Record, tag_field="kind", tag="ping"):
    """The guard is alive."""


class Said(Record, tag_field="kind", tag="said"):
    """Something happened: becomes an event of the run log."""

    code: str
    values: tuple[Value, ...] = ()


class Worked(Record, tag_field="kind", tag="worked"):
    """Becomes a report of the run log."""

    step: str
    load: str
    target: str
    work: float
    unit_of_work: str
    seconds: float
    checks: int
    wrong: int
    written_bytes: int
    limit: float | None
    detail: tuple[Value, ...] = ()


class Answered(Record, tag_field="kind", tag="answered"):
    """One target's answer to one round, for comparing with the others'. again: on request, for a dispute."""

    load: str
    target: str
    answer: Answer
    again: bool = False


class StepOver(Record, tag_field="kind", tag="step-over"):
    """All loads of the step are gone. code: of what ended it early; empty if it ran its time.

    failed: whether a load died or could not start, rather than a limit or a person stopping it.
    """

    step: str
    code: str
    failed: bool


Message: TypeAlias = Ping | Said | Worked | Answered | StepOver


class Work(Record, tag_field="kind", tag="work"):
    """To a load that is ready: the step begins at `at_s` of the monotonic clock."""

    at_s: float


class Paused(Record, tag_field="kind", tag="paused"):
    """To a load that was stopped (SIGSTOP) and goes on: for how long it stood still."""

    seconds: float


class Again(Record, tag_field="kind", tag="again"):
    """To a load: do this round once more."""

    round: int


Word: TypeAlias = Work | Paused | Again
"""What the guard says to a load, down its standard input."""


def write_line(descriptor: int, message: Record) -> None:
    """Write a record as one line. Raises ValueError, a bug of ours, if it is too long to be atomic."""
    line = msgspec.json.encode(message) + b"\n"
    if len(line) > PIPE_BUF_BYTES:
        raise ValueError(f"a line of {len(line)} bytes would not be written whole")
    os.write(descriptor, line)


def read_order(line: bytes) -> Order:
    kind: Any = Order
    order: Order = msgspec.json.decode(line, type=kind)
    return order


def read_word(line: bytes) -> Word:
    kind: Any = Word
    word: Word = msgspec.json.decode(line, type=kind)
    return word


def read_message(line: bytes) -> Message:
    kind: Any = Message
    message: Message = msgspec.json.decode(line, type=kind)
    return message


def short(text: object, most: int = 300) -> str:
    """Return text fit for a line: printable, on one line, bounded."""
    line = " ".join(str(text).split())
    return line if len(line) <= most else line[: most - 1] + "…"
