"""Decode raw files of one kind, without a machine."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from shipworthy.machine.asking import storable
from shipworthy.machine.join import join
from shipworthy.machine.kinds import KINDS, Kind, kind_named
from shipworthy.machine.parsing import parsed_by
from shipworthy.machine.raw import Reply
from shipworthy.machine.reports import MOST_BYTES, kind_of
from shipworthy.model.base import Record, Scalar, Trouble, read_bytes
from shipworthy.model.facts import Part
from shipworthy.model.reading import Port, Remark, SourceOutcome
from shipworthy.model.words import LEFT_OVERS

ANY = "any"


class Field(Record):
    """One field as it lies in the bytes."""

    name: str
    value: Scalar


class Piece(Record):
    """One piece of a source: a structure, a block or a page, with its fields in their order."""

    title: str
    where: str
    fields: tuple[Field, ...]


class Decoded(Record):
    """What one file says. pieces: every field as it lies there, where that was asked for."""

    file: str
    kind: str
    parts: tuple[Part, ...]
    ports: tuple[Port, ...]
    remarks: tuple[Remark, ...]
    pieces: tuple[Piece, ...] = ()

    @property
    def faulty(self) -> bool:
        """Whether something is wrong with the bytes, not only left over of them."""
        return any(remark.kind not in LEFT_OVERS for remark in self.remarks)


def decode_files(kind_name: str, files: Sequence[Path], *, pieces: bool = False) -> tuple[Decoded, ...]:
    """Decode each file on its own. `any` tells the kind from the content, where that can be told.

    Raises Trouble for a kind that is not known, and for a file that cannot be read or told.
    """
    return tuple(_decoded(kind_name, file, pieces=pieces) for file in files)


def _decoded(kind_name: str, file: Path, *, pieces: bool) -> Decoded:
    if file.is_file() and file.stat().st_size > MOST_BYTES:  # looked at before so much is read
        raise Trouble(f"this file has more than {MOST_BYTES >> 20} MiB", file, "Name the source's own file.")
    data = read_bytes(file)
    kind = _kind(kind_name, file, data)
    raw = kind.prepare(data)
    outcome = SourceOutcome.READ if raw else SourceOutcome.EMPTY
    name = storable(file.name)
    parsed = parsed_by(kind.name, kind.parse, (Reply(kind.name, name, outcome, raw, "", kind.suffix),))
    return Decoded(
        file=storable(str(file)),
        kind=kind.name,
        parts=join(parsed.sightings),
        ports=parsed.ports,
        remarks=parsed.remarks,
        pieces=_pieces(kind, raw) if pieces else (),
    )


def _kind(name: str, file: Path, data: bytes) -> Kind:
    kind = kind_of(file.name, data) if name == ANY else kind_named(name)
    if kind is None and name == ANY:
        raise Trouble("what kind of file this is cannot be told from its content", file, _named_kinds())
    if kind is None:
        raise Trouble("there is no such kind of source", name, _named_kinds())
    return kind


def _named_kinds() -> str:
    return f"Name one of: {', '.join((ANY, *(kind.name for kind in KINDS)))}."


def _pieces(kind: Kind, raw: bytes) -> tuple[Piece, ...]:
    if kind.describe is None:
        raise Trouble(
            "this kind is decoded to facts only",
            kind.name,
            "Leave out --pieces: its text can be read as it is.",
        )
    return tuple(
        Piece(
            title=section.title,
            where=section.where,
            fields=tuple(Field(name=name, value=value) for name, value in section.fields),
        )
        for section in kind.describe(raw)
    )
