"""Sums, delivery, courtesies and sentences: told apart, and never a sentence that asks for something."""

from __future__ import annotations

import pytest

from shipworthy.model.intake import Became
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source


def became(row: str, above: str = "") -> tuple[Became, tuple[str, ...]]:
    told = import_source(f"{above}{row}".encode(), "order.txt", Wanted()).intake.rows[-1]
    return told.became, told.left_out


@pytest.mark.parametrize(
    ("row", "kind"),
    [
        ("Subtotal   £99.00", "total"),
        ("Goods   1380.50", "total"),
        ("To pay   1656.60", "total"),
        ("Positionen gesamt: 5", "total"),
        ("(each 199.00)", "price"),
        ("Unit price £299.00", "price"),
        ("Comes to £2,940 all in, delivery on us.", "total"),
        ("Total TTC   1 814,90 €", "total"),
        ("VAT @ 20%   67.74", "tax"),
        ("TVA 20 % incluse   302,48 €", "tax"),
        ("zzgl. 19 % MwSt.   154,19 €", "tax"),
        ("Delivery   £18.00", "delivery"),
        ("Shipping: £12.00 via Royal courier", "delivery"),
        ("Delivery: collection in the shop", "delivery"),
        ("Versandkostenfrei", "delivery"),
        ("Livraison offerte", "delivery"),
        ("Payment method: Credit card ending 4417", "payment"),
        ("Zahlungsart: Vorkasse. Bitte geben Sie die Auftragsnummer an.", "payment"),
        ("Mode de paiement : virement", "payment"),
    ],
)
def test_rows_of_money_are_left_out_by_their_kind(row: str, kind: str) -> None:
    end, kinds = became(row)
    assert end is Became.LEFT_OUT and kind in kinds


@pytest.mark.parametrize(
    "row", ["Delivery case £50", "Net adapter cable £9", "Total Quiet fan £9", "Shipping box fan £9"]
)
def test_a_part_that_begins_like_a_sum_stays_a_line(row: str) -> None:
    assert became(row)[0] in (Became.LINE, Became.QUESTION)


@pytest.mark.parametrize(
    "row",
    [
        "Thank you for your custom.",
        "We have received your order and will let you know when it is ready.",
        "Your machine will be ready on Friday.",
        "Do not reply to this mail.",
        "Questions? Ring us or reply to this mail.",
        "Bei Fragen erreichen Sie uns in der Werkstatt.",
        "Nous vous remercions de votre commande.",
        "Nous préparons votre machine.",
        "See you soon!",
        "Build time: standard, 7-10 days",
        "The Marrow & Pike team",
        "Notes:",
        "Your build",
        "Remove",
    ],
)
def test_what_a_shop_says_of_the_orders_way_is_no_part(row: str) -> None:
    assert became(row)[0] in (Became.NO_PART, Became.HEAD)


@pytest.mark.parametrize(
    "row",
    [
        "Please paint the lid red.",
        "Bitte lackieren Sie den Deckel rot.",
        "Veuillez peindre le capot en rouge.",
        "We will ship your PC with the side panel off.",
        "Your PC will be delivered without Windows.",
        "Your order is confirmed. Please add a second fan.",
        "We added a CPU cooler to your order.",
        "and we will set the memory to 6000 MT/s.",
        "Hi Imogen, please paint the lid red",
        "Dear Ms Vale, we have received your order. Please add a second fan.",
        "Three things for you (3 machines, all alike):",
        "Questions? Then leave the film on.",
        "Shipping: please ship with the graphics card removed",
        "Customer note: please leave the side panel film on.",
    ],
)
@pytest.mark.parametrize("above", ["", "Ship to:\nAda Marsh\n", "Storage:\nSSD 1TB\n", "Kind regards\n"])
def test_a_sentence_that_may_ask_for_something_is_asked_about_wherever_it_stands(
    row: str, above: str
) -> None:
    end, _ = became(row, above)
    assert end in (Became.NOT_IMPORTED, Became.QUESTION)


@pytest.mark.parametrize(
    "row", ["Samsung MV-3V4/US DDR3-1600 8GB (2x4GB)", "ID-COOLING IS-55 Air Black cooler"]
)
def test_a_name_with_a_sentences_word_in_it_is_a_part(row: str) -> None:
    assert became(row)[0] is Became.LINE


@pytest.mark.parametrize("word", ["free", "included", "gratis", "kostenlos", "offert", "inkl."])
def test_a_word_in_the_prices_column_is_no_word_of_the_part(word: str) -> None:
    intake = import_source(f"Memory profile on     {word}\n".encode(), "order.txt", Wanted()).intake
    assert intake.order is not None and intake.order.lines[0].text == "Memory profile on"
    assert intake.rows[0].left_out == ("price",)


def test_free_within_a_name_stays() -> None:
    intake = import_source(b"Tern fan halogen free\nTern tool-free case\n", "order.txt", Wanted()).intake
    assert intake.order is not None
    assert [line.text for line in intake.order.lines] == ["Tern fan halogen free", "Tern tool-free case"]


def test_a_title_that_begins_like_a_closing_signs_no_letter() -> None:
    intake = import_source("BESTELLUNG\nFoo bar\nLüfter Brise\n".encode(), "order.txt", Wanted()).intake
    assert [row.became for row in intake.rows] == [Became.NO_PART, Became.NOT_IMPORTED, Became.LINE]


@pytest.mark.parametrize(
    "closing",
    [
        *(
            "Kind regards",
            "Yours",
            "Yours sincerely",
            "Yours faithfully,",
            "Yours truly",
            "Sincerely,",
            "Cheers",
        ),
        *("Mit freundlichen Grüßen", "Liebe Grüße", "Lieber Gruß", "Gruesse", "Bien cordialement"),
    ],
)
def test_who_signs_below_a_closing_is_left_out(closing: str) -> None:
    intake = import_source(f"SSD 1TB\n\n{closing}\nImogen Vale\n".encode(), "order.txt", Wanted()).intake
    assert [row.became for row in intake.rows] == [Became.LINE, Became.NO_PART, Became.LEFT_OUT]
    assert not any("Imogen" in row.words for row in intake.rows)


def test_a_closing_that_goes_on_is_none() -> None:
    end, _ = became("Yours sincerely needed: the film left on")
    assert end is Became.NOT_IMPORTED


def test_a_group_ends_where_its_part_does() -> None:
    """A row that names nothing is no memory for standing below it, behind an empty row."""
    intake = import_source(b"Memory\nFennec 32GB\n\nWrackham\n", "order.txt", Wanted()).intake
    assert intake.order is not None and len(intake.order.lines) == 1
    assert intake.rows[-1].became is Became.NOT_IMPORTED
