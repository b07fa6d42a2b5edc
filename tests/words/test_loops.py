"""A custom liquid loop is told from a sealed cooler by the trade's words."""

from __future__ import annotations

import pytest

from shipworthy.words.loops import find_loop_words, says_sealed

CUSTOM = {
    "Custom loop, processor and graphics": ("Custom loop",),
    "Open liquid cooling loop with 45 mm radiators": ("Open liquid cooling loop",),
    "Bespoke water-cooling, built in house": ("Bespoke water-cooling",),
    "Hardline bends in clear PETG": ("Hardline",),
    "Tube reservoir, 150 ml": ("reservoir",),
    "Pump/res combo, 12 V": ("Pump/res",),
    "All-in-one pump and reservoir, 120 ml": ("pump and reservoir",),
    "Distro plate for the Fold 2 case": ("Distro plate",),
    "Fittings 16 mm, black, 12 pieces": ("Fittings",),
    "Premixed coolant, clear, 1 l": ("coolant",),
    "Sable 900 graphics card with water block": ("water block",),
    "Acrylic tubing 14 mm, G1/4 plugs": ("Acrylic tubing", "G1/4"),
    "Custom loop in place of the AIO": ("Custom loop",),
}
NONE = (
    "Calder Tide 360 AIO with pump, radiator and coolant sealed in",
    "Calder Tide all-in-one liquid cooler, 280 mm radiator",
    "Closed-loop liquid cooler, factory filled, maintenance free",
    "Closed liquid loop cooler with short fittings",
    "Sealed liquid cooler with reservoir in the pump head",
    "Calder Heron tower cooler",
    "Osprey case, room for a 360 mm radiator and a pump",
    "Customised lid, looped cable sleeves",
    "Fitting of the customer's own graphics card",
    "Hard drive tray, line of rubber feet",
    "Custom sleeved cables, clear",
    "Thermal paste, 1 g tube",
)


@pytest.mark.parametrize(("text", "words"), CUSTOM.items())
def test_words_of_a_custom_loop_are_found_as_they_stand(text: str, words: tuple[str, ...]) -> None:
    assert tuple(find.words for find in find_loop_words(text)) == words


@pytest.mark.parametrize("text", NONE)
def test_sealed_coolers_and_other_parts_speak_of_no_custom_loop(text: str) -> None:
    assert find_loop_words(text) == ()


def test_a_radiator_or_a_pump_hints_only_where_it_is_sold_by_itself() -> None:
    def words(text: str) -> list[str]:
        return [find.words for find in find_loop_words(text, loose_pieces=True)]

    assert words("Radiator 360 mm, 45 mm thick") == ["Radiator"]
    assert words("Calder Tide 360 mm liquid cooler, copper radiator, quiet pump") == []
    assert words("Calder Tide AIO, radiator 360 mm") == []


def test_a_text_that_says_sealed_says_so_unless_it_speaks_of_a_custom_loop() -> None:
    assert says_sealed("closed loop")
    assert not says_sealed("custom loop")
    assert not says_sealed("custom loop in place of the AIO")
    assert not says_sealed("tower")
