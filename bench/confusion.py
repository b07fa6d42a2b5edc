"""The confusion tables of the comparison, as Markdown, from what the two other measurements printed.

    python bench/matching.py > matching.json; python bench/machines.py > machines.json
    python bench/confusion.py matching.json machines.json

Either may be left out. A sibling is counted by what the device states to be other; *not stated* are those
that no witness tells apart. Changes of a kind that no pair of witnesses carries at all have no row.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

from matching_outcome import WORDS

HEADS = tuple(word.removeprefix("accepted, ") for word in WORDS)


def table(heads: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Return a Markdown table; numbers stand at the right."""
    heads = tuple(heads)
    lines = [f"| {' | '.join(heads)} |", f"| --- |{' ---: |' * (len(heads) - 1)}"]
    lines += [f"| {' | '.join(map(_cell, row))} |" for row in rows]
    return "\n".join(lines)


def _cell(value: object) -> str:
    return f"{value:,}" if isinstance(value, int) else str(value)


def _row(title: str, counts: Mapping[str, int]) -> tuple[object, ...]:
    unknown = set(counts) - set(WORDS)
    if unknown:
        raise SystemExit(f"{title}: outcomes that this table has no column for: {', '.join(sorted(unknown))}")
    return (title, *(counts.get(word, 0) or "" for word in WORDS), sum(counts.values()))


def true_rows(matching: Mapping[str, Any]) -> Iterator[tuple[object, ...]]:
    """Yield a row for each category and way of ordering: all its pairs, and those that carry the token."""
    for where, told in matching["by_category"].items():
        every: Counter[str] = Counter()
        for counts in told["true"].values():
            every.update(counts)
        yield _row(where, every)
        if "hidden" in where:
            yield _row(f"{where}, the device carries the token", told["true"].get("carried", {}))


def wrong_rows(matching: Mapping[str, Any]) -> Iterator[tuple[object, ...]]:
    """Yield a row for each category and what is other about the sibling, both ways of ordering together."""
    by_kind: dict[tuple[str, str], Counter[str]] = {}
    for where, told in matching["by_category"].items():
        category = where.split(", ")[0]
        for kind, counts in told["confusion"].items():
            by_kind.setdefault((category, kind), Counter()).update(counts)
    for (category, kind), counts in sorted(by_kind.items()):
        yield _row(f"{category}: {kind}", counts)


def machine_rows(machines: Mapping[str, Any]) -> Iterator[tuple[object, ...]]:
    """Yield a row for each kind of planted change."""
    for kind, told in machines["by_kind"].items():
        if told["planted"]:
            share = f"{100 * told['caught'] / told['planted']:.1f} %"
            rest = (told["cannot_tell"], told["conforms"], sum(told["not_carried"].values()))
            yield kind, told["planted"], told["caught"], share, *(count or "" for count in rest)


def pages(matching: Mapping[str, Any] | None, machines: Mapping[str, Any] | None) -> Iterator[str]:
    """Yield titles and tables of what is given."""
    if matching is not None:
        yield "The right part\n\n" + table(("pairs", *HEADS, "all"), true_rows(matching))
        yield "A nearest sibling instead\n\n" + table(("what is other", *HEADS, "all"), wrong_rows(matching))
    if machines is not None:
        heads = ("planted", "a witness carries it", "caught", "share", "cannot tell", "conforms", "none does")
        yield "One change in a machine\n\n" + table(heads, machine_rows(machines))


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("files", type=Path, nargs="+", help="what matching.py and machines.py printed")
    given = [json.loads(path.read_text("utf-8")) for path in parser.parse_args(arguments).files]
    matching = next((one for one in given if "by_category" in one), None)
    machines = next((one for one in given if "by_kind" in one), None)
    if matching is None and machines is None:
        raise SystemExit("None of these files is of bench/matching.py or bench/machines.py.")
    sys.stdout.write("\n\n".join(pages(matching, machines)) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
