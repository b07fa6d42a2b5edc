"""Which part stands for which order line: the best choice overall, and never one part for two lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shipworthy.compare.judgement import Judgement
from shipworthy.model.words import Aspect, Outcome

_DIFFERS, _OPEN = 10_000, 100
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
            total += _DIFFERS
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
    from scipy.optimize import linear_sum_assignment  # 0.2 s to import, for several parts of a kind only

    rows, columns = linear_sum_assignment(costs)
    return {int(row): int(column) for row, column in zip(rows, columns, strict=True)}
