"""The comparison on real names: what is right is not refused, and what is wrong is not let through.

The floors are what was measured when they were written, a little below; they may only rise. What is right is
told without the comparison (`bench/matching_truth.py`, whose own tests are in `test_matching_truth.py`).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import matching as bench

EVERY = 9  # every ninth pair: a sample that takes seconds; `bench/matching.py` takes all


def _shares(tally: bench.Tally) -> tuple[float, float, float]:
    """Of the true pairs the share accepted and that which differs, of the wrong ones told that accepted."""
    true = sum(tally.true.values(), bench.Counter())
    wrong = tally.wrong["stated"]
    assert true.total() > 20 and wrong.total() > 60
    good = sum(true[word] for word in bench.ACCEPTED) / true.total()
    let_in = sum(wrong[word] for word in bench.ACCEPTED) / wrong.total()
    return good, true["differs"] / true.total(), let_in


@pytest.mark.parametrize(
    ("category", "way", "accepted_floor", "differs_most", "wrong_most"),
    [
        ("processor", bench.Hidden(), 1.0, 0.0, 0.0),
        ("board", bench.Hidden(), 0.95, 0.02, 0.002),
        ("board", bench.Shown(), 0.98, 0.02, 0.002),
        # most drives name themselves by a code that the box does not show: a person reads the label
        ("storage", bench.Hidden(), 0.19, 0.0, 0.0),
        ("storage", bench.Shown(), 0.99, 0.0, 0.0),
        # no module bears the name of its kit: without a number a person reads the label
        ("memory", bench.Hidden(), 0.07, 0.01, 0.0),
        ("memory", bench.Shown(), 0.99, 0.0, 0.0),
        # most cards are sold under names of their makers' own, which no driver gives
        ("graphics, with a driver", bench.Hidden(), 0.05, 0.01, 0.002),
        # ids alone leave several cards: none is accepted by them, and none may be refused
        ("graphics, by ids alone", bench.Hidden(), None, 0.01, 0.0),
    ],
)
def test_real_pairs_are_accepted_and_siblings_are_not(
    reference: Path,
    category: str,
    way: bench.Way,
    accepted_floor: float | None,
    differs_most: float,
    wrong_most: float,
) -> None:
    (table,) = bench.tables(reference / "names", [category])
    tally = bench.counted(table, EVERY, way)
    accepted, differs, let_in = _shares(tally)
    assert accepted_floor is None or accepted >= accepted_floor, tally.examples
    assert differs <= differs_most, tally.examples
    assert let_in <= wrong_most, tally.examples
