"""Open part records, one JSON object a line (`CPU.jsonl`, `CPU.jsonl.xz` …, or a folder of such), to parts.

The data is under the Open Data Commons Attribution License 1.0, which asks that its source be named wherever
the data goes: each part carries it, and the import says it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

from shipworthy.model.base import Trouble, strict_json
from shipworthy.model.catalogue import CataloguePart, Facts
from shipworthy.model.words import Category
from shipworthy.orders.catalogue import open_board, open_facts, open_facts_build
from shipworthy.orders.catalogue.lists import MOST_BYTES, MOST_LINE_BYTES
from shipworthy.orders.catalogue.numbers import number_key
from shipworthy.orders.catalogue.open_values import Notes, OpenRecord
from shipworthy.orders.catalogue.records import Wrong, reason_of, wrong_with

SOURCE = "buildcores-open-db"
CREDIT = (
    f"Contains information from {SOURCE}, which is made available under the "
    "Open Data Commons Attribution License 1.0."
)
"""What the licence asks to be said, in its own form (ODC-BY 1.0, 4.3)."""

KINDS: dict[str, tuple[Category, Callable[[OpenRecord], Facts] | None]] = {
    "CPU": (Category.PROCESSOR, open_facts.processor),
    "CPUCooler": (Category.COOLER, open_facts_build.cooler),
    "GPU": (Category.GRAPHICS, open_facts_build.graphics),
    "Monitor": (Category.DISPLAY, open_facts.display),
    "Motherboard": (Category.BOARD, open_board.board),
    "NetworkCard": (Category.NETWORK, open_facts.card),
    "OS": (Category.SYSTEM_SOFTWARE, None),
    "PCCase": (Category.CASE, open_facts_build.case),
    "PSU": (Category.POWER_SUPPLY, open_facts.supply),
    "RAM": (Category.MEMORY, open_facts.memory),
    "SoundCard": (Category.SOUND, open_facts.card),
    "Storage": (Category.STORAGE, open_facts.storage),
}
"""By the name of the file, the category of its records and what makes facts of one."""

_SUFFIX = re.compile(r"\.jsonl(\.xz)?$")


def open_files(path: Path) -> tuple[Path, ...]:
    """Return the files of open part records that a path names, itself or as a folder; none if it has none."""
    files = sorted(path.iterdir()) if path.is_dir() else [path]
    return tuple(file for file in files if _SUFFIX.search(file.name) and _kind_of(file) in KINDS)


def open_parts(file: Path, notes: Notes) -> Iterator[tuple[str, CataloguePart | Wrong]]:
    """Yield each record of one file with its place, as a part or as what is wrong with it."""
    category, facts_of = KINDS[_kind_of(file)]
    for number, line in enumerate(_lines(file), 1):
        row = f"line {number}"
        if isinstance(line, Wrong):
            yield row, line
            continue
        try:
            tree = strict_json(line.decode("utf-8"))
        except ValueError as error:
            yield row, Wrong(f"not valid JSON: {reason_of(error)}")
            continue
        if isinstance(tree, dict):
            yield row, _part(OpenRecord(tree, category, notes), facts_of, file)
        else:
            yield row, Wrong("a record is one table of keys, and this is none")


def _kind_of(file: Path) -> str:
    return file.name.partition(".")[0]


def _part(
    record: OpenRecord, facts_of: Callable[[OpenRecord], Facts] | None, file: Path
) -> CataloguePart | Wrong:
    if not record.text("opendb_id") or not record.name:
        return Wrong("it has no id" if record.name else "it has no name")
    numbers = _part_numbers(record)
    part = CataloguePart(
        part_id=record.text("opendb_id"),
        category=record.category,
        maker=record.text("metadata.manufacturer"),
        name=record.name,
        series=record.text("metadata.series"),
        part_numbers=numbers,
        facts=facts_of(record) if facts_of else None,
        source=f"{SOURCE}, {_kind_of(file)}",
    )
    said = wrong_with(part)
    return Wrong(said) if said else part


def _part_numbers(record: OpenRecord) -> tuple[str, ...]:
    """Return the part numbers, each once. Two in one text stand far apart; pieces of names are left out."""
    found: Any = record.raw("metadata.part_numbers")
    texts = [text for text in found if isinstance(text, str)] if isinstance(found, list) else []
    numbers: dict[str, str] = {}
    for text in texts:
        for number in filter(None, map(str.strip, re.split(r"\s{2,}", text))):
            if number_key(number):
                numbers.setdefault(number_key(number), number)
            else:
                record.note("metadata.part_numbers", "too short to tell a part", number)
    return tuple(numbers.values())


def _opener(file: Path) -> tuple[Callable[[Path], IO[bytes]], tuple[type[Exception], ...]]:
    """Return what opens a file, and what it raises where the file is bad. Some builds of Python lack lzma."""
    if file.suffix != ".xz":
        return (lambda path: path.open("rb")), (OSError,)
    try:
        import lzma
    except ModuleNotFoundError as error:
        what = "packed with xz, which this Python cannot unpack"
        raise Trouble(what, file, "Unpack it first.") from error
    return (lambda path: lzma.open(path)), (OSError, EOFError, lzma.LZMAError)


def _lines(file: Path) -> Iterator[bytes | Wrong]:
    """Yield the lines of a file that may be packed; a line or a file without end is not unpacked whole."""
    unpacked = 0
    opened, bad = _opener(file)
    try:
        with opened(file) as stream:
            while line := stream.readline(MOST_LINE_BYTES):
                unpacked += len(line)
                if unpacked > MOST_BYTES:
                    most = f"{MOST_BYTES // 10**6} MB"
                    raise Trouble(f"holds more than {most}", file, "Check that this is the right file.")
                if len(line) == MOST_LINE_BYTES and not line.endswith(b"\n"):
                    while (line := stream.readline(MOST_LINE_BYTES)) and not line.endswith(b"\n"):
                        unpacked += len(line)
                        if unpacked > MOST_BYTES:
                            break
                    yield Wrong(f"a line of more than {MOST_LINE_BYTES // 10**6} MB is no part")
                elif line.strip():
                    yield line
    except bad as error:
        raise Trouble(f"cannot be read: {error}", file, "Fetch it again.") from error
