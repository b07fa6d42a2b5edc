"""Fit and power of random builds, for a person to look at: are the findings right?

    python bench/fit.py [FOLDER] [--builds 200] [--seed 5] [--print 50 40] [--rule NAME]

FOLDER is laid out as `reference/names` (its `open-db` holds part records). Half of the builds are drawn so
that socket and memory type agree, as nobody orders others; the rest at random. Prints JSON: how many builds,
how many findings of each word by rule, and how long it took; with --print so many *differs* and *conforms*,
each with the facts that led to it.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))  # a test imports this file from elsewhere

from common import NAMES, need

from shipworthy.model.catalogue import BoardFacts, CataloguePart, MemoryFacts, ProcessorFacts
from shipworthy.model.fit import Fit, FitFinding
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Category, Outcome
from shipworthy.orders.catalogue.open_records import open_files, open_parts
from shipworthy.orders.catalogue.open_values import Notes
from shipworthy.orders.catalogue.records import Wrong
from shipworthy.orders.fit import check_fit
from shipworthy.orders.fit.spelling import socket_of

Parts = dict[Category, list[CataloguePart]]
DRAWN = (
    Category.BOARD,
    Category.PROCESSOR,
    Category.MEMORY,
    Category.STORAGE,
    Category.GRAPHICS,
    Category.POWER_SUPPLY,
    Category.CASE,
    Category.COOLER,
)
MOST_TRIES = 400


def parts_in(folder: Path) -> Parts:
    """Return the parts of open records by category."""
    parts: Parts = defaultdict(list)
    for file in open_files(folder / "open-db"):
        for _, part in open_parts(file, Notes()):
            if not isinstance(part, Wrong):
                parts[part.category].append(part)
    return parts


def drawn(parts: Parts, draw: random.Random, *, sensible: bool) -> list[CataloguePart]:
    """Return one part of each category; sensible: processor and memory that go with the board, if any do."""
    found: dict[Category, CataloguePart] = {}
    for category in DRAWN:
        found[category] = draw.choice(parts[category])
        for _ in range(MOST_TRIES if sensible else 0):
            if _goes(found[category], found[Category.BOARD]):
                break
            found[category] = draw.choice(parts[category])
    if draw.random() < 0.5:
        found[Category.DISPLAY] = draw.choice(parts[Category.DISPLAY])
    if draw.random() < 0.3:
        del found[Category.GRAPHICS]
    return list(found.values())


def _goes(part: CataloguePart, board: CataloguePart) -> bool:
    of_part, of_board = part.facts, board.facts
    if not isinstance(of_board, BoardFacts):
        return True
    if isinstance(of_part, ProcessorFacts):
        return socket_of(of_part.socket) == socket_of(of_board.socket)
    return not isinstance(of_part, MemoryFacts) or of_part.type == of_board.memory_type


def order_of(number: int, parts: Sequence[CataloguePart], draw: random.Random) -> Order:
    """Return an order of these parts, by their names, with quantities as they are sold."""
    lines = []
    for index, part in enumerate(parts, 1):
        many = {Category.MEMORY: (1, 1, 2), Category.STORAGE: (1, 1, 2, 5), Category.DISPLAY: (1, 2, 3)}
        quantity = draw.choice(many.get(part.category, (1,)))
        text = part.name[:500]
        lines.append(OrderLine(line_id=str(index), category=part.category, quantity=quantity, text=text))
    return Order(order_id=f"B-{number}", shop="Bench", units=(f"B-{number}-1",), lines=tuple(lines))


def builds(parts: Parts, count: int, seed: int) -> Iterator[tuple[Order, Fit]]:
    """Yield orders with what fits of each, the same for the same seed."""
    draw = random.Random(f"{seed}/builds")
    for number in range(1, count + 1):
        chosen = drawn(parts, draw, sensible=number % 2 == 1)
        order = order_of(number, chosen, draw)
        by_line = {line.line_id: part for line, part in zip(order.lines, chosen, strict=True)}
        yield order, check_fit(order, lambda line, parts=by_line: parts[line.line_id])  # type: ignore[misc]


def shown(order: Order, finding: FitFinding) -> str:
    """Return one finding with the lines and the facts that led to it."""
    texts = {line.line_id: f"{line.quantity} x {line.text[:90]}" for line in order.lines}
    rows = [f"{order.order_id} {finding.outcome.value} [{finding.weight.value}] {finding.code}"]
    rows += [f"    {texts[line]}" for line in finding.lines if line in texts]
    rows += [f"    {fact.fact} = {fact.value}  ({fact.source[:30]})" for fact in finding.facts]
    told = {value.name: value.value for value in finding.values}
    return "\n".join([*rows, f"    {told}"])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=NAMES)
    parser.add_argument("--builds", type=int, default=200)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--print", type=int, nargs=2, metavar=("DIFFERS", "CONFORMS"), default=(0, 0))
    parser.add_argument("--rule", default="", help="print findings of this rule only")
    options = parser.parse_args()
    need(options.folder, "open-db")
    parts = parts_in(options.folder)
    began = time.perf_counter()
    found = list(builds(parts, options.builds, options.seed))
    took_s = time.perf_counter() - began
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    every: dict[Outcome, list[tuple[Order, FitFinding]]] = defaultdict(list)
    for order, fit in found:
        for finding in fit.findings:
            counts[finding.rule][finding.outcome.value] += 1
            if options.rule in ("", finding.rule):
                every[finding.outcome].append((order, finding))
    draw = random.Random(f"{options.seed}/looked at")
    for outcome, many in zip((Outcome.DIFFERS, Outcome.CONFORMS), options.print, strict=True):
        for order, finding in _spread(every[outcome], many, draw):
            sys.stderr.write(shown(order, finding) + "\n")
    result = {
        "builds": len(found),
        "fit": sum(fit.fits for _, fit in found),
        "took_s": round(took_s, 2),
        "questions": sum(len(fit.questions) for _, fit in found),
        "by_rule": {rule: dict(count) for rule, count in counts.items()},
    }
    print(json.dumps(result, indent=1))
    return 0


def _spread(
    found: list[tuple[Order, FitFinding]], many: int, draw: random.Random
) -> list[tuple[Order, FitFinding]]:
    """Return some findings at random, of all rules in turn, so that no rule crowds the others out."""
    by_rule: dict[str, list[tuple[Order, FitFinding]]] = defaultdict(list)
    for one in found:
        by_rule[one[1].rule].append(one)
    for rows in by_rule.values():
        draw.shuffle(rows)
    taken: list[tuple[Order, FitFinding]] = []
    while len(taken) < many and any(by_rule.values()):
        taken += [rows.pop() for rows in by_rule.values() if rows][: many - len(taken)]
    return taken


if __name__ == "__main__":
    sys.exit(main())
