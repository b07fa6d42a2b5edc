"""Where a bare yes does not count, the terminal asks for the note until there is one."""

from __future__ import annotations

import io

import msgspec
import pytest

from shipworthy.cli.ask import ask_person
from shipworthy.model.inspection import Item, Items, Observation
from shipworthy.model.words import Aspect, Category, Outcome

ITEM = Item(
    item_id="10.presence.fan-1",
    because="order",
    line="10",
    category=Category.FAN,
    aspect=Aspect.PRESENCE,
    ask="inspect.fan-place",
    note_wanted=True,
)


def asked(monkeypatch: pytest.MonkeyPatch, item: Item, *typed: str) -> Observation:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in ("Ines Vaal", *typed))))
    [seen] = ask_person(Items(items=(item,)))
    return seen


def test_an_empty_note_is_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seen = asked(monkeypatch, ITEM, "y", "", "", "front 1")
    assert (seen.outcome, seen.note) == (Outcome.CONFORMS, "front 1")
    told = capsys.readouterr().err
    assert "needed" in told and "Enter for none" not in told


def test_of_other_items_a_bare_yes_is_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = asked(monkeypatch, msgspec.structs.replace(ITEM, note_wanted=False), "y", "")
    assert (seen.outcome, seen.note) == (Outcome.CONFORMS, "")


@pytest.mark.parametrize("wanted", [True, False])
def test_a_picture_is_asked_for_where_one_is_wanted(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], wanted: bool
) -> None:
    asked(monkeypatch, msgspec.structs.replace(ITEM, media_wanted=wanted), "y", "front 1")
    assert ("picture" in capsys.readouterr().err) is wanted
