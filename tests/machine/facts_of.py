"""What tests of parsers share: fields of a sighting as a dictionary, and a file as the reply of a source."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.machine.raw import Parsed, Reply
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent

Facts = dict[str, Scalar | Absent | None]
"""By name: the value, or why there is none."""


def facts_of(fields: Iterable[Said]) -> Facts:
    """Return fields by name; of several of one name the last counts."""
    return {field.name: field.value if field.absent is None else field.absent for field in fields}


def facts_at(parsed: Parsed, place: str) -> Facts:
    """Return what is said at one place, by all sightings of it."""
    return facts_of(field for one in parsed.sightings if one.place == place for field in one.said)


def facts_by_place(parsed: Parsed) -> dict[str, Facts]:
    """Return what is said at each place, by all sightings of it."""
    return {one.place: facts_at(parsed, one.place) for one in parsed.sightings}


def file(data: str | bytes, name: str = "/report.txt", source: str = "report.1") -> Reply:
    """Return the reply that a file becomes."""
    return Reply(source, name, SourceOutcome.READ, data.encode() if isinstance(data, str) else data)
