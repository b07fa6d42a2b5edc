"""`order check`: what it prints, in which order, how it ends, and what programs get."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from shipworthy.cli.show_fit import _of
from shipworthy.model.base import encode
from shipworthy.model.catalogue import (
    BoardFacts,
    CaseFacts,
    CataloguePart,
    FanFacts,
    GraphicsFacts,
    ProcessorFacts,
    SupplyFacts,
)
from shipworthy.model.words import Category
from tests.cli.calling import Call, caller

LINES = {
    Category.PROCESSOR: "Tarn C7 processor",
    Category.BOARD: "Holloway B6-Q board",
    Category.MEMORY: "Fennec Quiet 32GB (2x16GB) DDR5-6000",
    Category.STORAGE: "Quarrel M2 1TB NVMe SSD",
    Category.GRAPHICS: "Sable 210 graphics card",
    Category.POWER_SUPPLY: "Calder Still 550 W power supply",
    Category.CASE: "Osprey Works Fold 2 case",
    Category.FAN: "Harrier 120 mm ARGB fan",
}
FITTING = {
    Category.PROCESSOR: ProcessorFacts(socket="AM5", family="Zen 4", limit_w=88),
    Category.BOARD: BoardFacts(
        socket="AM5", chipset="B650", form_factor="Mini-ITX", lighting_5v=1, lighting_12v=1
    ),
    Category.GRAPHICS: GraphicsFacts(length_mm=200, board_w=120, slots=2),
    Category.POWER_SUPPLY: SupplyFacts(watts=550, grade="Gold"),
    Category.CASE: CaseFacts(boards=("Mini-ITX",), graphics_length_mm=300, slots=3),
    Category.FAN: FanFacts(lighting="5 V", pack=1),
}


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Call:
    monkeypatch.setenv("SHIPWORTHY_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    order = 'order_id = "KD-9"\nshop = "Kestrel Desk"\nunits = ["KD-9-1"]\n'
    for category, text in LINES.items():
        order += f'[[lines]]\ncategory = "{category.value}"\ntext = "{text}"\n'
    (tmp_path / "order.toml").write_text(order, "utf-8")
    return caller(monkeypatch, capsys)


def a_list(folder: Path, **changes: object) -> Path:
    """Write a part list in which the order's parts fit, with other facts for some categories."""
    facts = {**FITTING, **{Category(name.replace("_", " ")): value for name, value in changes.items()}}
    parts = [
        CataloguePart(part_id=f"P-{n}", category=category, name=LINES[category], facts=of)  # type: ignore[arg-type]
        for n, (category, of) in enumerate(facts.items())
    ]
    path = folder / "parts.jsonl"
    path.write_bytes(b"".join(encode(part) + b"\n" for part in parts))
    return path


def test_without_a_list_the_texts_alone_are_checked_and_nothing_fails(call: Call) -> None:
    done = call("order", "check", "order.toml")
    assert done.code == 0, done.err
    assert "Cannot tell: " in done.out
    assert "Does not fit" not in done.out
    assert "line 7, Osprey Works Fold 2 case: " in done.out
    assert "NOT KNOWN, not in the sum" in done.out


def test_it_tells_what_must_be_settled_then_the_tray_the_lines_the_budget_and_last_what_nobody_told(
    call: Call, tmp_path: Path
) -> None:
    path = a_list(tmp_path, case=CaseFacts(boards=("Mini-ITX",), graphics_length_mm=190, slots=2))
    done = call("order", "check", "order.toml", "--catalogue", path)
    assert done.code == 1, done.err
    parts = ("Order KD-9", "\nDoes not fit: 1\n", "\nInto the tray: 1\n", "\nWhat each line asks for\n")
    parts = (*parts, "\nPower budget", "From the wall", "\nCannot tell: ", "\nFits: ")
    places = [done.out.index(part) for part in parts]
    assert places == sorted(places)
    (row,) = (row for row in done.out.splitlines() if "The graphics card is 200 mm long" in row)
    assert row.startswith("  lines 5 (") and ", 7 (Osprey Works Fold 2 case): " in row
    assert row.endswith("the case has room for 190 mm.")
    tray = done.out[done.out.index("\nInto the tray") : done.out.index("\nWhat each line")]
    assert "The mains cord" in tray and "->" not in tray


def test_missing_facts_are_few_by_line_and_each_with_all(call: Call) -> None:
    def row(*more: str) -> str:
        rows = call("order", "check", "order.toml", *more).out.splitlines()
        (found,) = (row for row in rows if row.startswith("  line 7, Osprey Works Fold 2 case: "))
        return found

    assert re.search(r", and \d+ more$", row())
    short, whole = row().split(": ")[1].split(", ")[:-1], row("--all").split(": ")[1].split(", ")
    assert set(short) < set(whole) and not re.search(r"\d+ more", row("--all"))
    assert len(whole) == len(short) + int(row().split()[-2])


def test_a_finding_about_many_lines_has_their_numbers_and_about_few_their_names() -> None:
    names = {"1": "Tarn C7", "2": "Holloway H6-Q WIFI board with a long name", "3": "Fennec", "10": "Osier"}
    assert _of(("10", "1"), names) == "lines 1 (Tarn C7), 10 (Osier): "
    assert _of(("2",), names) == "line 2 (Holloway H6-Q WIFI board…): "
    assert _of(tuple(names), names) == "lines 1, 2, 3, 10: "
    assert _of((), names) == ""


def test_with_a_list_in_which_all_fits_it_ends_with_0(call: Call, tmp_path: Path) -> None:
    done = call("order", "check", "order.toml", "--catalogue", a_list(tmp_path), "--all")
    assert done.code == 0, done.out
    assert "enough for the case (its length: 200 mm; its room for the card's length: 300 mm)" in done.out
    assert "Nothing to ask of: " in done.out
    assert "; the case has a place for the radiator; " in done.out


def test_a_warning_is_told_and_ends_with_0(call: Call, tmp_path: Path) -> None:
    late = ProcessorFacts(socket="AM5", family="Zen 5", limit_w=88)
    done = call("order", "check", "order.toml", "--catalogue", a_list(tmp_path, processor=late))
    assert done.code == 0
    assert "Warnings: 1" in done.out
    assert "know the family Zen 5 only from some firmware on" in done.out


def test_what_destroys_a_part_is_a_caution(call: Call, tmp_path: Path) -> None:
    board = BoardFacts(socket="AM5", form_factor="Mini-ITX", lighting_5v=0, lighting_12v=2)
    done = call("order", "check", "order.toml", "--catalogue", a_list(tmp_path, board=board))
    assert done.code == 1
    assert "CAUTION: do not plug it in." in done.out


def test_a_list_that_contradicts_the_text_is_a_question(call: Call, tmp_path: Path) -> None:
    path = a_list(tmp_path, power_supply=SupplyFacts(watts=650))
    done = call("order", "check", "order.toml", "--catalogue", path)
    assert "its rating: 550 W by the text, 650 W by the part list. Which is right?" in done.out


def test_programs_get_each_fact_with_its_source(call: Call, tmp_path: Path) -> None:
    done = call("order", "check", "order.toml", "--catalogue", a_list(tmp_path), "--json")
    told = json.loads(done.out)
    assert done.code == 0
    assert set(told) == {"order", "questions", "fit", "list_name", "credits"}
    assert told["list_name"] == "parts.jsonl"
    (length,) = [f for f in told["fit"]["findings"] if f["rule"] == "graphics.length"]
    assert length["outcome"] == "conforms"
    assert {fact["source"] for fact in length["facts"]} == {"catalogue: P-2", "catalogue: P-4"}


@pytest.mark.parametrize("file", ["nowhere.toml", "order.txt"])
def test_what_cannot_be_read_ends_with_2(call: Call, file: str) -> None:
    assert call("order", "check", file).complaint()


def test_a_list_that_is_not_there_ends_with_2(call: Call) -> None:
    assert "nowhere.jsonl" in call("order", "check", "order.toml", "--catalogue", "nowhere.jsonl").complaint()
