"""The inspection in a terminal: what a person types, and what it is taken for."""

from __future__ import annotations

import io

import msgspec
import pytest

from shipworthy.cli.ask import ask_person
from shipworthy.model.base import values
from shipworthy.model.inspection import Item, Items, Observation
from shipworthy.model.words import Aspect, Category, Danger, Outcome

ITEM = Item(
    item_id="unit.condition",
    because="policy",
    line="",
    category=Category.UNIT,
    aspect=Aspect.CONDITION,
    ask="ask.condition.unit",
)


def asked(monkeypatch: pytest.MonkeyPatch, *typed: str) -> Observation:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in ("Ines Vaal", *typed))))
    [seen] = ask_person(Items(items=(ITEM,)))
    return seen


@pytest.mark.parametrize(
    ("typed", "danger"), [("l", Danger.LEAK), ("Leak", Danger.LEAK), ("m", Danger.MAINS_DAMAGE), ("", None)]
)
def test_a_danger_is_what_was_typed_for_one(
    monkeypatch: pytest.MonkeyPatch, typed: str, danger: Danger | None
) -> None:
    seen = asked(monkeypatch, "n", typed, "the glass panel")
    assert (seen.outcome, seen.danger, seen.note) == (Outcome.DIFFERS, danger, "the glass panel")


def test_what_is_wrong_is_no_leak_because_it_begins_like_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seen = asked(monkeypatch, "n", "loose panel", "", "loose panel")
    assert (seen.danger, seen.note) == (None, "loose panel")
    assert "l, m, or Enter alone" in capsys.readouterr().err


def test_what_a_reading_left_open_is_said_below_the_question(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    item = msgspec.structs.replace(
        ITEM, because="graphics.variant.not-checked", why=values(name="Sable 210 Squall", want="Squall")
    )
    monkeypatch.setattr("sys.stdin", io.StringIO("Ines Vaal\ny\n\n"))
    assert list(ask_person(Items(items=(item,))))
    assert "(Sable 210 Squall: that the card is the Squall is told by its label" in capsys.readouterr().err
    asked(monkeypatch, "y", "")
    assert "(" not in capsys.readouterr().err.partition("unit.condition]")[2].partition("y/n")[0]


def test_what_cannot_be_told_is_asked_why_and_not_what_is_wrong(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seen = asked(monkeypatch, "c", "the label is under the cooler")
    assert (seen.outcome, seen.note) == (Outcome.CANNOT_TELL, "the label is under the cooler")
    said = capsys.readouterr().err
    assert "Why can it not be told?" in said and "What is wrong?" not in said
