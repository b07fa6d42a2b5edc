"""How often the grammar of part texts is right on real retail names, held against the records' own fields.

    python bench/part_texts.py [FOLDER] [--every N] [--examples N]

FOLDER is laid out as `reference/names`: it holds `open-db/*.jsonl.xz`. Prints JSON: for each category and
field how often the grammar found what the record says (`right`), found something else (`wrong`), found things
that contradict each other (`torn`), found nothing though the name says it (`missed`), and found nothing where
the name says nothing (`silent`). Whether a name says it is told by a search for the record's own value, which
shares no code with the grammar. A record without the field counts for nothing. Forms and sockets are spelled
by the records in ways of their own, which the finder that is measured puts into ours: a field that it does
not read as one thing, and one with a technology or interface that we do not know, is `unread`, and nothing is
measured of it.
"""

from __future__ import annotations

import argparse
import json
import lzma
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

from common import NAMES, need

from shipworthy.words.cooling import find_radiators
from shipworthy.words.counts import find_diagonals, find_refresh_rates, find_resolutions
from shipworthy.words.forms import (
    find_board_forms,
    find_drive_forms,
    find_modularity,
    find_module_forms,
    find_supply_forms,
    same_form,
)
from shipworthy.words.kinds import (
    find_card_memory,
    find_error_correction,
    find_interfaces,
    find_memory_types,
    find_technologies,
)
from shipworthy.words.power import find_grades, find_watts
from shipworthy.words.sizes import Base, find_kits, find_sizes
from shipworthy.words.sockets import find_sockets
from shipworthy.words.speeds import find_memory_speeds, same_rate
from shipworthy.words.timings import find_timings

Record = dict[str, Any]
Found = set[Any]


UNREAD = object()


@dataclass(frozen=True)
class Field:
    """truth: the record's value; None if it has none, UNREAD if it is in no words of ours. found: what the
    grammar says of a name. says: whether a name says that value, by a plain search. same: whether two values
    are one."""

    name: str
    truth: Callable[[Record], Any]
    found: Callable[[str], Iterable[Any]]
    says: Callable[[str, Any], bool]
    same: Callable[[Any, Any], bool] = lambda one, other: one == other


def at(*path: str) -> Callable[[Record], Any]:
    def get(record: Record) -> Any:
        value: Any = record
        for key in path:
            value = value.get(key) if isinstance(value, dict) else None
        return value or None

    return get


def spelled(pattern: str) -> Callable[[str, Any], bool]:
    """Return a search for a value in a name. `{}` stands for the value."""

    def says(name: str, value: Any) -> bool:
        written = re.escape(f"{value:g}" if isinstance(value, int | float) else str(value))
        return re.search(pattern.replace("{}", written), name, re.IGNORECASE) is not None

    return says


def loosely(name: str, value: Any) -> bool:
    """Whether a value's letters and digits stand in a name, whatever stands between them."""
    squeezed = re.sub(r"[\W_]", "", str(value)).casefold()
    return squeezed in re.sub(r"[\W_]", "", name).casefold()


def _meanings(finder: Callable[[str], tuple[Any, ...]]) -> Callable[[str], Iterable[str]]:
    return lambda name: {word.meaning for word in finder(name)}


def _form(finder: Callable[[str], tuple[Any, ...]], *path: str) -> Callable[[Record], Any]:
    """The record's own spelling, put into ours by the finder."""

    def truth(record: Record) -> Any:
        said = at(*path)(record)
        known = {word.meaning for word in finder(str(said or ""))}
        if len(known) == 1:
            return next(iter(known))
        return UNREAD if said else None

    return truth


def _in_either_case(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()


def _memory_total(name: str) -> Found:
    kits = {k.count * k.module_bytes for k in find_kits(name) if k.module_bytes}
    return {size / 2**30 for size in kits or {s.size_bytes for s in find_sizes(name, Base.BINARY)}}


def _row_of_timings(record: Record) -> Any:
    """Some records have `CL46` for all the timings."""
    said = str(record.get("timings") or "")
    return said if "-" in said else None


def _whole_tb(record: Record) -> Any:
    """The records cut a TB to whole ones (1.92 TB is 1000): where a name has a fraction they tell nothing."""
    gb = record.get("capacity")
    cut = gb and gb % 1000 == 0 and re.search(r"\d[.,]\d+\s?TB", record["metadata"]["name"])
    return None if cut else gb or None


def _drive_says(name: str, gb: float) -> bool:
    if spelled(r"(?<![\d.,]){}\s?-?GB?\b")(name, gb):
        return True
    return gb >= 1000 and spelled(r"(?<![\d.,]){}\s?-?TB?\b")(name, gb / 1000)


def _technology(record: Record) -> Any:
    kind = record.get("storage_type") or record.get("type")
    known = {"SSD": "solid state", "HDD": "spinning", "SSHD": "hybrid"}
    return known.get(str(kind), UNREAD) if kind else None


def _interface(record: Record) -> Any:
    said = str(record.get("interface") or "")
    if record.get("nvme"):
        return "NVMe"
    return "SATA" if "SATA" in said else "SAS" if "SAS" in said else UNREAD if said else None


def _pixels(record: Record) -> Any:
    size = record.get("resolution") or {}
    return (size.get("horizontalRes"), size.get("verticalRes")) if size.get("verticalRes") else None


def _pixels_said(name: str, pixels: tuple[int, int]) -> bool:
    named = {(1920, 1080): "1080p", (2560, 1440): "1440p", (3840, 2160): "4K"}.get(pixels)
    return bool(re.search(rf"{pixels[0]}\s?x\s?{pixels[1]}", name) or (named and loosely(name, named)))


def _grade(record: Record) -> Any:
    said = record.get("efficiency_rating")
    return str(said).replace("80+", "80 PLUS").strip() if said else None


def _grade_said(name: str, grade: str) -> bool:
    plain = re.sub(r"[\W_]", "", name.replace("+", "plus")).casefold()
    return re.sub(r"\W", "", grade).casefold() in plain


def _cas_said(name: str, cas: float) -> bool:
    return spelled(r"(?:\bCL|\bC|CAS|latency)\s?-?{}\b")(name, cas) or spelled(r"(?<![\d-]){}(?:-\d\d){2}")(
        name, cas
    )


FIELDS: dict[str, tuple[Field, ...]] = {
    "RAM": (
        Field("capacity", at("capacity"), _memory_total, spelled(r"(?<![\d.x]){}\s?GB?\b")),
        Field(
            "modules",
            at("modules", "quantity"),
            lambda name: {k.count for k in find_kits(name)},
            spelled(r"(?<!\w){}\s?[x×]\s?\d"),
        ),
        Field(
            "speed",
            at("speed"),
            lambda name: {s.speed_mt_s for s in find_memory_speeds(name)},
            spelled(r"(?<!\d){}(?!\d)"),
            same_rate,
        ),
        Field("cas_latency", at("cas_latency"), lambda name: {t.cas for t in find_timings(name)}, _cas_said),
        Field(
            "timings",
            _row_of_timings,
            lambda name: {t.all for t in find_timings(name) if "-" in t.all},
            spelled(r"(?<![\d-]){}"),
        ),
        Field(
            "ram_type", at("ram_type"), _meanings(find_memory_types), loosely, lambda a, b: a.rstrip("L") == b
        ),
        Field("form_factor", _form(find_module_forms, "form_factor"), _meanings(find_module_forms), loosely),
        Field("ecc", at("ecc"), _meanings(find_error_correction), spelled(r"\b{}\b"), _in_either_case),
    ),
    "Storage": (
        Field(
            "capacity",
            _whole_tb,
            lambda name: {s.size_bytes / 1e9 for s in find_sizes(name, Base.DECIMAL)},
            _drive_says,
            lambda a, b: abs(a - b) < 0.001 * b,
        ),
        Field(
            "form_factor",
            _form(find_drive_forms, "form_factor"),
            _meanings(find_drive_forms),
            loosely,
            same_form,
        ),
        Field("interface", _interface, _meanings(find_interfaces), loosely),
        Field(
            "technology",
            _technology,
            _meanings(find_technologies),
            lambda name, kind: loosely(
                name, {"solid state": "SSD", "spinning": "HDD", "hybrid": "SSHD"}[kind]
            ),
        ),
    ),
    "PSU": (
        Field(
            "wattage",
            at("wattage"),
            lambda name: {w.watts for w in find_watts(name)},
            spelled(r"(?<!\d){}\s?-?W"),
        ),
        Field("efficiency", _grade, _meanings(find_grades), _grade_said),
        Field(
            "form_factor",
            _form(find_supply_forms, "form_factor"),
            _meanings(find_supply_forms),
            spelled(r"\b{}\b"),
        ),
        Field("modular", at("modular"), _meanings(find_modularity), spelled(r"{}(?:ly)?\W?(?:modular)?\b")),
    ),
    "Motherboard": (
        Field("socket", _form(find_sockets, "socket"), _meanings(find_sockets), loosely),
        Field(
            "form_factor",
            _form(find_board_forms, "form_factor"),
            _meanings(find_board_forms),
            spelled(r"(?<!\w){}\b"),
        ),
        Field("ram_type", at("memory", "ram_type"), _meanings(find_memory_types), loosely),
    ),
    "PCCase": (
        Field(
            "board",
            _form(find_board_forms, "form_factor"),
            _meanings(find_board_forms),
            spelled(r"(?<!\w){}\b"),
        ),
    ),
    "CPUCooler": (
        Field(
            "radiator_size",
            at("radiator_size"),
            lambda name: {r.mm for r in find_radiators(name)},
            spelled(r"(?<!\d){}\s?mm"),
        ),
    ),
    "GPU": (
        Field(
            "memory",
            at("memory"),
            lambda name: {s.size_bytes / 2**30 for s in find_sizes(name, Base.BINARY, kits=False)},
            spelled(r"(?<![\d.]){}\s?GB?\b"),
        ),
        Field("memory_type", at("memory_type"), _meanings(find_card_memory), spelled(r"\b{}\b")),
    ),
    "Monitor": (
        Field(
            "screen_size",
            at("screen_size"),
            lambda name: {d.inches for d in find_diagonals(name)},
            spelled(r'(?<![\d.]){}\s?(?:"|inch)'),
            lambda one, other: abs(one - other) <= 0.5,  # the trade rounds: 31.5 is sold as 32
        ),
        Field(
            "resolution",
            _pixels,
            lambda name: {(r.width_px, r.height_px) for r in find_resolutions(name) if r.width_px},
            _pixels_said,
        ),
        Field(
            "refresh_rate",
            at("refresh_rate"),
            lambda name: {r.hertz for r in find_refresh_rates(name)},
            spelled(r"(?<![\d.]){}\s?Hz"),
        ),
    ),
    "CPU": (Field("socket", _form(find_sockets, "socket"), _meanings(find_sockets), loosely),),
}


def judged(field: Field, name: str, truth: Any) -> str:
    """Return which of the five a name is, of one field."""
    found = set(field.found(name))
    if not found:
        return "missed" if field.says(name, truth) else "silent"
    fits = [field.same(one, truth) for one in found]
    return "right" if all(fits) else "torn" if any(fits) else "wrong"


def records(folder: Path, category: str, every: int) -> Iterator[Record]:
    with lzma.open(folder / "open-db" / f"{category}.jsonl.xz", "rt", encoding="utf-8") as file:
        for number, line in enumerate(file):
            if number % every == 0:
                yield json.loads(line)


def measure(folder: Path, every: int = 1, examples: int = 0) -> dict[str, Any]:
    """Return the counts by category and field, with the shares that matter."""
    result: dict[str, Any] = {}
    for category, fields in FIELDS.items():
        counts: dict[str, Counter[str]] = {field.name: Counter() for field in fields}
        shown: dict[str, list[list[Any]]] = {field.name: [] for field in fields}
        for record in records(folder, category, every):
            name = str(record["metadata"]["name"])
            for field in fields:
                truth = field.truth(record)
                if truth is None:
                    continue
                kind = "unread" if truth is UNREAD else judged(field, name, truth)
                counts[field.name][kind] += 1
                if kind in ("wrong", "torn", "missed") and len(shown[field.name]) < examples:
                    shown[field.name].append([kind, name, truth, sorted(map(str, field.found(name)))])
        result[category] = {
            field.name: {**_row(counts[field.name]), **({"examples": shown[field.name]} if examples else {})}
            for field in fields
        }
    return result


def _row(counts: Counter[str]) -> dict[str, Any]:
    said = counts["right"] + counts["wrong"] + counts["torn"] + counts["missed"]
    all_of = said + counts["silent"]
    return {
        **{kind: counts[kind] for kind in ("right", "wrong", "torn", "missed", "silent", "unread")},
        "right_of_said": round(counts["right"] / said, 5) if said else None,
        "wrong_of_all": round(counts["wrong"] / all_of, 5) if all_of else None,
    }


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "folder", type=Path, nargs="?", default=NAMES, help="default: ../shared/reference/names"
    )
    parser.add_argument("--every", type=int, default=1, help="take every Nth record")
    parser.add_argument(
        "--examples", type=int, default=0, help="show so many names of each field that are not right"
    )
    given = parser.parse_args()
    need(given.folder, "open-db")
    print(json.dumps(measure(given.folder, given.every, given.examples), indent=1, ensure_ascii=False))
    return 0


if __name__ == "__main__":
    sys.exit(main())
