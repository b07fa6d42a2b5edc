"""What passes between capture and parse: replies of sources, as bytes and an outcome (ADR 0004)."""

from __future__ import annotations

from dataclasses import dataclass

from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Port, SourceOutcome


@dataclass(frozen=True, slots=True)
class Reply:
    """What became of asking for one thing.

    id: unique in a reading; the name of its source, or that name and a dotted rest. Letters, digits, dots
    and hyphens, as it becomes a file name. locator: what was asked for, within the machine's root.
    data: the bytes as they came; empty if none did. error: the system's word for what went wrong.
    suffix: ending of the file that keeps it.
    """

    id: str
    locator: str
    outcome: SourceOutcome
    data: bytes = b""
    error: str = ""
    suffix: str = "txt"

    @property
    def read(self) -> bool:
        return self.outcome is SourceOutcome.READ


@dataclass(frozen=True, slots=True)
class Parsed:
    """What a source's replies say: sightings of parts, and connectors."""

    sightings: tuple[Sighting, ...] = ()
    ports: tuple[Port, ...] = ()


def reply_named(replies: tuple[Reply, ...], name: str) -> Reply | None:
    """Return the reply of that id; None if it was not asked for."""
    return next((reply for reply in replies if reply.id == name), None)
