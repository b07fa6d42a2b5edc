"""What a card is, is no word of its maker's; and a suffix of an old product tells it from its sibling."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.model.words import Aspect, Category, Outcome, PartKind
from shipworthy.words.graphics_names import card_words
from tests.compare import machines as m


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("GeForce GTX 750 Ti graphics", ""),
        ("GeForce GTX 750 Ti graphics card", ""),
        ("GeForce GTX 750 Ti HERON 2X video card", "HERON 2X"),
        ("GeForce GTX 750 Ti Graphite", "Graphite"),
    ],
)
def test_the_word_for_the_category_is_no_variant(text: str, words: str) -> None:
    assert card_words(text)[1] == words


@pytest.mark.parametrize(
    ("sold", "fitted", "outcome"),
    [
        ("GeForce 6600", "GeForce 6600 LE", Outcome.DIFFERS),
        ("GeForce 7600 GT", "GeForce 7600 GS", Outcome.DIFFERS),
        ("GeForce 8800 Ultra", "GeForce 8800 Ultra", Outcome.CONFORMS),
        ("GeForce 6600 LE", "NV43 [GeForce 6600 LE]", Outcome.CONFORMS),
    ],
)
def test_old_siblings_are_told_by_their_suffix(sold: str, fitted: str, outcome: Outcome) -> None:
    line = m.line(Category.GRAPHICS, f"{sold} graphics")
    part = m.part(PartKind.GRAPHICS, "pci:0000:01:00.0", model=fitted)
    found = compare(m.order(line), m.machine(part), (), ())
    assert m.finding(found, Aspect.MODEL).outcome is outcome
