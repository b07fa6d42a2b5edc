"""A processor's name that a firmware's table cut off tells no model; the same from a kernel does."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.words import Aspect, Category, Outcome
from shipworthy.orders.draft import draft_order
from shipworthy.orders.expect import with_expectations
from shipworthy.words.processor_names import is_cut_short
from tests.compare import machines as m

SOLD = m.line(Category.PROCESSOR, "Tarn Q6600")
FIRMWARE = "smbios-processor:0"


@pytest.mark.parametrize(
    ("name", "place", "outcome"),
    [
        ("Tarn Quad CPU Q6", FIRMWARE, Outcome.CANNOT_TELL),
        ("Tarn Quad CPU @ 2.40GHz", FIRMWARE, Outcome.CANNOT_TELL),
        ("Tarn Q6700", FIRMWARE, Outcome.DIFFERS),
        ("Tarn Q6600", FIRMWARE, Outcome.CONFORMS),
        ("Tarn Q6700", "socket:0", Outcome.DIFFERS),
    ],
)
def test_what_a_table_cut_off_is_open(name: str, place: str, outcome: Outcome) -> None:
    found = compare(m.order(SOLD), m.machine(m.processor(name, place=place)), (), ())
    assert m.finding(found, Aspect.MODEL).outcome is outcome


@pytest.mark.parametrize(
    ("name", "cut"),
    [
        ("Q6", True),
        ("Quad CPU 2400MHz", True),
        ("N270", False),
        ("Q6600 @ 2.40GHz", False),
        ("i5-8400", False),
    ],
)
def test_three_digits_in_a_row_are_a_number_and_a_clock_is_none(name: str, cut: bool) -> None:
    assert is_cut_short(name) is cut


def test_a_draft_names_no_model_that_was_cut_off() -> None:
    def texts(name: str, place: str) -> list[str]:
        order = draft_order(m.machine(m.processor(name, place=place)), order_id="D", shop="S", unit_id="U")
        return [f"{line.text} {line.wanted(Aspect.MODEL)}" for line in with_expectations(order).lines]

    (cut,) = texts("Tarn Quad CPU Q6", FIRMWARE)
    assert cut == "processor, 8 cores None"
    (full,) = texts("Tarn Quad CPU Q6600", FIRMWARE)
    assert "Q6600" in full
    (kernels,) = texts("Tarn Quad CPU Q6", "socket:0")
    assert "Q6" in kernels
