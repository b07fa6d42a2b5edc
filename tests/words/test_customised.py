"""Colours, lettering and finishes in the words of a customisation."""

from __future__ import annotations

import pytest

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.expect import line_with_expectations
from shipworthy.words.customised import find_paint
from shipworthy.words.kinds import find_colours


def wanted(category: Category, text: str) -> dict[Aspect, object]:
    line = line_with_expectations(OrderLine(line_id="1", category=category, text=text))
    return {wish.aspect: wish.want for wish in line.expectations}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('Lid lettering "Studio 4" in white', {Aspect.TEXT: "Studio 4", Aspect.COLOUR: "white"}),
        ("Sleeving, red/black", {Aspect.COLOUR: "red, black"}),
        ("Sleeved leads, rust red", {Aspect.COLOUR: "rust red"}),
        ("Lid in British racing green", {Aspect.COLOUR: "racing green"}),
        ("Kabel ummantelt, rostrot und dunkelgrau", {Aspect.COLOUR: "rostrot, dunkelgrau"}),
        (
            "Kabel ummantelt: weinrot, feuerrotes Band, himmelblau",
            {Aspect.COLOUR: "weinrot, feuerrotes, himmelblau"},
        ),
        ("Deckel gelbrot oder altrosa", {Aspect.COLOUR: "gelbrot, altrosa"}),
        ("Deckel türkis, Boden lila", {Aspect.COLOUR: "türkis, lila"}),
        ("Deckel bordeaux, Ränder olivgrüne", {Aspect.COLOUR: "bordeaux, olivgrüne"}),
        ("Panneau doré, câbles argentés, pieds marron", {Aspect.COLOUR: "doré, argentés, marron"}),
        ("Panneau rosé", {Aspect.COLOUR: "rosé"}),
        ("Panneau peint, noir mat", {Aspect.COLOUR: "noir", Aspect.FINISH: "matt"}),
        ("Façade en peinture mate RAL 7016", {Aspect.COLOUR: "RAL 7016", Aspect.FINISH: "matt"}),
        # letters of another word, and of another language
        ("Emblem: Abendbrot, Vollkornschrot, ein Brot", {}),
        ("Carrot, parrot and marigold engraved", {}),
        ("Logo Generosa, Schwarzwald, Weißdorn", {}),
        ("Rosette, adoration and marronnier engraved", {}),
        ("Black anti-slip mat under the feet", {Aspect.COLOUR: "black"}),
        ("Engraved red mat", {Aspect.COLOUR: "red"}),
        ("Panneau peint, bleue", {Aspect.COLOUR: "bleue"}),
        ("Rotor balanced, grissini engraved", {}),
        ("Leads red, pump cover icy", {Aspect.COLOUR: "red"}),
        ("Case painted RAL 7016 matt", {Aspect.COLOUR: "RAL 7016", Aspect.FINISH: "matt"}),
        (
            "Painted name “Black Betty” in dark slate-grey, high gloss",
            {Aspect.TEXT: "Black Betty", Aspect.COLOUR: "dark slate grey", Aspect.FINISH: "high gloss"},
        ),
        ("Rewired by hand, goldfish engraved", {}),
        ("The customer's own emblem", {}),
    ],
)
def test_of_a_customisation(text: str, said: dict[Aspect, object]) -> None:
    assert wanted(Category.CUSTOMISATION, text) == said


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        ("Osprey Works Fold 2 case, slate grey, felt lined", "slate grey"),
        ("Osprey Nook Mini-ITX Gehäuse, weiß", "weiß"),
        ("Boîtier Osprey Nook, noir", "noir"),
        ("Heron 5 (white)", "white"),
        ("Heron 5 black", "black"),
        ("Black Widow 3 tower", None),
        ("Silver Lake tower with window", None),
    ],
)
def test_the_colour_of_a_case_stands_apart_from_its_name(text: str, colour: str | None) -> None:
    assert wanted(Category.CASE, text).get(Aspect.COLOUR) == colour


def test_a_grade_of_a_supply_is_no_colour() -> None:
    assert Aspect.COLOUR not in wanted(Category.POWER_SUPPLY, "Calder Still 550 W, 80 PLUS Gold")


def test_paint_has_shades_where_the_name_of_a_product_has_plain_colours() -> None:
    text = 'Lid "Red Fox" in navy blue'
    assert [word.meaning for word in find_paint(text)] == ["navy blue"]
    assert [word.meaning for word in find_colours(text)] == ["red", "blue"]
