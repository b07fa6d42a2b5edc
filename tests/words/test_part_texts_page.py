"""The page on part texts says what the grammar does: each text of its tables is read as it stands there."""

from __future__ import annotations

from pathlib import Path

from shipworthy.messages import known_codes, quantity_text
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.expect import line_questions, line_with_expectations

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reference" / "part-texts.md").read_text("utf-8")


def rows(heading: str) -> list[list[str]]:
    """Return the rows of the table below a head row, the backticks of the cells taken off."""
    table = PAGE.partition(heading + "\n")[2].partition("\n\n")[0]
    return [
        [cell.strip().strip("`") for cell in row.strip("|").split(" | ")] for row in table.splitlines()[1:]
    ]


def test_every_text_gives_the_expectation_beside_it() -> None:
    told = rows("| category | text | aspect | value |")
    assert len(told) > 25
    for category, text, aspect, value in told:
        line = line_with_expectations(OrderLine(line_id="1", category=Category(category), text=text))
        found = {wish.aspect.value: wish for wish in line.expectations}
        binary = line.category in (Category.MEMORY, Category.GRAPHICS)
        wish = found.get(aspect)
        assert wish is not None and quantity_text(wish.want, wish.unit, binary=binary) == value.rstrip(
            " |"
        ), text


def test_every_text_gives_the_question_beside_it_and_every_question_has_a_text() -> None:
    told = rows("| category | text | code |")
    for category, text, code in told:
        line = OrderLine(line_id="1", category=Category(category), text=text)
        assert code.rstrip("` |") in {question.code for question in line_questions(line)}, text
    asked = {code.rstrip("` |") for _, _, code in told}
    assert asked == {code for code in known_codes() if code.startswith("question.")}


def test_the_table_of_categories_speaks_of_those_with_examples_and_of_no_others() -> None:
    told = {row[0] for row in rows("| category | from its text | left to what else is known |")}
    shown = {row[0] for row in rows("| category | text | aspect | value |")}
    assert told - shown == {"display"}  # its model is what is left of the text
    assert shown <= told
