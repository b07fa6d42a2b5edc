"""Whole confirmations of invented shops, each in its own style: every row is told, and told rightly.

The `.told` file beside each sample is what an import makes of it, read by a person before it was kept.
`python -m tests.orders.test_intake_confirmations` writes them anew; read the diff.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shipworthy.model.base import encode
from shipworthy.model.intake import Became, Intake
from shipworthy.orders.intake.head import Wanted
from shipworthy.orders.intake.importing import import_source
from shipworthy.orders.intake.mapping import read_mapping

SAMPLES = Path(__file__).parent / "confirmations"
NAMES = sorted(path.name for path in SAMPLES.iterdir() if path.suffix in (".txt", ".csv", ".json"))
PASTED = [name for name in NAMES if name.endswith(".txt")]

# Persons, numbers and money of the samples: none of it comes through.
PRIVATE = {
    "brack-lane.txt": ("Imogen", "Saltpan", "960118", "329", "1711"),
    "eiderdown.txt": ("Rowan", "Tamsin", "960555", "2,940"),
    "lindwurm.txt": (
        "Quast",
        "Anselm",
        "Moorweg",
        "Torfhausen",
        "Thiel",
        "50221",
        "DE89",
        "965,70",
        "Ottilie",
    ),
    "marrow-pike.txt": ("Imogen", "Vale", "Copse", "960441", "4417", "07734411", "1421", "Tannery", "960400"),
    "quillfish.txt": ("Piers", "Holt", "3,412"),
    "saltmarsh.txt": ("Hart", "960777", "960700", "Harbour Parade", "1656"),
    "sarcelle.txt": ("Aubry", "Hélène", "8812", "Salines", "Portbrume", "12 34", "814,90"),
    "thornback.txt": ("7781", "Ropewalk", "1204"),
    "copestone.json": ("Harbour Atlas", "desk@", "489", "1799"),
    "nebel.csv": ("149,00",),
}


def intake_of(name: str) -> Intake:
    path = SAMPLES / name
    mapping = path.with_suffix(".toml")
    known = read_mapping(mapping) if mapping.exists() else None
    return import_source(path.read_bytes(), name, Wanted(), known).intake


def told(intake: Intake) -> str:
    """Return an import as one line a row: its place, what it became, and of an order line what it sells."""
    said = [f"{value.name}: {value.value} ({value.said_by})" for value in intake.head]
    lines = {line.line_id: line for line in intake.order.lines} if intake.order else {}
    for row in intake.rows:
        what = [row.place, row.became.value]
        line = lines.get(row.line_id)
        if line is not None and row.became is not Became.JOINED:
            numbers = [number for number in (line.maker, line.part_number, line.gtin) if number]
            what += [f"{line.line_id}: {line.quantity} x {line.text}", line.category.value, *numbers]
        else:
            what += [f"line {row.line_id}"] if row.line_id else []
            what += [row.words] if row.words else []
        what += [f"left out: {', '.join(row.left_out)}"] if row.left_out else []
        said.append(" | ".join([*what, *(f"? {note.code}" for note in row.notes)]))
    return "\n".join(said) + "\n"


@pytest.mark.parametrize("name", NAMES)
def test_a_confirmation_becomes_what_a_person_read_in_it(name: str) -> None:
    assert told(intake_of(name)) == (SAMPLES / f"{name}.told").read_text("utf-8")


@pytest.mark.parametrize("name", PASTED)
def test_every_row_of_a_confirmation_is_accounted_for(name: str) -> None:
    rows = (SAMPLES / name).read_text("utf-8").split("\n")
    intake = intake_of(name)
    assert [row.place for row in intake.rows] == [str(n) for n, row in enumerate(rows, 1) if row.strip()]
    assert intake.blank == sum(not row.strip() for row in rows)


@pytest.mark.parametrize("name", PASTED)
def test_every_word_of_an_order_line_stands_in_the_order_or_told_how_many(name: str) -> None:
    """What a row of a part says is in its line: in the text, or as its label, its count or its numbers."""
    intake = intake_of(name)
    assert intake.order is not None
    lines = {line.line_id: line for line in intake.order.lines}
    for row in intake.rows:
        if row.line_id not in lines:
            continue
        line = lines[row.line_id]
        held = f"{line.text} {line.maker} {line.part_number} {line.gtin}".casefold()
        words = re.sub(r"\[[a-z' -]+\]|\(#\w+\)", " ", row.words)
        label, colon, value = words.partition(":")
        for word in re.findall(r"[^\W_]{3,}", value if colon and label.casefold() not in held else words):
            assert word.casefold() in held or COUNTS.fullmatch(word), (row.place, word)


COUNTS = re.compile(r"one|two|pair|four|kit|these|Stk|Qty|EAN|\d{5}", re.IGNORECASE)


@pytest.mark.parametrize("name", NAMES)
def test_no_person_and_no_money_comes_through(name: str) -> None:
    source = (SAMPLES / name).read_text("utf-8")
    said = encode(intake_of(name)).decode()
    for private in PRIVATE[name]:
        assert private in source and private not in said


def test_questions_are_few() -> None:
    """A row that a person has to look at is one that asks for something, or that can be read in two ways."""
    asked = {name: [row.place for row in intake_of(name).open_rows] for name in NAMES}
    assert {name: rows for name, rows in asked.items() if rows} == {
        "eiderdown.txt": ["17", "18"],  # the memory's speed; no Windows
        "marrow-pike.txt": ["44"],  # leave the film on
        "thornback.txt": ["17"],  # two cables below a drive
    }


if __name__ == "__main__":
    for sample in NAMES:
        (SAMPLES / f"{sample}.told").write_text(told(intake_of(sample)), "utf-8")
