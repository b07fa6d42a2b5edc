"""`decode`: raw files to facts, without a machine."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from shipworthy.cli import options

if TYPE_CHECKING:
    from shipworthy.jobs.decode import Decoded


@click.command("decode")
@click.argument("kind")
@click.argument("files", type=options.PATH, nargs=-1, required=True)
@click.option("--pieces", is_flag=True, help="Show every field as it lies in the bytes, not only the facts.")
@options.json
def decode(kind: str, files: tuple[Path, ...], pieces: bool, json: bool) -> None:
    """Decode raw files of one kind, or of `any` that its content tells.

    Example: shipworthy decode smbios dump.bin
    """
    from shipworthy.cli.show import as_json
    from shipworthy.jobs.decode import decode_files

    decoded = decode_files(kind, files, pieces=pieces)
    if json:
        as_json(decoded)
    else:
        for one in decoded:
            _show(one)
    raise SystemExit(1 if any(one.faulty for one in decoded) else 0)


def _show(one: Decoded) -> None:
    from shipworthy.cli.show import remarks, say, table, wrapped
    from shipworthy.model.words import Absent

    say(f"{one.file}: {one.kind}")
    for piece in one.pieces:
        say(f"{piece.title}, {piece.where}")
        table(("", ""), [(f"    {field.name}", str(field.value)) for field in piece.fields])
    if not one.pieces:
        for part in one.parts:
            say(f"{part.kind.value}  {part.place}")
            told = [fact for fact in part.facts if fact.absent is None]
            if told:
                table(("    fact", "value"), [(f"    {fact.name}", str(fact.value)) for fact in told])
            for reason in Absent:
                names = [fact.name for fact in part.facts if fact.absent is reason]
                if names:
                    wrapped(f"    {reason.value}: {', '.join(names)}", 8)
    remarks(one.remarks)
