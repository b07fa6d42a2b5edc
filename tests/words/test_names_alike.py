"""Comparing names: what may be the same, what is another, and where nobody can tell."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.model.words import Category
from shipworthy.words.drive_names import coded_name_likeness
from shipworthy.words.likeness import (
    Likeness,
    code_likeness,
    full_name_likeness,
    short_name_likeness,
)
from shipworthy.words.models import model_text
from shipworthy.words.names import Name, difference, same_spelling

SAME, OTHER, PARTLY = Likeness.SAME, Likeness.OTHER, Likeness.PARTLY
LETTERS = st.text(alphabet="ABCDKSXV", min_size=1, max_size=3)
MODELS = st.builds(lambda a, n, b: f"Tarn {a}{n}{b}", LETTERS, st.integers(1, 9999), st.just("") | LETTERS)


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("Tarn C7", "Tarn C7", SAME),
        ("Tarn C7-S", "Tarn C7S", SAME),
        ("Tarn C7", "Tarn C7-S", OTHER),
        ("Tarn C7-S", "Tarn C7", OTHER),
        ("Tarn C7", "Tarn C5", OTHER),
        ("Core i5 7600K", "Intel Core i5-7600K", SAME),
        ("Core i5-10600K", "Intel Core i5-10600KF", OTHER),
        ("Core i5-10600KF", "Intel Core i5-10600K", OTHER),
        ("Ryzen 7 5800X", "AMD Ryzen 7 5800X3D", OTHER),
        ("Ryzen 7 PRO 5750G", "AMD Ryzen 7 5750G", OTHER),
        ("Core i7", "Intel Core i7-8700", PARTLY),
        ("Core i7-8700", "Common processor", PARTLY),
        ("Core i7-8700 Coffee Lake", "Intel Core i7-8700", SAME),
    ],
)
def test_every_suffix_of_a_processor_counts(want: str, got: str, likeness: Likeness) -> None:
    assert full_name_likeness(want, got) is likeness


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("990 PRO", "SSD 990 PRO 2TB", SAME),
        ("990 PRO", "SSD 980 PRO 2TB", OTHER),
        ("990", "SSD 990 PRO 2TB", OTHER),
        ("990 PRO", "SSD 990 EVO Plus 2TB", OTHER),
        ("BX200", "CT240BX200SSD1", SAME),
        ("BX200", "CT240BX500SSD1", OTHER),
        ("BX20", "CT240BX200SSD1", PARTLY),
        ("SN850", "WD_BLACK SN850X 2000GB", OTHER),
        ("SN850X", "WD_BLACK SN850X 2000GB", SAME),
        ("P3", "CT1000P3PSSD8", PARTLY),
        ("Red Pro", "WD141KFGX-68FH9N0", PARTLY),
        ("FireCuda 120", "BarraCuda 120", PARTLY),
        ("SA400M8/240G", "SA400M8240G", SAME),
        ("Osier S70", "Osier S70 BLADE", PARTLY),  # a word behind the number may be of another model
        ("Osier S70 BLADE", "Osier S70", PARTLY),
        ("Osier S70 PRO", "Osier S70 PRO LPX", PARTLY),
        ("Osier S70 PRO LPX", "Osier S70 PRO", PARTLY),
        ("Osier S70 PRO LPX", "Osier S70 PRO LPX", SAME),
        ("Osier S70", "Osier S70 Series", SAME),
        ("Osier S70 Gaming", "Osier S70", SAME),
        ("Osier S70", "Osier Retail S70", SAME),
    ],
)
def test_a_drives_code_wraps_its_model_or_tells_nothing(want: str, got: str, likeness: Likeness) -> None:
    assert coded_name_likeness(want, got, context=f"{want} 2TB") is likeness


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("U3014", "DELL U3014", SAME),
        ("U2723QE", "DELL U2723D", OTHER),
        ("Ultra 27GP850", "ULTRAGEAR", PARTLY),
        ("TUF RTX 4070 Ti OC", "RTX 4070 Ti", PARTLY),
        ("RTX 4070", "RTX 4070 Ti", OTHER),
    ],
)
def test_a_short_name_must_be_sold_and_say_all_that_decides(want: str, got: str, likeness: Likeness) -> None:
    assert short_name_likeness(want, got) is likeness


@pytest.mark.parametrize(
    ("code", "got", "likeness"),
    [
        ("WDS120G2G0A", "WDC WDS120G2G0A-00JH30", SAME),
        ("WDS120G2G0A", "WDC WDS240G2G0A-00JH30", OTHER),
        ("WD40EFZX", "WDC WD40EFRX-68AWUN0", OTHER),
        ("SEDC500R/3840G", "KINGSTON SEDC500R3840G", SAME),
        ("CMK32GX5M2B5600C36", "CMK32GX5M2B5200C40", OTHER),
        ("FQ5-60-8X", "FQ5-60-8X", SAME),
        ("KF560C40BBK2-64", "KF560C40-32", PARTLY),
        ("MZ-V9P2T0BW", "Samsung SSD 990 PRO 2TB", PARTLY),
        ("X1", "Quarrel X1 drive", PARTLY),
    ],
)
def test_a_part_number_stands_there_whole_or_a_sibling_does(code: str, got: str, likeness: Likeness) -> None:
    assert code_likeness(code, got) is likeness


@given(MODELS)
def test_a_name_is_the_same_as_itself_however_spelled(model: str) -> None:
    assert same_spelling(model, model.lower().replace(" ", "-"))
    assert full_name_likeness(model, model.upper()) is SAME
    assert coded_name_likeness(model, model) is SAME


@given(MODELS, MODELS)
def test_two_models_of_one_series_are_never_the_same(one: str, other: str) -> None:
    if Name.of(one).compact != Name.of(other).compact:
        assert full_name_likeness(one, other) is not SAME


@given(st.text(max_size=40), st.text(max_size=40))
def test_nothing_is_different_between_a_text_and_one_that_holds_it(text: str, more: str) -> None:
    found = difference(text, f"{text} {more}", text)
    assert not found.hard_missing and not found.soft_missing


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_two_texts_can_be_compared(one: str, other: str) -> None:
    for likeness in (
        full_name_likeness(one, other),
        short_name_likeness(one, other),
        coded_name_likeness(one, other),
        code_likeness(one, other),
    ):
        assert likeness in Likeness


@pytest.mark.parametrize(
    ("category", "text", "model"),
    [
        (Category.PROCESSOR, "Tarn C7-X processor, 8 cores, boxed, no cooler", "Tarn C7-X"),
        (Category.PROCESSOR, "Tarn C5-F Prozessor, 6 Kerne, Sockel LGA1700, boxed ohne Kühler", "Tarn C5-F"),
        (Category.PROCESSOR, "Processeur Tarn C5-F, 6 cœurs, sans ventirad", "Tarn C5-F"),
        (Category.PROCESSOR, "Tarn C5-F excl. cooler", "Tarn C5-F"),
        (Category.PROCESSOR, "Tarn C5-F w/cooler", "Tarn C5-F"),
        (Category.PROCESSOR, "Tarn C5-F (tray, w/o cooler)", "Tarn C5-F"),
        (Category.PROCESSOR, "Tarn C5-F (OEM/Tray)", "Tarn C5-F"),
        (Category.STORAGE, "Osier S10 1 TB SATA SSD 2,5 Zoll", "Osier S10"),
        (Category.STORAGE, "Osier D7 8TB Festplatte intern", "Osier D7"),
        (Category.GRAPHICS, "Corrie Ember 40 8GB Grafikkarte, 240 mm lang", "Corrie Ember 40"),
        (Category.GRAPHICS, "Carte graphique Corrie Ember 40", "Corrie Ember 40"),
        (Category.DISPLAY, "Lindwall L27Q Bildschirm 27 Zoll, 2560x1440", "Lindwall L27Q"),
        (Category.BOARD, "Hauptplatine Holloway H4-M D4, Sockel AM5", "Holloway H4-M D4"),
        (Category.PROCESSOR, "Tarn C5 with Kerne", "Tarn C5 with Kerne"),  # no count, no cooler: not known
        # what stands behind the word is no socket's name
        (Category.PROCESSOR, "LGA1700 socket Tarn-C5F", "Tarn-C5F"),
        (Category.PROCESSOR, "AM5 Sockel Tarn C5", "Tarn C5"),
        (Category.PROCESSOR, "Tarn C5 socket 1151 v2 boxed", "Tarn C5"),
        (Category.PROCESSOR, "Tarn C5, Socket 939", "Tarn C5"),
        (Category.BOARD, "LGA1700 socket H4M-A", "H4M-A"),
        (Category.BOARD, "AM4 Sockel X470 Holloway", "X470 Holloway"),
        (Category.BOARD, "Holloway H4M-A socket FM2+", "Holloway H4M-A"),
    ],
)
def test_words_that_describe_are_no_part_of_a_model(category: Category, text: str, model: str) -> None:
    assert model_text(text, category) == model
