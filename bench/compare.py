"""How often the comparison is right on real names: retail text on one side, device strings on the other.

    python bench/compare.py FOLDER [--every N]

FOLDER is laid out as `reference/names`. True pairs are a retail part and the strings that a machine gave for
it. Wrong pairs are a retail part and the strings of its nearest siblings: other parts of the same maker whose
names share the most letters and whose strings say something else. Prints JSON: per category, with the part
number in the order and without, how many lines were accepted, differed, or could not be told. A line
*differs* if anything of it does, is *accepted* if all that decides conforms, and else nobody can tell.
Graphics cards are held twice, with a driver that names the product and by ids alone; see `compare_graphics`.
"""

from __future__ import annotations

import argparse
import csv
import json
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from shipworthy.compare import compare
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Fact, Part
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.reading import Configuration, Reading, Tool
from shipworthy.model.time import Moment
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from shipworthy.orders.expect import with_expectations
from shipworthy.words.kinds import find_interfaces, find_technologies
from shipworthy.words.likeness import Likeness, code_likeness
from shipworthy.words.marketed import bytes_by_rule
from shipworthy.words.sizes import Base, find_sizes

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

import compare_graphics

# What decides whether a line is the part that was sold. (Newness, maker and presence say nothing of it.)
DECIDES = {
    Category.PROCESSOR: {Aspect.MODEL},
    Category.BOARD: {Aspect.MODEL},
    Category.STORAGE: {Aspect.MODEL, Aspect.CAPACITY, Aspect.TECHNOLOGY, Aspect.INTERFACE},
    Category.GRAPHICS: {Aspect.MODEL, Aspect.CAPACITY},
    Category.MEMORY: {Aspect.CAPACITY, Aspect.COUNT, Aspect.TECHNOLOGY, Aspect.SPEED},
}
Row = dict[str, str]


@dataclass(frozen=True)
class Table:
    """One pair table: how a row becomes an order line, and what a machine with that part shows."""

    category: Category
    file: str
    number: Callable[[Row], str]
    shows: Callable[[Row], tuple[Part, ...]]
    witness: Callable[[Row], tuple[str, ...]]
    name: str = ""
    rows: Callable[[Path], list[Row]] | None = None  # where it is no file of rows

    @property
    def title(self) -> str:
        return self.name or self.category.value


def part(kind: PartKind, place: str, **said: Scalar | None) -> Part:
    """Return a part with these facts; None for one that is not offered."""
    facts = tuple(
        Fact(name=name, source="names", absent=Absent.NOT_OFFERED)
        if value is None
        else Fact(name=name, source="names", value=value)
        for name, value in said.items()
    )
    return Part(kind=kind, place=place, facts=facts)


def reading(parts: Iterable[Part]) -> Reading:
    """Return a reading of a machine with these parts and no other."""
    taken = Moment(
        utc=datetime(2026, 3, 2, tzinfo=UTC), boot_id=None, monotonic_s=0.0, clock_synchronised=None
    )
    return Reading(
        reading_id="names",
        nonce=None,
        taken=taken,
        took_s=0.0,
        simulated=False,
        tool=Tool(name="bench", version="1"),
        sources=(),
        parts=tuple(parts),
        ports=(),
        configuration=Configuration.of({}),
    )


def _processor(row: Row) -> tuple[Part, ...]:
    return (part(PartKind.PROCESSOR, "socket:0", model=row["cpu_model_name_reported"]),)


def _board(row: Row) -> tuple[Part, ...]:
    maker, model = row["dmi_board_manufacturer"], row["dmi_board_product"]
    return (part(PartKind.BOARD, "board", maker=maker, model=model.strip()),)


def _drive(row: Row) -> tuple[Part, ...]:
    """The drive's own name, and the size, technology and interface that any drive tells."""
    name = row["retail_name"]
    sizes = find_sizes(name, Base.DECIMAL)  # the column is cut to whole TB
    capacity_gb = sizes[0].size_bytes / 10**9 if sizes else int(row["retail_capacity"])
    technologies, interfaces = find_technologies(name), find_interfaces(name)
    return (
        part(
            PartKind.STORAGE,
            "drive",
            model=row["device_model_string"],
            size_bytes=bytes_by_rule(capacity_gb),
            technology=technologies[0].meaning if technologies else None,
            interface=interfaces[0].meaning if interfaces else None,
        ),
    )


def _modules(row: Row) -> tuple[Part, ...]:
    """The kit's modules as one of them showed itself; the profile is taken as switched on."""
    kind = row["dmi_type"] if row["dmi_type"].startswith("DDR") else None
    return tuple(
        part(
            PartKind.MEMORY_MODULE,
            f"smbios:{slot}",
            size_bytes=_size_bytes(row["dmi_size"]),
            type=kind,
            maker=row["dmi_manufacturer"].strip() or None,
            part_number=row["dmi_part_number"].strip() or None,
            configured_speed_mt_s=int(row["retail_speed"]),
        )
        for slot in range(int(row["retail_modules"]))
    )


def _graphics(row: Row) -> tuple[Part, ...]:
    """A card as its driver names it, or as the lists of ids do; without a driver nothing tells its memory."""
    memory = int(row["memory"]) * 2**30 if row["memory"] else None
    return (
        part(
            PartKind.GRAPHICS,
            "pci:0000:01:00.0",
            model=row["model"] or None,
            model_candidates=row["candidates"] or None,
            memory_bytes=memory,
        ),
    )


def _size_bytes(text: str) -> int:
    number, unit = text.split()
    return int(number) * {"MB": 2**20, "GB": 2**30}[unit]


def _number(row: Row) -> str:
    """Of several part numbers of one retail part, the one that this device has, else the first."""
    said = row.get("device_model_string") or row.get("dmi_part_number") or row.get("dmi_board_product") or ""
    numbers = row["retail_part_numbers"].split("|")
    return next((number for number in numbers if code_likeness(number, said) is Likeness.SAME), numbers[0])


TABLES = (
    Table(
        Category.PROCESSOR,
        "cpu-retail-to-device-pairs.tsv",
        _number,
        _processor,
        lambda r: (r["cpu_model_name_reported"],),
    ),
    Table(
        Category.BOARD,
        "board-retail-to-device-pairs.tsv",
        _number,
        _board,
        lambda r: (r["dmi_board_product"].strip().casefold(),),
    ),
    Table(
        Category.STORAGE,
        "storage-retail-to-device-pairs.tsv",
        _number,
        _drive,
        lambda r: (r["device_model_string"].split("-")[0], r["retail_capacity"]),
    ),
    Table(
        Category.MEMORY,
        "ram-retail-to-device-pairs.tsv",
        _number,
        _modules,
        lambda r: (r["retail_modules"], str(_size_bytes(r["dmi_size"])), r["retail_type"], r["retail_speed"]),
    ),
    Table(
        Category.GRAPHICS,
        "",
        lambda r: "",
        _graphics,
        lambda r: (r["model"],),
        name="graphics, with a driver",
        rows=compare_graphics.driven,
    ),
    Table(
        Category.GRAPHICS,
        "",
        lambda r: "",
        _graphics,
        lambda r: (r["model"] + r["candidates"],),
        name="graphics, by ids alone",
        rows=compare_graphics.by_ids,
    ),
)


def outcome(line: OrderLine, parts: tuple[Part, ...]) -> tuple[str, tuple[Finding, ...]]:
    """Return what the comparison says of one line and these parts, in one word, and its findings."""
    order = with_expectations(Order(order_id="names", shop="names", units=("names",), lines=(line,)))
    findings = compare(order, reading(parts), (), ()).findings
    decides = DECIDES[line.category]
    about = [f for f in findings if f.aspect in decides or f.aspect is Aspect.PART_NUMBER]
    if any(f.outcome is Outcome.DIFFERS for f in about):
        return "differs", findings
    by_number = any(f.aspect is Aspect.PART_NUMBER and f.outcome is Outcome.CONFORMS for f in about)
    named = line.category is not Category.MEMORY  # boxes of these have part numbers that no device shows
    told = [f for f in about if not (named and f.aspect is Aspect.PART_NUMBER)]
    told = [f for f in told if not (by_number and f.aspect is Aspect.MODEL)]
    accepted = all(f.outcome is Outcome.CONFORMS for f in told) and bool(told or by_number)
    return ("accepted" if accepted else "cannot tell"), findings


def line_of(table: Table, row: Row, *, hidden: bool) -> OrderLine:
    """Return the order line of a retail part, with its part number or without."""
    number = "" if hidden else table.number(row)
    return OrderLine(
        line_id="1",
        category=table.category,
        text=row["retail_name"],
        maker=row.get("retail_manufacturer", ""),
        part_number=number,
    )


def rows_of(folder: Path, table: Table) -> list[Row]:
    """Return the rows of a table."""
    if table.rows is not None:
        return table.rows(folder)
    with (folder / table.file).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, delimiter="\t"))


def nearest(table: Table, rows: list[Row], row: Row, count: int) -> Iterator[Row]:
    """Return the siblings nearest to a row: same maker, other part, other strings, most letters in common."""
    own = _letters(row["retail_name"])
    seen = {table.witness(row)}
    others = [
        other
        for other in rows
        if other["opendb_id"] != row["opendb_id"]
        and other.get("retail_manufacturer") == row.get("retail_manufacturer")
        and other["retail_name"] != row["retail_name"]
    ]
    others.sort(key=lambda other: (-_likeness(own, _letters(other["retail_name"])), other["retail_name"]))
    for other in others:
        if table.witness(other) not in seen:
            seen.add(table.witness(other))
            yield other
            count -= 1
            if not count:
                return


def _letters(text: str) -> frozenset[str]:
    plain = text.casefold()
    return frozenset(plain[start : start + 3] for start in range(len(plain) - 2))


def _likeness(one: frozenset[str], other: frozenset[str]) -> float:
    return len(one & other) / max(1, len(one | other))


def confusion(
    folder: Path, table: Table, every: int, *, hidden: bool, siblings: int = 3
) -> dict[str, object]:
    """Return the counts of one table: every so-manieth row, and its nearest siblings."""
    rows = rows_of(folder, table)
    true: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    examples: dict[str, list[list[str]]] = {"true differs": [], "wrong accepted": []}
    for row in rows[::every]:
        line = line_of(table, row, hidden=hidden)
        word, findings = outcome(line, table.shows(row))
        true[word] += 1
        if word == "differs":
            examples["true differs"].append(_example(row, findings))
        for sibling in nearest(table, rows, row, siblings):
            word, findings = outcome(line, table.shows(sibling))
            wrong[word] += 1
            if word == "accepted":
                examples["wrong accepted"].append(_example(row, findings))
    return {"true": dict(true), "wrong": dict(wrong), "examples": {k: v[:12] for k, v in examples.items()}}


def _example(row: Row, findings: tuple[Finding, ...]) -> list[str]:
    return [row["retail_name"], *(f"{f.code}: {f.got}" for f in findings if f.want is not None)]


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--every", type=int, default=1, help="take every so-manieth row (default 1)")
    chosen = parser.parse_args(arguments)
    result = {
        f"{table.title}, {'part number hidden' if hidden else 'with part number'}": confusion(
            chosen.folder, table, chosen.every, hidden=hidden
        )
        for table in TABLES
        for hidden in ((True,) if table.rows else (True, False))
    }
    json.dump(result, sys.stdout, indent=2)
    sys.stdout.write("\n")


if __name__ == "__main__":
    main(sys.argv[1:])
