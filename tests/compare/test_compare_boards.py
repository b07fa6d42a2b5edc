"""Boards: the one that was sold, of its revision, with firmware as new as asked for."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.findings import Comparison
from shipworthy.model.orders import Expectation
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from tests.compare import machines as m


def board(
    model: str | Absent, maker: str | Absent = "ASUSTeK COMPUTER INC.", **said: Scalar | Absent
) -> Part:
    return m.part(PartKind.BOARD, "board", model=model, maker=maker, **said)


def said_of(text: str, *parts: Part, **more: object) -> Comparison:
    found = compare(m.order(m.line(Category.BOARD, text, **more)), m.machine(*parts), (), ())
    assert all("{" not in finding_sentence(f).say for f in found.findings)
    return found


@pytest.mark.parametrize(
    ("text", "model", "outcome"),
    [
        ("ASUS PRIME Z790-A WIFI D4 LGA1700 DDR4 ATX", "PRIME Z790-A WIFI D4", Outcome.CONFORMS),
        ("ASUS PRIME Z790-A WIFI D4 LGA1700 DDR4 ATX", "PRIME Z790-A WIFI", Outcome.DIFFERS),
        ("ASUS PRIME Z790-A WIFI LGA1700 DDR5 ATX", "PRIME Z790-A WIFI D4", Outcome.DIFFERS),
        ("ASUS ROG STRIX B550-F GAMING AM4", "ROG STRIX B550-E GAMING", Outcome.DIFFERS),
        ("ASUS B650 PRO", "B650E PRO", Outcome.DIFFERS),
        ("ASUS B650E PRO", "Default string", Outcome.CANNOT_TELL),
    ],
)
def test_a_sibling_is_another_board(text: str, model: str, outcome: Outcome) -> None:
    assert m.finding(said_of(text, board(model)), Aspect.MODEL).outcome is outcome


def test_a_board_without_a_name_or_a_maker_is_open_and_one_of_another_maker_is_not() -> None:
    text = "ASRock B450M Gaming"
    assert m.finding(said_of(text, board(Absent.NOT_OFFERED)), Aspect.MODEL).outcome is Outcome.CANNOT_TELL
    for maker, outcome in (
        (Absent.NOT_OFFERED, Outcome.CONFORMS),
        ("ASRock", Outcome.CONFORMS),
        ("Holloway Boards", Outcome.CONFORMS),  # one that we do not know is no difference
        ("Gigabyte Technology Co., Ltd.", Outcome.DIFFERS),
    ):
        found = said_of(text, board("B450M Gaming", maker), maker="ASRock")
        assert m.finding(found, Aspect.MODEL).outcome is outcome, maker


def test_a_part_number_does_not_carry_a_board_for_other_memory() -> None:
    sold = {"maker": "MSI", "part_number": "PRO B760M-P DDR4"}
    fitted = board("PRO B760M-P DDR4 (MS-7E02)", "Micro-Star International Co., Ltd.")
    assert (
        m.finding(said_of("MSI PRO B760M-P DDR4", fitted, **sold), Aspect.MODEL).outcome is Outcome.CONFORMS
    )
    assert m.finding(said_of("MSI PRO B760M-P DDR5", fitted, **sold), Aspect.MODEL).outcome is Outcome.DIFFERS


def test_one_of_several_part_numbers_is_enough() -> None:
    wish = Expectation(aspect=Aspect.PART_NUMBER, want="90MB1-X", or_else=("PRIME Q1-A",))
    found = said_of("ASUS board of the Q1 kind", board("PRIME Q1-A"), expectations=(wish,))
    assert m.finding(found, Aspect.PART_NUMBER).outcome is Outcome.CONFORMS
    assert m.finding(found, Aspect.MODEL).outcome is Outcome.CONFORMS
    other = said_of("ASUS board of the Q1 kind", board("PRIME Q1-B"), expectations=(wish,))
    assert m.finding(other, Aspect.PART_NUMBER).outcome is Outcome.CANNOT_TELL


@pytest.mark.parametrize(
    ("model", "version", "outcome"),
    [
        ("Meadow B650", "2.0", Outcome.CONFORMS),
        ("Meadow B650", "Rev 2", Outcome.CONFORMS),
        ("Meadow B650", "1.0", Outcome.DIFFERS),
        ("Meadow B650", "Rev 1.xx", Outcome.CANNOT_TELL),
        ("Meadow B650", "x.x", Outcome.CANNOT_TELL),
        ("Meadow B650 REV 2.0", "Rev 1.xx", Outcome.CONFORMS),  # the name says it
        ("Meadow B650 REV 1.0", "Rev 1.xx", Outcome.DIFFERS),
    ],
)
def test_the_revision_is_in_the_table_or_in_the_name(model: str, version: str, outcome: Outcome) -> None:
    found = said_of("Meadow B650 (rev. 2.0)", board(model, "Norvik", version=version))
    assert m.finding(found, Aspect.VERSION).outcome is outcome


@pytest.mark.parametrize(
    ("version", "code"),
    [
        ("F14", "board.firmware.conforms"),
        ("F16", "board.firmware.conforms"),
        ("F9", "board.firmware.differs"),
        ("3.20", "board.firmware.other-shape"),
        (Absent.NOT_READABLE, "board.firmware.cannot-tell"),
    ],
)
def test_firmware_is_as_new_as_asked_for(version: str | Absent, code: str) -> None:
    firmware = m.part(PartKind.FIRMWARE, "firmware", version=version)
    found = said_of("Norvik Meadow B650, firmware F14 or later", board("Meadow B650", "Norvik"), firmware)
    assert m.codes(found, Aspect.FIRMWARE) == [code]
    assert m.finding(found, Aspect.MODEL).outcome is Outcome.CONFORMS
    assert (
        m.codes(said_of("Norvik Meadow B650", board("Meadow B650", "Norvik"), firmware), Aspect.FIRMWARE)
        == []
    )


def test_a_mark_that_only_the_label_has_is_for_a_person() -> None:
    text = "ASUS PRIME H470M-PLUS/CSM LGA1200 DDR4 Micro ATX"
    found = said_of(text, board("PRIME H470M-PLUS"))
    assert m.finding(found, Aspect.MODEL).outcome is Outcome.CONFORMS
    assert m.finding(found, Aspect.VARIANT).outcome is Outcome.NOT_CHECKED
    shown = said_of(text, board("PRIME H470M-PLUS/CSM"))
    assert {m.finding(shown, aspect).outcome for aspect in (Aspect.MODEL, Aspect.VARIANT)} == {
        Outcome.CONFORMS
    }
    assert m.finding(said_of(text, board("PRIME H470M-A")), Aspect.MODEL).outcome is Outcome.DIFFERS
