"""Laws of importing: any text imports, nothing goes by untold, nothing private comes through."""

from __future__ import annotations

import json
import re
import string

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shipworthy.model.base import Trouble, decode, encode
from shipworthy.model.intake import Became, Intake
from shipworthy.model.mapping import Mapping, NestedLines
from shipworthy.model.orders import Order
from shipworthy.orders.intake.grids import csv_grid
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source
from shipworthy.orders.intake.pasted import read_pasted
from shipworthy.orders.intake.sources import text_of

HOSTILE = st.sampled_from(
    [
        *("2x ", "x2", " × ", "Qty: 2", "(2)", "2x16GB", "1.000 ", "-1 x ", "1e9 x ", "0 x", "1.5x ", "two "),
        *("€ 12,50", "12.50", "1.234,00 EUR", "$5", "+49 30 1234567", "a@b.example", "1e9"),
        *("CPU: ", "Ryzen 7 7700X", "DDR5-6000", "SSD", "Lüfter", "Gehäuse", "RTX 4070", "Windows 11"),
        *("Ship to:", "Dear Ada,", "Kind regards", "EAN: ", "Colour: red", "    ", "\t", "\n", "\r", "\r\n"),
        *("|", ";", '"', "ein Paar ", "Summe", "DE89 3704 0044 0532 0130 00", "\ufeff", "\ud7ff"),
        *("Pos  Menge  Bezeichnung  Preis", "Qty;Description;Price", "@cmd", "\x00", "\x85", "\u2028"),
        *("Order no. KD-7", "Order 01632 960118", "Customer no. 5", "Kunden-Nr. 9", "Auftrag: A-7", "Ref: "),
        *("N° ",),
        *("Bundle", "kit", "  - ", "    ", "included", "free", "yes", "none", "onboard", ": "),
        *("pre-installed",),
        *("We will ", "Thank you for your order ", "Questions? ", "Ihr Team", "Betreff: ", "From: "),
        *("24 Nov 2026",),
        *("Subtotal", "Delivery: ", "Payment: ", "VAT ", "TVA ", "Comes to ", "Extras", "Cooler: ", "(#A7)"),
        *("[MPN: A-7]", ", two", " two of these", "deux ", "Geschäftsführer", "Herr", "> "),
        *("1 ", "2 ", "3 ", "4 ", "- ", "* ", "...", "12 Fennel Lane", "20095 Hamburg", "Please call us."),
    ]
)  # fmt: skip
TEXTS = st.lists(st.one_of(HOSTILE, st.text(max_size=8)), max_size=40).map("".join)
LAW = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def rows_of(text: str) -> list[str]:
    return re.split(r"\r\n|\n|\r", text)


def is_whole(intake: Intake) -> None:
    """Each row ends in one way that its fields agree with, and the order is one that can be stored."""
    lines = {line.line_id for line in intake.order.lines} if intake.order else set()
    made = [
        row.line_id for row in intake.rows if row.became in (Became.LINE, Became.QUESTION) and row.line_id
    ]
    assert set(made) == lines
    for row in intake.rows:
        if row.became is Became.NOT_IMPORTED:
            assert row.notes, row
        if row.became is Became.QUESTION:
            assert row.notes, row
        if row.became is Became.LINE:
            assert not row.notes, row
        if row.became is Became.LEFT_OUT:
            assert row.words == "" or row.left_out, row
    if intake.order is not None:
        assert decode(encode(intake.order), Order, "order") == intake.order


@LAW
@given(TEXTS)
def test_law_every_row_of_a_pasted_text_is_accounted_for(text: str) -> None:
    taken = read_pasted(text)
    rows = rows_of(text)
    told = [int(row.place) for row in taken.rows]
    assert told == [n for n, row in enumerate(rows, 1) if row.strip()]
    assert taken.blank == len(rows) - len(told)


@LAW
@given(TEXTS)
def test_law_any_text_imports_and_is_whole(text: str) -> None:
    try:
        intake = import_source(text.encode("utf-8", "surrogatepass"), "order.txt", Wanted()).intake
    except Trouble as refused:
        assert "\n" not in str(refused)
        return
    is_whole(intake)


@LAW
@given(TEXTS)
def test_law_any_csv_imports_and_every_row_is_accounted_for(text: str) -> None:
    try:
        intake = import_source(text.encode("utf-8", "surrogatepass"), "order.csv", Wanted()).intake
    except Trouble as refused:
        assert "\n" not in str(refused)
        return
    is_whole(intake)
    read = text_of(text.encode("utf-8", "surrogatepass"), "order.csv").text
    grid, _ = csv_grid(read, "order.csv")
    ended = read.endswith(("\n", "\r"))
    assert sum(row.lines for row in grid.rows) == len(rows_of(read)) - ended
    assert len(intake.rows) == sum(any(cell.strip() for cell in row.cells) for row in grid.rows)
    assert [row.place for row in intake.rows] == [
        str(row.number) for row in grid.rows if any(cell.strip() for cell in row.cells)
    ]


@LAW
@given(st.binary(max_size=200), st.sampled_from(["a.txt", "a.csv", "a.json", "a.xlsx", "a"]))
def test_law_any_bytes_import_or_are_refused_in_one_sentence(data: bytes, name: str) -> None:
    try:
        is_whole(import_source(data, name, Wanted()).intake)
    except Trouble as refused:
        assert str(refused).isprintable()
        assert refused.mend.endswith(".")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 2000) | st.text(max_size=12) | HOSTILE,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["items", "name", "qty", "price", "x"]), inner, max_size=4)
    ),
    max_leaves=20,
)
NESTED = Mapping(lines=(NestedLines(at="items[]", text="name", quantity="qty"),))


def leaves(value: object) -> int:
    if isinstance(value, dict):
        return sum(map(leaves, value.values()))
    if isinstance(value, list):
        return sum(map(leaves, value))
    return int(value is not None and value != "")


@LAW
@given(JSON)
def test_law_every_element_and_every_unread_path_of_nested_json_is_told(tree: object) -> None:
    whole = {"items": [tree, {"name": "SSD 1TB"}], "more": tree}
    data = json.dumps(whole).encode()
    intake = import_source(data, "export.json", Wanted(), NESTED).intake
    is_whole(intake)
    places = [row.place for row in intake.rows]
    assert places[:2] == ["items[0]", "items[1]"]
    assert len(places) == len(set(places))
    assert any(place.startswith("more") for place in places) == (leaves(tree) > 0)


AROUND = st.sampled_from(
    [
        *(
            "Kestrel Desk",
            "Order no. KD-7",
            "Hi Ada,",
            "Dear Ms Marsh, thank you for your order!",
            "Your PC",
            "",
        ),
        *(
            "Deliver to:",
            "12 Fennel Lane",
            "Subtotal   9,00",
            "Delivery: courier",
            "Payment: card",
            "Kind regards",
        ),
        *(
            "Extras",
            "Memory:",
            "CPU: none",
            "- with window",
            "    black",
            "EAN: 2000000000015",
            "Qty: 1",
            "___",
        ),
        *(
            "We will let you know.",
            "Please paint the lid red.",
            "Starter bundle   99,00",
            "Herrn",
            "Ada",
            "* Case",
        ),
        *(
            "Ryzen 7 7700X   200,00",
            "2x SSD 1TB",
            "Bei Fragen",
            "Sound: onboard",
            "> wrote",
            "Kunden-Nr. 5",
            "1.",
        ),
    ]
)


@LAW
@given(
    st.lists(AROUND, max_size=8),
    st.sampled_from(
        [
            "1 x {}   12,50",
            "1x {}",
            "{}   12,50",
            "  1 x {}   12,50 €",
            "- 1 x {}",
            "7. {}   12,50",
            "{}\t1\t12,50",
        ]
    ),
    st.lists(AROUND, max_size=4),
)
def test_law_a_part_is_a_line_whatever_stands_around_it(
    above: list[str], form: str, below: list[str]
) -> None:
    part = "Fennec Breeze 140 mm fan"
    text = "\n".join([*above, form.format(part), *below])
    intake = import_source(text.encode(), "order.txt", Wanted()).intake
    assert intake.order is not None
    assert [part in line.text for line in intake.order.lines].count(True) == 1
    row = next(row for row in intake.rows if row.place == str(len(above) + 1))
    held = next(line for line in intake.order.lines if part in line.text)
    assert row.line_id == held.line_id


COUNTED = ["3x {}", "3 x {}", "3 × {}", "{} x3", "{} × 3", "{}, 3 Stück", "{}, Qty: 3", "{} (3)", "{} [x3]"]
COUNTED += [
    "{}   3",
    "{}\t3",
    "3 pcs {}",
    "{}, three of these",
    "{} (three)",
    "three {}",
    "Menge: 3 {}",
    "3\t{}",
]
PRICED = [
    "",
    "   12,50",
    " 12,50 €",
    ", 12,50 EUR",
    "   12,50 €   37,50 €",
    " @ 12.50",
    " je 12,50 €",
    " .... 12,50",
]
PRICED += [
    "   free",
    " | £12.50",
    " - £12.50",
    " (12,50 €)",
    "   £12.50 each",
    ", Preis: 12,50 EUR",
    "\t12.50\t37.50",
]
BEFORE = ["", "- ", "2. ", "Pos. 2: ", "Pos. 2  ", "Item 2: ", "> ", "* ", "  ", "\t", "[x] "]


@LAW
@given(st.sampled_from(BEFORE), st.sampled_from(COUNTED), st.sampled_from(PRICED))
def test_law_how_many_is_read_or_asked_about_and_never_lost(before: str, counted: str, priced: str) -> None:
    text = before + counted.format("Fennec Breeze 140 mm fan") + priced + "\n"
    intake = import_source(text.encode(), "order.txt", Wanted()).intake
    (row,) = intake.rows
    assert row.became in (Became.LINE, Became.QUESTION, Became.NOT_IMPORTED)
    if row.became is Became.LINE:
        assert intake.order is not None and intake.order.lines[0].quantity == 3
    assert "Breeze 140 mm" in row.words


SECRETS = (
    "ada.marsh@post.example",
    "+44 20 7946 0018",
    "DE89 3704 0044 0532 0130 00",
    "1.234,56 €",
    "EUR 77.31",
)


@LAW
@given(
    st.lists(
        st.sampled_from(["2x Fan 120 mm", "AMD Ryzen 7 7700X", "Nothing of note", "CPU: Fennec 8"]),
        max_size=5,
    ),
    st.sampled_from(SECRETS),
    st.sampled_from(["{} ", "  {}", "\t{}", "{}", "Phone {}", "({})"]),
    st.integers(0, 5),
)
def test_law_what_is_private_stands_nowhere_in_an_import(
    parts: list[str], secret: str, form: str, at: int
) -> None:
    parts.insert(min(at, len(parts)), "Fennec Breeze 140 fan " + form.format(secret))
    intake = import_source("\n".join(parts).encode(), "order.txt", Wanted()).intake
    said = encode(intake).decode()
    assert secret not in said
    for piece in re.findall(r"[\w.@]{6,}", secret):
        assert piece not in said


@LAW
@given(st.text(string.ascii_letters + string.digits + "-/ ", min_size=3, max_size=30).map(str.strip))
def test_law_a_part_number_in_its_own_column_is_neither_money_nor_a_phone(number: str) -> None:
    table = f"Qty;Item;MPN\n1;Fennec fan;{number}\n"
    (_, row) = import_source(table.encode(), "order.csv", Wanted()).intake.rows
    assert row.left_out == ()


@pytest.mark.parametrize("name", ["order.txt", "order.csv"])
def test_fifty_thousand_rows_are_refused_at_once(name: str) -> None:
    import time

    data = b"2;Fennec Breeze 140 fan;12,50\n" * 50_000
    began_s = time.perf_counter()
    with pytest.raises(Trouble, match="50,001 rows"):
        import_source(data, name, Wanted())
    assert time.perf_counter() - began_s < 1


PIECES = ["a-", "total ", "x ", "1x", "2x16GB ", "DDR5 ", "case ", "cpu ", "1,0 ", "+1 ", "DE89", "Aa "]
PIECES += ["_", ".. ", "incl ", "with ", "no. ", "a:", "a  ", "12 Aa Bb ", "ab@", "ab@c.", "tel 1 ", "- "]
PIECES += [
    "order ",
    "order no. a1 ",
    "your order a1 ",
    "24 Nov 2026 ",
    "01 23 ",
    "(012) ",
    "1 rue a ",
    "we will ",
    "· ",
]
PIECES += [
    "(#a1) ",
    "(a: 1) ",
    "kd.-nr 1 ",
    ", two",
    "two of ",
    "free  ",
    "included  ",
    "none, ",
    "a  yes ",
    "each 1.00 ",
]
PIECES += [
    "dear Ada ",
    "Ada, ",
    "Total [price] ",
    "total: inc ",
    "votre ",
    "ref: ",
    "#",
    "your Aa team ",
    "memory profile ",
]
PIECES += ["qty:1 ", "€1 ", "Street 1 ", "\t1", "> ", "je "]


@pytest.mark.parametrize("name", ["order.txt", "order.csv"])
@pytest.mark.parametrize("piece", PIECES)
def test_no_row_of_the_longest_kind_takes_long(piece: str, name: str) -> None:
    import time

    row = (piece * 2000)[:1990] + "!"
    head = "Item;Qty" if name.endswith("csv") else "Fan 140"
    began_s = time.perf_counter()
    import_source(f"{head}\n{row}\n{row}1\n".encode(), name, Wanted())
    assert time.perf_counter() - began_s < 2


@pytest.mark.parametrize("name", ["order.txt", "order.csv"])
def test_a_row_that_is_longer_is_told_and_not_looked_at(name: str) -> None:
    data = (
        b"Item;Qty\n" + b"fan ada@post.example " * 500 + b"\n"
        if name.endswith("csv")
        else b"fan a@b.example " * 500
    )
    intake = import_source(data, name, Wanted()).intake
    assert [note.code for note in intake.rows[-1].notes] == ["intake.row-too-long"]
    assert intake.rows[-1].words == ""
