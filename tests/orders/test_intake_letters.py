"""What a letter says: who is the shop, when it is due, what the customer brings, what a thing is."""

from __future__ import annotations

from datetime import date

import pytest

from shipworthy.model.intake import Became, Intake, Row
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.intake.categories import guess_category
from shipworthy.orders.intake.dates import settled
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source

HEAD = "Holloway Bench\nOrder no. HB-7\n\n1 x AMD Ryzen 5 7600   199.00\n"


def imported(text: str) -> Intake:
    return import_source(text.encode(), "order.txt", Wanted()).intake


def told(row: str) -> Row:
    return imported(f"{HEAD}{row}\n").rows[-1]


def line(row: str) -> OrderLine:
    intake = imported(f"{HEAD}{row}\n")
    assert intake.order is not None and intake.rows[-1].line_id
    return intake.order.line(intake.rows[-1].line_id)


def codes(row: str) -> list[str]:
    return [note.code.removeprefix("intake.") for note in told(row).notes]


def values(intake: Intake) -> dict[str, tuple[str, str]]:
    return {value.name: (value.value, value.said_by) for value in intake.head}


# two parts and two prices


@pytest.mark.parametrize("prices", ["74.99 / 109.00", "£74.99 / £109.00", "74,99 / 109,00 €"])
def test_two_prices_with_a_stroke_between_them_are_left_out_whole(prices: str) -> None:
    row = told(f"SSD 1TB Brise + 1x 4TB HDD Brise .... {prices}")
    assert "74" not in row.words and row.left_out == ("price",)
    assert line(f"Brise fan 140  {prices}").text == "Brise fan 140"


@pytest.mark.parametrize("text", ["Ubuntu 22.04 / 24.04", "Halberd tube 12.50 / 14.20 mm"])
def test_two_versions_or_lengths_with_a_stroke_between_them_stay(text: str) -> None:
    assert line(f"1 x {text}").text == text
    assert told(f"1 x {text}").left_out == ()
    assert line(f"1 x {text}   £9.00").text == text


@pytest.mark.parametrize(
    "row",
    [
        "SSD 1TB Brise + 1x 4TB HDD Brise",
        "1 x SSD 1TB + 2x 500GB SSD",
        "SSD 1TB + 1x4TB HDD",
        "Case + 1x Fan",
    ],
)
def test_a_count_behind_a_plus_is_a_second_part(row: str) -> None:
    assert "several-parts" in codes(row)


@pytest.mark.parametrize(
    "row",
    [
        *("PSU cable 1x 8-pin + 1x 6-pin", "Case fans 2x 120 + 1x 140 mm", "Riser cable 1x HDMI + 1x DP"),
        *("Halberd case with 2x 120 mm + 1x 140 mm fans", "2x16GB + 2x16GB DDR5 memory", "Board with 2x M.2"),
    ],
)
def test_plugs_lengths_and_what_belongs_to_a_thing_are_no_second_part(row: str) -> None:
    assert "several-parts" not in codes(row)


def test_a_second_part_in_a_cell_is_asked_about_beside_a_quantity_of_its_own() -> None:
    text = "Item,Qty\nSSD 1TB + 1x 4TB HDD,1\nPSU cable 1x 8-pin + 1x 6-pin,2\nSSD 1TB,1\n"
    intake = import_source(text.encode(), "order.csv", Wanted()).intake
    assert [[note.code for note in row.notes] for row in intake.rows] == [
        *([], ["intake.several-parts"], [], [])
    ]
    assert [row.became for row in intake.rows[2:]] == [Became.LINE, Became.LINE]


# what the customer brings


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("gpu - customer supplied!! (RTX 4070 Storm)", "customer supplied"),
        ("RTX 4070 Storm, own card", "own card"),
        ("RTX 4070 Storm (provided by customer)", "provided by customer"),
        ("SSD 1TB supplied by the customer", "supplied by the customer"),
        ("RTX 4070 Storm, vom Kunden gestellt", "vom Kunden gestellt"),
        ("RTX 4070 Storm (beigestellt)", "beigestellt"),
        ("eigene Grafikkarte RTX 4070", "eigene Grafikkarte"),
        ("RTX 4070 Storm fournie par le client", "fournie par le client"),
    ],
)
def test_what_the_customer_brings_is_not_silently_sold(row: str, said: str) -> None:
    notes = [note for note in told(row).notes if note.code == "intake.sold-maybe"]
    assert [value.value for note in notes for value in note.values] == [said]


@pytest.mark.parametrize(
    "row",
    [
        *("Brise fan 140, supplied with screws", "Our own-brand fan 140", "SSD 1TB provided by Halberd"),
        *("Service for the customer's desk", "Ventilateur Brise fourni avec vis", "Lüfter, hochgestellt"),
    ],
)
def test_what_a_shop_supplies_is_sold(row: str) -> None:
    assert "sold-maybe" not in codes(row)


# the head


@pytest.mark.parametrize(
    "wish", ["(want it by 5 Dec please)", "(bitte bis 5. Dezember)", "(due 5.12.)", "(livraison avant 5 déc)"]
)
def test_a_day_wished_for_behind_the_orders_number_is_head(wish: str) -> None:
    intake = imported(f"Holloway Bench\nORDER #HB-33 / placed 21/11/2026 {wish}\n\n1 x SSD 1TB\n")
    assert [row.became for row in intake.rows[:2]] == [Became.HEAD, Became.HEAD]
    assert values(intake)["order_id"] == ("HB-33", "row 2") and values(intake)["due"] == ("", "nobody")


def test_a_wish_with_its_year_is_the_day_that_the_order_is_due() -> None:
    order = imported("Order HB-33 (wanted by 5 Dec 2026)\n1 x SSD 1TB\n").order
    assert order is not None and order.due == date(2026, 12, 5)


@pytest.mark.parametrize("wish", ["(no RGB please)", "(want it without RGB by 5 Dec)", "(by 2 of you)"])
def test_a_wish_for_anything_but_a_day_is_not_lost(wish: str) -> None:
    first = imported(f"Order HB-33 / 21/11/2026 {wish}\n1 x SSD 1TB\n").rows[0]
    assert first.became is Became.NOT_IMPORTED


def test_a_legal_form_at_the_front_of_an_address_is_the_shop() -> None:
    for row in (
        "Kessel PC-Manufaktur GmbH · Am Alten Hafen 3 · 24103 Wrack",
        "Kessel PC-Manufaktur GmbH, Hafenstraße 3, 24103 Wrack",
    ):
        intake = imported(f"{row}\n\nAuftrag AB-44\n\n1 x SSD 1TB\n\nIhr Kessel-Team\n")
        assert intake.rows[0].became is Became.HEAD and "24103" not in intake.rows[0].words
        assert values(intake)["shop"] == ("Kessel PC-Manufaktur GmbH", "row 1")


def test_a_firm_that_is_a_customer_or_has_no_town_is_not_the_shop() -> None:
    row = "Mövenstein GmbH · Hafen 3 · 24103 Wrack"
    for text in (f"Rechnungsadresse:\n{row}\n\nAuftrag AB-44\n", f"Auftrag AB-44\n{row}\n"):
        assert values(imported(f"{text}1 x SSD 1TB\n"))["shop"] == ("Your shop", "nobody")
    parts = imported("Mövenstein GmbH · RTX 4070 · 3 fans\nOrder AB-44\n1 x SSD 1TB\n")
    assert values(parts)["shop"] == ("Your shop", "nobody") and parts.rows[0].became is Became.QUESTION


@pytest.mark.parametrize("gap", [" ", "   "])
@pytest.mark.parametrize("week", ["KW 50", "week 50", "KW 50/2026", "2026-W50"])
def test_a_calendar_week_is_head_and_no_day(week: str, gap: str) -> None:
    row = gap.join(("Datum: 21.11.2026", "Kundennr.: 8812", f"Liefertermin: {week}"))
    intake = imported(f"Auftrag AB-44\n{row}\n1 x SSD 1TB\n")
    assert intake.rows[1].became is Became.HEAD and "8812" not in intake.rows[1].words
    assert values(intake)["due"] == ("", "nobody") and intake.order is not None and intake.order.due is None


def test_a_week_or_a_label_among_other_words_is_not_head() -> None:
    for row in ("Week 50 fan planner", "Datum: 21.11.2026 2 x SSD 1TB Liefertermin: KW 50", "KW 50 fan"):
        assert told(row).became is not Became.HEAD


def test_a_title_behind_the_shops_name_is_not_part_of_it() -> None:
    for title in ("order confirmation", "Auftragsbestätigung", "Order Summary"):
        intake = imported(f"Kestrel Desk {title}\nOrder no. KD-7\n\n1 x SSD 1TB\n")
        assert values(intake)["shop"] == ("Kestrel Desk", "row 1")
    for row in ("Your order confirmation", "Fan House order confirmation", "Order confirmation"):
        intake = imported(f"{row}\nOrder no. KD-7\n\n1 x SSD 1TB\n")
        assert values(intake)["shop"] == ("Your shop", "nobody")


@pytest.mark.parametrize(
    ("row", "due"),
    [
        ("Date 21/11/2026 Due 05/12/2026", date(2026, 12, 5)),
        ("Date: 21/11/2026    Due: 05/12/2026", date(2026, 12, 5)),
        ("Date 11/21/2026 Due 12/05/2026", date(2026, 12, 5)),
        ("Date 05/11/2026 Due 05/12/2026", None),
        ("Date 21-11-2026 Due 05/12/2026", None),  # another form may have another order
        ("Date 2026-11-21 Due 05/12/2026", None),
    ],
)
def test_the_other_day_in_a_row_settles_which_figure_is_the_month(row: str, due: date | None) -> None:
    order = imported(f"Order no. KD-7\n{row}\n1 x SSD 1TB\n").order
    assert order is not None and order.due == due


def test_days_that_speak_against_each_other_settle_nothing() -> None:
    assert settled("05/12/2026", "21/11/2026 05/12/2026 11/21/2026") == "05/12/2026"
    assert settled("05/12/2026", "21/11/2026") == "2026-12-05"
    assert settled("21/12/2026", "11/21/2026") == "21/12/2026"
    assert settled("5 December", "21/11/2026") == "5 December"


# delivery, and words that name a thing


def test_a_word_for_delivery_with_brackets_behind_it_is_delivery() -> None:
    for row in ("Versand (DHL, versichert)", "Versand (DHL, versichert)   6,90 €", "Livraison (Colis)"):
        assert told(row).became is Became.LEFT_OUT and "delivery" in told(row).left_out
    for row in ("Delivery case (black) £50", "Versand (inkl. RTX 4070)", "Shipping box (large) £4.00"):
        assert told(row).became is not Became.LEFT_OUT


@pytest.mark.parametrize(
    "row", ["Win 11 Pro", "Win 10/11", "2 x Win 11 Home", "Microsoft Win 11 Pro   £99.00"]
)
def test_the_short_name_of_the_system_is_system_software(row: str) -> None:
    assert told(row).became is Became.LINE and line(row).category is Category.SYSTEM_SOFTWARE


def test_what_runs_with_a_system_is_not_the_system() -> None:
    assert guess_category("USB hub, Win 10/11").category is Category.ACCESSORY
    assert guess_category("Darwin 11 Pro fan").category is Category.FAN
    assert guess_category("Network card for Win 10").category is Category.NETWORK


def test_the_noun_before_the_first_comma_is_the_thing() -> None:
    for row, category in {
        "2 spare fans, same as in the case": Category.FAN,
        "Mini-ITX case, graphics cards up to 300 mm": Category.CASE,
    }.items():
        assert told(row).became is Became.LINE and line(row).category is category


def test_a_second_noun_that_nothing_ties_to_the_first_is_asked_about() -> None:
    for row, category in {
        "fans, case": Category.FAN,
        "Mini-ITX case, graphics cards": Category.CASE,
        "fans, a case like the last": Category.FAN,
        "fans, 1 case up to 300 mm": Category.FAN,
    }.items():
        guess = guess_category(row)
        assert guess.category is category and not guess.sure and guess.others


@pytest.mark.parametrize("label", ["Mobo", "MOBO", "Mainboard", "Motherboard", "1 x Mobo", "2) Mainboard"])
@pytest.mark.parametrize("sign", [": ", ":", " - "])
def test_the_label_of_a_board_is_not_part_of_its_text(label: str, sign: str) -> None:
    found = line(f"{label}{sign}Sperber B650")
    assert (found.category, found.text, found.quantity) == (Category.BOARD, "Sperber B650", 1)


def test_the_label_behind_a_quantity_is_cut_where_it_names_a_part() -> None:
    assert (line("2 x Gehäuse: Nest 5").text, line("2 x Gehäuse: Nest 5").quantity) == ("Nest 5", 2)
    assert line("1 x Sperber: Mainboard").text == "Sperber: Mainboard"
    assert line("1 x Cable sleeves: grey").text == "Cable sleeves: grey"
    assert line("1 x Case: no window").text == "Case: no window"
