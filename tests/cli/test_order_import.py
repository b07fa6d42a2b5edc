"""The verb `order import`: what it shows, writes, refuses, and how it ends."""

from __future__ import annotations

import html
import io
import json
import sys
from pathlib import Path

import pytest

from shipworthy.model.base import decode
from shipworthy.model.intake import Intake
from shipworthy.orders.files import read_order
from tests.cli.calling import Call, caller
from tests.orders.workbooks import xlsx

CLEAN = """Kestrel Desk - Order confirmation
Order no.: KD-0412
Customer no.: C-77

2x Fennec Breeze 120 mm PWM fan        29,80 €
Cooler: Halberd Loop 360   189,00
Fennec Quiet 32GB (2x16GB) DDR5-6000   129,00
   Colour: "white" \\ matt
Total: € 347,80
"""
ASKED = CLEAN + "Halberd Thing   9,00 €\nPlease paint the lid red.\n"


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Call:
    monkeypatch.chdir(tmp_path)
    return caller(monkeypatch, capsys)


def test_an_order_is_shown_row_by_row_and_written(call: Call) -> None:
    Path("c.txt").write_text(CLEAN, "utf-8")
    done = call("order", "import", "c.txt", "-o", "order.toml")
    assert (done.code, done.err) == (0, "")
    for said in (
        "c.txt: pasted text, UTF-8\n",
        "    5  1. 2 x Fennec Breeze 120 mm PWM fan\n          fan; left out: price\n",
        "    3  left out: customer\n",
        "    8  joined to line 3:",
        "8 rows and 2 empty: 3 order lines;",
    ):
        assert said in done.out
    for private in ("29,80", "347", "C-77"):
        assert private not in done.out
    order = read_order(Path("order.toml"))
    assert (order.order_id, order.shop, order.customer_reference) == ("KD-0412", "Kestrel Desk", "")
    assert order.lines[2].text == 'Fennec Quiet 32GB (2x16GB) DDR5-6000, Colour: "white" \\ matt'


def test_round_trip_by_toml_and_json_and_back_through_the_import(call: Call) -> None:
    Path("c.txt").write_text(CLEAN, "utf-8")
    call(
        "order", "import", "c.txt", "-o", "a.toml", "--with-customer", "--due", "2026-03-13", "--unit", "U-1"
    )
    call(
        "order", "import", "c.txt", "-o", "a.json", "--with-customer", "--due", "2026-03-13", "--unit", "U-1"
    )
    order = read_order(Path("a.toml"))
    assert order == read_order(Path("a.json"))
    assert (order.customer_reference, order.units, str(order.due)) == ("C-77", ("U-1",), "2026-03-13")
    done = call("order", "import", "a.json", "-o", "b.toml", "--with-customer")
    assert done.code == 0 and read_order(Path("b.toml")) == order
    without = call("order", "import", "a.json", "-o", "c.toml")
    assert "left out: customer" in without.out and "C-77" not in without.out
    assert call("order", "check", "b.toml").code == 0


def test_every_line_of_an_import_stands_on_the_build_sheet(call: Call) -> None:
    Path("c.txt").write_text(CLEAN, "utf-8")
    assert call("order", "import", "c.txt", "-o", "order.json").code == 0
    assert call("order", "sheet", "order.json", "-o", "sheet.html").code == 0
    page = html.unescape(Path("sheet.html").read_text("utf-8"))
    lines = read_order(Path("order.json")).lines
    assert len(lines) == 3
    for line in lines:
        assert line.text in page


def test_with_questions_nothing_is_written_unless_that_is_asked_for(call: Call) -> None:
    Path("c.txt").write_text(ASKED, "utf-8")
    done = call("order", "import", "c.txt", "-o", "order.toml")
    assert done.code == 2
    assert "2 rows are not understood, so the order was not written" in done.err
    assert "What is it?" in done.out and not Path("order.toml").exists()
    done = call("order", "import", "c.txt", "-o", "order.toml", "--with-questions")
    assert done.code == 1
    text = Path("order.toml").read_text("utf-8")
    assert (
        "# Question: What is it? Nothing tells its category; it is taken as an accessory.\n[[lines]]" in text
    )
    assert (
        "# Not imported, 11: Please paint the lid red. (It reads like a sentence, not like a part.)" in text
    )
    assert len(read_order(Path("order.toml")).lines) == 4


def test_advice_is_given_once_for_all_rows_of_one_kind(call: Call) -> None:
    Path("c.txt").write_text("Halberd Thing   9,00 €\nHalberd Stuff   9,00 €\n", "utf-8")
    done = call("order", "import", "c.txt")
    assert (done.out.count("? What is it?"), done.out.count("-> ")) == (2, 1)


def test_json_is_the_whole_import(call: Call) -> None:
    Path("c.txt").write_text(ASKED, "utf-8")
    done = call("order", "import", "c.txt", "--json")
    intake = decode(json.dumps(json.loads(done.out)).encode(), Intake, "stdout")
    assert done.code == 1 and len(intake.open_rows) == 2
    assert intake.order is not None and len(intake.order.lines) == 4


def test_pasted_text_comes_on_standard_input_too(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(CLEAN.encode())))
    done = call("order", "import", "-", "-o", "order.json")
    assert done.code == 0 and read_order(Path("order.json")).order_id == "KD-0412"


def test_a_table_on_standard_input_is_read_by_its_mapping(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("m.toml").write_text('[table]\ntext = "Thing"\nquantity = "N"\n', "utf-8")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"Thing;N\nBrise fan;3\n")))
    assert call("order", "import", "-", "--mapping", "m.toml", "-o", "o.json").code == 0
    assert read_order(Path("o.json")).lines[0].quantity == 3


def test_a_guessed_mapping_is_kept_and_used(call: Call) -> None:
    rows = [["Artikel", "Menge", "Preis", "Wunsch"], ["Lüfter Brise", 2, 9.0, "rot"]]
    Path("t.xlsx").write_bytes(xlsx(rows))
    done = call("order", "import", "t.xlsx", "--write-mapping", "m.toml")
    assert done.code == 1 and 'The column "Wunsch" holds something (1 in all)' in done.out
    assert "Columns guessed by their headings: Artikel = text; Menge = quantity; Preis = price." in done.out
    text = Path("m.toml").read_text("utf-8")
    assert text == '[table]\ntext = "Artikel"\nquantity = "Menge"\nleft_out = ["Preis"]\n'
    Path("m.toml").write_text(text.replace('"Artikel"', '["Artikel", "Wunsch"]'), "utf-8")
    done = call("order", "import", "t.xlsx", "--mapping", "m.toml", "-o", "o.toml")
    assert done.code == 0 and read_order(Path("o.toml")).lines[0].text == "Lüfter Brise, rot"


def test_a_file_that_is_there_is_not_overwritten(call: Call) -> None:
    Path("c.txt").write_text(CLEAN, "utf-8")
    Path("order.toml").write_text("mine", "utf-8")
    done = call("order", "import", "c.txt", "-o", "order.toml")
    assert done.code == 2 and "is there already" in done.err
    assert Path("order.toml").read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("gone.txt",), "cannot be read"),
        (("c.txt", "-o", "order.doc"), "Name it `.toml` or `.json`."),
        (("c.txt", "--order-id", "a b"), "no id that an order can have (--order-id)"),
        (("c.txt", "--unit", "A", "--unit", "a"), "differ by case only"),
        (("c.txt", "--due", "03/04/2026"), "no date that can be read in one way only (--due)"),
        (("c.txt", "--mapping", "gone.toml"), "cannot be read"),
        (("c.txt", "--write-mapping", "m.toml"), "no columns were guessed"),
        (("talk.txt", "-o", "order.toml"), "no row became an order line"),
        (("shop.json",), "only a mapping can describe"),
        (("empty.txt",), "nothing in the file"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(call: Call, words: tuple[str, ...], said: str) -> None:
    Path("c.txt").write_text(CLEAN, "utf-8")
    Path("talk.txt").write_text("Thank you.", "utf-8")
    Path("shop.json").write_text('{"a": 1}', "utf-8")
    Path("empty.txt").write_text("", "utf-8")
    assert said in call("order", "import", *words).complaint()


def test_a_source_with_nothing_to_order_ends_with_1(call: Call) -> None:
    Path("talk.txt").write_text("Thank you.", "utf-8")
    assert call("order", "import", "talk.txt").code == 1


def test_what_a_source_says_commands_no_terminal(call: Call) -> None:
    Path("c.txt").write_bytes(b"2x fan \x1b[31mred\x1b[0m \xe2\x80\xae evil\n\x1b[2J\n")
    done = call("order", "import", "c.txt")
    assert "\x1b" not in done.out and "\u202e" not in done.out
