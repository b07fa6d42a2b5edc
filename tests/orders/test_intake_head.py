"""The head of a pasted confirmation: the order's number, the shop, days; and what is none of them."""

from __future__ import annotations

from datetime import date

import pytest

from shipworthy.model.base import encode
from shipworthy.model.intake import OPEN, Became, Intake
from shipworthy.orders.intake.dates import date_of
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source
from shipworthy.orders.intake.order_numbers import number_within, order_number


def imported(text: str) -> Intake:
    return import_source(text.encode(), "order.txt", Wanted()).intake


def said(text: str, name: str) -> str:
    return next((v.value for v in imported(text).head if v.name == name and v.said_by.startswith("row")), "")


NUMBERS = {
    "Order no. BL-2207": "BL-2207",
    "Order # BL-2207": "BL-2207",
    "Order #MP-30417 (24 November 2026)": "MP-30417",
    "Order        SM-2026-44": "SM-2026-44",
    "Order number ED 771": "ED 771",
    "Order confirmation KD-0412": "KD-0412",
    "Order no. KD-0412 dated 24 Nov 2026": "KD-0412",
    "Bestellung 4711 vom 3. Februar 2026": "4711",
    "Bestellung: 4711": "4711",
    "Bestell-Nr.: 5512-X": "5512-X",
    "Auftrag Nr. 99": "99",
    "Auftr.-Nr. 2026/4711": "2026/4711",
    "Auftragsbestätigung Nr. AB-2026-0871": "AB-2026-0871",
    "Commande n° SI-5093": "SI-5093",
    "Confirmation de commande n° SI-5093": "SI-5093",
    "N° de commande : 77": "77",
    "Ref: TB/2026/118": "TB/2026/118",
    "Ref. CP-88": "CP-88",
    "Order: KD-0412 / 24.11.2026": "KD-0412",
    "Réf. : 8812-A": "8812-A",
}


@pytest.mark.parametrize("row", NUMBERS)
def test_an_orders_number_is_found_behind_its_label(row: str) -> None:
    assert order_number(row) == NUMBERS[row]


@pytest.mark.parametrize(
    "row",
    [
        "Order number: 01632 960118",
        "Order hotline: 01632 960118",
        "Order by phone 01632 960118",
        "Customer no. 4711",
        "Order date: 2026-11-24",
        "Order on 24/11/2026",
        "Commande du 24/11/2026",
        "Ihre Bestellung vom 20.11.2026",
        "Order of 24 Nov 2026",
        "Order 2026",
        "Order 12 fans",
        "Proforma invoice PF-2026-11",
        "Order 2x fan",
        "Order now 4070 cards",
        "Order: none",
        "Reference design RTX 4070",
    ],
)
def test_what_is_no_orders_number_is_none(row: str) -> None:
    assert order_number(row) == ""


@pytest.mark.parametrize(
    ("row", "number"),
    [
        ("Your order #MP-30417 is confirmed", "MP-30417"),
        ("Order number is ED 771, quote it if you ring us.", "ED 771"),
        ("Thank you for your order BL-2207!", "BL-2207"),
        ("Vielen Dank für Ihre Bestellung Nr. 4711!", "4711"),
        ("Please ring us about your order on 01632 960118.", ""),
        ("your order 4070 card is out of stock", ""),
    ],
)
def test_a_sentence_may_tell_the_orders_number(row: str, number: str) -> None:
    assert number_within(row) == number


@pytest.mark.parametrize(
    ("row", "kind"),
    [
        ("Order no.: 01632 960118", "phone number"),
        ("Customer number 55012", "customer"),
        ("Kunden-Nr. 4711", "customer"),
        ("N° client : 8812", "customer"),
        ("Kd.-Nr. 4711", "customer"),
        ("Thx, Rob", "name"),
        ("Fitted by: Tamsin Oke", "name"),
        ("Your ref: Marsh", "customer"),
        ("Contact: Piers Holt", "name"),
        ("Bearbeiter: Frau Thiel", "name"),
        ("Questions: 01632 960400", "phone number"),
        ("Tél. 01 99 00 12 34", "phone number"),
        ("(0999) 123456", "phone number"),
        ("Company no. 07734411", "imprint"),
    ],
)
def test_numbers_of_other_things_are_left_out_and_no_order_number(row: str, kind: str) -> None:
    intake = imported(f"{row}\nBrise fan\n")
    assert intake.order is not None and intake.order.order_id == "order"
    assert intake.rows[0].became is Became.LEFT_OUT and kind in intake.rows[0].left_out
    assert intake.rows[0].words == ""


@pytest.mark.parametrize("row", ["0761345-12345 Brise fan", "Brise fan 0815 white", "X470 2026 board AM4"])
def test_a_part_with_a_number_in_it_is_no_phone(row: str) -> None:
    assert imported(row).rows[0].left_out == ()


@pytest.mark.parametrize(
    ("text", "shop"),
    [
        ("Brack Lane Computers - thank you for your order!\n", "Brack Lane Computers"),
        ("# Thornback Systems: order confirmation\n", "Thornback Systems"),
        ("Sarcelle Informatique\nConfirmation de commande n° SI-5093\n", "Sarcelle Informatique"),
        ("From: Marrow & Pike <orders@marrow.example>\nSubject: hello\n", "Marrow & Pike"),
        ("your order with Eiderdown PCs is in.\n", "Eiderdown PCs"),
        ("Cheers,\nYour Eiderdown team\n", "Eiderdown"),
        ("Kestrel Desk GmbH\n", "Kestrel Desk GmbH"),
        ("Order confirmation - Harrow PCs\n", "Harrow PCs"),
        ("Kestrel Desk\nProforma invoice PF-2026-11\nOrder: KD-0412 / 24.11.2026\n", "Kestrel Desk"),
        ("Brise fan\nOrder confirmation\n", ""),
        ("Foo bar\nBrise fan\n", ""),
        ("Dear Ada, thank you for your order!\n", ""),
    ],
)
def test_the_shop_is_found_in_a_letters_head_or_its_talk(text: str, shop: str) -> None:
    assert said(f"{text}2x Brise fan\n", "shop") == shop


def test_a_mails_head_is_read_and_its_persons_left_out() -> None:
    text = "From: Kestrel Desk <shop@kestrel.example>\nTo: Ada Marsh\nSubject: Order KD-12\n\n2x Brise fan\n"
    intake = imported(text)
    assert intake.order is not None
    assert (intake.order.order_id, intake.order.shop) == ("KD-12", "Kestrel Desk")
    assert "Marsh" not in encode(intake).decode()
    assert imported("To: rear panel\n2x Brise fan\n").rows[0].became is not Became.LEFT_OUT


def test_a_row_of_several_values_is_taken_apart_and_its_persons_left_out() -> None:
    row = "Order no. KD-7    Date 24 Nov 2026    Customer no.: C-77 | Contact: Ada Marsh"
    intake = imported(f"{row}\nBrise fan\n")
    assert intake.order is not None and intake.order.order_id == "KD-7"
    assert intake.rows[0].became is Became.HEAD
    assert intake.rows[0].words == "Order no. KD-7  Date 24 Nov 2026  [customer]  [name]"
    assert "Marsh" not in encode(intake).decode() and "C-77" not in encode(intake).decode()


def test_a_row_with_a_part_in_one_of_its_cells_is_no_head() -> None:
    for row in ("Order no. KD-7    2x Brise fan", "Date 24 Nov 2026 | Brise fan"):
        (told,) = imported(row).rows
        assert told.became in (*OPEN, Became.LINE) and "Brise fan" in told.words


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("24 Nov 2026", date(2026, 11, 24)),
        ("Tuesday, 24 November 2026 09:14", date(2026, 11, 24)),
        ("November 24, 2026", date(2026, 11, 24)),
        ("4. Dezember 2026", date(2026, 12, 4)),
        ("1er mars 2026", date(2026, 3, 1)),
        ("3 août 2026", date(2026, 8, 3)),
        ("24/11/2026", date(2026, 11, 24)),
        ("11/24/2026", date(2026, 11, 24)),
        ("2026-03-13T10:22:00Z", date(2026, 3, 13)),
        ("03/04/2026", None),
        ("31.02.2026", None),
        ("24/13/2026", None),
        ("24 Nov", None),
        ("13.03.26", None),
    ],
)
def test_a_day_is_read_where_it_can_be_read_in_one_way(text: str, day: date | None) -> None:
    assert date_of(text) == day


def test_the_day_that_an_order_is_due_may_name_its_month() -> None:
    assert said("Liefertermin: 4. Dezember 2026\nLüfter Brise\n", "due") == "2026-12-04"
    assert said("Livraison prévue le 4 décembre 2026\nVentilateur Brise\n", "due") == "2026-12-04"
