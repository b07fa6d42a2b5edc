"""Rows that lead a reader astray: each is a line, is asked about or told; what looks like them is not."""

from __future__ import annotations

import itertools
import json
import lzma
from pathlib import Path

import pytest

from shipworthy.model.intake import Became, Intake, Row
from shipworthy.model.words import Category
from shipworthy.orders.intake.counts import count_in_cell
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source
from tests.orders.workbooks import ods, ods_cell, ods_row, xlsx

HEAD = "Holloway Bench\nOrder no. HB-7\n\n1 x AMD Ryzen 5 7600   199.00\n"


def imported(text: str) -> Intake:
    return import_source(text.encode(), "order.txt", Wanted()).intake


def below(row: str) -> tuple[Intake, Row]:
    """Return the import of an order that has the row below its first line, and what became of it."""
    intake = imported(HEAD + row + "\n")
    return intake, intake.rows[-1]


def codes(row: Row) -> list[str]:
    return [note.code.removeprefix("intake.") for note in row.notes]


def line_of(row: str) -> tuple[int, str]:
    intake, told = below(row)
    assert told.became is Became.LINE and intake.order is not None
    line = intake.order.line(told.line_id)
    return line.quantity, line.text


@pytest.mark.parametrize(
    ("row", "count"),
    [
        ("Brise fan 140 2 x £9.99", 2),
        ("Brise fan 140 2 x £9.99 = £19.98", 2),
        ("Brise fan 140 2 ×", 2),
        ("Brise fan 140 * 2", 2),
        ("Brise fan 140 2 off", 2),
        ("2 no. Brise fan 140", 2),
        ("twenty Brise fan 140", 20),
        ("douze Brise fan 140", 12),
        ("2✕ Brise fan 140", 2),
        ("2х Brise fan 140", 2),  # a Cyrillic letter
        ("\u00ad2\u00adx Brise fan 140", 2),
        ("\u202e2 x Brise fan 140\u202c", 2),
        ("Brise fan 140  12€90", 1),
        ("2 x Brise fan 140   1 299,00", 2),
    ],
)
def test_a_quantity_is_read_wherever_and_however_it_is_written(row: str, count: int) -> None:
    assert line_of(row) == (count, "Brise fan 140")


@pytest.mark.parametrize(
    "row",
    [
        *("Brise fan 140: 2", "Brise (x2) fan 140", "Brise fan (2 pieces) 140", "Brise fan 140 *2"),
        *("Brise fan 140 2x", "(2) Brise fan 140", "[2] Brise fan 140", "2 - Brise fan 140"),
        *("2: Brise fan 140", "2 (two) Brise fans", "2+1 Brise fan 140", "Brise fan 140 (10+2)"),
        *("-2 Brise fan 140", "2 @ £9.99 Brise fan 140", "No. 2 Brise fan 140", "HDD 4TB x10 (2 spare)"),
    ],
)
def test_what_may_be_a_quantity_in_any_place_is_asked_about(row: str) -> None:
    assert codes(below(row)[1]) == ["quantity-maybe"]


@pytest.mark.parametrize(
    "row",
    [
        *("a couple of Brise fans", "several Brise fans", "half a dozen Brise fans", "Brise fan twice"),
        *("Qty: two Brise fan 140", "½ x Brise fan", "2½ x Brise fan", "ein paar Lüfter Brise"),
    ],
)
def test_a_quantity_in_words_that_is_no_number_is_asked_about(row: str) -> None:
    assert codes(below(row)[1]) == ["quantity-not-understood"]


@pytest.mark.parametrize(
    "row",
    [
        *(
            "Board Sperber, 12+2 phases, ATX",
            "24 - pin extension cable",
            "Network card (x4) PCIe",
            "3/4 inch fan",
        ),
        *("SSD NVMe x4 (2280)", "RTX 4070 Storm 2X", "Double sided tape for LED strip", "Boîtier Nid (neuf)"),
        *("Fan 140 v1.2", "SSD 2.5 inch: SATA", "4 - port USB hub", "RTX 4070 Trio"),
    ],
)
def test_what_only_looks_like_a_quantity_is_not_asked_about(row: str) -> None:
    assert below(row)[1].became is not Became.QUESTION or codes(below(row)[1]) == ["category-doubtful"]
    assert not [code for code in codes(below(row)[1]) if code.startswith("quantity")]


def test_a_pair_in_german_has_a_capital_letter() -> None:
    assert line_of("ein Paar Lüfter Brise") == (2, "Lüfter Brise")


def test_kits_of_different_modules_in_one_row_are_several_parts() -> None:
    assert codes(below("2 x 16GB DDR5-6000, 2 x 32GB DDR5-6000")[1]) == ["several-parts"]
    assert line_of("32GB DDR5-6000, 2x16GB memory kit")[0] == 1
    for row in ("2 x 32GB (2x16GB) Brise DDR5-6000", "2x16GB DDR5-6000 memory, 32GB"):
        assert codes(below(row)[1]) == []


@pytest.mark.parametrize(
    "row",
    [
        "RTX 4070 backplate",
        "RTX 4070 support bracket",
        "SSD heatsink",
        "PSU cover",
        "CPU paste",
        "Optical drive bezel",
    ],
)
def test_a_thing_for_a_part_is_not_silently_that_part(row: str) -> None:
    assert "category-doubtful" in codes(below(row)[1])


def test_a_part_with_such_a_thing_is_the_part() -> None:
    for row, category in {
        "SSD NVMe 2TB Heatsink": Category.STORAGE,
        "RTX 4070 with backplate": Category.GRAPHICS,
        "GPU: RTX 4070 backplate": Category.GRAPHICS,
        "Memory card 128GB": Category.ACCESSORY,
        "RTX 4070, backplate": Category.GRAPHICS,
    }.items():
        intake, told = below(row)
        assert told.became is Became.LINE and intake.order is not None
        assert intake.order.lines[-1].category is category


@pytest.mark.parametrize("cell", ["2\n3", "2 3", "1 000", "12 34 56"])
def test_two_numbers_in_a_cell_are_not_one(cell: str) -> None:
    assert not isinstance(count_in_cell(cell), int)
    assert count_in_cell(" 2 x ") == 2


PRICES = [
    *("12.-", "129:-", "12,--", "SFr. 12.90", "12.90 SFr", "129 kr", "129,00 kr", "zł 12,90", "12,90 zł"),
    *(
        "129 Kč",
        "12 900 Ft",
        "₹1,299",
        "Rs. 1299",
        "INR 1299",
        "1299円",
        "₩12000",
        "₽1299",
        "1299 руб.",
        "₺99",
    ),
    *("R$ 99,90", "A$12.90", "US$12.90", "CAD 12.90", "12 euros", "12€90", "-5.00", "-£5.00", "12.90*"),
    *("12.90 incl. VAT", "12.90 ex VAT", "12.90 each", "12.90/pc", "£12.90/each", "£12.90 per piece"),
    *("£12.90+VAT", "12,90 €/Stück", "12.90 20%", "12.90 (20%)", "12.90 (was 15.90)", "€ 12,90 -"),
]


@pytest.mark.parametrize("price", PRICES)
def test_a_price_of_any_form_is_left_out_whole(price: str) -> None:
    intake, row = below(f"1 x Brise fan 140  {price}")
    assert row.became is Became.LINE and row.left_out == ("price",)
    assert intake.order is not None and intake.order.lines[-1].text == "Brise fan 140"


@pytest.mark.parametrize(
    "row",
    [
        *(
            "HDMI cable 6 ft",
            "try 2 fans",
            "USB charger 5 V 3.25 A",
            "Fan KR 140",
            "SSD SP-3KR",
            "Case 54 mm each side",
        ),
        "Thermal pad 1.50 mm",
    ],
)
def test_what_is_no_price_stays(row: str) -> None:
    assert "price" not in below(row)[1].left_out


def test_a_dash_in_the_price_column_does_not_lose_the_part() -> None:
    assert line_of("1 x Brise fan 140   -") == (1, "Brise fan 140")
    assert below("Optical drive:   -")[1].became is Became.NO_PART
    assert below("Second drive   –")[1].became is Became.NO_PART


def test_a_bundle_sold_twice_asks_how_many_of_each_part() -> None:
    parts = "  1 x RTX 4070\n  3 x Brise fan 140\n"
    assert [codes(row) for row in imported(f"{HEAD}2 x Gaming bundle\n{parts}").open_rows] == [
        ["bundle-count"]
    ]
    assert not imported(f"{HEAD}1 x Gaming bundle\n{parts}").open_rows


def test_a_heading_that_says_how_many_machines_is_asked_about() -> None:
    assert below("for all three units:")[1].became is Became.NOT_IMPORTED
    assert below("for your desk:")[1].became is Became.NO_PART


def test_a_second_order_in_the_text_is_asked_about() -> None:
    assert codes(below("Order no. HB-8")[1]) == ["second-order"]
    assert below("Order no. HB-7")[1].became is Became.HEAD
    assert not imported("Holloway Bench\nOrder no. HB-7\nOrder no. 8812\n1 x SSD 1TB\n").open_rows


def test_a_shop_whose_name_is_a_part_is_no_order_line() -> None:
    intake = imported("Fan House\nOrder confirmation FH-1\n\n2 x Brise fan 140\n\nRegards\nFan House\n")
    assert intake.order is not None and len(intake.order.lines) == 1
    assert [codes(row) for row in intake.open_rows] == [["above-title"], ["above-title"]]
    firm = imported("SSD World Ltd\nOrder 99-1\n\n1 x SSD 1TB\n")
    assert firm.order is not None and firm.order.shop == "SSD World Ltd" and not firm.open_rows
    assert imported("Brise fan 140\nOrder 99-1\n").order is not None
    assert imported("Brise case fan\nSSD 1TB\n").order is not None


def test_a_part_with_a_firm_in_its_name_is_not_the_shop() -> None:
    assert below("Holloway-Alpin NF 140 GmbH")[1].became is Became.NOT_IMPORTED
    assert below("Holloway Bench GmbH")[1].became is Became.HEAD


def test_a_row_that_was_broken_behind_a_small_word_goes_on() -> None:
    text = "1 x Brise cooler 240 with a\ngrey matt finish\n"
    order = imported(HEAD + text).order
    assert order is not None and order.lines[-1].text == "Brise cooler 240 with a grey matt finish"
    assert codes(below("1 x RTX 4070 with a\nbackplate and 3 year warranty")[1]) == ["part-or-content"]
    parts = imported(HEAD + "SSD 1TB,\nBrise fan 140,\n").order
    assert parts is not None and len(parts.lines) == 3


def test_a_street_beside_a_part_is_left_out() -> None:
    intake, row = below("1 x Keyboard for Piers, 12 Mill Lane, Wrackham")
    assert row.left_out == ("address",) and intake.order is not None
    assert "Mill" not in intake.order.lines[-1].text + row.words
    assert below("1 x Riser cable, 4 slot way")[1].left_out == ()


def test_cells_beyond_the_headings_are_asked_about() -> None:
    text = "Item\tQty\tPrice\nSSD 1TB\t2\t9.00\nBrise fan\t3\t5.00\textra\n"
    last = imported(text).rows[-1]
    assert codes(last) == ["cell-without-heading"] and "5.00" not in last.words
    assert not imported(text.replace("\textra", "")).open_rows


def test_cells_of_a_table_without_headings_are_not_taken_for_a_text() -> None:
    assert codes(below("Brise fan 140;2;9.99;19.98")[1]) == ["reads-like-cells"]


def test_an_error_and_a_merged_quantity_of_a_sheet_are_asked_about() -> None:
    rows = [["Qty", "Item"], [2, "SSD 1TB"], [None, "Brise fan"], ["#REF!", "RTX 4070"], [1, "Case ATX"]]
    data = xlsx(rows, lambda sheet: sheet.merge_cells("A2:A3"))
    intake = import_source(data, "order.xlsx", Wanted()).intake
    assert [codes(row) for row in intake.rows] == [[], [], ["quantity-merged"], ["formula-no-value"], []]


def test_an_error_in_an_ods_is_no_quantity_of_one() -> None:
    error = (
        '<table:table-cell table:formula="of:=[.Z1]/0" office:value-type="string" office:string-value="" '
        'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0" '
        'calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>'
    )
    rows = (ods_row(ods_cell("Qty"), ods_cell("Item")), ods_row(error, ods_cell("RTX 4070")))
    intake = import_source(ods(*rows), "order.ods", Wanted()).intake
    assert [codes(row) for row in intake.rows] == [[], ["formula-no-value"]]


def test_a_merged_cell_is_followed_to_the_last_row_of_the_sheet_and_no_further() -> None:
    """A merge costs by the rows there are: one over more than memory can list imports like any other."""
    far = ods_cell("2", 'table:number-rows-spanned="1000000000000"')
    rows = (
        ods_row(ods_cell("Qty"), ods_cell("Item")),
        ods_row(far, ods_cell("SSD 1TB")),
        ods_row("<table:covered-table-cell/>", ods_cell("Brise fan")),
    )
    intake = import_source(ods(*rows), "order.ods", Wanted()).intake
    assert [codes(row) for row in intake.rows] == [[], [], ["quantity-merged"]]


def test_a_group_that_is_one_cell_over_its_rows_is_not_asked_about() -> None:
    rows = [["Category", "Item", "Qty"], ["Fan", "Brise 140", 2], [None, "Brise 120", 1]]
    intake = import_source(xlsx(rows, lambda sheet: sheet.merge_cells("A2:A3")), "o.xlsx", Wanted()).intake
    assert not intake.open_rows and intake.order is not None
    assert {line.category for line in intake.order.lines} == {Category.FAN}


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("1 x SSD 1TB (cancelled)", "cancelled"),
        ("1 x Brise fan 140 - out of stock", "out of stock"),
        ("SSD 1TB storniert", "storniert"),
        ("~~1 x SSD 2TB~~", "struck through"),
        ("SSD 2TB instead of 1TB", "instead of"),
        ("1 x RTX 4070 or RTX 4080", "or RTX 4080"),
        ("1 x Brise fan 140 or equivalent", "or equivalent"),
    ],
)
def test_what_may_not_be_sold_is_asked_about(row: str, said: str) -> None:
    notes = [note for note in below(row)[1].notes if note.code == "intake.sold-maybe"]
    assert [value.value for note in notes for value in note.values] == [said]


@pytest.mark.parametrize(
    "row",
    [
        "Noise-cancelling headset",
        "Cooler for AM4 or AM5",
        "Boîtier or, Micro ATX",
        "2 x RTX 4070 £9 instead of £12",
    ],
)
def test_what_is_sold_is_not_asked_about(row: str) -> None:
    assert "sold-maybe" not in codes(below(row)[1])


def test_a_part_of_one_unit_among_several_is_asked_about() -> None:
    assert codes(below("For PC 1: RTX 4070")[1]) == ["one-of-units"]
    assert codes(below("PC case: Halberd Nest")[1]) == []


def test_a_part_that_ends_like_a_street_is_none() -> None:
    assert line_of("Brise fan 140, Fluid Dynamic Bearing 2 x £9.99")[0] == 2
    assert line_of("Brise cooler 167mm Fluid Dynamic Bearing 2")[0] == 1
    for row in ("Am Moorweg 12", "Ludwig-Erhard-Straße 5a", "Bergstr. 7", "Lange Straße 3"):
        assert below(row)[1].left_out == ("address",)


def test_prices_without_a_currency_in_cells_are_not_part_of_a_text() -> None:
    assert codes(below("1  SSD 1TB  2  99")[1]) == ["reads-like-cells"]
    assert codes(below("RTX 4070\t180\t180")[1]) == ["reads-like-cells"]


@pytest.mark.parametrize(
    ("row", "text"),
    [
        ("Brise fan Black / Silver 12.90", "Brise fan Black / Silver"),
        ("Sperber mainboard ATX 12.90", "Sperber mainboard ATX"),
        ("Power supply 650W ATX 2.52", "Power supply 650W ATX 2.52"),
        ("Windows Server driver 22.10", "Windows Server driver 22.10"),
    ],
)
def test_two_decimals_at_the_end_are_a_version_only_behind_its_word(row: str, text: str) -> None:
    assert line_of(row)[1] == text


def test_a_quantity_behind_an_aside_is_asked_about() -> None:
    assert codes(below("Halberd case with USB 3.2 Gen 1 front - 2 @ £9.99")[1]) == ["quantity-maybe"]
    assert codes(below("Halberd case USB 3.0 x2 £9.99")[1]) == ["quantity-maybe"]
    assert codes(below("Halberd case with 3 fans £9.99")[1]) == []


FORMS = (
    "1 x {} £180",
    "1 x {} 180 €",
    "1 x {} 1.299,00 €",
    "1 x {} EUR 12,90",
    "1 x {} 12.90",
    "1 x {} CHF 99.-",
)


@pytest.mark.parametrize("form", FORMS)
def test_a_price_takes_nothing_from_a_real_name(reference: Path, form: str) -> None:
    """Names of the open part records with a price behind them are lines of the same text and quantity."""
    names = []
    for file in sorted((reference / "names" / "open-db").glob("*.xz")):
        with lzma.open(file, "rt", encoding="utf-8") as lines:
            told = (
                json.loads(line)["metadata"]["name"] or "" for line in itertools.islice(lines, 0, None, 150)
            )
            names += [" ".join(name.split()) for name in told if name]
    assert len(names) > 100
    rows = "\n".join(form.format(name) for name in names[:400])
    order = imported(rows).order
    assert order is not None
    assert [(line.quantity, line.text) for line in order.lines] == [(1, name) for name in names[:400]]


def test_a_ratio_is_no_label() -> None:
    assert line_of('Monitor 21:9 34" £399') == (1, 'Monitor 21:9 34"')
    assert line_of("Fan 2: Brise 140") == (1, "Brise 140")


def test_a_date_before_a_part_is_no_quantity() -> None:
    assert line_of("24 Nov 2026  SSD 1TB") == (1, "SSD 1TB")
    assert line_of("2026-11-24  2 x SSD 1TB") == (2, "SSD 1TB")
    assert line_of("24 November LED fan")[0] == 24


@pytest.mark.parametrize(
    "row",
    ["**2 x Brise fan 140**", "2&nbsp;x&nbsp;Brise fan 140", "<tr><td>2</td><td>Brise fan 140</td></tr>"],
)
def test_marks_of_a_page_are_not_read_as_words(row: str) -> None:
    assert line_of(row) == (2, "Brise fan 140")


def test_what_is_not_wanted_of_a_part_is_no_part() -> None:
    for row in (
        "Case: no window",
        "Cooler: without RGB",
        "no logo on the case",
        "Thanks for adding 2 x RTX 4070",
    ):
        assert below(row)[1].became is Became.NOT_IMPORTED
    for row in ("Optical drive: no", "no monitor", "Thanks for your order"):
        assert below(row)[1].became is Became.NO_PART


def test_a_note_at_the_margin_may_be_of_the_whole_order() -> None:
    assert codes(below("Note: black cables")[1]) == ["joined-maybe"]
    assert codes(below("    Note: black cables")[1]) == []
