"""The comparison on real names: what is right is not refused, and what is wrong is not let through.

The floors are what was measured when they were written, a little below; they may only rise.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import compare as bench

EVERY = 9  # every ninth row: a sample that takes seconds; `bench/compare.py` takes all


@pytest.mark.parametrize(
    ("category", "hidden", "accepted_floor", "differs_most", "wrong_most"),
    [
        ("processor", True, 1.0, 0.0, 0.0),
        ("board", True, 0.88, 0.03, 0.01),
        ("board", False, 0.98, 0.02, 0.01),
        (
            "storage",
            True,
            0.14,
            0.0,
            0.01,
        ),  # most drives name themselves by a code that the box does not show
        ("storage", False, 0.98, 0.01, 0.01),
        ("memory", True, 0.95, 0.0, 0.0),
        ("memory", False, 0.95, 0.01, 0.0),
        # most cards are sold under names of their makers' own, which no driver gives
        ("graphics, with a driver", True, 0.25, 0.01, 0.0),
        ("graphics, by ids alone", True, 0.01, 0.01, 0.0),
    ],
)
def test_real_pairs_are_accepted_and_siblings_are_not(
    reference: Path,
    category: str,
    hidden: bool,
    accepted_floor: float,
    differs_most: float,
    wrong_most: float,
) -> None:
    (table,) = [table for table in bench.TABLES if table.title == category]
    counted = bench.confusion(reference / "names", table, EVERY, hidden=hidden)
    true, wrong = counted["true"], counted["wrong"]
    rows, pairs = sum(true.values()), sum(wrong.values())
    assert rows > 20 and pairs > 60
    assert true.get("accepted", 0) / rows >= accepted_floor, counted["examples"]
    assert true.get("differs", 0) / rows <= differs_most, counted["examples"]
    assert wrong.get("accepted", 0) / pairs <= wrong_most, counted["examples"]
