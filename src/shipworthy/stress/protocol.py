"""What a load is (protocol 2). Loads are found by the entry point group `shipworthy.loads`.

A load is described and asked for its targets in the engine's process, so its module must be light to
import; `open` is called in a process of its own, one for each target, and may be heavy.
"""

from __future__ import annotations

from typing import Protocol

from shipworthy.machine.root import Root
from shipworthy.model.base import Record, Scalar, Value
from shipworthy.model.plan import LoadRequest
from shipworthy.model.words import WholeDrive

PROTOCOL = 2
GROUP = "shipworthy.loads"
BLOCK_S = 0.4


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


class Drive(Record):
    """A drive of this machine, as far as a load has to know it.

    place: as the reading names it. write_left_bytes: what is left of its write budget, counted by serial over
    all attempts; None where it has none of its own. blank: neither partition nor signature. whole: what a
    person has allowed by typing its serial.
    """

    place: str
    serial: str
    capacity_bytes: int
    write_left_bytes: int | None = None
    blank: bool = False
    whole: WholeDrive = WholeDrive.NOTHING


class Ground(Record):
    """Where loads may work: folders for files of their own, one for each drive, and the drives themselves."""

    work_folders: tuple[str, ...]
    drives: tuple[Drive, ...] = ()

    def drive_at(self, place: str) -> Drive | None:
        return next((drive for drive in self.drives if drive.place == place), None)


class Target(Record):
    """One process of a load. name: what it stresses; cpus: where it is pinned, empty for everywhere.

    environment: variables set before the process starts (thread counts must be set before numpy loads).
    work_folder: where it may write; empty for a load that writes nothing, or for the first folder.
    drive: the drive that it works on, where that is known.
    """

    name: str
    cpus: tuple[int, ...] = ()
    environment: tuple[Value, ...] = ()
    work_folder: str = ""
    drive: Drive | None = None


class Job(Record):
    """What one process of a load is told. seed: of this run; a stream's purpose is made of step, load and
    target, so that one more draw in one process moves nothing in another. peers: how many targets the load
    has in this step; alone, it does its rounds twice. block_s: how long a block may last at most, about."""

    step: str
    load: str
    target: str
    request: LoadRequest
    seed: int
    work_folder: str
    memory_reserve_bytes: int
    disk_reserve_bytes: int
    drive: Drive | None = None
    peers: int = 1
    number: int = 0  # of this target among its peers, from 0
    block_s: float = BLOCK_S

    @property
    def purpose(self) -> str:
        """Of a stream that is this target's own."""
        return f"{self.shared_purpose}/{self.target}"

    @property
    def shared_purpose(self) -> str:
        """Of a stream that is the same on all targets of the load in this step."""
        return f"{self.seed}/{self.step}/{self.load}"


class Wrong(Record):
    """One result that was not what it had to be.

    what: the kind of result. where: row and column, offset, physical address … as exactly as can be told.
    expected and found: None where there is no single value to show. part: the place of the part that it
    points to, as the reading names it, where that is told more closely than by the target (a module).
    """

    what: str
    where: str
    expected: Scalar | None = None
    found: Scalar | None = None
    part: str = ""


class Answer(Record):
    """What a target got for one round of work that every target does alike: a digest of all its results.

    kernel: answers are compared among equal ones only (libraries choose their code by the core's kind).
    proven: whether this target has proven the result by a check of its own. turn: which doing of the round
    this is on this target, from 0.
    """

    round: int
    digest: str
    kernel: str = ""
    proven: bool = False
    turn: int = 0


class Block(Record):
    """A piece of verified work: units done, seconds it took with all checking, results checked.

    checks: those that the target made itself; answers are checked by whoever compares them. wrong: how many
    results were wrong; shown: the first of them. unit_of_work: if not the load's usual one.
    """

    work: float
    seconds: float
    checks: int = 0
    wrong: int = 0
    shown: tuple[Wrong, ...] = ()
    written_bytes: int = 0
    unit_of_work: str = ""
    answers: tuple[Answer, ...] = ()


class Note(Record):
    """Something to log that is no wrong result: a code of the load's own, with values."""

    code: str
    values: tuple[Value, ...] = ()


class Work(Protocol):
    """An opened load, at work in its process. Blocks last about `block_s` at most."""

    def block(self) -> Block:
        """Do and check a piece of work."""

    def bare_block(self) -> Block | None:
        """Do a piece of the same work without checks, for the limit; None while this is not the moment."""

    def again(self, number: int) -> Answer | None:
        """Do a round once more from its seed, as its answer is disputed; None if there are no rounds."""

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

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        """Return the processes that this load wants on this machine."""

    def open(self, job: Job) -> Work:
        """Make ready to work, in the load's own process. Raises Trouble if the world does not allow it."""
