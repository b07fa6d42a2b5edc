"""A part list as a table: RFC 4180, columns named in its first row, several values of one cell parted by `|`.

Facts stand in columns such as `facts.socket`. A cell that begins with `=` or `@` is a formula of a
spreadsheet that nobody has computed: the row is named, and left out.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, get_args, get_type_hints

import msgspec

from shipworthy.model.base import Trouble
from shipworthy.model.catalogue import FACTS_OF, CataloguePart
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.records import CATEGORIES, Wrong
from shipworthy.words.sizes import Base, find_sizes

_COLUMNS = tuple(name for name in CataloguePart.__struct_fields__ if name != "facts")
_SEVERAL = ("names", "part_numbers", "gtins")
_SINGULAR = {"gtin": "gtins", "part_number": "part_numbers"}
_DELIMITERS = ",;\t"
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}


def csv_trees(text: str, path: Path) -> Iterator[tuple[str, dict[str, Any] | Wrong]]:
    """Yield each row with its place, as the keys and values of a part. Raises Trouble for a bad first row."""
    head = text.partition("\n")[0]
    delimiter = max(_DELIMITERS, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    columns: list[str] = []
    try:
        for cells in reader:
            if not columns:
                columns = _columns(cells, path)
            elif any(cell.strip() for cell in cells):
                yield f"row {reader.line_num}", _row(columns, cells)
    except csv.Error as error:
        what = f"row {reader.line_num} is no row of a table: {error}"
        raise Trouble(what, path, "Correct the list and try again.") from error


def _columns(cells: list[str], path: Path) -> list[str]:
    names = [_SINGULAR.get(name, name) for name in (cell.strip().lower() for cell in cells)]
    facts = {f"facts.{field}" for kind in FACTS_OF.values() for field in kind.__struct_fields__}
    for name in names:
        if name not in _COLUMNS and name not in facts:
            mend = f"A list has the columns {', '.join(_COLUMNS)}, and facts such as `facts.socket`."
            raise Trouble(f"a part list has no column {name!r}", path, mend)
        if names.count(name) > 1:
            raise Trouble(f"the column {name!r} stands there twice", path, "Keep one of them.")
    for needed in ("part_id", "category", "name"):
        if needed not in names:
            raise Trouble(f"the list has no column {needed!r}", path, "Name its columns in the first row.")
    return names


def _row(columns: list[str], cells: list[str]) -> dict[str, Any] | Wrong:
    if len(cells) != len(columns):
        return Wrong(f"it has {len(cells)} cells, and the first row has {len(columns)}")
    filled = {name: cell.strip() for name, cell in zip(columns, cells, strict=True) if cell.strip()}
    for name, cell in filled.items():
        if cell[0] in "=@":
            return Wrong(f"{name} is a formula ({cell[:40]}), and no value")
    tree: dict[str, Any] = {}
    facts: dict[str, Any] = {}
    for name, cell in filled.items():
        if name.startswith("facts."):
            value = _fact(name.removeprefix("facts."), cell, filled.get("category", ""))
            if isinstance(value, Wrong):
                return value
            facts[name.removeprefix("facts.")] = value
        else:
            tree[name] = _parted(cell) if name in _SEVERAL else cell
    return {**tree, "facts": facts} if facts else tree


def _parted(cell: str) -> list[str]:
    return [piece.strip() for piece in cell.split("|") if piece.strip()]


def _fact(name: str, cell: str, category: str) -> Any:
    """Return a cell as the value of a fact; a size may have its unit (`2 TB`), a yes or no its word."""
    if category not in CATEGORIES:
        return cell  # said of the whole row, in one sentence, by who checks the record
    kind = FACTS_OF.get(Category(category))
    if kind is None or name not in kind.__struct_fields__:
        return cell
    wanted = _hints(kind)[name]
    if "_bytes" in name and not cell.isdigit():
        base = Base.DECIMAL if category == Category.STORAGE.value else Base.BINARY
        sizes = find_sizes(cell, base)
        return sizes[0].size_bytes if len(sizes) == 1 else Wrong(f"facts.{name} is no size: {cell[:40]}")
    if any(isinstance(inner, type) and issubclass(inner, msgspec.Struct) for inner in _inner(wanted)):
        return Wrong(f"facts.{name} has parts of its own, which a cell cannot hold; use TOML or JSON lines")
    several = "tuple" in str(wanted)
    try:
        plain: Any = _parted(cell) if several else _plain(cell, wanted)
        return msgspec.to_builtins(msgspec.convert(plain, wanted, strict=False))
    except msgspec.ValidationError as error:
        return Wrong(f"facts.{name} is {cell[:40]!r}: {str(error)[:1].lower()}{str(error)[1:120]}")


def _plain(cell: str, wanted: Any) -> Any:
    if bool in _inner(wanted):
        return _YES_NO.get(cell.lower(), cell)
    if float in _inner(wanted) and re.fullmatch(r"\d+,\d+", cell):
        return cell.replace(",", ".")
    return cell


@cache
def _hints(kind: type[msgspec.Struct]) -> dict[str, Any]:
    return get_type_hints(kind, include_extras=True)


def _inner(wanted: Any) -> tuple[Any, ...]:
    inner = tuple(deep for argument in get_args(wanted) for deep in _inner(argument))
    return (wanted, *inner)
