"""March tests as data, held against the table of sequences and the exhaustive simulation beside it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from itertools import permutations, product
from pathlib import Path

import pytest

from shipworthy.stress.loads.marching import (
    ALL_ONES,
    MARCH_C_MINUS,
    Direction,
    Element,
    backgrounds,
    parse_march,
    passes,
    run_march,
)


def simulated(reference: Path) -> list[dict[str, str]]:
    with open(reference / "check-values" / "march-coverage-simulated.csv", newline="") as file:
        return list(csv.DictReader(file))


def test_the_sequence_we_run_is_the_tables_march_c_minus(reference: Path) -> None:
    text = (reference / "check-values" / "march-tests.md").read_text("utf-8")
    row = next(line for line in text.splitlines() if line.startswith("| March C- |"))
    _, _, sequence, per_cell, _ = (cell.strip() for cell in row.split("|"))
    assert parse_march(sequence) == parse_march(MARCH_C_MINUS)
    assert per_cell == f"{passes(parse_march(MARCH_C_MINUS))} n"


def test_every_sequence_of_the_table_has_the_operations_it_is_said_to_have(reference: Path) -> None:
    rows = simulated(reference)
    assert len(rows) >= 13
    for row in rows:
        assert passes(parse_march(row["sequence (^ up, v down, * either)"])) == int(row["ops_per_cell"]), row


@pytest.mark.parametrize("text", ["", "^r0", "^(r2)", "x(r0)", "^(r0,w1", "^(r0;w1)"])
def test_text_that_is_no_march_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a march|not a valid"):
        parse_march(text)


def test_sound_memory_passes_every_march_with_every_background(reference: Path) -> None:
    for row in simulated(reference):
        for background in backgrounds():
            elements = parse_march(row["sequence (^ up, v down, * either)"])
            assert run_march(elements, [ALL_ONES, 3, 0], background) == 0


def test_seven_backgrounds_part_any_two_bits_of_a_word() -> None:
    found = backgrounds()
    assert len(found) == 7  # log2(64) + 1
    for one, other in permutations(range(64), 2):
        assert any((b >> one & 1, b >> other & 1) == (0, 1) for b in (*found, *(x ^ ALL_ONES for x in found)))


class Faulty(list[int]):
    """Three one-bit cells with one planted fault, as run_march sees them."""

    def __init__(self, start: tuple[int, ...], fault: tuple[str, int, int, int, int]) -> None:
        super().__init__(start)
        self.kind, self.aggressor, self.victim, self.rises, self.forced = fault
        if self.kind == "SAF":
            super().__setitem__(self.victim, self.forced)

    def __getitem__(self, address):  # type: ignore[no-untyped-def,override]
        return ALL_ONES if super().__getitem__(address) else 0

    def __setitem__(self, address, value) -> None:  # type: ignore[no-untyped-def,override]
        before, bit = super().__getitem__(address), int(value == ALL_ONES)
        if self.kind == "SAF" and address == self.victim:
            return
        if self.kind == "TF" and address == self.victim and before != bit == self.rises:
            return
        super().__setitem__(address, bit)
        if self.kind in ("CFin", "CFid") and address == self.aggressor and before != bit == self.rises:
            coupled = 1 - super().__getitem__(self.victim) if self.kind == "CFin" else self.forced
            super().__setitem__(self.victim, coupled)


def faults(kind: str) -> list[tuple[str, int, int, int, int]]:
    pairs = list(permutations(range(3), 2))
    if kind == "SAF":
        return [(kind, 0, v, 0, forced) for v in range(3) for forced in (0, 1)]
    if kind == "TF":
        return [(kind, 0, v, rises, 0) for v in range(3) for rises in (0, 1)]
    if kind == "CFin":
        return [(kind, a, v, rises, 0) for a, v in pairs for rises in (0, 1)]
    return [(kind, a, v, rises, forced) for a, v in pairs for rises in (0, 1) for forced in (0, 1)]


def orders(elements: tuple[Element, ...]) -> Iterator[tuple[Element, ...]]:
    """All choices of "either"."""
    choices = [
        [Element(d, e.operations) for d in (Direction.UP, Direction.DOWN)]
        if e.direction is Direction.EITHER
        else [e]
        for e in elements
    ]
    yield from product(*choices)


def caught(elements: tuple[Element, ...], fault: tuple[str, int, int, int, int]) -> bool:
    """Whether every start content and every choice of "either" shows the fault."""
    return all(
        run_march(chosen, Faulty(start, fault))
        for chosen in orders(elements)
        for start in product((0, 1), repeat=3)
    )


@pytest.mark.parametrize("kind", ["SAF", "TF", "CFin", "CFid"])
def test_planted_faults_are_caught_as_often_as_the_exhaustive_simulation_says(
    reference: Path, kind: str
) -> None:
    for row in simulated(reference):
        elements = parse_march(row["sequence (^ up, v down, * either)"])
        planted = faults(kind)
        found = sum(caught(elements, fault) for fault in planted)
        assert f"{found}/{len(planted)}" == row[kind], row["algorithm"]


def test_march_c_minus_catches_all_of_them(reference: Path) -> None:
    elements = parse_march(MARCH_C_MINUS)
    assert all(caught(elements, f) for kind in ("SAF", "TF", "CFin", "CFid") for f in faults(kind))
