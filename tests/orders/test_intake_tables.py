"""CSV, XLSX and ODS: columns guessed or mapped, dialects, encodings, and what spoils a sheet."""

from __future__ import annotations

import io
import struct
import time
import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from shipworthy.model.base import Trouble, encode
from shipworthy.model.intake import Became, Intake, Row
from shipworthy.model.mapping import HeadFixed, Mapping, TableLayout
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import Imported, import_source
from shipworthy.orders.intake.mapping import mapping_toml, read_mapping
from shipworthy.orders.intake.quantities import NOT_SOLD
from tests.orders.workbooks import ods, ods_cell, ods_row, saved, xlsx

HEADINGS = ["Group", "Article", "Qty", "EAN", "Price"]
FAN = ["Fan", "Brise 140 PWM", 3, "", 14.9]


def csv(text: str, mapping: Mapping | None = None) -> Imported:
    return import_source(text.encode(), "order.csv", Wanted(), mapping)


def line(intake: Intake, number: int = 0) -> OrderLine:
    assert intake.order is not None
    return intake.order.lines[number]


def codes(row: Row) -> list[str]:
    return [note.code for note in row.notes]


def test_columns_are_guessed_said_and_can_be_kept(tmp_path: Path) -> None:
    table = "Pos;Warengruppe;Bezeichnung;Menge;Hersteller;Hersteller-Nr.;EAN;E-Preis\n"
    table += "1;Lüfter;Brise 140;3;Fennec;FB-140;2000000000015;14,90\n"
    found = csv(table)
    assert line(found.intake) == OrderLine(
        line_id="1",
        category=Category.FAN,
        quantity=3,
        text="Brise 140",
        maker="Fennec",
        part_number="FB-140",
        gtin="2000000000015",
    )
    assert "intake.columns-guessed" in [note.code for note in found.intake.remarks]
    assert found.guessed is not None
    (tmp_path / "m.toml").write_text(mapping_toml(found.guessed), "utf-8")
    again = csv(table, read_mapping(tmp_path / "m.toml"))
    assert again.intake.order == found.intake.order
    assert not again.intake.open_rows and again.guessed is None


@pytest.mark.parametrize("sign", [";", ",", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_csv_of_any_dialect(sign: str, end: str) -> None:
    rows = [["Article", "Qty"], ['"Fan 140, black; ""quiet"""', "2"], ["SSD 1TB", "1"]]
    order = csv(end.join(sign.join(row) for row in rows)).intake.order
    assert order is not None
    assert [(entry.quantity, entry.text) for entry in order.lines] == [
        (2, 'Fan 140, black; "quiet"'),
        (1, "SSD 1TB"),
    ]


@pytest.mark.parametrize(
    ("data", "encoding", "remark"),
    [
        ("Lüfter Größe 140".encode(), "UTF-8", ""),
        ("Lüfter Größe 140".encode("utf-8-sig"), "UTF-8", ""),
        ("Lüfter Größe 140".encode("utf-16"), "UTF-16", ""),
        ("Lüfter Größe 140".encode("utf-16-be"), "UTF-16", ""),
        ("Lüfter Größe 140".encode("cp1252"), "CP-1252", "intake.encoding-assumed"),
        ("Lüfter ".encode() + "Größe 140".encode("cp1252"), "UTF-8 with CP-1252", "intake.encoding-mixed"),
    ],
)
def test_text_of_any_encoding(data: bytes, encoding: str, remark: str) -> None:
    intake = import_source(data, "order.txt", Wanted()).intake
    assert line(intake).text == "Lüfter Größe 140"
    assert intake.kind == f"pasted text, {encoding}"
    assert [note.code for note in intake.remarks] == ([remark] if remark else [])


def test_a_table_in_utf_16_is_read_too() -> None:
    data = "Artikel;Menge\r\nLüfter 140;2\r\n".encode("utf-16")
    assert line(import_source(data, "o.csv", Wanted()).intake).quantity == 2


QUANTITIES = {
    "2": 2,
    "2,00": 2,
    " 2 Stk.": 2,
    "x3": 3,
    "3 pcs": 3,
    "two": 2,
    "zwei": 2,
    "a pair": 2,
    "ein Paar": 2,
    "(4)": 4,
    "": 1,
    "1000": 1000,
    "-1": "intake.quantity-negative",
    "−1": "intake.quantity-negative",
    "0": "intake.quantity-zero",
    "1e9": "intake.quantity-too-many",
    "1001": "intake.quantity-too-many",
    "1.5": "intake.quantity-fraction",
    "0,5": "intake.quantity-fraction",
    "1.000": "intake.quantity-ambiguous",
    "1,000": "intake.quantity-ambiguous",
    "some": "intake.quantity-not-understood",
    "2-3": "intake.quantity-not-understood",
}


@pytest.mark.parametrize("said", QUANTITIES)
def test_a_quantity_is_read_in_one_way_or_not_at_all(said: str) -> None:
    intake = csv(f'Article;Qty\nSSD 1TB;"{said}"\n').intake
    wanted = QUANTITIES[said]
    if isinstance(wanted, int):
        assert line(intake).quantity == wanted
        assert not intake.open_rows
        return
    assert codes(intake.rows[1]) == [wanted]
    if wanted in NOT_SOLD:
        assert intake.order is None and intake.rows[1].became is Became.NOT_IMPORTED
    else:  # the part is not lost, only how many
        assert line(intake).quantity == 1 and intake.rows[1].became is Became.QUESTION


def test_headings_that_stand_twice_totals_groups_and_empty_rows_are_no_parts() -> None:
    rows = "Article;Qty;Price\nFan 140;2;9,00\n\nArticle;Qty;Price\n"
    rows += "Services;;\nAssembly;1;79,00\n;;\nTotal;;88,00\n"
    intake = csv(rows).intake
    assert [row.became for row in intake.rows] == [
        *(Became.NO_PART, Became.LINE, Became.NO_PART, Became.NO_PART, Became.LINE, Became.LEFT_OUT)
    ]
    assert intake.blank == 2
    assert line(intake, 1).category is Category.SERVICE


def test_what_stands_below_a_table_is_known_as_in_a_text() -> None:
    below = "Ship to:;\nAda Marsh;\n12 Fennel Lane;\n;\nOrder no: KD-9;\nada@post.example;\nKind regards;\n"
    intake = csv("Article;Qty\nFan 140;2\n" + below).intake
    assert [row.became for row in intake.rows[2:]] == [
        *(Became.LEFT_OUT, Became.LEFT_OUT, Became.LEFT_OUT, Became.HEAD, Became.LEFT_OUT, Became.NO_PART)
    ]
    assert intake.order is not None and intake.order.order_id == "KD-9"
    assert "Marsh" not in encode(intake).decode()


def test_a_column_that_nothing_names_is_asked_about_once() -> None:
    intake = csv("Article;Qty;Wish\nFan 140;2;red\nSSD 1TB;1;\n").intake
    assert codes(intake.rows[0]) == ["intake.column-unused"]
    assert [value.value for value in intake.rows[0].notes[0].values] == ["Wish", 1]
    mapping = Mapping(table=TableLayout(text="Article", quantity="Qty", ignore=("Wish",)))
    assert not csv("Article;Qty;Wish\nFan 140;2;red\n", mapping).intake.open_rows


@pytest.mark.parametrize(
    ("row", "count", "code"),
    [
        ("2x Fan 140;", 2, ""),
        ("2x Fan 140;2", 2, ""),
        ("2x Fan 140;3", 3, "intake.quantity-twice"),
        ("1x Fan 140;3", 3, ""),
        ("Memory 32GB (2x16GB) DDR5-6000;3", 3, ""),
        ("2x16GB DDR5-6000;1", 1, ""),
    ],
)
def test_a_count_in_the_text_of_a_table_is_seen(row: str, count: int, code: str) -> None:
    intake = csv(f"Article;Qty\n{row}\n").intake
    assert line(intake).quantity == count
    assert codes(intake.rows[1]) == ([code] if code else [])


def test_a_cell_beyond_the_headings_is_a_question() -> None:
    assert codes(csv("Article;Qty\nFan 140;2;red\n").intake.rows[1]) == ["intake.cell-without-heading"]


def test_a_mapping_joins_columns_fills_down_and_knows_the_shops_words() -> None:
    mapping = Mapping(
        order=HeadFixed(shop="Kestrel Desk"),
        table=TableLayout(
            text=("Thing", "Finish"), quantity="N", category="Shelf", fill_down=("Shelf",), left_out=("Z",)
        ),
        categories={"Bench work": Category.SERVICE, "Noise": Category.COOLER},
    )
    intake = csv(
        "Shelf,Thing,Finish,N,Z\nNoise,Fjord 360,white,1,9\n,Fjord 240,,2,7\nBench work,Wires,,1,\n", mapping
    )
    order = intake.intake.order
    assert order is not None and order.shop == "Kestrel Desk"
    assert [(entry.category, entry.text, entry.quantity) for entry in order.lines] == [
        (Category.COOLER, "Fjord 360, white", 1),
        (Category.COOLER, "Fjord 240", 2),
        (Category.SERVICE, "Wires", 1),
    ]


def test_a_mapping_whose_headings_are_not_there_is_refused_with_the_one_that_is_missing() -> None:
    mapping = Mapping(table=TableLayout(text="Article", quantity="Pieces"))
    with pytest.raises(Trouble, match="'pieces' is missing"):
        csv("Article;Qty\nFan 140;2\n", mapping)


def test_a_table_without_headings_is_read_as_text() -> None:
    intake = csv("2;Fennec fan 140;12,50\n1;SSD 1TB;80,00\n").intake
    assert [(entry.quantity, entry.text) for entry in intake.order.lines] == [  # type: ignore[union-attr]
        (2, "Fennec fan 140"),
        (1, "SSD 1TB"),
    ]
    assert "intake.no-headings" in [note.code for note in intake.remarks]


def test_a_cell_that_begins_like_a_formula_is_data() -> None:
    assert line(csv('Article;Qty\n"=HYPERLINK(""x"") fan";1\n').intake).text == '=HYPERLINK("x") fan'


def test_a_quotation_mark_that_is_never_closed_swallows_no_rows() -> None:
    intake = csv('Article;Qty\n"Fan 140;2\nSSD 1TB;1\n').intake
    assert [row.place for row in intake.rows] == ["1", "2", "3"]
    assert "intake.quote-open" in [note.code for note in intake.remarks]


# Workbooks


def test_merged_cells_hidden_rows_and_formulas_of_an_xlsx() -> None:
    def change(sheet: Worksheet) -> None:
        sheet.merge_cells("A2:A3")
        sheet.row_dimensions[4].hidden = True

    rows = [
        HEADINGS,
        FAN,
        ["", "Brise 120", 1, "", 9.0],
        FAN,
        ["Fan", "Brise 80", "=1+1", "", 5.0],
        ["Fan", "Brise 92", 2, "", "=2*5"],
    ]
    intake = import_source(xlsx(rows, change), "order.xlsx", Wanted()).intake
    assert [line(intake, n).category for n in range(4)] == [Category.FAN] * 4
    assert line(intake, 1).text == "Brise 120"
    assert codes(intake.rows[3]) == ["intake.row-hidden"]
    assert codes(intake.rows[4]) == ["intake.formula-no-value"]
    assert intake.rows[4].became is Became.NOT_IMPORTED
    assert intake.rows[5].became is Became.LINE  # no value of a price is missed


def test_a_kept_value_of_a_formula_is_read() -> None:
    data = xlsx([HEADINGS, ["Fan", "Brise 80", "=1+1", "", 5.0]])
    kept = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(kept, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename.endswith("sheet1.xml"):
                assert b"<f>1+1</f><v />" in content
                content = content.replace(b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>")
            new.writestr(entry, content)
    assert line(import_source(kept.getvalue(), "order.xlsx", Wanted()).intake).quantity == 2


def test_all_sheets_are_read_and_a_hidden_one_is_told() -> None:
    book = openpyxl.Workbook()
    first = book.active
    assert isinstance(first, Worksheet)
    second, third = book.create_sheet("More"), book.create_sheet("Old")
    for sheet in (first, second, third):
        sheet.append(HEADINGS)
        sheet.append(FAN)
    third.sheet_state = "hidden"
    intake = import_source(saved(book), "order.xlsx", Wanted()).intake
    assert intake.order is not None and len(intake.order.lines) == 2
    assert [row.place for row in intake.rows] == [
        *("Sheet row 1", "Sheet row 2", "More row 1", "More row 2", "sheet Old")
    ]
    assert codes(intake.rows[-1]) == ["intake.sheet-hidden"]
    named = Mapping(table=TableLayout(sheet="More", text="Article", quantity="Qty", category="Group"))
    chosen = import_source(saved(book), "order.xlsx", Wanted(), named).intake
    assert chosen.order is not None and len(chosen.order.lines) == 1
    with pytest.raises(Trouble, match="no sheet is called 'Gone'"):
        import_source(
            saved(book), "o.xlsx", Wanted(), Mapping(table=TableLayout(sheet="Gone", text="Article"))
        )


def test_an_ods_with_spans_filters_and_a_formula() -> None:
    data = ods(
        ods_row(ods_cell("Group"), ods_cell("Article"), ods_cell("Qty")),
        ods_row(ods_cell("Fan", 'table:number-rows-spanned="2"'), ods_cell("Brise 140"), ods_cell("2")),
        ods_row("<table:covered-table-cell/>", ods_cell("Brise 120"), ods_cell("1")),
        ods_row('<table:table-cell table:number-columns-repeated="16384"/>'),
        ods_row(
            ods_cell("Fan"), ods_cell("Brise 80"), ods_cell("1"), attributes='table:visibility="collapse"'
        ),
        ods_row(ods_cell("Fan"), ods_cell("Brise 60"), '<table:table-cell table:formula="of:=1+1"/>'),
        ods_row(
            '<table:table-cell table:number-columns-repeated="16384"/>',
            attributes='table:number-rows-repeated="1048000"',
        ),
    )
    intake = import_source(data, "order.ods", Wanted()).intake
    assert [line(intake, n).category for n in range(3)] == [Category.FAN] * 3
    assert [row.place for row in intake.rows] == ["1", "2", "3", "5", "6"]
    assert codes(intake.rows[3]) == ["intake.row-hidden"]
    assert codes(intake.rows[4]) == ["intake.formula-no-value"]


def test_days_and_numbers_of_a_workbook_are_text_without_a_point() -> None:
    rows = [["Article", "Qty", "EAN"], ["Brise fan", 2.0, 2000000000015], [date(2026, 3, 13), 1, None]]
    intake = import_source(xlsx(rows), "order.xlsx", Wanted()).intake
    assert (line(intake).quantity, line(intake).gtin) == (2, "2000000000015")
    assert intake.rows[2].words == "2026-03-13  1"


def far(place: str) -> bytes:
    def change(sheet: Worksheet) -> None:
        sheet[place] = "x"

    return xlsx([HEADINGS, FAN], change)


def lying_zip(size: int) -> bytes:
    """Return a zip with a member of zeros whose list says that it is small."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"<a>" + b" " * size + b"</a>")
    packed = bytearray(data.getvalue())
    central = packed.rindex(b"PK\x01\x02")
    packed[central + 24 : central + 28] = struct.pack("<I", 100)
    return bytes(packed)


def honest_bomb() -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b" " * (70 * 10**6))
    return data.getvalue()


def many_rows() -> bytes:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append(HEADINGS)
    for _ in range(20_000):
        sheet.append(FAN)
    return saved(book)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: far("XFD1048576"), "far apart"),
        (lambda: far("A1048576"), "far apart"),
        (many_rows, "more than 2,000 rows"),
        (honest_bomb, "unpacks to more than 64 MB"),
        (lambda: lying_zip(70 * 10**6), "not a whole workbook|unpacks to more"),
        (
            lambda: ods(ods_row(ods_cell("x"), attributes='table:number-rows-repeated="1000000"')),
            "2,000 rows",
        ),
        (lambda: ods(ods_row(ods_cell("x", 'table:number-columns-repeated="16384"')) * 40), "far apart"),
        (lambda: ods("<!-- -->" + ods_row(ods_cell("&a;"))), "not a workbook"),
        (lambda: xlsx([HEADINGS, FAN])[:900], "not a whole workbook"),
        (lambda: b"PK\x03\x04" + b"x" * 50, "not a whole workbook"),
        (lambda: b"\xd0\xcf\x11\xe0" + b"x" * 50, "password"),
        (lambda: b"%PDF-1.7 x", "PDF"),
        (lambda: b"<!DOCTYPE html><p>x", "marks"),
        (lambda: bytes(range(256)) * 8 + b"\x00" * 900, "no text|nothing"),
        (lambda: b"x" * (9 * 10**6), "9.0 MB"),
        (lambda: b" \r\n\t", "nothing in the file"),
    ],
)
def test_what_cannot_be_read_is_refused_quickly_and_in_one_sentence(make: object, said: str) -> None:
    assert callable(make)
    data = make()
    began_s = time.perf_counter()
    with pytest.raises(Trouble, match=said) as refused:
        import_source(data, "order.xlsx", Wanted())
    assert time.perf_counter() - began_s < 2
    assert "\n" not in str(refused.value) and refused.value.mend.endswith(".")


def test_more_than_500_lines_are_refused() -> None:
    with pytest.raises(Trouble, match="order lines, and an order may have 500"):
        csv("Article;Qty\n" + "Fan 140;1\n" * 501)
    assert len(csv("Article;Qty\n" + "Fan 140;1\n" * 500).intake.rows) == 501


def test_rows_below_a_table_are_told_wherever_their_words_stand() -> None:
    rows = "Pos;Menge;Bezeichnung;Preis\n1;2;Lüfter Brise;9,00\nGesamt;;;18,00\n;Versand:;;4,00\nFoo bar;;;\n"
    intake = csv(rows).intake
    assert [row.became for row in intake.rows[2:]] == [*[Became.LEFT_OUT] * 2, Became.NOT_IMPORTED]
    assert [row.left_out for row in intake.rows[2:]] == [("price", "total"), ("price", "delivery"), ()]
    assert intake.rows[4].words == "Foo bar"


def test_words_in_a_column_of_the_shops_numbers_are_not_dropped_with_them() -> None:
    intake = csv("SKU;Item;Qty\nA-1;Brise fan;1\nnote: fans blow upwards;;\n").intake
    assert intake.rows[1].left_out == ("shop's own number",)
    assert intake.rows[2].became is Became.NOT_IMPORTED and "upwards" in intake.rows[2].words
