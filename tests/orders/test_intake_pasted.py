"""Pasted confirmations: what each kind of row becomes."""

from __future__ import annotations

import pytest

from shipworthy.model.base import encode
from shipworthy.model.intake import Became, Intake, Row
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source


def imported(text: str, **wanted: str) -> Intake:
    return import_source(text.encode(), "order.txt", Wanted(**wanted)).intake  # type: ignore[arg-type]


def only(text: str) -> OrderLine:
    order = imported(text).order
    assert order is not None
    (line,) = order.lines
    return line


def last(text: str) -> Row:
    return imported(text).rows[-1]


# Quantities, and what is none. Each: the row, how many, the text that stays.
COUNTED = [
    ("2x Brise fan 140", 2, "Brise fan 140"),
    ("2 x Brise fan 140", 2, "Brise fan 140"),
    ("2 × Brise fan 140", 2, "Brise fan 140"),
    ("x2 Brise fan 140", 2, "Brise fan 140"),
    ("Brise fan 140 x2", 2, "Brise fan 140"),
    ("Brise fan 140 × 2", 2, "Brise fan 140"),
    ("Brise fan 140, Qty: 2", 2, "Brise fan 140"),
    ("Brise fan 140 Qty 2 pcs", 2, "Brise fan 140"),
    ("Brise fan 140 (2)", 2, "Brise fan 140"),
    ("Brise fan 140 [x2]", 2, "Brise fan 140"),
    ("Brise fan 140, 2x", 2, "Brise fan 140"),
    ("Lüfter Brise 140, Menge: 2", 2, "Lüfter Brise 140"),
    ("2 Stück Lüfter Brise", 2, "Lüfter Brise"),
    ("Lüfter Brise 2 Stk.", 2, "Lüfter Brise"),
    ("3 pcs of Brise fan", 3, "Brise fan"),
    ("2 Brise fan", 2, "Brise fan"),
    ("two Brise fans", 2, "Brise fans"),
    ("a pair of Brise fans", 2, "Brise fans"),
    ("zwei Lüfter Brise", 2, "Lüfter Brise"),
    ("Brise fan 140\t2", 2, "Brise fan 140"),
    ("Brise fan 140      2      12,90      25,80", 2, "Brise fan 140"),
    ("10  Brise fan 140  2  12,90", 2, "Brise fan 140"),
    ("je 14,90 € 3 x Lüfter Brise", 3, "Lüfter Brise"),
    ("3 x 14,90 € = 44,70 € Lüfter Brise", 3, "Lüfter Brise"),
    ("Artikel: Lüfter Brise, Menge: 3 Stk, Preis: 12,90 EUR", 3, "Lüfter Brise"),
    ("1 Stk. Gehäuse Nest ........... 129,-", 1, "Gehäuse Nest"),
    ("Position 2: Lüfter Brise, 3 Stück, 44,70 EUR", 3, "Lüfter Brise"),
    ("Brise fan x3, £44.70", 3, "Brise fan"),
    ("Case: Halberd Nest [+ 20.00 EUR]", 1, "Halberd Nest"),
    (">> 2x Brise fan 140", 2, "Brise fan 140"),
    (" * 2x Brise fan 140", 2, "Brise fan 140"),
    # kits, links, sizes and names are no quantities
    ("2x16GB DDR5-6000 memory", 1, "2x16GB DDR5-6000 memory"),
    ("2 x 16GB DDR5 memory", 1, "2 x 16GB DDR5 memory"),
    ("DDR4 memory 16GB x2", 1, "DDR4 memory 16GB x2"),
    ("2x 32GB (2x16GB) DDR5-6000", 2, "32GB (2x16GB) DDR5-6000"),
    ("2x1TB SSD", 2, "1TB SSD"),
    ("SSD 1TB x2", 2, "SSD 1TB"),
    ("SSD 1TB NVMe PCIe 4.0 x4", 1, "SSD 1TB NVMe PCIe 4.0 x4"),
    ("Network card PCIe x4", 1, "Network card PCIe x4"),
    ("AMD Ryzen 7 7700X", 1, "AMD Ryzen 7 7700X"),
    ("RX 6700 XT Storm 2X", 1, "RX 6700 XT Storm 2X"),
    ("Windows Server 2022", 1, "Windows Server 2022"),
    ('27" monitor', 1, '27" monitor'),
    ("2 TB SSD", 1, "2 TB SSD"),
    ("80 PLUS Gold power supply", 1, "80 PLUS Gold power supply"),
    ("120 mm fan", 1, "120 mm fan"),
    ("4 port USB hub", 1, "4 port USB hub"),
    ("Case with 3 fans", 1, "Case with 3 fans"),
    ("Windows 11 Pro (64-bit)", 1, "Windows 11 Pro (64-bit)"),
]


@pytest.mark.parametrize(("row", "count", "text"), COUNTED)
def test_a_quantity_is_taken_from_the_row_and_nothing_else_is(row: str, count: int, text: str) -> None:
    line = only(row)
    assert (line.quantity, line.text) == (count, text)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("-2 x Brise fan", "negative"),
        ("0 x Brise fan", "zero"),
        ("Brise fan, qty: -1", "negative"),
    ],
)
def test_a_quantity_that_is_none_is_told_and_not_guessed(row: str, code: str) -> None:
    intake = imported(row)
    assert intake.order is None
    assert [note.code for note in intake.rows[0].notes] == [f"intake.quantity-{code}"]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("1e9 x Brise fan", "too-many"),
        ("1001x Brise fan", "too-many"),
        ("1.5x Brise fan", "fraction"),
        ("1.000 x Brise fan", "ambiguous"),
    ],
)
def test_a_quantity_that_cannot_be_read_is_asked_about_and_its_part_is_not_lost(row: str, code: str) -> None:
    intake = imported(row)
    assert intake.order is not None and intake.order.lines[0].category is Category.FAN
    assert intake.order.lines[0].quantity == 1
    assert intake.rows[0].became is Became.QUESTION
    assert [note.code for note in intake.rows[0].notes] == [f"intake.quantity-{code}"]


@pytest.mark.parametrize(
    "row", ["Hi, 2x SSD 1TB", "Order: 2x Brise fan", "Brise fan X2", "Set 3 × Lüfter 92"]
)
def test_what_may_be_a_quantity_is_asked_about(row: str) -> None:
    assert [note.code for note in last(row).notes] == ["intake.quantity-maybe"]
    assert last(row).became is Became.QUESTION


@pytest.mark.parametrize(
    "row",
    [
        "Halberd Fjord cooler 360mm (2025)",
        "X470 mainboard Sperber AM4",
        "RTX 4070 Storm 2X white",
        "Halberd Mid Tower, 430 x 220 x 495",
        "Case with 3 x fans",
    ],
)
def test_years_names_and_dimensions_are_no_quantities(row: str) -> None:
    assert (only(row).quantity, only(row).text) == (1, row)
    assert last(row).became is Became.LINE


def test_two_quantities_that_differ_are_a_question() -> None:
    row = last("2x Brise fan, Qty: 3")
    assert row.became is Became.QUESTION and row.notes[0].code == "intake.quantity-twice"
    assert last("2x Brise fan, Qty: 2").became is Became.LINE


PARTS = ["Ryzen 7 7700X", "Fennec DDR5-6000 32GB", "Brise case fan", "SSD 1TB"]


@pytest.mark.parametrize(
    ("rows", "counts", "asked"),
    [
        ([f"{n} {part}" for n, part in enumerate(PARTS, 1)], [1, 1, 1, 1], 0),
        ([f"{n} {part}" for n, part in enumerate(PARTS[:3], 1)], [1, 2, 3], 2),
        ([f"{n} {part}" for n, part in zip((1, 2, 2, 1), PARTS, strict=True)], [1, 2, 2, 1], 0),
        ([f"{n}. {part}" for n, part in enumerate(PARTS, 1)], [1, 1, 1, 1], 0),
        ([f"Pos. {n}  {part}" for n, part in enumerate(PARTS, 1)], [1, 1, 1, 1], 0),
        ([f"{n} {part} (2)" for n, part in enumerate(PARTS[:2], 1)], [2, 2], 0),
    ],
)
def test_numbers_before_parts_count_parts_or_rows(rows: list[str], counts: list[int], asked: int) -> None:
    intake = imported("\n".join(rows))
    assert intake.order is not None
    assert [line.quantity for line in intake.order.lines] == counts
    assert len(intake.open_rows) == asked


NO_PARTS = {
    "Thank you for your order!": Became.NO_PART,
    "Vielen Dank für Ihre Bestellung.": Became.NO_PART,
    "Order confirmation": Became.NO_PART,
    "-----------": Became.NO_PART,
    "Page 1 of 2": Became.NO_PART,
    "Storage:": Became.NO_PART,
    "PROCESSOR": Became.NO_PART,
    "Optical drive: none": Became.NO_PART,
    "no operating system": Became.NO_PART,
    "Here is what we will build for you:": Became.NO_PART,
    "Qty   Item   Price": Became.NO_PART,
    "Subtotal   99,00 €": Became.LEFT_OUT,
    "zzgl. 19 % MwSt.   18,81": Became.LEFT_OUT,
    "Express shipping 12.90 EUR": Became.LEFT_OUT,
    "Total: $1,234.00": Became.LEFT_OUT,
    "$12.00": Became.LEFT_OUT,
    "Dear Ms Marsh,": Became.LEFT_OUT,
    "Sehr geehrter Herr Lindqvist,": Became.LEFT_OUT,
    "12 Fennel Lane": Became.LEFT_OUT,
    "Am Moorweg 7": Became.LEFT_OUT,
    "ada@post.example": Became.LEFT_OUT,
    "Tel.: 030 1234567": Became.LEFT_OUT,
    "IBAN: DE89 3704 0044 0532 0130 00": Became.LEFT_OUT,
    "USt-IdNr. DE123456789": Became.LEFT_OUT,
    "Customer no.: 4711": Became.LEFT_OUT,
    "Order no.: KD-1": Became.HEAD,
    "Bestellnummer: KD-1": Became.HEAD,
    "Auftragsbestätigung Nr. KD-1": Became.HEAD,
    "Kestrel Desk Ltd": Became.HEAD,
    "Order date: 2026-02-03": Became.HEAD,
    "Please paint the lid red.": Became.NOT_IMPORTED,
    "We added a CPU cooler to your order.": Became.NOT_IMPORTED,
    "Foo bar": Became.NOT_IMPORTED,
}


@pytest.mark.parametrize("row", NO_PARTS)
def test_a_row_that_is_no_part_becomes_none(row: str) -> None:
    intake = imported(row)
    assert intake.order is None
    assert intake.rows[0].became is NO_PARTS[row]


@pytest.mark.parametrize(
    "row",
    ["Totalizer fan 140", "Dear Storm case", "2 Optical drives", "Hello mouse pad", "3 Tower Court fans"],
)
def test_a_part_that_begins_like_talk_or_a_street_stays_a_part(row: str) -> None:
    assert imported(row).order is not None


def test_what_belongs_to_the_line_above_is_joined_to_it() -> None:
    text = "Halberd Nest case   129,00 €\n  Colour: white\n  EAN: 2000000000015\n  MPN: HN-4\n"
    text += "  with window\nQty: 2\n"
    line = only(text)
    assert line.text == "Halberd Nest case, Colour: white, with window"
    assert (line.gtin, line.part_number, line.quantity) == ("2000000000015", "HN-4", 2)
    assert [row.line_id for row in imported(text).rows] == ["1"] * 6


def test_a_wrong_gtin_is_a_question_and_left_out() -> None:
    text = "Brise fan\nEAN: 2000000000010\n"
    assert only(text).gtin == ""
    assert [note.code for note in last(text).notes] == ["intake.gtin-wrong"]


def test_a_detail_with_no_line_above_is_told() -> None:
    assert last("EAN: 2000000000015").became is Became.NOT_IMPORTED


def test_labels_and_group_headings_tell_the_category() -> None:
    text = "Cooler: Halberd Fjord\nFan 2: Brise\n\nCASE\nHalberd Nest\nCooling:\nHalberd Loop\n"
    order = imported(text).order
    assert order is not None
    assert [line.category for line in order.lines] == [
        *(Category.COOLER, Category.FAN, Category.CASE, Category.COOLER)
    ]
    assert [note.code for note in last(text).notes] == ["intake.category-doubtful"]


def test_a_table_in_a_text_is_read_by_its_headings() -> None:
    text = (
        "Pos  Menge  Bezeichnung          Preis\n"
        "1    3      Lüfter Brise 140     14,90\n"
        "2    1      Fennec Ryzen 7 7700X   299,00\n"
    )
    order = imported(text).order
    assert order is not None
    assert [(line.quantity, line.text) for line in order.lines] == [
        (3, "Lüfter Brise 140"),
        (1, "Fennec Ryzen 7 7700X"),
    ]


def test_cells_of_a_table_in_a_text_are_read_as_a_table_or_told() -> None:
    order = imported("Some words above\n\nItem,Qty,Price\nBrise fan,2,12.90\nSSD 1TB,1,80.00\n").order
    assert order is not None
    assert [(line.quantity, line.text) for line in order.lines] == [(2, "Brise fan"), (1, "SSD 1TB")]
    bare = imported("Brise fan,2,12.90\nSSD 1TB,1,80.00\n")
    assert bare.order is None
    assert {note.code for row in bare.rows for note in row.notes} == {"intake.reads-like-cells"}
    marked = imported("| Qty | Product |\n|-----|---------|\n| 2 | Brise fan |\n")
    assert not marked.open_rows and marked.order is not None and marked.order.lines[0].quantity == 2


def test_an_address_ends_where_a_part_begins() -> None:
    intake = imported("Ship to:\nAda Marsh\n12 Fennel Lane\nExeter EX4 3PU\n2x Foo bar\nBrise fan\n")
    assert [row.became for row in intake.rows] == [
        *(Became.LEFT_OUT, Became.LEFT_OUT, Became.LEFT_OUT, Became.LEFT_OUT),
        *(Became.QUESTION, Became.LINE),
    ]
    assert "Marsh" not in encode(intake).decode()


def test_an_address_in_one_row_takes_no_row_below_it() -> None:
    intake = imported("Ship to: 12 Fennel Lane, Exeter\nHalberd Nest\nBrise fan\n")
    assert [row.became for row in intake.rows] == [Became.LEFT_OUT, Became.NOT_IMPORTED, Became.LINE]
    named = imported("Ship to: Ada Marsh\n12 Fennel Lane\nBrise fan\n")
    assert [row.became for row in named.rows] == [Became.LEFT_OUT, Became.LEFT_OUT, Became.LINE]


def test_a_name_that_was_left_out_once_is_left_out_again() -> None:
    intake = imported("Customer: Ada Marsh\n\nAda Marsh\n")
    assert "Marsh" not in encode(intake).decode()


def test_the_head_comes_from_options_then_the_source_then_the_files_name() -> None:
    text = "Kestrel Desk - Order confirmation\nOrder no: KD-9\nDelivery date: 13.03.2026\n"
    text += "Unit: A-1\nUnit: A-2\nBrise fan\n"
    order = imported(text).order
    assert order is not None
    assert (order.order_id, order.shop, order.units, str(order.due)) == (
        *("KD-9", "Kestrel Desk", ("A-1", "A-2"), "2026-03-13"),
    )
    order = imported(text, order_id="X-1", shop="Fennec Works", due="2026-04-01", units=("U-1",)).order  # type: ignore[arg-type]
    assert order is not None
    assert (order.order_id, order.shop, order.units, str(order.due)) == (
        *("X-1", "Fennec Works", ("U-1",), "2026-04-01"),
    )
    bare = imported("Brise fan")
    assert bare.order is not None and bare.order.order_id == "order"
    assert {value.name: value.said_by for value in bare.head} == {
        "order_id": "file name",
        "shop": "nobody",
        "units": "nobody",
    }


def test_a_date_that_can_be_read_in_two_ways_is_not_read() -> None:
    intake = imported("Delivery date: 03/04/2026\nBrise fan\n")
    assert intake.order is not None and intake.order.due is None
    assert [(value.value, value.said_by) for value in intake.head if value.name == "due"] == [("", "nobody")]


def test_a_long_text_is_cut_and_that_is_said() -> None:
    row = last("Brise fan " + "x" * 600)
    assert row.became is Became.QUESTION
    assert [note.code for note in row.notes] == ["intake.text-cut"]


def test_two_processors_are_imported_and_left_to_the_check() -> None:
    intake = imported("2x AMD Ryzen 7 7700X\nSperber B650 mainboard AM5\n")
    assert intake.order is not None and intake.order.lines[0].quantity == 2
    assert not intake.open_rows


def test_a_second_part_number_is_asked_about_and_not_dropped() -> None:
    row = last("1 x Osier N40 2TB NVMe SSD\n  Part no: ON40-2T\n  Part no: ON40-2TB")
    assert row.became is Became.QUESTION and [note.code for note in row.notes] == ["intake.said-twice"]


def test_a_quantity_of_a_question_mark_is_not_understood() -> None:
    taken = imported("Qty\tArticle\n?\tOsier N40 2TB NVMe SSD\n?2\tFennec 16GB DDR5-6000")
    codes = [note.code for row in taken.rows for note in row.notes]
    assert codes.count("intake.quantity-not-understood") == 2
