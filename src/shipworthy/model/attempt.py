"""An attempt: one numbered pass over a unit (ADR 0012)."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from shipworthy.model.base import Digest, NamedPath, Record, RecordPath
from shipworthy.model.reading import Tool
from shipworthy.model.time import Moment


class Attempt(Record):
    """Who and what.

    number is for display; attempt_id (UUIDv7) is the identity. zone: the shop's, by its IANA name.
    """

    schema: Literal[1] = 1
    attempt_id: str
    number: int
    unit_id: str
    order_id: str
    nonce: str
    zone: str
    simulated: bool
    tool: Tool
    opened: Moment


class StepName(StrEnum):
    """The steps of an attempt, in their order."""

    ORDER = "order"
    READING = "reading"
    COMPARISON = "comparison"
    BURN_IN = "burn-in"
    READING_AFTER = "reading after"
    ANALYSIS = "analysis"
    INSPECTION = "inspection"
    DECISION = "decision"
    SEAL = "seal"


class StepEvent(StrEnum):
    BEGAN = "began"
    ENDED = "ended"
    SKIPPED = "skipped"
    STOPPED = "stopped"


class StepLine(Record):
    """A line of `steps.jsonl`. wrote: files of the record that the step left."""

    schema: Literal[1] = 1
    step: StepName
    event: StepEvent
    at: Moment
    wrote: tuple[RecordPath, ...] = ()
    why: str = ""


class PackFile(Record):
    file: NamedPath
    digest: Digest


class PackStatement(Record):
    """What `pack.jws` signs: the files of a pack and the record they were rendered from.

    record_digest: SHA-512 of the record's `tagmanifest-sha512.txt`.
    """

    schema: Literal[1] = 1
    unit_id: str
    attempt_id: str
    number: int
    record_digest: Digest
    files: tuple[PackFile, ...]
