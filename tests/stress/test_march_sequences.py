"""March tests as data, held against the table of sequences and the exhaustive simulation beside it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations, product
from pathlib import Path

import pytest

from shipworthy.stress.loads.marching import (
    ALL_ONES,
    LINE_WORDS,
    MARCH_C_MINUS,
    MARCH_SS,
    Background,
    Direction,
    Element,
    backgrounds,
    parse_march,
    run_march,
)


def simulated(reference: Path) -> list[dict[str, str]]:
    with open(reference / "check-values" / "march-coverage-simulated.csv", newline="") as file:
        return list(csv.DictReader(file))


def per_cell_of(sequence: str) -> int:
    """Return the operations that a march does on each cell: 10 for March C−."""
    return sum(len(element.operations) for element in parse_march(sequence))


@pytest.mark.parametrize(("name", "ours"), [("March C-", MARCH_C_MINUS), ("March SS", MARCH_SS)])
def test_the_sequences_we_run_are_the_tables(reference: Path, name: str, ours: str) -> None:
    text = (reference / "check-values" / "march-tests.md").read_text("utf-8")
    row = next(line for line in text.splitlines() if line.startswith(f"| {name} |"))
    _, _, sequence, per_cell, _ = (cell.strip() for cell in row.split("|"))
    assert parse_march(sequence) == parse_march(ours)
    assert per_cell == f"{per_cell_of(ours)} n"


def test_every_sequence_of_the_table_has_the_operations_it_is_said_to_have(reference: Path) -> None:
    rows = simulated(reference)
    assert len(rows) >= 13
    for row in rows:
        assert per_cell_of(row["sequence (^ up, v down, * either)"]) == int(row["ops_per_cell"]), row


@pytest.mark.parametrize("text", ["", "^r0", "^(r2)", "x(r0)", "^(r0,w1", "^(r0;w1)"])
def test_text_that_is_no_march_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a march|not a valid"):
        parse_march(text)


def test_sound_memory_passes_every_march_with_every_background(reference: Path) -> None:
    for row in simulated(reference):
        for background in backgrounds():
            elements = parse_march(row["sequence (^ up, v down, * either)"])
            assert run_march(elements, [ALL_ONES, 3, 0], background) == 0


def test_ten_backgrounds_part_any_two_bits_of_a_line() -> None:
    found = [sum(b.at(place) << 64 * place for place in range(LINE_WORDS)) for b in backgrounds()]
    assert len(found) == 10  # log2(512) + 1
    turned = [line ^ (1 << 512) - 1 for line in found]
    for one, other in permutations(range(0, 512, 3), 2):
        assert any((line >> one & 1, line >> other & 1) == (0, 1) for line in (*found, *turned))


class CoupledLine:
    """Lines of words of which one bit forces the same bit of another word of its line.

    rises: of the aggressor's bit, when it changes so (`CFid`) or as long as it is so (`CFst`). forced: what
    the victim's bit becomes.
    """

    def __init__(self, kind: str, aggressor: int, victim: int, rises: int, forced: int) -> None:
        self.words = [0] * LINE_WORDS
        self._kind, self._rises, self._forced = kind, rises, forced
        self._aggressor, self._victim = aggressor, victim

    def write(self, words: list[int]) -> None:
        before, now = (line[self._aggressor] >> 5 & 1 for line in (self.words, words))
        self.words = list(words)
        if now == self._rises and (self._kind == "CFst" or before != now):
            kept = self.words[self._victim] & ~(1 << 5)
            self.words[self._victim] = kept | self._forced << 5


def caught_in_line(line: CoupledLine, background: Background) -> bool:
    """Whether a march C− that gives all words of a line each operation at once sees the fault."""
    wrong = False
    for element in parse_march(MARCH_C_MINUS):
        for operation in element.operations:
            inverted = ALL_ONES if operation.inverted else 0
            words = [background.at(place) ^ inverted for place in range(LINE_WORDS)]
            if operation.writes:
                line.write(words)
            else:
                wrong = wrong or line.words != words
    return wrong


def missed(found: tuple[Background, ...]) -> list[tuple[str, int, int, int, int]]:
    faults = [
        (kind, a, v, rises, forced)
        for kind in ("CFst", "CFid")
        for a, v in permutations(range(LINE_WORDS), 2)
        for rises in (0, 1)
        for forced in (0, 1)
    ]
    return [fault for fault in faults if not any(caught_in_line(CoupledLine(*fault), b) for b in found)]


def test_couplings_within_a_line_are_caught_by_the_backgrounds_that_part_its_words() -> None:
    assert not missed(backgrounds())
    assert missed(tuple(b for b in backgrounds() if not b.turned))  # alike words hide them


@dataclass(frozen=True)
class Fault:
    """rises: what the aggressor (of a transition, the victim) is written or holds. forced: what the victim is
    forced to, or has to hold to be hit. operation: on the aggressor, where the kind has several."""

    kind: str
    aggressor: int
    victim: int
    rises: int
    forced: int
    operation: str = ""


class Faulty(list[int]):
    """Three one-bit cells with one planted fault, as run_march sees them."""

    def __init__(self, start: tuple[int, ...], fault: Fault) -> None:
        super().__init__(start)
        self.fault = fault
        if fault.kind == "SAF":
            super().__setitem__(fault.victim, fault.forced)

    def _bit(self, address: int) -> int:
        return int(super().__getitem__(address))

    def _hits(self, address: int) -> bool:
        """Whether the cell is the victim and, for two cells, the aggressor holds what the fault asks."""
        f = self.fault
        return address == f.victim and (not f.kind.startswith("CF") or self._bit(f.aggressor) == f.rises)

    def __getitem__(self, address):  # type: ignore[no-untyped-def,override]
        f, bit = self.fault, self._bit(address)
        told = bit
        if self._hits(address) and bit == f.forced:
            if f.kind in FLIPS_ON_READ:
                super().__setitem__(address, 1 - bit)
            if f.kind in TELLS_WRONG:
                told = 1 - bit
        if f.kind == "CFds" and address == f.aggressor and (f.operation, f.rises) == ("r", bit):
            self._disturb()
        return ALL_ONES if told else 0

    def __setitem__(self, address, value) -> None:  # type: ignore[no-untyped-def,override]
        f, before, bit = self.fault, self._bit(address), int(value == ALL_ONES)
        if f.kind == "SAF" and address == f.victim:
            return
        if f.kind == "TF" and address == f.victim and before != bit == f.rises:
            return
        if f.kind == "CFtr" and self._hits(address) and before != bit == f.forced:
            return
        if f.kind in ("WDF", "CFwd") and self._hits(address) and before == bit == f.forced:
            bit = 1 - bit
        super().__setitem__(address, bit)
        if address != f.aggressor:
            return
        if f.kind in ("CFin", "CFid") and before != bit == f.rises:
            super().__setitem__(f.victim, 1 - self._bit(f.victim) if f.kind == "CFin" else f.forced)
        if f.kind == "CFds" and f.operation == f"w{bit}" and before == f.rises:
            self._disturb()

    def _disturb(self) -> None:
        f = self.fault
        if self._bit(f.victim) == f.forced:
            super().__setitem__(f.victim, 1 - f.forced)


FLIPS_ON_READ = {"RDF", "DRDF", "CFrd", "CFdr"}
TELLS_WRONG = {"RDF", "IRF", "CFrd", "CFir"}
"""Read-disturb: the cell flips and the read tells the new value; deceptive: it flips and the read tells the
old one; incorrect read: it stays and the read tells the other (van de Goor and Al-Ars, 2000; from memory)."""


def faults(kind: str) -> list[Fault]:
    """All faults of a kind on three cells. Single-cell kinds take `forced` as the content they hit."""
    if kind == "TF":
        return [Fault(kind, 0, v, rises, 0) for v in range(3) for rises in (0, 1)]
    if kind in ("SAF", "WDF", "RDF", "DRDF", "IRF"):
        return [Fault(kind, v, v, 0, forced) for v in range(3) for forced in (0, 1)]
    pairs = list(permutations(range(3), 2))
    if kind == "CFin":
        return [Fault(kind, a, v, rises, 0) for a, v in pairs for rises in (0, 1)]
    if kind == "CFds":
        done = [(was, operation) for was in (0, 1) for operation in ("r", "w0", "w1")]
        return [Fault(kind, a, v, was, f, op) for a, v in pairs for was, op in done for f in (0, 1)]
    return [Fault(kind, a, v, rises, forced) for a, v in pairs for rises in (0, 1) for forced in (0, 1)]


def orders(elements: tuple[Element, ...]) -> Iterator[tuple[Element, ...]]:
    """All choices of "either"."""
    choices = [
        [Element(d, e.operations) for d in (Direction.UP, Direction.DOWN)]
        if e.direction is Direction.EITHER
        else [e]
        for e in elements
    ]
    yield from product(*choices)


def caught(elements: tuple[Element, ...], fault: Fault) -> bool:
    """Whether every start content and every choice of "either" shows the fault."""
    return all(
        run_march(chosen, Faulty(start, fault))
        for chosen in orders(elements)
        for start in product((0, 1), repeat=3)
    )


SINGLE = ("SAF", "TF", "WDF", "RDF", "DRDF", "IRF")
COUPLED = ("CFin", "CFid", "CFds", "CFtr", "CFwd", "CFrd", "CFdr", "CFir")


@pytest.mark.parametrize("kind", [*SINGLE, *COUPLED])
def test_planted_faults_are_caught_as_often_as_the_exhaustive_simulation_says(
    reference: Path, kind: str
) -> None:
    for row in simulated(reference):
        elements = parse_march(row["sequence (^ up, v down, * either)"])
        planted = faults(kind)
        found = sum(caught(elements, fault) for fault in planted)
        assert f"{found}/{len(planted)}" == row[kind], row["algorithm"]


def test_march_c_minus_catches_all_of_the_kinds_that_it_is_said_to() -> None:
    elements = parse_march(MARCH_C_MINUS)
    assert all(caught(elements, f) for kind in ("SAF", "TF", "CFin", "CFid") for f in faults(kind))


def test_march_ss_catches_all_simple_static_faults() -> None:
    """What it was made for; March C− misses some of them."""
    elements, c_minus = parse_march(MARCH_SS), parse_march(MARCH_C_MINUS)
    for kind in (*SINGLE, *COUPLED):
        assert all(caught(elements, fault) for fault in faults(kind)), kind
    assert not any(
        caught(c_minus, fault) for kind in ("WDF", "DRDF", "CFwd", "CFdr") for fault in faults(kind)
    )
