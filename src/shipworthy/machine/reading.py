"""Take a reading of a machine, keep its raw bytes, and make it again from them."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import msgspec

from shipworthy import __version__
from shipworthy.machine.asking import ask_all, origin_id
from shipworthy.machine.configuration import configuration_of
from shipworthy.machine.join import join
from shipworthy.machine.parsing import parsed_by
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.machine.sources import SOURCES, Source, outside_sources
from shipworthy.machine.unanswered import unanswered
from shipworthy.model.base import (
    Trouble,
    decode_lines,
    digest_of,
    encode,
    encode_pretty,
    read_bytes,
    read_record,
)
from shipworthy.model.facts import Part
from shipworthy.model.reading import (
    Configuration,
    Port,
    Privilege,
    RawRow,
    Reading,
    Remark,
    SourceOutcome,
    Tool,
)
from shipworthy.model.time import Clock, uuid7

INDEX = "raw/index.jsonl"
READING = "reading.json"
TOOL = Tool(name="shipworthy", version=__version__)


class Keep(Protocol):
    """Stores a file of a reading's folder, by its name there (`raw/cpuinfo.txt`)."""

    def __call__(self, name: str, data: bytes) -> None: ...


def take_reading(
    root: Root, keep: Keep, *, nonce: str | None, clock: Clock, also: Collection[str] = ()
) -> Reading:
    """Ask all sources of the machine at `root` once and return what they say.

    Every reply goes to `keep` as it came, then the index, then the reading itself. A source that fails
    spoils no other; its row says what went wrong. also: names of other packages' sources to ask too.
    """
    began_s, taken = clock.monotonic_s(), clock.now()
    sources = _sources_of(root) + outside_sources(also)
    rows: list[RawRow] = []
    asked = [
        (source, (*_origin_of(source), *replies))
        for source, replies in ask_all([(source, source.capture) for source in sources], root)
    ]
    for source, replies in asked:
        for reply in replies:
            rows.append(_row(source, reply, clock))
            file = rows[-1].file
            if file is not None:
                keep(file, reply.data)
    understood = understand(asked)
    reading = Reading(
        reading_id=uuid7(clock),
        nonce=nonce,
        taken=taken,
        took_s=round(max(clock.monotonic_s() - began_s, 0.0), 3),
        simulated=root.simulated,
        tool=TOOL,
        sources=tuple(rows),
        parts=understood.parts,
        ports=understood.ports,
        configuration=understood.configuration,
        remarks=understood.remarks,
    )
    keep(INDEX, b"".join(encode(row) + b"\n" for row in rows))
    keep(READING, encode_pretty(reading))
    return reading


def _sources_of(root: Root) -> tuple[Source, ...]:
    if root.live and root.privileged is None:
        return SOURCES
    from shipworthy.machine.reports import sources_of  # decoders that a machine's own reading never needs

    return sources_of(root)


def read_configuration(root: Root, clock: Clock) -> Configuration:
    """Return the machine's configuration now; quick, as only what it rests on is asked. Keeps no file."""
    del clock  # a configuration has no time of its own
    asked = ask_all([(s, s.configuration) for s in SOURCES if s.configuration is not None], root)
    return understand(asked).configuration


def reread(folder: Path) -> Reading:
    """Return the reading of a folder made again from its raw files by today's parsers.

    Raises Trouble for a raw file that is not there or not what the index says it was.
    """
    known = read_record(folder / READING, Reading)
    index = folder / INDEX
    rows, torn = decode_lines(read_bytes(index), RawRow, index)
    if torn:
        raise Trouble("the index of raw files breaks off", index, "Restore it from a good copy.")
    understood = understand(_kept(folder, rows))
    return msgspec.structs.replace(
        known,
        sources=tuple(rows),
        parts=understood.parts,
        ports=understood.ports,
        configuration=understood.configuration,
        remarks=understood.remarks,
    )


@dataclass(frozen=True)
class Understood:
    """What replies tell: parts, connectors, what was wrong with their bytes or left over, and the
    configuration."""

    parts: tuple[Part, ...]
    ports: tuple[Port, ...]
    remarks: tuple[Remark, ...]
    configuration: Configuration


def understand(asked: Iterable[tuple[Source, tuple[Reply, ...]]]) -> Understood:
    """Return what sources' replies tell of a machine. Pure.

    The configuration rests on those sources alone that are asked for it, so that a whole reading and a quick
    one around a step of a burn-in have the same; of a machine that nothing but reports tell of, on all.
    """
    parsed: list[tuple[Source, Parsed]] = []
    remarks: list[Remark] = []
    for source, replies in asked:
        one = _parsed(source, replies)
        parsed.append((source, one))
        remarks += (*one.remarks, *unanswered(replies))
    parts = join([sighting for _, one in parsed for sighting in one.sightings])
    own = {source.name: source.configuration is not None for source in SOURCES}
    only_reports = not any(source.name in own for source, _ in parsed)
    bearing = [one for source, one in parsed if only_reports or own.get(source.name)]
    return Understood(
        parts,
        tuple(port for _, one in parsed for port in one.ports),
        tuple(remarks),
        configuration_of(join([sighting for one in bearing for sighting in one.sightings])),
    )


def _parsed(source: Source, replies: tuple[Reply, ...]) -> Parsed:
    if source.origin:
        replies = tuple(reply for reply in replies if reply.id != origin_id(source))
    return parsed_by(source.name, source.parse, replies)


def _origin_of(source: Source) -> tuple[Reply, ...]:
    """Return the reply that says whose another package's source is, whatever becomes of asking it."""
    if not source.origin:
        return ()
    locator = f"entry point {source.name}"
    return (Reply(origin_id(source), locator, SourceOutcome.READ, source.origin, "", "json"),)


def _row(source: Source, reply: Reply, clock: Clock) -> RawRow:
    return RawRow(
        id=reply.id,
        source=source.name,
        platform=source.platform,
        locator=reply.locator,
        at=clock.now(),
        privilege=Privilege.ROOT if reply.by_root or os.geteuid() == 0 else Privilege.USER,
        outcome=reply.outcome,
        file=f"raw/{reply.id}.{reply.suffix}" if reply.data else None,
        size_bytes=len(reply.data) if reply.data else None,
        digest=digest_of(reply.data) if reply.data else None,
        error=reply.error,
    )


def _kept(folder: Path, rows: list[RawRow]) -> list[tuple[Source, tuple[Reply, ...]]]:
    """Group the kept replies by source. Rows of a source that is not installed here stay rows."""
    from shipworthy.machine.reports import known_sources

    foreign = {row.source for row in rows if row.id == f"{row.source}.origin"}
    asked: dict[str, list[Reply]] = {}
    for row in rows:
        asked.setdefault(row.source, []).append(_reply(folder, row))
    found = [(source, tuple(asked[source.name])) for source in known_sources() if source.name in asked]
    for name in sorted(foreign):
        try:
            (source,) = outside_sources((name,))
        except Trouble:
            continue
        found.append((source, tuple(asked[name])))
    return found


def _reply(folder: Path, row: RawRow) -> Reply:
    data = b""
    if row.file is not None:
        data = read_bytes(folder / row.file)
        if digest_of(data) != row.digest:
            raise Trouble("a raw file is not what the index says", row.file, "Restore it from a good copy.")
    suffix = "" if row.file is None else row.file.rsplit(".", 1)[-1]
    return Reply(row.id, row.locator, row.outcome, data, row.error, suffix)
