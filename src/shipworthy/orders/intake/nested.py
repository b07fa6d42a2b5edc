"""Nested JSON by a mapping file: paths into lists, fixed values, one condition an entry."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from shipworthy.model.base import Trouble
from shipworthy.model.intake import Became
from shipworthy.model.mapping import Mapping, NestedLines
from shipworthy.orders.intake import columns, private
from shipworthy.orders.intake.grids import cell_text
from shipworthy.orders.intake.mapping import categories_said, names_of
from shipworthy.orders.intake.quantities import with_count_of_text
from shipworthy.orders.intake.rawrow import RawRow, Taken, note

_DEEPEST = 40
_STEP = re.compile(r'(?:"(?P<quoted>[^"]+)"|(?P<plain>[^.\[\]"]+))?(?P<list>\[\])?(?:\.|$)')

Steps = tuple[str, ...]
"""A path's steps: keys, and `[]` for each element of a list."""


@dataclass
class _Seen:
    """Paths (with `[]` for any element) that an entry has read."""

    steps: set[Steps] = field(default_factory=set)


def steps_of(path: str) -> Steps:
    """Return the steps of a path (`order.items[]`, `"a.b".c`); Trouble for one that is none."""
    steps: list[str] = []
    at = 0
    while at < len(path):
        match = _STEP.match(path, at)
        if match is None or match.end() == at or not (match["quoted"] or match["plain"] or match["list"]):
            raise Trouble(f"{path[:80]!r} is no path", "the mapping", "Write it as `order.items[].name`.")
        if match["quoted"] or match["plain"]:
            steps.append(match["quoted"] or match["plain"])
        if match["list"]:
            steps.append("[]")
        at = match.end()
    return tuple(steps)


def read_nested(tree: object, mapping: Mapping, name: object) -> Taken:
    """Return the rows of a nested export; each value that no path reads is named by its path.

    Raises Trouble for nesting deeper than 40, a path that is none, or an export that has none of the
    lists that the mapping names; one list alone may be missing, as an order need not have services.
    """
    _refuse_deep(tree, name)
    seen = _Seen()
    head = _head(tree, mapping, seen)
    rows: list[RawRow] = []
    for key, (value, path) in head.items():
        if key == "customer_reference" and value:
            rows.append(RawRow(path, "", Became.LEFT_OUT, left_out=(private.CUSTOMER,)))
        elif value:
            rows.append(RawRow(path, " ".join(value.split()), Became.HEAD))
    taken: set[str] = set()
    listed: dict[str, tuple[Steps, object]] = {}
    if not any(_is_there(tree, steps_of(entry.at)) for entry in mapping.lines):
        raise Trouble(
            f"the export has nothing at {mapping.lines[0].at!r}", name, "Correct the mapping's paths."
        )
    for entry in mapping.lines:
        steps = steps_of(entry.at)
        found = list(_walk(tree, steps))
        for place, element in found:
            listed[place] = (steps, element)
            if place not in taken and _fits(element, entry, steps, seen):
                taken.add(place)
                rows.append(_element(place, element, entry, mapping, steps, seen))
    for place, (steps, element) in listed.items():
        if place not in taken:
            seen.steps |= {steps + rest for rest in _leaf_steps(element)}
            rows.append(RawRow(place, "", Became.NOT_IMPORTED, notes=(note("intake.no-entry-fits"),)))
    rows += _unread(tree, mapping, seen)
    return Taken("nested JSON", tuple(rows), head)


def _element(
    place: str, element: object, entry: NestedLines, mapping: Mapping, at: Steps, seen: _Seen
) -> RawRow:
    if entry.leave_out:
        seen.steps |= {at + rest for rest in _leaf_steps(element)}
        return RawRow(place, "", Became.NO_PART)

    def said(path: str) -> str:
        if not path:
            return ""
        steps = () if path == "." else steps_of(path)
        seen.steps |= {at + steps + rest for _, value in _walk(element, steps) for rest in _leaf_steps(value)}
        return ", ".join(filter(None, (_words(value) for _, value in _walk(element, steps))))

    texts = [text for path in names_of(entry.text) if (text := said(path))]
    bare, named, kinds = private.without_private(", ".join(texts))
    category = said(entry.category)
    among = categories_said(category, mapping)
    notes = (note("intake.category-word-unknown", said=category[:60]),) if category and not among else ()
    maker, number, quantity = said(entry.maker), said(entry.part_number), said(entry.quantity)
    words = "  ".join(filter(None, (quantity, named, maker, number, category)))
    row = RawRow(
        place,
        " ".join(words.split()),
        text=" ".join(bare.split()),
        quantity=quantity,
        maker=maker,
        part_number=number,
        gtin=said(entry.gtin),
        among=frozenset({entry.fixed_category}) if entry.fixed_category else among,
        shaped=True,
        left_out=kinds,
        notes=() if entry.fixed_category else notes,
    )
    return with_count_of_text(row)


def _head(tree: object, mapping: Mapping, seen: _Seen) -> dict[str, tuple[str, str]]:
    head: dict[str, tuple[str, str]] = {}
    for name in type(mapping.order_at).__struct_fields__:
        if path := getattr(mapping.order_at, name):
            steps = steps_of(path)
            seen.steps.add(steps)
            found = [_words(value) for _, value in _walk(tree, steps)]
            head[name] = ("\n".join(filter(None, found)), path)
    return head


def _unread(tree: object, mapping: Mapping, seen: _Seen) -> Iterator[RawRow]:
    """Yield a row for each path that nothing has read: left out by its name's kind, ignored, or asked."""
    ignored = [steps_of(path) for path in mapping.ignore]
    counts: dict[Steps, int] = {}
    for steps in _leaves(tree):
        if steps not in seen.steps:
            counts[steps] = counts.get(steps, 0) + 1
    for steps, count in counts.items():
        place = _path(steps)
        if any(steps[: len(known)] == known for known in ignored):
            continue
        kind = next((m for s in steps if (m := columns.meaning_of(_spaced(s))) in columns.LEFT_OUT), "")
        if kind:
            yield RawRow(place, "", Became.LEFT_OUT, left_out=(kind,))
        else:
            yield RawRow(place, "", Became.NOT_IMPORTED, notes=(note("intake.path-unused", count=count),))


def _walk(value: object, steps: Steps, place: str = "") -> Iterator[tuple[str, object]]:
    """Yield each value at a path, with its own path (`items[3].name`)."""
    if not steps:
        yield place or ".", value
    elif steps[0] == "[]" and isinstance(value, list):
        for index, item in enumerate(value):
            yield from _walk(item, steps[1:], f"{place}[{index}]")
    elif isinstance(value, dict) and steps[0] in value:
        yield from _walk(value[steps[0]], steps[1:], f"{place}.{steps[0]}" if place else steps[0])


def _is_there(tree: object, steps: Steps) -> bool:
    return (
        any(isinstance(value, list) for _, value in _walk(tree, steps[:-1]))
        if steps[-1:] == ("[]",)
        else False
    )


def _fits(element: object, entry: NestedLines, at: Steps, seen: _Seen) -> bool:
    if entry.where is None:
        return True
    steps = steps_of(entry.where.path)
    seen.steps.add(at + steps)
    return any(value == entry.where.equals for _, value in _walk(element, steps))


def _leaves(value: object, steps: Steps = ()) -> Iterator[Steps]:
    """Yield the path of every value that says something; `[]` stands for any place in a list."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _leaves(item, (*steps, key))
    elif isinstance(value, list):
        for item in value:
            yield from _leaves(item, (*steps, "[]"))
    elif value is not None and value != "":
        yield steps


def _leaf_steps(value: object) -> set[Steps]:
    return set(_leaves(value))


def _words(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key}: {words}" for key, item in value.items() if (words := _words(item)))
    if isinstance(value, list):
        return ", ".join(filter(None, map(_words, value)))
    return " ".join(cell_text(value).split())


def _path(steps: Steps) -> str:
    text = ""
    for step in steps:
        text += step if step == "[]" else f".{step}" if text else step
    return text or "."


def _spaced(key: str) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", key)


def _refuse_deep(tree: object, name: object) -> None:
    level: list[object] = [tree]
    for _ in range(_DEEPEST):
        level = [
            item
            for value in level
            if isinstance(value, dict | list)
            for item in (value.values() if isinstance(value, dict) else value)
        ]
        if not level:
            return
    raise Trouble(f"nested deeper than {_DEEPEST}", name, "Export the order alone.")
