"""Part numbers that no witness shows: the label's, where the name is the one ordered, and else open."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind
from tests.compare import machines as m

NUMBER = "part-number.not-shown"


def said(line: OrderLine, *parts: Part) -> Comparison:
    return compare(m.order(line), m.machine(*parts), (), ())


def board(model: str) -> Part:
    return m.part(PartKind.BOARD, "board", model=model, maker="Holloway")


def test_a_board_by_its_name_leaves_its_number_to_the_label() -> None:
    line = m.line(Category.BOARD, "Holloway H4-M D4", part_number="HH4M-90-D4")
    found = said(line, board("H4-M D4"))
    assert m.finding(found, Aspect.MODEL).outcome is Outcome.CONFORMS
    number = m.finding(found, Aspect.PART_NUMBER)
    assert (number.code, number.outcome) == (f"board.{NUMBER}", Outcome.NOT_CHECKED)


@pytest.mark.parametrize("model", ["H4-M", "Default string", "H4-P D4"])
def test_a_number_of_a_board_that_is_not_known_by_its_name_stays_open(model: str) -> None:
    line = m.line(Category.BOARD, "Holloway H4-M D4", part_number="HH4M-90-D4")
    found = said(line, board(model))
    assert m.finding(found, Aspect.MODEL).outcome is not Outcome.CONFORMS
    assert m.finding(found, Aspect.PART_NUMBER).outcome in (Outcome.CANNOT_TELL, Outcome.DIFFERS)


def test_one_drive_that_has_the_name_speaks_for_no_other() -> None:
    line = m.line(Category.STORAGE, "Osier N40 1TB", part_number="OX-77-1001", quantity=2)
    right = m.drive("pci:0000:04:00.0/nvme-ns-1", model="Osier N40 1TB", serial="A")
    other = m.drive("pci:0000:05:00.0/nvme-ns-1", model="Osier N80 1TB", serial="B")
    outcomes = {
        f.part: f.outcome
        for f in said(line, right, other).findings
        if f.aspect is Aspect.PART_NUMBER and f.code.endswith("not-shown")
    }
    assert outcomes[right.place] is Outcome.NOT_CHECKED
    assert outcomes.get(other.place, Outcome.DIFFERS) is not Outcome.NOT_CHECKED


def test_modules_of_an_unknown_code_stay_open() -> None:
    """A module's number is the one thing by which it says what it is."""
    line = m.line(Category.MEMORY, "Fennec Quiet 32GB (2x16GB) DDR5-6000", part_number="FQ5-60-2X16")
    found = said(line, m.module("A2", part_number="Q77182"), m.module("B2", part_number="Q77182"))
    assert m.finding(found, Aspect.PART_NUMBER).outcome is not Outcome.NOT_CHECKED
