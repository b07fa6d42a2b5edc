"""What passes between capture and parse: replies of sources, as bytes and an outcome (ADR 0004)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Port, Remark, SourceOutcome
from shipworthy.model.words import RemarkKind


@dataclass(frozen=True, slots=True)
class Reply:
    """What became of asking for one thing.

    id: unique in a reading; the name of its source, or that name and a dotted rest. Letters, digits, dots
    and hyphens, as it becomes a file name. locator: what was asked for, within the machine's root.
    data: the bytes as they came; empty if none did. error: the system's word for what went wrong.
    suffix: ending of the file that keeps it. by_root: whether the privileged capture brought it, or a piece
    of it, as this account may not.
    """

    id: str
    locator: str
    outcome: SourceOutcome
    data: bytes = b""
    error: str = ""
    suffix: str = "txt"
    by_root: bool = False

    @property
    def read(self) -> bool:
        return self.outcome is SourceOutcome.READ


@dataclass(frozen=True, slots=True)
class Parsed:
    """What a source's replies say: sightings of parts, connectors, and what was wrong or left over."""

    sightings: tuple[Sighting, ...] = ()
    ports: tuple[Port, ...] = ()
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One piece of a source as it lies there, field by field, for people who look into it (`decode`).

    where: its place in the bytes. fields: name and value in the source's order; a value is text or number
    with its unit in the name.
    """

    title: str
    where: str
    fields: tuple[tuple[str, str | int | float | bool], ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with, or left over of, bytes of which it is not known here which reply they are.

    where: the place within them.
    """

    kind: RemarkKind
    where: str
    detail: str = ""

    def remark(self, source: str) -> Remark:
        """Return it as a remark on a reply; source is the reply's id."""
        return remark(source, self.kind, self.where, self.detail)


def reply_named(replies: tuple[Reply, ...], name: str) -> Reply | None:
    """Return the reply of that id; None if it was not asked for."""
    return next((reply for reply in replies if reply.id == name), None)


def reply_read(replies: tuple[Reply, ...], name: str) -> Reply | None:
    """Return the reply of that id if it was read; None if it was not, or not asked for."""
    reply = reply_named(replies, name)
    return reply if reply is not None and reply.read else None


def text_read(replies: tuple[Reply, ...], name: str) -> str:
    """Return the text of the reply of that id, what is no UTF-8 replaced; empty if it was not read."""
    reply = reply_read(replies, name)
    return reply.data.decode("utf-8", "replace") if reply is not None else ""


def parsed_each(replies: Iterable[Reply], parse_one: Callable[[Reply], Parsed]) -> Parsed:
    """Return what all replies that were read say, each by itself, as the files of a kind are."""
    parsed = [parse_one(reply) for reply in replies if reply.read]
    return Parsed(
        tuple(sighting for one in parsed for sighting in one.sightings),
        tuple(port for one in parsed for port in one.ports),
        tuple(remark for one in parsed for remark in one.remarks),
    )


def remark(source: str, kind: RemarkKind, where: str, detail: str = "", count: int = 1) -> Remark:
    """Return a remark; source is the id of the reply that it is on."""
    return Remark(source=source, kind=kind, where=where, detail=detail, count=count)
