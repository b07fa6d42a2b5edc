"""A part list made ready for looking up: parts unread until they are wanted, and lists of where a number, a
GTIN or a word stands. Kept as a file beside the list, and made again when the list's digest changes: cutting
30,000 names into words takes seconds, reading what was cut a tenth of one (bench/catalogue.py).
"""

from __future__ import annotations

import math
import sys
import zlib
from array import array
from collections import defaultdict
from collections.abc import Iterable

import msgspec

from shipworthy import __version__
from shipworthy.model.base import Digest
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.described import described, identity_text, without_trade_words
from shipworthy.orders.catalogue.numbers import gtin_key, number_key
from shipworthy.words.makers import without_maker
from shipworthy.words.names import Name

LAYOUT = f"shipworthy catalogue index 1 {__version__} {sys.byteorder}"
_HEAD_BYTES = 4


class Index(msgspec.Struct, array_like=True):
    """parts: all as MessagePack, one behind the other; ends: where each ends. numbers, gtins, spellings: by
    key, places of parts in the list. said: by atom, the entries whose name has it; an entry is one name of
    one part. also: those of which it may be said besides. must: how many atoms of an entry have to be said,
    and must_weight: what they weigh, by their rarity.

    Lists of numbers are bytes, of 32 bits a number (`must`: 16, categories: 8) in the machine's order:
    nothing of them has to be made before it is looked up.
    """

    layout: str
    list_digest: Digest
    parts: bytes
    ends: bytes
    ids: dict[str, int]
    numbers: dict[str, bytes]
    gtins: dict[str, bytes]
    spellings: dict[str, bytes]
    part_of_entry: bytes
    must: bytes
    must_weight: bytes
    said: dict[str, bytes]
    also: dict[str, bytes]
    categories: list[str]
    category_of_part: bytes
    credits: list[str]


def spelling_key(text: str, category: str) -> str:
    """Return a text as it is held against names: in one spelling, of one category."""
    return f"{category}\0{Name.of(text).compact}"


def without_makers(text: str, *makers: str) -> str:
    """Return a text without the makers at its start: a brand may stand behind its maker."""
    for _ in range(2):
        text = without_maker(text, *makers)
    return text


def needed_name(name: str, maker: str, category: Category) -> Name:
    """Return what of a name has to be said for it to be this part; all of it where nothing else is left."""
    needed = Name.of(without_makers(identity_text(name, category), maker))
    return needed if needed.atoms else Name.of(name)


def rarity(entries: int, having: int) -> float:
    """Return the weight of an atom: the rarer, the more (inverse document frequency, Sparck Jones 1972)."""
    return math.log(1 + entries / max(1, having))


def indexed(parts: Iterable[CataloguePart], list_digest: Digest, credit_lines: Iterable[str] = ()) -> Index:
    """Return the index of a list."""
    encoded, ends = bytearray(), array("I")
    ids: dict[str, int] = {}
    numbers, gtins, spellings, said, also = (_table() for _ in range(5))
    part_of_entry, must, category_of_part = array("I"), array("H"), array("B")
    categories: list[str] = []
    for place, part in enumerate(parts):
        encoded += msgspec.msgpack.encode(part)
        ends.append(len(encoded))
        ids[part.part_id] = place
        category = part.category.value
        if category not in categories:
            categories.append(category)
        category_of_part.append(categories.index(category))
        for key in {number_key(number) for number in part.part_numbers} - {""}:
            numbers[key].append(place)
        for key in {gtin_key(gtin) for gtin in part.gtins} - {""}:
            gtins[key].append(place)
        more = " ".join((described(part), *part.part_numbers))
        besides = Name.of(without_trade_words(more, part.category)).atoms
        for name in dict.fromkeys((part.name, *part.names)):
            entry = len(part_of_entry)
            part_of_entry.append(place)
            key = spelling_key(name, category)
            if place not in spellings[key]:
                spellings[key].append(place)
            atoms = Name.of(name).atoms
            needed = needed_name(name, part.maker, part.category).atoms
            must.append(len(needed))
            for atom in needed:
                said[atom].append(entry)
            for atom in (besides | atoms) - needed:
                also[atom].append(entry)
    weights = array("f", bytes(4 * len(part_of_entry)))
    for entries in said.values():
        weight = rarity(len(part_of_entry), len(entries))
        for entry in entries:
            weights[entry] += weight
    return Index(
        layout=LAYOUT,
        list_digest=list_digest,
        parts=bytes(encoded),
        ends=ends.tobytes(),
        ids=ids,
        numbers=_packed(numbers),
        gtins=_packed(gtins),
        spellings=_packed(spellings),
        part_of_entry=part_of_entry.tobytes(),
        must=must.tobytes(),
        must_weight=weights.tobytes(),
        said=_packed(said),
        also=_packed(also),
        categories=categories,
        category_of_part=category_of_part.tobytes(),
        credits=list(credit_lines),
    )


def _table() -> defaultdict[str, array[int]]:
    return defaultdict(lambda: array("I"))


def _packed(table: dict[str, array[int]]) -> dict[str, bytes]:
    return {key: numbers.tobytes() for key, numbers in table.items()}


def index_bytes(index: Index) -> bytes:
    """Return the file of an index: a checksum, then MessagePack. It is no record: it can be made again."""
    body = msgspec.msgpack.encode(index)
    return zlib.crc32(body).to_bytes(_HEAD_BYTES, "big") + body


def index_from(data: bytes, list_digest: Digest) -> Index | None:
    """Return the index in a file; None if it is of another list, of another version, or damaged."""
    body = memoryview(data)[_HEAD_BYTES:]
    if zlib.crc32(body) != int.from_bytes(data[:_HEAD_BYTES], "big"):
        return None
    try:
        index = msgspec.msgpack.decode(body, type=Index)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None
    return index if index.layout == LAYOUT and index.list_digest == list_digest else None
