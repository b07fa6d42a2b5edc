"""One record of a part list, from keys and values to a checked part, or to the sentence that says why not."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import msgspec

from shipworthy.model.catalogue import FACTS_OF, CataloguePart
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.numbers import gtin_key, number_key

CATEGORIES = tuple(category.value for category in Category if category is not Category.UNIT)


@dataclass(frozen=True, slots=True)
class Wrong:
    """Why a record is no part; without a full stop."""

    what: str


def part_of_tree(tree: dict[str, Any]) -> CataloguePart | Wrong:
    """Return the part that keys and values make; the kind of its facts may be left to its category."""
    for key in tree:
        if key not in CataloguePart.__struct_fields__:
            return Wrong(f"a part has no key {key!r}{_nearest(key, CataloguePart.__struct_fields__)}")
    category = tree.get("category")
    if category not in CATEGORIES:
        return Wrong(f"{category!r} is no category of parts{_nearest(str(category), CATEGORIES)}")
    facts = tree.get("facts")
    kind = FACTS_OF.get(Category(category))
    if facts is not None and kind is None:
        return Wrong(f"parts of the category {category!r} have no facts here")
    if isinstance(facts, dict) and kind is not None:
        for key in facts:
            if key not in ("kind", *kind.__struct_fields__):
                return Wrong(
                    f"parts of this category have no fact {key!r}{_nearest(key, kind.__struct_fields__)}"
                )
        tree = {**tree, "facts": {"kind": kind.__struct_config__.tag, **facts}}
    if any(isinstance(value, float) and not math.isfinite(value) for value in _values(tree)):
        return Wrong("a number is not finite")
    try:
        part = msgspec.convert(tree, CataloguePart, strict=True)
    except msgspec.ValidationError as error:
        return Wrong(reason_of(error))
    said = wrong_with(part)
    return Wrong(said) if said else part


def wrong_with(part: CataloguePart) -> str:
    """Return what is wrong with a part that has the right form; empty if nothing."""
    texts = (part.part_id, part.name, part.maker, part.series, part.source, *part.names, *part.part_numbers)
    if not part.name.strip() or not part.part_id.strip():
        return "the name is empty" if part.part_id.strip() else "the part_id is empty"
    if not all(map(_printable, texts)):
        return "it holds characters that are no text"
    if part.category is Category.UNIT:
        return "the category 'unit' is no part's"
    if part.facts is not None and type(part.facts) is not FACTS_OF.get(part.category):
        return f"its facts are of another kind than its category, {part.category.value}"
    if any(isinstance(value, float) and not math.isfinite(value) for value in _values(part)):
        return "a number is not finite"
    for gtin in part.gtins:
        if not gtin_key(gtin):
            return f"the check digit of the GTIN {gtin} is wrong"
    for number in part.part_numbers:
        if not number_key(number):
            return f"the part number {number!r} is too short to tell a part"
    return ""


def reason_of(error: BaseException) -> str:
    """Return an error of a reader as the end of a sentence."""
    if isinstance(error, RecursionError):
        return "it is nested too deep"
    text = str(error)[:200]
    return text[:1].lower() + text[1:]


def _nearest(word: str, known: tuple[str, ...]) -> str:
    import difflib  # only where something is wrong

    near = difflib.get_close_matches(word, known, n=1)
    return f"; is {near[0]!r} meant?" if near else "; use one of " + ", ".join(known)


def _printable(text: str) -> bool:
    return not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or 0xD800 <= ord(c) <= 0xDFFF for c in text)


def _values(value: object) -> Iterator[object]:
    if isinstance(value, dict):
        for item in value.values():
            yield from _values(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _values(item)
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            yield from _values(getattr(value, name))
    else:
        yield value
