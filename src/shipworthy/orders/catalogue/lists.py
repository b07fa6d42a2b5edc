"""A shop's part list in a file: TOML, CSV or JSON lines, to parts. It comes from outside: it is bounded, and
a record that is wrong is named with its row and the reason, while the others are read.
"""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from shipworthy.model.base import Trouble, read_bytes, strict_json
from shipworthy.model.catalogue import CataloguePart
from shipworthy.orders.catalogue.csv_rows import csv_trees
from shipworthy.orders.catalogue.records import Wrong, part_of_tree, reason_of, wrong_with
from shipworthy.orders.catalogue.report import ListFault

MOST_BYTES = 256 * 10**6
MOST_LINE_BYTES = 10**6
SUFFIXES = (".jsonl", ".toml", ".csv")

_DECODER = msgspec.json.Decoder(CataloguePart)


@dataclass(frozen=True)
class Listed:
    """What a list holds: its parts in their order, and what is wrong with the other records."""

    parts: tuple[CataloguePart, ...]
    faults: tuple[ListFault, ...]


def read_list(path: Path) -> Listed:
    """Return the parts of a list. Raises Trouble for a file that cannot be taken apart into records."""
    refuse_large(path)
    return list_of(read_bytes(path), path)


def refuse_large(path: Path) -> None:
    """Raise Trouble for a file that is no list by its name, or by its size."""
    if path.suffix.lower() not in SUFFIXES:
        known = ", ".join(SUFFIXES)
        raise Trouble("not a part list by its name", path, f"Name it as what is in it: {known}.")
    if path.is_file() and path.stat().st_size > MOST_BYTES:
        size_mb = path.stat().st_size / 10**6
        raise Trouble(
            f"a part list of {size_mb:,.0f} MB, and one may have {MOST_BYTES // 10**6} MB",
            path,
            "Check that this is the right file.",
        )


def list_of(data: bytes, path: Path) -> Listed:
    """Return the parts in the bytes of a list; its name says how they are laid out."""
    data = data.removeprefix(codecs.BOM_UTF8)
    if path.suffix.lower() == ".jsonl":
        found = _jsonl_parts(data)
    elif path.suffix.lower() == ".toml":
        found = _tree_parts(_toml_trees(_text(data, path), path))
    else:
        found = _tree_parts(csv_trees(_text(data, path), path))
    return _listed(found, path)


def _listed(found: Iterable[tuple[str, CataloguePart | Wrong]], path: Path) -> Listed:
    parts: list[CataloguePart] = []
    faults: list[ListFault] = []
    seen: dict[str, str] = {}
    for row, part in found:
        where = f"{path.name}, {row}"
        if isinstance(part, Wrong):
            faults.append(ListFault(where=where, what=part.what))
            continue
        first = seen.setdefault(part.part_id.casefold(), row)
        if first != row:
            what = f"the part_id {part.part_id!r} stands in {first} already"
            faults.append(ListFault(where=where, what=what))
            continue
        parts.append(part)
    return Listed(tuple(parts), tuple(faults))


def _jsonl_parts(data: bytes) -> Iterator[tuple[str, CataloguePart | Wrong]]:
    for number, line in enumerate(data.split(b"\n"), 1):
        if line.strip():
            yield f"line {number}", _jsonl_part(line)


def _jsonl_part(line: bytes) -> CataloguePart | Wrong:
    if len(line) > MOST_LINE_BYTES:
        return Wrong(f"a line of {len(line) / 10**6:,.1f} MB is no part")
    try:
        part = _DECODER.decode(line)
    except UnicodeDecodeError:
        return Wrong("not UTF-8 text")
    except (msgspec.DecodeError, RecursionError):
        return _jsonl_slowly(line)
    if msgspec.json.encode(part) != line:  # our own spelling proves that no key came twice
        return _jsonl_slowly(line)
    said = wrong_with(part)
    return Wrong(said) if said else part


def _jsonl_slowly(line: bytes) -> CataloguePart | Wrong:
    """Return the part of a line that is spelled in another way, or the first thing wrong with it."""
    try:
        tree = strict_json(line.decode("utf-8"))
    except UnicodeDecodeError:
        return Wrong("not UTF-8 text")
    except ValueError as error:
        return Wrong(f"not valid JSON: {reason_of(error)}")
    if not isinstance(tree, dict):
        return Wrong("a part is one table of keys, and this is none")
    return part_of_tree(tree)


def _tree_parts(trees: Iterable[tuple[str, dict[str, Any] | Wrong]]) -> Iterator[tuple[str, Any]]:
    for row, tree in trees:
        yield row, tree if isinstance(tree, Wrong) else part_of_tree(tree)


def _toml_trees(text: str, path: Path) -> Iterator[tuple[str, dict[str, Any] | Wrong]]:
    try:
        whole = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise Trouble(
            f"not valid TOML: {reason_of(error)}", path, "Correct the list and try again."
        ) from error
    other = sorted(whole.keys() - {"schema", "parts"})
    if other or not isinstance(whole.get("parts"), list):
        what = f"a part list has no key {other[0]!r}" if other else "the part list has no parts"
        raise Trouble(what, path, "Begin each part with `[[parts]]`.")
    for number, tree in enumerate(whole["parts"], 1):
        yield f"part {number}", tree if isinstance(tree, dict) else Wrong("is not a table of keys")


def _text(data: bytes, path: Path) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        raise Trouble(f"row {row} of the list is not UTF-8 text", path, "Save the file as UTF-8.") from error
