"""How often the comparison is right on real names: retail text on one side, device strings on the other.

    python bench/matching.py FOLDER [--every N] [--category NAME] [--catalogue]

FOLDER is laid out as `reference/names`. Every pair of the tables of processors, boards, drives and memory is
compared with its part numbers hidden from the order and with them; and so are, for each pair, the ten retail
records of that maker whose names are nearest (normalised Levenshtein) and of which a device is known. What is
right is told by `matching_truth`, without the comparison. Prints JSON:

true_accepted           share of the true pairs accepted, with part numbers
true_accepted_hidden    the same without, of the pairs whose witness carries the deciding token
true_parts_accepted     true_accepted, and those of which nothing but the speed that runs is open: the part
                        number tells the part, and no table tells how fast it runs
true_cannot_tell        share that ends in *cannot tell*, true_differs in *differs*: the worse of those two
wrong_accepted          share accepted of the wrong partners that differ in a fact which a witness states,
wrong_cannot_tell       and the share of which the reading cannot tell it (what is left for a person is
                        counted in); hidden and with numbers together
by_category             the counts behind these, siblings that no witness states apart, and those alike: other
                        records that differ from the sold one in nothing that they say (a processor in a box
                        and in a tray; duplicates); the confusion by kind of change
examples                pairs to look at

*Accepted* counts a right kit whose profile is off (a setting to fix, named so); `accepted, a setting to fix`
tells how many. `--catalogue` lets the order find its part numbers by its text among the open records.
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
from matching_outcome import Result, is_speed_alone_open, line_of, outcome, shows
from matching_tables import CATEGORIES, Device, Pair, Retail, Table, table_of
from matching_truth import Carried, carries, changes, names, same_part

from shipworthy.model.orders import OrderLine

_BESIDE = Path(__file__).resolve().parents[2] / "shared" / "reference" / "names"
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
    comparisons: int = 0
    took_s: float = 0.0

    def compare(self, line: OrderLine, device: Device) -> Result:
        began = time.perf_counter()
        result = outcome(line, device)
        self.took_s += time.perf_counter() - began
        self.comparisons += 1
        return result


class Way(Protocol):
    """A way in which an order line may have its part number."""

    title: str

    def of(self, retail: Retail) -> tuple[str, ...]: ...


class Numbers:
    """Which part numbers an order line has: none, or those of its record."""

    title = "hidden"

    def of(self, retail: Retail) -> tuple[str, ...]:
        return ()


class Shown(Numbers):
    """The part numbers of the record itself."""

    title = "with numbers"

    def of(self, retail: Retail) -> tuple[str, ...]:
        return retail.numbers


def tables(folder: Path, titles: Iterable[str]) -> list[Table]:
    """Return the tables with these titles."""
    return [
        matching_graphics.table_of(folder, title)
        if title in matching_graphics.TITLES
        else table_of(folder, title)
        for title in titles
    ]


def counted(table: Table, every: int, numbers_of: Way) -> Tally:
    """Return the counts of a table: every so-manieth pair and its nearest siblings."""
    tally = Tally()
    by_maker: dict[str, list[Retail]] = defaultdict(list)
    for record in table.records:
        by_maker[record.maker].append(record)
    fitted: dict[str, Pair] = {}
    for pair in table.pairs:
        fitted.setdefault(pair.retail.record_id, pair)
    for pair in table.pairs[::every]:
        _count_true(tally, table, pair, by_maker[pair.retail.maker], numbers_of)
        for other in nearest(pair, fitted.values()):
            _count_wrong(tally, table, pair.retail, other, numbers_of)
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


def _count_true(tally: Tally, table: Table, pair: Pair, makers: list[Retail], numbers_of: Way) -> None:
    line = line_of(table.category, pair.retail, pair.device, numbers_of.of(pair.retail))
    result = tally.compare(line, pair.device)
    carried = carries(pair.retail, pair.device, makers)
    tally.true[carried.value][result.word] += 1
    tally.speed_alone_open += bool(line.part_number) and is_speed_alone_open(result)
    told = carried is Carried.TOKEN or line.part_number
    if result.word == "differs" or (result.word not in ACCEPTED and told):
        _keep(tally, f"true, {result.word}", pair.retail, pair.device, result)


def _count_wrong(tally: Tally, table: Table, sold: Retail, other: Pair, numbers_of: Way) -> None:
    line = line_of(table.category, sold, other.device, numbers_of.of(sold))
    result = tally.compare(line, other.device)
    change = changes(sold, other.retail, other.device)
    stated = change.stated
    if not stated and line.part_number and _shows_another(sold, other):
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


def bound(hits: int, of: int) -> float | None:
    """Return the upper 95 % bound of a share (Clopper and Pearson 1934, one-sided)."""
    from scipy.stats import beta

    if not of:
        return None
    return 1.0 if hits == of else float(beta.ppf(0.95, hits + 1, of - hits))


def share(counts: Counter[str], words: Iterable[str]) -> float | None:
    """Return the share of these words; None of nothing."""
    total = sum(counts.values())
    return round(sum(counts[word] for word in words) / total, 5) if total else None


def _sum(counters: Iterable[Counter[str]]) -> Counter[str]:
    return sum(counters, Counter())


def summary(tallies: dict[tuple[str, str], Tally]) -> dict[str, object]:
    """Return what is printed. tallies: by mode and category."""
    ways = (Numbers.title, Shown.title)
    core = {key: tally for key, tally in tallies.items() if key[0] in ways and key[1] in CATEGORIES}
    hidden = _sum(t.true[Carried.TOKEN.value] for (mode, _), t in core.items() if mode == Numbers.title)
    shown = _sum(c for (mode, _), t in core.items() if mode == Shown.title for c in t.true.values())
    stated = _sum(t.wrong["stated"] for t in core.values())
    accepted = sum(stated[word] for word in ACCEPTED)
    took_s = sum(tally.took_s for tally in tallies.values())
    return {
        "true_accepted": share(shown, ACCEPTED),
        "true_parts_accepted": _parts_accepted(core.values(), shown),
        "true_accepted_hidden": share(hidden, ACCEPTED),
        "true_cannot_tell": max(share(shown, ["cannot tell"]) or 0.0, share(hidden, ["cannot tell"]) or 0.0),
        "true_differs": max(share(shown, ["differs"]) or 0.0, share(hidden, ["differs"]) or 0.0),
        "wrong_accepted": share(stated, ACCEPTED),
        "wrong_accepted_bound_95": bound(accepted, sum(stated.values())),
        "wrong_cannot_tell": share(stated, ["cannot tell", "for a person"]),
        "wrong_stated_pairs": sum(stated.values()),
        "wrong_not_stated": dict(_sum(t.wrong["not stated"] for t in core.values())),
        "wrong_alike": dict(_sum(t.wrong["alike"] for t in core.values())),
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


def modes(folder: Path, chosen: argparse.Namespace) -> list[Way]:
    """Return the ways in which an order line may have its part number."""
    if not chosen.catalogue:
        return [Numbers(), Shown()]
    from matching_catalogue import Found

    return [Numbers(), Shown(), Found(folder)]


def measured(folder: Path, titles: Iterable[str], every: int, ways: Iterable[Way]) -> dict[str, object]:
    """Return the figures of these tables, each in these ways."""
    told = tables(folder, titles)
    return summary({(way.title, table.title): counted(table, every, way) for way in ways for table in told})


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument(
        "folder", type=Path, nargs="?", default=_BESIDE, help="(default: beside the checkout)"
    )
    parser.add_argument("--every", type=int, default=1, help="take every so-manieth pair (default 1)")
    parser.add_argument("--category", choices=(*CATEGORIES, *matching_graphics.TITLES), action="append")
    parser.add_argument("--catalogue", action="store_true", help="once more with a catalogue of the records")
    chosen = parser.parse_args(arguments)
    titles = chosen.category or CATEGORIES
    json.dump(
        measured(chosen.folder, titles, chosen.every, modes(chosen.folder, chosen)), sys.stdout, indent=1
    )
    sys.stdout.write("\n")


if __name__ == "__main__":
    main(sys.argv[1:])
