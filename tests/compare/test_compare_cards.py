"""Cards as shops sell them: the chip is told by the driver, the card maker's words by the label alone."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from tests.compare import machines as m

SOLD = "Norvik MEADOW 3X OC GeForce RTX 3060 12GB GDDR6 Black"


def found_of(aspect: Aspect, of: OrderLine, **said: Scalar | Absent) -> Finding:
    card = m.part(PartKind.GRAPHICS, "pci:0000:03:00.0", **said)
    found = m.finding(compare(m.order(of), m.machine(card), (), ()), aspect)
    assert "{" not in finding_sentence(found).say
    return found


@pytest.mark.parametrize(
    ("sold", "model", "outcome"),
    [
        (SOLD, "NVIDIA GeForce RTX 3060", Outcome.CONFORMS),
        (SOLD, "NVIDIA GeForce RTX 3060 Ti", Outcome.DIFFERS),
        (SOLD, "NVIDIA GeForce RTX 3060 Laptop GPU", Outcome.DIFFERS),
        ("Norvik HELL Radeon RX 7900 XT", "AMD Radeon RX 7900 XTX", Outcome.DIFFERS),
        ("Norvik HELL Radeon RX 7900 XTX", "AMD Radeon RX 7900 XT", Outcome.DIFFERS),
        ("Norvik Titan Black Clocked GeForce GTX Titan Black", "GeForce GTX TITAN Black", Outcome.CONFORMS),
        ("Norvik GeForce GTX 1060 6GB", "GeForce GTX 1060 3GB", Outcome.DIFFERS),
        ("Norvik GeForce GTX 1060 6GB", "GeForce GTX 1060 6GB", Outcome.CONFORMS),
        ("Norvik GeForce GTX 1060", "GeForce GTX 1060 3GB", Outcome.CANNOT_TELL),
    ],
)
def test_the_chip_is_told_whatever_the_card_is_called(sold: str, model: str, outcome: Outcome) -> None:
    assert found_of(Aspect.MODEL, m.line(Category.GRAPHICS, sold), model=model).outcome is outcome


def test_memory_tells_two_cards_of_one_chip_apart() -> None:
    of = m.line(Category.GRAPHICS, SOLD)
    for memory, outcome in ((12, Outcome.CONFORMS), (8, Outcome.DIFFERS)):
        said = {"model": "NVIDIA GeForce RTX 3060", "memory_bytes": memory * m.GIB}
        assert found_of(Aspect.CAPACITY, of, **said).outcome is outcome
    named = m.line(Category.GRAPHICS, "Norvik GeForce GTX 1060 6GB")
    assert found_of(Aspect.CAPACITY, named, model="GeForce GTX 1060 3GB").outcome is Outcome.DIFFERS
    assert found_of(Aspect.CAPACITY, named, model="GeForce GTX 1060").outcome is Outcome.CANNOT_TELL


def test_a_variant_is_shown_by_the_cards_own_name_or_by_nobody() -> None:
    wish = Expectation(aspect=Aspect.VARIANT, want="MEADOW 3X OC")
    of = m.line(Category.GRAPHICS, SOLD, expectations=(wish,))
    for card, outcome in (
        ("GeForce RTX 3060 MEADOW 3X OC 12G", Outcome.CONFORMS),
        ("GeForce RTX 3060 MEADOW 2X", Outcome.NOT_CHECKED),
        (Absent.NOT_OFFERED, Outcome.NOT_CHECKED),
    ):
        found = found_of(Aspect.VARIANT, of, model="NVIDIA GeForce RTX 3060", card_model=card)
        assert found.outcome is outcome, card


def test_a_variant_does_not_make_the_chip_undecided_nor_the_chip_the_variant() -> None:
    wish = Expectation(aspect=Aspect.VARIANT, want="MEADOW 3X OC")
    of = m.line(Category.GRAPHICS, SOLD, expectations=(wish,))
    comparison = compare(
        m.order(of),
        m.machine(m.part(PartKind.GRAPHICS, "pci:0000:03:00.0", model="NVIDIA GeForce RTX 3060 Ti")),
        (),
        (),
    )
    assert m.finding(comparison, Aspect.MODEL).outcome is Outcome.DIFFERS
    assert m.finding(comparison, Aspect.VARIANT).outcome is Outcome.NOT_CHECKED


@pytest.mark.parametrize(
    ("sold", "card_maker", "outcome"),
    [
        ("Palit", "PNY", Outcome.DIFFERS),
        ("PowerColor", "Tul Corporation / PowerColor", Outcome.CONFORMS),
        ("Sapphire", "PC Partner Limited / Sapphire Technology", Outcome.CONFORMS),
        ("Zotac", "PC Partner Limited / Sapphire Technology", Outcome.CANNOT_TELL),  # it makes for both
        ("KFA2", "GALAX", Outcome.CONFORMS),
        ("Gainward", "Palit Microsystems Inc.", Outcome.CANNOT_TELL),
    ],
)
def test_the_maker_of_a_card_by_its_subsystem(sold: str, card_maker: str, outcome: Outcome) -> None:
    of = m.line(Category.GRAPHICS, SOLD, maker=sold)
    said = {"model": "NVIDIA GeForce RTX 3060", "card_maker": card_maker, "maker": "NVIDIA Corporation"}
    assert found_of(Aspect.MAKER, of, **said).outcome is outcome
