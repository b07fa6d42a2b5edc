"""What went wrong between two readings of a unit: the order was held against the first of them.

A burn-in is there to find parts that fail under load. What such a part says of itself afterwards stands in
the later reading alone, and is no change of the configuration.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.compare.engine import finding_of
from shipworthy.compare.health import health_since
from shipworthy.compare.newness import judge_worsened
from shipworthy.model.findings import Comparison, Finding
from shipworthy.model.orders import Order
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Reading
from shipworthy.model.words import Category, PartKind


def findings_since(
    order: Order,
    comparison: Comparison,
    before: Reading,
    after: Reading,
    limits: tuple[Limit, ...],
    evidence: tuple[str, ...],
) -> Iterator[Finding]:
    """Return what speaks against the unit in the later of two readings and did not in the first.

    comparison: of the order with the first. Nothing here ever covers anything. evidence: as of `compare`.
    """
    lines = {line.line_id: line for line in order.lines}
    owners = {place: lines[match.line] for match in comparison.matches for place in match.places}
    yield from health_since(before, after, owners, evidence)
    for part in after.of_kind(PartKind.STORAGE):
        line, was = owners.get(part.place), before.at(part.place)
        if line is None or line.category is not Category.STORAGE or was is None:
            continue
        for judgement in judge_worsened(was, part, limits):
            yield finding_of(line, part.place, judgement, after, evidence)
