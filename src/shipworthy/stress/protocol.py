"""What a load is (protocol 1). Loads are found by the entry point group `shipworthy.loads`.

A load is described and asked for its targets in the engine's process, so its module must be light to
import; `open` is called in a process of its own, one for each target, and may be heavy.
"""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from shipworthy.machine.root import Root
from shipworthy.model.base import Record, Scalar, Value
from shipworthy.model.plan import LoadRequest

PROTOCOL = 1
GROUP = "shipworthy.loads"


class About(Record):
    """A load in words, for the plan's summary and the reference pages.

    slips_through: the chance that a wrong result is not seen, and why. limit: what its rate is held
    against, and how that is measured in the same run. cleans_up: what it leaves, whatever ends it.
    """

    stresses: str
    verifies: str
    slips_through: str
    unit_of_work: str
    limit: str
    power: str
    cleans_up: str


class Target(Record):
    """One process of a load. name: what it stresses; cpus: where it is pinned, empty for everywhere.

    environment: variables set before the process starts (thread counts must be set before numpy loads).
    work_folder: where it may write; empty for a load that writes nothing, or for the first folder.
    """

    name: str
    cpus: tuple[int, ...] = ()
    environment: tuple[Value, ...] = ()
    work_folder: str = ""


class Job(Record):
    """What one process of a load is told. seed: of this run; a stream's purpose is made of step, load and
    target, so that one more draw in one process moves nothing in another."""

    step: str
    load: str
    target: str
    request: LoadRequest
    seed: int
    work_folder: str
    memory_reserve_bytes: int
    disk_reserve_bytes: int

    @property
    def purpose(self) -> str:
        return f"{self.seed}/{self.step}/{self.load}/{self.target}"


class Wrong(Record):
    """One result that was not what it had to be.

    what: the kind of result. where: row and column, offset, physical address … as exactly as can be told.
    expected and found: None where there is no single value to show.
    """

    what: str
    where: str
    expected: Scalar | None = None
    found: Scalar | None = None


class Block(Record):
    """A piece of verified work: units done, seconds it took with all checking, results checked.

    wrong: how many results were wrong; shown: the first of them. unit_of_work: if not the load's usual one.
    """

    work: float
    seconds: float
    checks: int = 0
    wrong: int = 0
    shown: tuple[Wrong, ...] = ()
    written_bytes: int = 0
    unit_of_work: str = ""


class Note(Record):
    """Something to log that is no wrong result: a code of the load's own, with values."""

    code: str
    values: tuple[Value, ...] = ()


class Work(Protocol):
    """An opened load, at work in its process. Blocks last about half a second at most."""

    def block(self) -> Block:
        """Do and check a piece of work."""

    def bare_block(self) -> Block | None:
        """Do a piece of the same work without checks, for the limit; None while this is not the moment."""

    def detail(self) -> tuple[Value, ...]:
        """How the work is done here (huge pages, direct I/O …); reported whenever it changes."""

    def notes(self) -> tuple[Note, ...]:
        """What happened since the last call."""

    def close(self) -> None:
        """Give everything back."""


class Load(Protocol):
    """What an entry point names."""

    @property
    def protocol(self) -> int: ...

    @property
    def name(self) -> str: ...

    @property
    def about(self) -> About: ...

    def check(self, request: LoadRequest) -> None:
        """Raise Trouble if the request cannot make sense for this load."""

    def targets(self, request: LoadRequest, work_folders: tuple[Path, ...], root: Root) -> tuple[Target, ...]:
        """Return the processes that this load wants on this machine."""

    def open(self, job: Job) -> Work:
        """Make ready to work, in the load's own process. Raises Trouble if the world does not allow it."""
