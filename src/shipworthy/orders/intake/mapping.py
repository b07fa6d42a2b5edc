"""The mapping file, read and written."""

from __future__ import annotations

import tomllib
from pathlib import Path

import msgspec

from shipworthy.model.base import Trouble, read_bytes
from shipworthy.model.mapping import Mapping, Names, TableLayout
from shipworthy.model.words import Category
from shipworthy.orders.files import toml_value
from shipworthy.orders.intake.categories import named_categories

_MOST_BYTES = 256_000
_MEND = "Correct the mapping file; docs/reference/mapping.md has every key."


def read_mapping(path: Path) -> Mapping:
    """Return the mapping in a TOML file.

    Raises Trouble for a file that cannot be read, is above 256 kB, is not TOML, or has a key, a type or a
    category that mappings do not have.
    """
    data = read_bytes(path)
    if len(data) > _MOST_BYTES:
        raise Trouble("a mapping of more than 256 kB", path, "Check that this is the right file.")
    try:
        mapping = msgspec.convert(tomllib.loads(data.decode("utf-8-sig")), Mapping, strict=True)
    except msgspec.ValidationError as error:
        said = str(error).replace(" - at `$", " at `")
        raise Trouble(f"not a valid mapping: {said[:1].lower()}{said[1:200]}", path, _MEND) from error
    except (ValueError, RecursionError) as error:  # not TOML, not UTF-8, a number of thousands of digits
        raise Trouble(f"not a valid mapping: {str(error)[:200]}", path, _MEND) from error
    if any(not listed.at.strip() or not (listed.text or listed.leave_out) for listed in mapping.lines):
        raise Trouble("a `[[lines]]` without `at`, or without `text` and not left out", path, _MEND)
    return mapping


def mapping_toml(mapping: Mapping) -> str:
    """Return the mapping of a table as a person edits it; reading it gives the same again."""
    blocks: list[str] = []
    if mapping.order.shop:
        blocks.append(f"[order]\nshop = {toml_value(mapping.order.shop)}\n")
    if mapping.table is not None:
        rows = ["[table]\n"]
        for name in TableLayout.__struct_fields__:
            value = getattr(mapping.table, name)
            if value:
                rows.append(f"{name} = {toml_value(list(value) if isinstance(value, tuple) else value)}\n")
        blocks.append("".join(rows))
    if mapping.categories:
        rows = [f"{toml_value(said)} = {toml_value(c.value)}\n" for said, c in mapping.categories.items()]
        blocks.append("[categories]\n" + "".join(rows))
    return "\n".join(blocks)


def names_of(names: Names) -> tuple[str, ...]:
    """Return one name or several as several."""
    return (names,) if isinstance(names, str) else names


def categories_said(words: str, mapping: Mapping | None) -> frozenset[Category]:
    """Return what a shop's word for a category means: by the mapping first, then by words of the trade."""
    if mapping is not None:
        own = {said.strip().casefold(): category for said, category in mapping.categories.items()}
        if (found := own.get(words.strip().casefold())) is not None:
            return frozenset({found})
    return named_categories(words)
