"""How often the comparison is right on real names: retail text on one side, device strings on the other.

    python bench/matching.py FOLDER [--every N] [--category NAME] [--catalogue]

FOLDER is laid out as `reference/names`. Every pair of the tables of processors, boards, drives and memory is
compared with its part numbers hidden from the order and with them; and so are, for each pair, the ten retail
records of that maker whose names are nearest (normalised Levenshtein) and of which a device is known. What is
right is told by `matching_truth`, without the comparison. Prints JSON:

true_accepted           share of the true pairs accepted, with part numbers
true_number_on_label    how many of those accepted with numbers have none that the device shows: by
                        its name it is the part, and the item for a person is the number on the label
true_accepted_hidden    the same without, of the pairs whose witness carries the deciding token
true_parts_accepted     true_accepted, and those of which nothing but the speed that runs is open: the part
                        number tells the part, and no table tells how fast it runs
true_cannot_tell        share that ends in *cannot tell*: the worse of those two
true_differs            share that ends in *differs*, of all pairs, with part numbers and hidden: the worse
wrong_accepted          share accepted of the wrong partners that differ in a fact which a witness states,
wrong_cannot_tell       and the share of which the reading cannot tell it (what is left for a person is
                        counted in); hidden and with numbers together
by_category             the counts behind these, siblings that no witness states apart, and those alike: other
                        records that differ from the sold one in nothing that they say (a processor in a box
                        and in a tray; duplicates); the confusion by kind of change
examples                pairs to look at

*Accepted* counts a right kit whose profile is off (a setting to fix, named so); `accepted, a setting to fix`
tells how many. With part numbers, all that the record has are expected, and any will do: that is what a shop
has whose part list found the part. `--catalogue` holds the order against a list of the open records, as the
tool does: a line says its name alone, and has the numbers that the list finds by it (`in_a_catalogue`).
Bounds are those of Clopper and Pearson, 95 %, one-sided.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

import matching_graphics
from common import NAMES, bound, need
from matching_outcome import Result, is_speed_alone_open, leaves_number_to_label, line_of, outcome, shows
from matching_tables import CATEGORIES, Device, Pair, Retail, Table, table_of
from matching_truth import Carried, carries, changes, names, same_part

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category

SIBLINGS = 10
ACCEPTED = ("accepted", "accepted, a setting to fix")
_MOST_EXAMPLES = 60


@dataclass
class Tally:
    """The counts of one category in one mode (part numbers hidden, shown, or found in a catalogue)."""

    true: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    wrong: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    confusion: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    examples: list[dict[str, object]] = field(default_factory=list)
    speed_alone_open: int = 0
    number_on_label: int = 0
    comparisons: int = 0
    took_s: float = 0.0

    def compare(self, line: OrderLine, device: Device) -> Result:
        began = time.perf_counter()
        result = outcome(line, device)
        self.took_s += time.perf_counter() - began
        self.comparisons += 1
        return result


class Way(Protocol):
    """A way in which an order line may have its part numbers."""

    title: str

    def line(self, category: Category, retail: Retail) -> OrderLine: ...


class Hidden:
    """The line has no part number."""

    title = "hidden"

    def line(self, category: Category, retail: Retail) -> OrderLine:
        return line_of(category, retail)


class Shown:
    """The line has the part numbers of the record itself."""

    title = "with numbers"

    def line(self, category: Category, retail: Retail) -> OrderLine:
        return line_of(category, retail, retail.numbers)


def tables(folder: Path, titles: Iterable[str]) -> list[Table]:
    """Return the tables with these titles."""
    return [
        matching_graphics.table_of(folder, title)
        if title in matching_graphics.TITLES
        else table_of(folder, title)
        for title in titles
    ]


def counted(table: Table, every: int, way: Way) -> Tally:
    """Return the counts of a table: every so-manieth pair and its nearest siblings."""
    tally = Tally()
    by_maker: dict[str, list[Retail]] = defaultdict(list)
    for record in table.records:
        by_maker[record.maker].append(record)
    fitted: dict[str, Pair] = {}
    for pair in table.pairs:
        fitted.setdefault(pair.retail.record_id, pair)
    for pair in table.pairs[::every]:
        line = way.line(table.category, pair.retail)
        _count_true(tally, line, pair, by_maker[pair.retail.maker])
        for other in nearest(pair, fitted.values()):
            _count_wrong(tally, line, pair.retail, other)
    return tally


def nearest(pair: Pair, fitted: Iterable[Pair]) -> list[Pair]:
    """Return the pairs of other parts of that maker whose retail names are nearest."""
    from rapidfuzz.distance import Levenshtein

    own = pair.retail
    others = [p for p in fitted if p.retail.maker == own.maker and not same_part(own, p.retail)]
    others.sort(
        key=lambda p: (
            Levenshtein.normalized_distance(own.name.casefold(), p.retail.name.casefold()),
            p.retail.record_id,
        )
    )
    return others[:SIBLINGS]


def _count_true(tally: Tally, line: OrderLine, pair: Pair, makers: list[Retail]) -> None:
    result = tally.compare(line, pair.device)
    carried = carries(pair.retail, pair.device, makers)
    tally.true[carried.value][result.word] += 1
    tally.speed_alone_open += _has_number(line) and is_speed_alone_open(result)
    tally.number_on_label += result.word in ACCEPTED and leaves_number_to_label(result)
    told = carried is Carried.TOKEN or _has_number(line)
    if result.word == "differs" or (result.word not in ACCEPTED and told):
        _keep(tally, f"true, {result.word}", pair.retail, pair.device, result)


def _has_number(line: OrderLine) -> bool:
    return line.wanted(Aspect.PART_NUMBER) is not None


def _count_wrong(tally: Tally, line: OrderLine, sold: Retail, other: Pair) -> None:
    result = tally.compare(line, other.device)
    change = changes(sold, other.retail, other.device)
    stated = change.stated
    if not stated and _has_number(line) and _shows_another(sold, other):
        stated = ("part number",)
    tally.wrong["stated" if stated else "not stated" if change.kinds else "alike"][result.word] += 1
    kind = stated[0] if stated else change.kind
    tally.confusion[kind if stated else f"not stated: {kind}"][result.word] += 1
    if stated and result.word != "differs":
        _keep(tally, f"wrong in {kind}, {result.word}", sold, other.device, result)
    elif result.word in ACCEPTED:
        _keep(tally, f"wrong, not stated ({kind}), {result.word}", sold, other.device, result)


def _shows_another(sold: Retail, other: Pair) -> bool:
    """Whether a device says a part number of its own part that the one sold goes by nowhere."""
    others = [number for number in other.retail.numbers if not names(number, sold)]
    own = any(shows(number, other.device) for number in others)
    return own and not any(shows(number, other.device) for number in sold.numbers)


def _keep(tally: Tally, what: str, sold: Retail, device: Device, result: Result) -> None:
    if sum(one["what"] == what for one in tally.examples) < _MOST_EXAMPLES:
        open_ones = [f"{f.code}: {f.got}" for f in result.findings if f.outcome != "conforms"]
        tally.examples.append(
            {"what": what, "sold": sold.name, "fitted": " | ".join(device.strings), "says": open_ones}
        )


# Sums


def share(counts: Counter[str], words: Iterable[str]) -> float | None:
    """Return the share of these words; None of nothing."""
    total = sum(counts.values())
    return round(sum(counts[word] for word in words) / total, 5) if total else None


def _sum(counters: Iterable[Counter[str]]) -> Counter[str]:
    return sum(counters, Counter())


def summary(tallies: dict[tuple[str, str], Tally]) -> dict[str, object]:
    """Return what is printed. tallies: by mode and category."""
    ways = (Hidden.title, Shown.title)
    core = {key: tally for key, tally in tallies.items() if key[0] in ways and key[1] in CATEGORIES}
    hidden = _sum(t.true[Carried.TOKEN.value] for (mode, _), t in core.items() if mode == Hidden.title)
    hidden_all, shown = (
        _sum(c for (mode, _), t in core.items() if mode == title for c in t.true.values()) for title in ways
    )
    stated = _sum(t.wrong["stated"] for t in core.values())
    accepted = sum(stated[word] for word in ACCEPTED)
    took_s = sum(tally.took_s for tally in tallies.values())
    return {
        "true_accepted": share(shown, ACCEPTED),
        "true_parts_accepted": _parts_accepted(core.values(), shown),
        "true_number_on_label": sum(tally.number_on_label for tally in core.values()),
        "true_accepted_hidden": share(hidden, ACCEPTED),
        "true_cannot_tell": max(share(shown, ["cannot tell"]) or 0.0, share(hidden, ["cannot tell"]) or 0.0),
        "true_differs": max(share(shown, ["differs"]) or 0.0, share(hidden_all, ["differs"]) or 0.0),
        "wrong_accepted": share(stated, ACCEPTED),
        "wrong_accepted_bound_95": bound(accepted, sum(stated.values())),
        "wrong_cannot_tell": share(stated, ["cannot tell", "for a person"]),
        "wrong_stated_pairs": sum(stated.values()),
        "wrong_not_stated": dict(_sum(t.wrong["not stated"] for t in core.values())),
        "wrong_alike": dict(_sum(t.wrong["alike"] for t in core.values())),
        "in_a_catalogue": _in_a_catalogue(
            [t for (mode, title), t in tallies.items() if mode not in ways and title in CATEGORIES]
        ),
        "comparisons_per_minute": round(60 * sum(t.comparisons for t in tallies.values()) / took_s),
        "by_category": {f"{title}, {mode}": _told(tally) for (mode, title), tally in tallies.items()},
        "examples": [
            {"where": f"{title}, {mode}"} | example
            for (mode, title), tally in tallies.items()
            for example in tally.examples
        ],
    }


def _parts_accepted(tallies: Iterable[Tally], shown: Counter[str]) -> float:
    speedless = sum(tally.speed_alone_open for tally in tallies)
    return round((sum(shown[word] for word in ACCEPTED) + speedless) / max(1, shown.total()), 5)


def _told(tally: Tally) -> dict[str, object]:
    stated = tally.wrong["stated"]
    accepted = sum(stated[word] for word in ACCEPTED)
    return {
        "true": {name: dict(counts) for name, counts in sorted(tally.true.items())},
        "true_accepted_carried": share(tally.true[Carried.TOKEN.value], ACCEPTED),
        "true_accepted_all": share(_sum(tally.true.values()), ACCEPTED),
        "wrong": {name: dict(counts) for name, counts in sorted(tally.wrong.items())},
        "wrong_accepted": share(stated, ACCEPTED),
        "wrong_accepted_bound_95": bound(accepted, sum(stated.values())),
        "wrong_cannot_tell": share(stated, ["cannot tell", "for a person"]),
        "confusion": {kind: dict(counts) for kind, counts in sorted(tally.confusion.items())},
    }


def _in_a_catalogue(tallies: list[Tally]) -> dict[str, object]:
    """Return the same shares of lines that were held against a list; nothing where none was."""
    true = _sum(counts for tally in tallies for counts in tally.true.values())
    stated = _sum(tally.wrong["stated"] for tally in tallies)
    return {
        "true_accepted": share(true, ACCEPTED),
        "true_cannot_tell": share(true, ["cannot tell"]),
        "true_differs": share(true, ["differs"]),
        "wrong_accepted": share(stated, ACCEPTED),
        "wrong_cannot_tell": share(stated, ["cannot tell", "for a person"]),
        "wrong_stated_pairs": stated.total(),
    }


def modes(folder: Path, chosen: argparse.Namespace) -> list[Way]:
    """Return the ways in which an order line may have its part numbers."""
    if not chosen.catalogue:
        return [Hidden(), Shown()]
    from matching_catalogue import Found

    return [Hidden(), Shown(), Found(folder)]


def measured(folder: Path, titles: Iterable[str], every: int, ways: Iterable[Way]) -> dict[str, object]:
    """Return the figures of these tables, each in these ways."""
    told = tables(folder, titles)
    return summary({(way.title, table.title): counted(table, every, way) for way in ways for table in told})


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("folder", type=Path, nargs="?", default=NAMES, help="(default: beside the checkout)")
    parser.add_argument("--every", type=int, default=1, help="take every so-manieth pair (default 1)")
    parser.add_argument("--category", choices=(*CATEGORIES, *matching_graphics.TITLES), action="append")
    parser.add_argument("--catalogue", action="store_true", help="once more with a catalogue of the records")
    chosen = parser.parse_args(arguments)
    need(chosen.folder, "open-db", "cpu-retail-to-device-pairs.tsv")
    titles = chosen.category or CATEGORIES
    json.dump(
        measured(chosen.folder, titles, chosen.every, modes(chosen.folder, chosen)), sys.stdout, indent=1
    )
    sys.stdout.write("\n")


if __name__ == "__main__":
    main(sys.argv[1:])
