"""Importing an order: from a shop's file to an order file, with all that was not understood."""

from __future__ import annotations

import json
from pathlib import Path

from shipworthy.messages import sentence
from shipworthy.model.base import Trouble, read_bytes
from shipworthy.model.intake import Became, Intake
from shipworthy.orders.files import order_json, order_toml, read_order
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import Imported, import_order, import_source
from shipworthy.orders.intake.mapping import mapping_toml, read_mapping

PASTED = "pasted.txt"
"""The name of what comes on standard input."""


def import_file(path: Path, wanted: Wanted, mapping: Path | None = None) -> Imported:
    """Return the import of a file; an order of our own schema is taken as it is."""
    data = read_bytes(path)
    if mapping is None and _is_ours(path, data):
        return import_order(read_order(path), path.name, wanted)
    return import_source(data, path.name, wanted, read_mapping(mapping) if mapping else None)


def import_pasted(data: bytes, wanted: Wanted, mapping: Path | None = None) -> Imported:
    """Return the import of a text from standard input; a mapping makes a table of it."""
    return import_source(data, PASTED, wanted, read_mapping(mapping) if mapping else None)


def write_order(intake: Intake, path: Path, *, with_questions: bool) -> None:
    """Write the order of an import, TOML or JSON by the file's ending.

    In TOML the questions stand as comments above their lines, and what was not imported at the end.

    Raises Trouble if nothing became a line, if questions are open and with_questions is not set, or if the
    file is there already.
    """
    if path.suffix.lower() not in (".toml", ".json"):
        raise Trouble("an order file has another ending", path, "Name it `.toml` or `.json`.")
    if intake.order is None:
        raise Trouble("no row became an order line, so there is no order to write", path, "See the report.")
    content = order_json(intake.order)
    if path.suffix.lower() == ".toml":
        content = order_toml(intake.order, _comments(intake)).encode("utf-8")
    if intake.open_rows and not with_questions:
        count = len(intake.open_rows)
        raise Trouble(
            f"{count} {'row is' if count == 1 else 'rows are'} not understood, so the order was not written",
            path,
            "Mend the source or the mapping, or add --with-questions to write what there is.",
        )
    _write_new(path, content)


def write_mapping(imported: Imported, path: Path) -> None:
    """Write the guessed mapping for a person to keep; Trouble where none was guessed or the file is there."""
    if imported.guessed is None:
        raise Trouble(
            "no columns were guessed, so there is no mapping to keep", path, "Leave the option out."
        )
    _write_new(path, mapping_toml(imported.guessed).encode("utf-8"))


def _is_ours(path: Path, data: bytes) -> bool:
    if path.suffix.lower() == ".toml":
        return True
    if path.suffix.lower() != ".json":
        return False
    try:
        tree = json.loads(data)
    except (ValueError, RecursionError):
        return False
    return isinstance(tree, dict) and "lines" in tree and "order_id" in tree


def _comments(intake: Intake) -> dict[str, list[str]]:
    """Return what is open: by the line that it is about, and under "" what did not become one."""
    remarks: dict[str, list[str]] = {}
    for row in intake.open_rows:
        said = [sentence(note.code, note.values).say for note in row.notes]
        if row.became is Became.QUESTION:
            remarks.setdefault(row.line_id, []).extend(f"Question: {text}" for text in said)
        else:
            words = f" {row.words}" if row.words else ""
            remarks.setdefault("", []).append(f"Not imported, {row.place}:{words} ({' '.join(said)})")
    return remarks


def _write_new(path: Path, content: bytes) -> None:
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError as error:
        raise Trouble("the file is there already", path, "Name another, or take it away first.") from error
    except OSError as error:
        raise Trouble(f"cannot be written: {error.strerror}", path, "Check the path.") from error
