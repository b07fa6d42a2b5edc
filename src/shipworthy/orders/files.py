"""Order files: TOML for people, JSON for programs, one schema (ADR 0006).

A file comes from outside: it is bounded before it is parsed, and everything wrong with it is said in one
sentence with the order line it stands in.
"""

from __future__ import annotations

import codecs
import difflib
import math
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import msgspec

from shipworthy.model.base import Scalar, Trouble, encode_pretty, read_bytes, strict_json
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit

MOST_BYTES = 4 * 10**6
MOST_LINES = 500

_TOML_LINE = re.compile(rb"^[ \t]*\[\[[ \t]*lines[ \t]*\]\]", re.MULTILINE)
_PLACE = re.compile(r" - at `\$(?P<path>[^`]*)`")
_LINE_PLACE = re.compile(r"\.?lines\[(?P<index>\d+)\](?P<rest>.*)")
# An aspect that is a quantity has one unit; the others are text or a count.
_UNITS = {
    Aspect.CAPACITY: (Unit.BYTES,),
    Aspect.SPEED: (Unit.MEGATRANSFERS, Unit.MEGABITS, Unit.RPM),
    Aspect.COUNT: (Unit.COUNT,),
    Aspect.CORES: (Unit.COUNT,),
    Aspect.SIZE: (Unit.MILLIMETRES,),
    Aspect.RATED_POWER: (Unit.WATTS,),
}
_MEND = "Correct the order file and try again."


def read_order(path: Path) -> Order:
    """Return the order in a `.toml` or `.json` file; lines without a `line_id` are numbered 1, 2, 3 …

    Raises Trouble: for a file that cannot be read, is above 4 MB, is empty, is not UTF-8, TOML or JSON, has
    a key twice, a key or a unit that orders do not have, a number that is not finite or below one, more than
    500 lines, or a line id twice.
    """
    parse = {".toml": _parse_toml, ".json": parse_json}.get(path.suffix.lower())
    if parse is None:
        raise Trouble("not an order file by its name", path, "Name it `.toml` or `.json`, as what is in it.")
    tree = parse(_bounded_text(path), path)
    if not isinstance(tree, dict):
        raise Trouble("an order is one table of keys, and this is none", path, _MEND)
    _check_tree(tree, path)
    return _converted(_numbered(tree), path)


def order_json(order: Order) -> bytes:
    """Return an order as it is stored in the record: JSON, indented, UTF-8."""
    return encode_pretty(order)


def order_toml(order: Order, remarks: Mapping[str, Sequence[str]] | None = None) -> str:
    """Return an order as a person edits it; reading it gives the same order again.

    remarks: sentences by the id of the line above which they stand as comments; by "" those of the end.
    """
    told = remarks or {}
    head = {
        "schema": order.schema,
        "order_id": order.order_id,
        "shop": order.shop,
        "units": list(order.units),
        "customer_reference": order.customer_reference,
        "due": order.due,
    }
    blocks = ["".join(_toml_rows(head))]
    for line in order.lines:
        fields = {name: getattr(line, name) for name in OrderLine.__struct_fields__ if name != "expectations"}
        blocks.append(_comments(told.get(line.line_id, ())) + "[[lines]]\n" + "".join(_toml_rows(fields)))
        for expectation in line.expectations:
            named = {name: getattr(expectation, name) for name in Expectation.__struct_fields__}
            blocks.append("[[lines.expectations]]\n" + "".join(_toml_rows(named)))
    if told.get(""):
        blocks.append(_comments(told[""]))
    return "\n".join(blocks)


def _comments(sentences: Iterable[str]) -> str:
    """Return sentences as comments; what TOML allows in none of them becomes a space."""
    return "".join(f"# {''.join(c if _plain(c) else ' ' for c in text)}\n" for text in sentences)


# Reading


def _bounded_text(path: Path) -> str:
    if path.is_file() and path.stat().st_size > MOST_BYTES:
        size_mb = path.stat().st_size / 10**6
        raise Trouble(
            f"an order of {size_mb:.1f} MB is larger than any order, which may have {MOST_BYTES // 10**6} MB",
            path,
            "Check that this is the right file.",
        )
    data = read_bytes(path).removeprefix(codecs.BOM_UTF8)
    if not data.strip():
        raise Trouble("the order file is empty", path, "Write the order into it.")
    _refuse_many(len(_TOML_LINE.findall(data)), path)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        raise Trouble(f"row {row} of the file is not UTF-8 text", path, "Save the file as UTF-8.") from error


def _parse_toml(text: str, path: Path) -> object:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise Trouble(f"not valid TOML: {_short(error)}", path, _MEND) from error


def parse_json(text: str, path: object) -> object:
    """Return the value of a JSON text; Trouble for a key twice, NaN, infinities, or too deep a nesting."""
    try:
        return strict_json(text)
    except ValueError as error:
        raise Trouble(f"not valid JSON: {_short(error)}", path, _MEND) from error


def _short(error: BaseException) -> str:
    return "it is nested too deep" if isinstance(error, RecursionError) else str(error)[:200]


# Checking, with sentences of our own where the schema's would not say which line


def _check_tree(tree: dict[str, Any], path: Path) -> None:
    _refuse_keys(tree, Order, "the order", path)
    _check_values(tree.items(), "the order", path)
    lines = tree.get("lines", [])
    if not isinstance(lines, list):
        raise Trouble("the lines of an order are a list of tables", path, "Begin each with `[[lines]]`.")
    _refuse_many(len(lines), path)
    seen: dict[object, int] = {}
    for index, line in enumerate(lines):
        name = _line_name(index, line)
        if not isinstance(line, dict):
            raise Trouble(f"{name} is not a table of keys", path, _MEND)
        _check_line(line, name, path)
        line_id = line.get("line_id", str(index + 1))
        if line_id in seen:
            first = seen[line_id] + 1
            raise Trouble(
                f"lines {first} and {index + 1} have the same line_id {line_id!r}", path, "Give each its own."
            )
        seen[str(line_id)] = index


def _check_line(line: dict[str, Any], name: str, path: Path) -> None:
    _refuse_keys(line, OrderLine, name, path)
    _check_values(line.items(), name, path)
    quantity = line.get("quantity", 1)
    if isinstance(quantity, int) and not isinstance(quantity, bool) and not 1 <= quantity <= 1000:
        raise Trouble(f"{name} has the quantity {quantity}", path, "Give a quantity from 1 to 1000.")
    if line.get("category") == Category.UNIT.value:
        raise Trouble(f"{name} has the category 'unit', which no line can have", path, _MEND)
    gtin = line.get("gtin", "")
    if isinstance(gtin, str) and gtin.isascii() and gtin.isdigit() and not gtin_adds_up(gtin):
        raise Trouble(f"{name} has the GTIN {gtin}, whose check digit is wrong", path, "Copy it again.")
    wishes = line.get("expectations", [])
    if not isinstance(wishes, list) or not all(isinstance(wish, dict) for wish in wishes):
        raise Trouble(f"the expectations of {name} are not a list of tables", path, _MEND)
    for number, wish in enumerate(wishes, 1):
        _check_expectation(wish, f"expectation {number} of {name}", path)
    aspects = [wish.get("aspect") for wish in wishes]
    twice = next((aspect for aspect in aspects if aspects.count(aspect) > 1), None)
    if twice is not None:
        raise Trouble(f"{name} expects two things of the aspect {twice!r}", path, "Keep one of them.")


def _check_expectation(wish: dict[str, Any], name: str, path: Path) -> None:
    _refuse_keys(wish, Expectation, name, path)
    _check_values(wish.items(), name, path)
    unit, want = wish.get("unit", Unit.TEXT.value), wish.get("want")
    units = [known.value for known in Unit]
    if unit not in units:
        raise Trouble(
            f"{name} has the unit {unit!r}, which orders do not have", path, _one_of(filter(None, units))
        )
    allowed = next((found for aspect, found in _UNITS.items() if aspect.value == wish.get("aspect")), None)
    if allowed is not None and unit not in [known.value for known in allowed]:
        needed = " or ".join(repr(known.value) for known in allowed)
        raise Trouble(
            f"{name} is on the {wish['aspect']} and has the unit {unit!r}", path, f"Give it in {needed}."
        )
    others = wish.get("or_else", [])
    _check_values((("or_else", other) for other in (others if isinstance(others, list) else [])), name, path)
    for value in (want, *others) if isinstance(others, list) else (want,):
        if allowed is not None and (
            isinstance(value, bool) or not isinstance(value, int | float) or value <= 0
        ):
            raise Trouble(f"{name} wants {value!r}, where a number above 0 is needed", path, _MEND)


def _check_values(pairs: Iterable[tuple[str, object]], name: str, path: Path) -> None:
    for key, value in pairs:
        if isinstance(value, float) and not math.isfinite(value):
            raise Trouble(f"{key} of {name} is {value}, which is no quantity", path, "Give a finite number.")
        if isinstance(value, int) and not -(2**63) <= value < 2**63:
            raise Trouble(f"{key} of {name} is a number of more than 64 bits", path, _MEND)
        for text in _texts(value):
            if not _printable(text, several_rows=key in ("text", "words", "want")):
                raise Trouble(f"{key} of {name} holds characters that are no text", path, "Type it again.")


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        yield from (item for item in value if isinstance(item, str))


def _printable(text: str, *, several_rows: bool) -> bool:
    allowed = "\n\t" if several_rows else ""
    return not any((ord(c) < 32 and c not in allowed) or 0x7F <= ord(c) < 0xA0 or _surrogate(c) for c in text)


def _surrogate(character: str) -> bool:
    return 0xD800 <= ord(character) <= 0xDFFF


def _refuse_keys(table: dict[str, Any], kind: type[msgspec.Struct], name: str, path: Path) -> None:
    known = kind.__struct_fields__
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"Write {near[0]!r}, if that is meant." if near else _one_of(known)
            raise Trouble(f"{name} has the key {key!r}, which orders do not have", path, hint)


def _refuse_many(count: int, path: Path) -> None:
    if count > MOST_LINES:
        raise Trouble(
            f"an order of {count:,} lines, and one may have {MOST_LINES}",
            path,
            "Split it into several orders.",
        )


def _one_of(names: Iterable[str]) -> str:
    return "Use one of: " + ", ".join(names) + "."


def _line_name(index: int, line: object) -> str:
    line_id = line.get("line_id") if isinstance(line, dict) else None
    return f"line {index + 1} ({line_id})" if isinstance(line_id, str) and line_id else f"line {index + 1}"


def gtin_adds_up(digits: str) -> bool:
    """Whether the check digit is right: weights 3 and 1 from the right (GS1 General Specifications, 7.9)."""
    body, check = digits[:-1], int(digits[-1])
    total = sum(int(digit) * (3, 1)[position % 2] for position, digit in enumerate(reversed(body)))
    return (10 - total % 10) % 10 == check


def _numbered(tree: dict[str, Any]) -> dict[str, Any]:
    lines = [{"line_id": str(number), **line} for number, line in enumerate(tree.get("lines", []), 1)]
    return {**tree, "lines": lines} if "lines" in tree else tree


def _converted(tree: dict[str, Any], path: Path) -> Order:
    try:
        return msgspec.convert(tree, Order, strict=True)
    except msgspec.ValidationError as error:
        said = str(error)
        place = _PLACE.search(said)
        what = said[: place.start()] if place else said
        raise Trouble(f"{_place_name(place, tree)}: {_lower(what)}", path, _MEND) from error


def _place_name(place: re.Match[str] | None, tree: dict[str, Any]) -> str:
    inner = place["path"] if place else ""
    line = _LINE_PLACE.fullmatch(inner)
    if line is None:
        return inner.lstrip(".") or "the order"
    index = int(line["index"])
    name, rest = _line_name(index, tree["lines"][index]), line["rest"].lstrip(".")
    return f"{rest} of {name}" if rest else name


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


# Writing: TOML 1.0, only what an order needs

_SAID_WHEN_EMPTY = ("want", "unit")  # the others are empty where they are not written


def _toml_rows(fields: dict[str, Any]) -> Iterator[str]:
    for name, value in fields.items():
        if value in (None, ()) or (value == "" and name not in _SAID_WHEN_EMPTY):
            continue
        yield f"{name} = {toml_value(value)}\n"


def toml_value(value: Scalar | date | list[str] | tuple[Scalar, ...]) -> str:
    writers: tuple[tuple[Any, Callable[[Any], str]], ...] = (
        (bool, lambda v: "true" if v else "false"),
        (str, _toml_text),
        (date, date.isoformat),
        (list | tuple, lambda v: "[" + ", ".join(map(toml_value, v)) + "]"),
        (int, str),
        (float, _toml_float),
    )
    return next(write(value) for kind, write in writers if isinstance(value, kind))


def _toml_float(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError("an order cannot hold a number that is not finite")
    return repr(value)


def _toml_text(text: str) -> str:
    named = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}
    return '"' + "".join(named.get(c) or (c if _plain(c) else f"\\u{ord(c):04X}") for c in str(text)) + '"'


def _plain(character: str) -> bool:
    return not (ord(character) < 32 or 0x7F <= ord(character) < 0xA0)
