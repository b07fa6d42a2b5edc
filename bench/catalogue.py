"""How fast and how right the part list is.

    python bench/catalogue.py [FOLDER] [--every N] [--parts N]

FOLDER is laid out as `reference/names`, with open part records in `open-db`. A list of 30,000 parts is made
of them: each record, then copies under ids, names and numbers of their own. Prints JSON:

- `load_s`: from nothing to ready for looking up, with the index that lies beside the list; `build_s`: with
  none; both from the file, on one core. Seconds of the processor, so that other work on the machine does not
  count; `load_wall_s` and `build_wall_s` are by the clock on the wall;
- `lookup_ms`: median, 99th percentile and longest of the look-ups by name, by number and by GTIN;
- `accuracy`: for each retail part of the pair tables, looked up by its name and by each of its part numbers:
  `right` (one part, and it is that one or, by `matching_truth.same_part`, another record of it), `several`,
  `none`, `wrong`;
- `said_otherwise`: the same names as others say them: words in another order, without the maker, without one
  word, with a grade more or a number changed. With these the part itself is always `wrong`; `another part`
  may well have just these words, and each stands among the examples.

What the comparison makes of lines that are held against a list: `python bench/matching.py --catalogue`.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import random
import re
import statistics
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

import msgspec
from common import NAMES, need
from matching_tables import CATEGORIES, Retail, Table, table_of
from matching_truth import same_part

from shipworthy.jobs.catalogue import open_catalogue
from shipworthy.model.base import encode
from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.catalogue_used import Decided
from shipworthy.orders.catalogue.lookup import Catalogue, Found
from shipworthy.orders.catalogue.numbers import number_key
from shipworthy.orders.catalogue.open_records import open_files, open_parts
from shipworthy.orders.catalogue.open_values import Notes
from shipworthy.orders.catalogue.records import Wrong
from shipworthy.words.makers import without_maker
from shipworthy.words.names import Name

GRADES = ("Ti", "SUPER", "XT", "PRO", "MAX", "Plus")


Records = dict[str, Retail]


def list_of(folder: Path, count: int) -> list[CataloguePart]:
    """Return so many parts: the open records, then copies with names and numbers that are not theirs."""
    notes = Notes()
    read = [part for file in open_files(folder / "open-db") for _, part in open_parts(file, notes)]
    own = [part for part in read if not isinstance(part, Wrong)]
    parts = own[:count]
    for number, part in enumerate(own * 9):
        if len(parts) >= count:
            break
        parts.append(_copy(part, number))
    return parts


def _copy(part: CataloguePart, number: int) -> CataloguePart:
    """Return a part of another series: the name's longest word is another one."""
    longest = max(part.name.split(), key=len)
    return msgspec.structs.replace(
        part,
        part_id=f"copy-{number}",
        name=part.name.replace(longest, f"{longest[::-1]}{number}"),
        part_numbers=tuple(f"{one}-{number:05}" for one in part.part_numbers),
        gtins=(_gtin(number),),
    )


def _gtin(number: int) -> str:
    body = f"20{number:010}"
    total = sum(int(d) * (3, 1)[place % 2] for place, d in enumerate(reversed(body)))
    return f"{body}{(10 - total % 10) % 10}"


def took_s(action: Callable[[], object], times: int = 5) -> tuple[float, float]:
    """Return the median seconds of an action, of the processor and on the wall."""
    taken = []
    for _ in range(times):
        wall, own = time.perf_counter(), time.process_time()
        action()
        taken.append((time.process_time() - own, time.perf_counter() - wall))
    own_s, wall_s = (statistics.median(column) for column in zip(*taken, strict=True))
    return round(own_s, 4), round(wall_s, 4)


def spread_ms(actions: Iterable[Callable[[], object]]) -> dict[str, float]:
    """Return how long actions take. The collector of garbage waits: what it goes through is this program."""
    taken = []
    gc.disable()
    for action in actions:
        begun = time.process_time()
        action()
        taken.append((time.process_time() - begun) * 1000)
    gc.enable()
    taken.sort()
    return {
        "count": len(taken),
        "median": round(statistics.median(taken), 3),
        "p99": round(taken[int(len(taken) * 0.99)], 3),
        "max": round(taken[-1], 3),
    }


def times(catalogue: Catalogue, parts: list[CataloguePart], every: int) -> dict[str, dict[str, float]]:
    """Return how long look-ups take: names as in the list, and cut up so that no spelling fits."""
    chosen = parts[:: max(1, every * 7)]
    loose = [" ".join(reversed(part.name.split())) for part in chosen]
    return {
        "by name": spread_ms((lambda p=p: catalogue.by_name(p.name, p.category)) for p in chosen),
        "by words": spread_ms(
            (lambda p=p, t=t: catalogue.by_name(t, p.category)) for p, t in zip(chosen, loose, strict=True)
        ),
        "by words of any category": spread_ms((lambda t=t: catalogue.by_name(t)) for t in loose),
        "by part number": spread_ms(
            (lambda n=n: catalogue.by_number(n)) for p in chosen for n in p.part_numbers
        ),
        "by GTIN": spread_ms((lambda n=n: catalogue.by_gtin(n)) for p in parts[-2000:] for n in p.gtins),
    }


def judged(found: Found, true: Retail, records: Records) -> str:
    """Return in one word whether a look-up found the part. Another record of the same part is it, too."""
    if found.decided is not Decided.ONE or found.part is None:
        return found.decided.value
    record = records.get(found.part.part_id)  # a copy under a name of its own is no record, and never right
    return "right" if record is not None and same_part(record, true) else "wrong"


def sold(table: Table, every: int) -> list[Retail]:
    """Return each retail part of a table once."""
    return list({pair.retail.record_id: pair.retail for pair in table.pairs}.values())[::every]


def other_words(part: CataloguePart) -> Iterator[tuple[str, str]]:
    """Yield ways in which others say a name, each with what it is called."""
    chance = random.Random(part.part_id)
    words = part.name.split()
    shuffled = words[:]
    chance.shuffle(shuffled)
    yield "another order", " ".join(shuffled)
    yield "no maker", without_maker(part.name, part.maker)
    if len(words) > 3:
        dropped = chance.randrange(1, len(words))
        yield "a word less", " ".join(words[:dropped] + words[dropped + 1 :])
    own = Name.of(part.name).atoms
    yield "grade more", f"{part.name} {chance.choice([g for g in GRADES if g.casefold() not in own])}"
    digits = list(re.finditer(r"\d+", part.name))
    if digits:
        one = chance.choice(digits)
        yield "other number", f"{part.name[: one.start()]}{int(one.group()) + 1}{part.name[one.end() :]}"


def accuracy(folder: Path, catalogue: Catalogue, every: int) -> dict[str, object]:
    counts: dict[str, Counter[str]] = {}
    otherwise: dict[str, Counter[str]] = {}
    examples: list[list[str]] = []
    for table in (table_of(folder, title) for title in CATEGORIES):
        category, records = table.category, {record.record_id: record for record in table.records}
        for retail in sold(table, every):
            true = catalogue.part(retail.record_id)
            if true is None:
                counts.setdefault(f"{category.value}, not in the list", Counter())["rows"] += 1
                continue
            looked = [("by name", retail.name, catalogue.by_name(retail.name, category))]
            looked += [("by number", n, catalogue.by_number(n, category)) for n in retail.numbers]
            for how, said, found in looked:
                word = judged(found, retail, records)
                if how == "by number" and not number_key(said):
                    word = "too short to be one"
                counts.setdefault(f"{category.value}, {how}", Counter())[word] += 1
                if word in ("wrong", "none"):
                    examples.append([word, how, said, *(c.part.name for c in found.candidates[:1])])
            for how, said in other_words(true):
                found = catalogue.by_name(said, category)
                word = judged(found, retail, records)
                if how in ("grade more", "other number") and word in ("right", "wrong"):
                    word = "wrong" if word == "right" else "another part"
                elif word == "wrong":
                    word = "another part"
                otherwise.setdefault(how, Counter())[word] += 1
                if word in ("wrong", "another part"):
                    examples.append([word, how, said, *(c.part.name for c in found.candidates[:1])])
    return {
        "accuracy": {key: dict(count) for key, count in counts.items()},
        "said_otherwise": {key: dict(count) for key, count in otherwise.items()},
        "examples": examples[:60],
    }


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("folder", type=Path, nargs="?", default=NAMES)
    parser.add_argument("--every", type=int, default=1, help="take every so-manieth row (default 1)")
    parser.add_argument("--parts", type=int, default=30_000, help="parts in the list (default 30,000)")
    chosen = parser.parse_args(arguments)
    need(chosen.folder, "open-db", "cpu-retail-to-device-pairs.tsv")
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    parts = list_of(chosen.folder, chosen.parts)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "catalogue.jsonl"
        path.write_bytes(b"".join(encode(part) + b"\n" for part in parts))
        build_s, build_wall_s = took_s(lambda: open_catalogue(path), times=1)
        catalogue = open_catalogue(path)
        load_s, load_wall_s = took_s(lambda: open_catalogue(path))
        result = {
            "parts": len(catalogue),
            "list_mb": round(path.stat().st_size / 10**6, 1),
            "index_mb": round(path.with_name("catalogue.jsonl.index").stat().st_size / 10**6, 1),
            "build_s": build_s,
            "build_wall_s": build_wall_s,
            "load_s": load_s,
            "load_wall_s": load_wall_s,
            "lookup_ms": times(catalogue, parts, chosen.every),
            **accuracy(chosen.folder, catalogue, chosen.every),
        }
    json.dump(result, sys.stdout, indent=2, ensure_ascii=False)
    sys.stdout.write("\n")


if __name__ == "__main__":
    main(sys.argv[1:])
