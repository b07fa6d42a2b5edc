"""Which part stands for which order line: the best choice overall, and never one part for two lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shipworthy.compare.judgement import Judgement
from shipworthy.model.words import Aspect, Outcome

DIFFERENCE_COSTS, _OPEN = 10_000, 100
_FAR = 10**18  # above any sum of costs
# A hit on what names a part says more than one on what many parts share.
_WEIGHTS = {
    Aspect.MODEL: 8,
    Aspect.PART_NUMBER: 8,
    Aspect.CAPACITY: 6,
    Aspect.TECHNOLOGY: 3,
    Aspect.INTERFACE: 3,
}


def cost(judgements: Iterable[Judgement]) -> int:
    """Return what it costs to let a part stand for a line: differences first, then doubts, then hits."""
    total = 0
    for judgement in judgements:
        if judgement.outcome is Outcome.DIFFERS:
            total += DIFFERENCE_COSTS
        elif judgement.outcome is Outcome.CANNOT_TELL:
            total += _OPEN
        elif judgement.outcome is Outcome.CONFORMS:
            total -= _WEIGHTS.get(judgement.aspect, 1)
    return total


def best_assignment(costs: Sequence[Sequence[int]]) -> dict[int, int]:
    """Return which column each row takes, for the least sum; as many rows as can be get one."""
    if not costs or not costs[0]:
        return {}
    if len(costs) == 1:
        return {0: min(range(len(costs[0])), key=lambda column: costs[0][column])}
    if len(costs[0]) == 1:
        return {min(range(len(costs)), key=lambda row: costs[row][0]): 0}
    if len(costs) <= len(costs[0]):
        return dict(sorted(_matched(costs).items()))
    turned = _matched(list(zip(*costs, strict=True)))
    return dict(sorted((column, row) for row, column in turned.items()))


def _matched(costs: Sequence[Sequence[int]]) -> dict[int, int]:
    """Return the column of each row for the least sum, where there are no more rows than columns.

    The Hungarian method with potentials (Kuhn 1955; Jonker and Volgenant 1987; from memory): rows come in one
    by one, and each makes others give way along the cheapest path. Rows and columns count from 1 here, and
    column 0 is where a row waits. (A library's costs 0.2 s to import, as much as a thousand comparisons.)
    """
    columns = len(costs[0])
    of_row, of_column = [0] * (len(costs) + 1), [0] * (columns + 1)
    taken_by = [0] * (columns + 1)
    for row in range(1, len(costs) + 1):
        taken_by[0], here = row, 0
        least, before = [_FAR] * (columns + 1), [0] * (columns + 1)
        done = [False] * (columns + 1)
        while taken_by[here]:
            done[here] = True
            at, base = taken_by[here], costs[taken_by[here] - 1]
            for column in range(1, columns + 1):
                if not done[column]:
                    reduced = base[column - 1] - of_row[at] - of_column[column]
                    if reduced < least[column]:
                        least[column], before[column] = reduced, here
            there = min((c for c in range(1, columns + 1) if not done[c]), key=least.__getitem__)
            step = least[there]
            for column in range(columns + 1):
                if done[column]:
                    of_row[taken_by[column]] += step
                    of_column[column] -= step
                else:
                    least[column] -= step
            here = there
        while here:
            taken_by[here] = taken_by[before[here]]
            here = before[here]
    return {row - 1: column - 1 for column, row in enumerate(taken_by) if row and column}
