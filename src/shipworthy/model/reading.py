"""A reading: the raw index, the parts, and the configuration (ADR 0004, ADR 0005)."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Digest, Record, RecordPath, Scalar, digest_of_records
from shipworthy.model.facts import Part
from shipworthy.model.time import Moment
from shipworthy.model.words import PartKind, RemarkKind


class SourceOutcome(StrEnum):
    """What became of asking one source."""

    READ = "read"
    ABSENT = "absent"  # no such source on this machine
    REFUSED = "refused"  # there, but this account may not
    FAILED = "failed"  # there, but the device, driver or bus gave an error
    EMPTY = "empty"  # there, and it answered with nothing


class Privilege(StrEnum):
    ROOT = "root"
    USER = "user"


class RawRow(Record):
    """One source asked: a line of `raw/index.jsonl`. A reading can be made again from these rows.

    id: unique in the reading, named by facts. source: the registered source. locator: what was asked for,
    within the machine's root. file: where the bytes lie, below the reading's folder; None if none came.
    error: the system's word for what went wrong, else empty.
    """

    id: str
    source: str
    platform: Literal["linux"]
    locator: str
    at: Moment
    privilege: Privilege
    outcome: SourceOutcome
    file: RecordPath | None = None
    size_bytes: int | None = None
    digest: Digest | None = None
    error: str = ""


class ConfigurationItem(Record):
    """One thing that evidence depends on. key: `firmware/version`, `memory module/DIMM_A1/serial` …"""

    key: str
    value: Scalar


class Configuration(Record):
    """What evidence holds for (design rule 10), as one comparable value."""

    items: tuple[ConfigurationItem, ...]
    digest: Digest

    @classmethod
    def of(cls, items: dict[str, Scalar]) -> Configuration:
        """Return the configuration of these items, ordered by key, with the digest of its rows."""
        rows = tuple(ConfigurationItem(key=key, value=items[key]) for key in sorted(items))
        return cls(items=rows, digest=digest_of_records(rows))

    def changes_to(self, later: Configuration) -> tuple[tuple[str, Scalar | None, Scalar | None], ...]:
        """Return (key, before, after) of every item that is not the same; None where it is not there."""
        before = {item.key: item.value for item in self.items}
        after = {item.key: item.value for item in later.items}
        keys = sorted(before.keys() | after.keys())
        return tuple((k, before.get(k), after.get(k)) for k in keys if before.get(k) != after.get(k))


class PortState(StrEnum):
    USE = "use this one"
    DO_NOT_USE = "do not use"
    UNTESTED = "untested"


class Port(Record):
    """One connector a customer can reach, and what is known of it.

    place: where it is wired (`drm:card0-DP-1`). label: what the firmware or driver calls it.
    connector: its kind (`DisplayPort`, `HDMI`, `RJ-45` …). occupied_by: place of the part seen there.
    source: row of the raw index.
    """

    place: str
    label: str
    connector: str
    state: PortState
    source: str
    occupied_by: str = ""


class Remark(Record):
    """What was wrong with, or left over of, the bytes that a source gave. The rest of them stands.

    source: row of the raw index. where: the place within its bytes (`structure 0x0041 at 1220`, `block 2`).
    detail: what was found there, in the source's own words or numbers. count: how often.
    """

    source: str
    kind: RemarkKind
    where: str
    detail: str = ""
    count: Annotated[int, msgspec.Meta(ge=1)] = 1


class Tool(Record):
    """What made a record."""

    name: str
    version: str


class Reading(Record):
    """What a machine says of itself at one moment.

    nonce: the attempt's, given to the unit half before it starts; None for a reading from files, which
    can be compared and never releases. simulated: whether the machine's root says that it is a pretend one.
    """

    schema: Literal[1] = 1
    reading_id: str
    nonce: str | None
    taken: Moment
    took_s: Annotated[float, msgspec.Meta(ge=0)]
    simulated: bool
    tool: Tool
    sources: tuple[RawRow, ...]
    parts: tuple[Part, ...]
    ports: tuple[Port, ...]
    configuration: Configuration
    remarks: tuple[Remark, ...] = ()

    def of_kind(self, kind: PartKind) -> tuple[Part, ...]:
        """Return the parts of that kind, in order of place."""
        return tuple(part for part in self.parts if part.kind is kind)

    def at(self, place: str) -> Part | None:
        """Return the part at that place, by its own or another name of it."""
        return next((p for p in self.parts if p.place == place or place in p.also_at), None)
