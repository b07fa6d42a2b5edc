"""Sharing parts out among lines: the least sum there is, whatever the shape."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from shipworthy.compare.assign import best_assignment

NEVER = 1_000_000_000
COSTS = st.integers(-40, 40) | st.integers(0, 3).map(lambda n: n * 10_000) | st.just(NEVER)


@st.composite
def matrices(draw: st.DrawFn) -> list[list[int]]:
    rows, columns = draw(st.integers(1, 7)), draw(st.integers(1, 7))
    return [[draw(COSTS) for _ in range(columns)] for _ in range(rows)]


@given(matrices())
@settings(max_examples=300, deadline=None)
def test_the_sum_is_the_least_and_no_part_stands_for_two(costs: list[list[int]]) -> None:
    taken = best_assignment(costs)
    assert len(taken) == min(len(costs), len(costs[0])) == len(set(taken.values()))
    rows, columns = linear_sum_assignment(costs)
    least = sum(costs[row][column] for row, column in zip(rows, columns, strict=True))
    assert sum(costs[row][column] for row, column in taken.items()) == least


def test_nothing_is_shared_out_where_there_is_nothing() -> None:
    assert best_assignment([]) == best_assignment([[], []]) == {}


@pytest.mark.parametrize("size", [60])
def test_many_equal_parts_go_in_order(size: int) -> None:
    assert best_assignment([[0] * size for _ in range(size)]) == {row: row for row in range(size)}
