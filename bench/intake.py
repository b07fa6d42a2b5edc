"""Guess the category of every retail name of the open part records, and count right, asked and wrong.

No name holds a quantity; of those in which one is seen all the same, it counts the taken and the asked.

    python bench/intake.py [DATA] [--every N] [--show N]

DATA is laid out as `../shared/reference`, which is taken where none is given. Prints JSON: {"names", "right",
"asked", "wrong", "wrong_ratio", "quantity_taken",
"quantity_asked", "by_category": {category: {"names", "right", "asked", "wrong": {as: count}}},
"examples"}. Asked is a guess that is not sure, or none. Exit code 2 where DATA holds no part records.
"""

from __future__ import annotations

import argparse
import json
import lzma
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

from common import FILES, REFERENCE, need

from shipworthy.model.words import Category
from shipworthy.orders.intake.categories import guess_category
from shipworthy.orders.intake.quantities import take_quantity


def names(data: Path) -> Iterator[tuple[Category, str]]:
    """Yield each record's category and its name in shops."""
    for file, category in FILES.items():
        path = data / "names" / "open-db" / f"{file}.jsonl.xz"
        if path.is_file():
            with lzma.open(path, "rt", encoding="utf-8") as lines:
                yield from ((category, json.loads(line)["metadata"]["name"] or "") for line in lines)


def measure(data: Path, every: int = 1, show: int = 5) -> dict[str, Any]:
    """Return the counts over each N-th name, with the first few wrong and asked ones of each category."""
    by_category: dict[str, dict[str, Any]] = {}
    examples: dict[str, list[str]] = {}
    taken = asked = 0
    for number, (category, name) in enumerate(names(data)):
        if number % every:
            continue
        row = by_category.setdefault(category.value, {"names": 0, "right": 0, "asked": 0, "wrong": {}})
        guess = guess_category(name)
        quantity = take_quantity(name, guess.category)
        taken += quantity.count not in (None, 1)
        asked += bool(quantity.notes)
        row["names"] += 1
        if guess.category is None or not guess.sure:
            row["asked"] += 1
            said = f"asked ({guess.category})"
        elif guess.category is category:
            row["right"] += 1
            continue
        else:
            row["wrong"][guess.category.value] = row["wrong"].get(guess.category.value, 0) + 1
            said = f"WRONG ({guess.category}: {guess.words})"
        kind = examples.setdefault(f"{category.value}: {said.split()[0]}", [])
        if len(kind) < show:
            kind.append(f"{name}: {said}")
    rows = by_category.values()
    total, wrong = sum(r["names"] for r in rows), sum(sum(r["wrong"].values()) for r in rows)
    return {
        "names": total,
        "right": sum(r["right"] for r in rows),
        "asked": sum(r["asked"] for r in rows),
        "wrong": wrong,
        "wrong_ratio": wrong / total if total else None,
        "quantity_taken": taken,
        "quantity_asked": asked,
        "by_category": by_category,
        "examples": examples,
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("data", nargs="?", type=Path, default=REFERENCE)
    parser.add_argument("--every", type=int, default=1, help="take each N-th name")
    parser.add_argument("--show", type=int, default=5, help="examples of each kind")
    asked = parser.parse_args()
    need(asked.data, "names/open-db")
    told = measure(asked.data, asked.every, asked.show)
    json.dump(told, sys.stdout, indent=1, ensure_ascii=False)
    sys.stdout.write("\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
