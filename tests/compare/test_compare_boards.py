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
        ("Meadow B650", "2.1", Outcome.DIFFERS),
        ("Meadow B650", "Rev 1.xx", Outcome.NOT_CHECKED),  # firmware has no other: the print on the board has
        ("Meadow B650", "x.x", Outcome.NOT_CHECKED),
        ("Meadow B650", Absent.NOT_OFFERED, Outcome.NOT_CHECKED),
        ("Meadow B650", Absent.NOT_READABLE, Outcome.CANNOT_TELL),  # another reading may tell it
        ("Meadow B650", Absent.NOT_ASKED, Outcome.CANNOT_TELL),
        ("Meadow B650 REV 2.0", "Rev 1.xx", Outcome.CONFORMS),  # the name says it
        ("Meadow B650 REV 1.0", "Rev 1.xx", Outcome.DIFFERS),
    ],
)
def test_the_revision_is_in_the_table_or_in_the_name(
    model: str, version: str | Absent, outcome: Outcome
) -> None:
    found = said_of("Meadow B650 (rev. 2.0)", board(model, "Norvik", version=version))
    assert m.finding(found, Aspect.VERSION).outcome is outcome


@pytest.mark.parametrize(
    ("version", "outcome"),
    [
        ("1.0", Outcome.CONFORMS),
        ("Rev 1.2", Outcome.CONFORMS),
        ("1", Outcome.CONFORMS),
        ("2.0", Outcome.DIFFERS),
        ("11.0", Outcome.DIFFERS),
        ("x.x", Outcome.NOT_CHECKED),
    ],
)
def test_an_order_may_leave_the_last_place_of_a_revision_open(version: str, outcome: Outcome) -> None:
    found = said_of("Meadow B650 (rev. 1.x)", board("Meadow B650", "Norvik", version=version))
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


def adapter(place: str, technology: str | Absent, **said: Scalar | Absent) -> Part:
    return m.part(PartKind.NETWORK, place, technology=technology, **said)


WIFI = "pci:0000:09:00.0"
LISTED = {"type": "Wireless LAN", "label": "Onboard WLAN", "enabled": True, "device_place": WIFI}


def onboard(**said: Scalar | Absent) -> Part:
    return m.part(PartKind.ONBOARD_DEVICE, "smbios:Onboard WLAN", **{**LISTED, **said})


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ((), "wireless-by-label"),
        # an adapter that is there may be a card, or sit in the socket of the board that is sold without one
        ((adapter("pci:0000:08:00.0", "Ethernet"), adapter(WIFI, "Wi-Fi")), "wireless-by-label"),
        ((adapter(WIFI, Absent.NOT_READABLE),), "wireless-by-label"),  # no driver has taken it
        ((adapter(WIFI, "Wi-Fi"), onboard(device_place="pci:0000:0b:00.0")), "wireless-by-label"),
        ((adapter(WIFI, "Wi-Fi"), onboard(enabled=False)), "wireless-by-label"),
        ((adapter(WIFI, "Wi-Fi"), onboard(type="Ethernet", label="Onboard")), "wireless-by-label"),
        # the place for an adapter is on the board that is sold without one too
        ((adapter(WIFI, "Wi-Fi"), onboard(type="Other", label="M.2 Wi-Fi slot")), "wireless-by-label"),
        ((adapter(WIFI, "Wi-Fi"), onboard()), "with-wireless"),
        ((adapter(WIFI, "Wi-Fi"), onboard(type="Other", label="Onboard - Wi-Fi")), "with-wireless"),
        ((adapter("pci:0000:08:00.0", "Ethernet"),), "no-wireless"),
        ((adapter("pci:0000:08:00.0", "Ethernet"), onboard()), "no-wireless"),
    ],
)
def test_wireless_that_the_name_leaves_out_is_shown_by_the_firmwares_list_alone(
    parts: tuple[Part, ...], code: str
) -> None:
    outcomes = {"with-wireless": Outcome.CONFORMS, "no-wireless": Outcome.CANNOT_TELL}
    found = said_of("ASUS ROG MAXIMUS Q69 MEADOW WIFI", board("ROG MAXIMUS Q69 MEADOW"), *parts)
    model = m.finding(found, Aspect.MODEL)
    assert model.code == f"board.model.{code}"
    assert model.outcome is outcomes.get(code, Outcome.NOT_CHECKED)


def test_wireless_of_the_board_makes_no_other_board_the_one_sold() -> None:
    own = (adapter(WIFI, "Wi-Fi"), onboard())
    for model in ("ROG MAXIMUS Q69 HEATH", "ROG MAXIMUS Q79 MEADOW", "PRIME Q69-A"):
        found = said_of("ASUS ROG MAXIMUS Q69 MEADOW WIFI", board(model), *own)
        assert m.finding(found, Aspect.MODEL).outcome is Outcome.DIFFERS, model
    other = board("ROG MAXIMUS Q69 MEADOW", "Gigabyte Technology Co., Ltd.")
    found = said_of("ASUS ROG MAXIMUS Q69 MEADOW WIFI", other, *own)
    assert m.finding(found, Aspect.MODEL).outcome is not Outcome.CONFORMS


@pytest.mark.parametrize(
    ("model", "technology", "outcome"),
    [
        ("ROG MAXIMUS Q69 MEADOW", "Ethernet", Outcome.CANNOT_TELL),
        ("ROG MAXIMUS Q69 MEADOW", "Wi-Fi", Outcome.NOT_CHECKED),
        ("ROG MAXIMUS Q69 MEADOW WIFI", "Wi-Fi", Outcome.CONFORMS),
    ],
)
def test_the_number_of_the_sibling_without_wireless_carries_no_board_sold_with_it(
    model: str, technology: str, outcome: Outcome
) -> None:
    sold = {"expectations": (numbered("ROG MAXIMUS Q69 MEADOW", "ROG MAXIMUS Q69 MEADOW WIFI"),)}
    fitted = (board(model), adapter("pci:0000:08:00.0", technology))
    found = said_of("ASUS ROG MAXIMUS Q69 MEADOW WIFI", *fitted, **sold)
    assert m.finding(found, Aspect.MODEL).outcome is outcome
    plain = said_of("ASUS ROG MAXIMUS Q69 MEADOW", board("ROG MAXIMUS Q69 MEADOW"), **sold)
    assert m.finding(plain, Aspect.MODEL).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("text", "model", "code"),
    [
        ("ASUS Q69 MEADOW WIFI 6E", "Q69 MEADOW WIFI", "wireless-generation-by-label"),
        ("ASUS Q69 MEADOW, WiFi 6", "Q69 MEADOW WIFI", "wireless-generation-by-label"),
        ("ASUS Q69 MEADOW WIFI D4, Wi-Fi 6", "Q69 MEADOW WIFI D4", "wireless-generation-by-label"),
        ("ASUS Q69 MEADOW AX (Wi-Fi 6E)", "Q69 MEADOW AX", "wireless-generation-by-label"),
        ("ASUS Q69 MEADOW WIFI 7", "Q69 MEADOW WIFI7", "conforms"),
        ("ASUS Q69 MEADOW WIFI 6E", "Q69 MEADOW WIFI 6E", "conforms"),
        # another generation in the firmware's own name, or one in the name that was sold
        ("ASUS Q69 MEADOW WIFI 6", "Q69 MEADOW WIFI7", "differs"),
        ("ASUS Q69 MEADOW WIFI 7", "Q69 MEADOW WIFI 6E", "differs"),
        ("ASUS Q69 MEADOW WIFI", "Q69 MEADOW WIFI6E", "differs"),
        ("ASUS Q69 MEADOW WIFI6E", "Q69 MEADOW WIFI", "differs"),
        ("ASUS Q69 MEADOW (Wi-Fi 7)", "Q69 MEADOW AX", "differs"),  # ax is 6 and 6E
        # another board
        ("ASUS Q69 MEADOW WIFI 6E", "Q69 HEATH WIFI", "differs"),
        ("ASUS Q69 MEADOW WIFI 6E", "Q69M MEADOW WIFI", "differs"),
        ("ASUS Q69 MEADOW WIFI 6E", "Q69 MEADOW WIFI II", "differs"),
    ],
)
def test_a_generation_of_wireless_beside_a_name_is_for_the_label(text: str, model: str, code: str) -> None:
    found = m.finding(said_of(text, board(model)), Aspect.MODEL)
    assert found.code == f"board.model.{code}"
    assert found.outcome is not Outcome.CONFORMS or code == "conforms"
    other = m.finding(said_of(text, board(model, "Gigabyte Technology Co., Ltd.")), Aspect.MODEL)
    assert other.outcome in (Outcome.DIFFERS, Outcome.CANNOT_TELL)


def numbered(*numbers: str) -> Expectation:
    return Expectation(aspect=Aspect.PART_NUMBER, want=numbers[0], or_else=numbers[1:])


@pytest.mark.parametrize(
    ("text", "numbers", "model", "of_number", "of_model"),
    [
        # a list that cut the name at its slash has the sibling's whole name among the numbers
        ("ASRock B760M Fen RS/D4 DDR4", ("B760M Fen RS", "D4"), "B760M Fen RS", "cut-short", "cannot-tell"),
        ("ASRock B760M Fen RS/D4 DDR4", ("B760M Fen RS", "D4"), "B760M Fen RS/D4", "not-shown", "conforms"),
        ("ASUS Q97 Q97-A/USB 3.1", ("Q97-A", "USB 3.1"), "Q97-A", "cut-short", "cannot-tell"),
        ("ASUS Q97 Q97-A/USB 3.1", ("Q97-A", "Q97-A/USB 3.1"), "Q97-A/USB 3.1", "conforms", "by-part-number"),
        ("ASUS Q97 Q97-A", ("Q97-A", "USB 3.1"), "Q97-A", "conforms", "by-part-number"),
        # a mark that only the label has is judged apart
        ("ASUS Q97 Q97-A/CSM", ("Q97-A", "CSM"), "Q97-A", "conforms", "by-part-number"),
        ("ASUS Q97 Q97-A/CSM R2.0", ("Q97-A", "CSM R2.0"), "Q97-A", "cut-short", "cannot-tell"),
    ],
)
def test_a_part_number_cut_at_a_slash_carries_no_board(
    text: str, numbers: tuple[str, ...], model: str, of_number: str, of_model: str
) -> None:
    found = said_of(text, board(model, text.split()[0]), expectations=(numbered(*numbers),))
    assert m.codes(found, Aspect.PART_NUMBER) == [f"board.part-number.{of_number}"]
    assert m.codes(found, Aspect.MODEL) == [f"board.model.{of_model}"]


@pytest.mark.parametrize(
    ("text", "numbers", "model", "of_number", "of_model"),
    [
        # lists have a sibling's number among a board's own
        ("ASRock B450 Fen4 R2.0", ("B450 FEN4 R2.0", "B450 FEN4"), "B450 Fen4", "against", "against"),
        ("ASRock H370 Fen4", ("H370M FEN4",), "H370M Fen4", "against", "against"),
        ("ASRock X570 Fen 4", ("B460 FEN 4", "90-X570"), "B460 Fen 4", "against", "against"),
        ("ASRock Z270 Fen SLI", ("Z270 Fen SLI", "Z270 FEN SLI/AC"), "Z270 Fen SLI/ac", "against", "against"),
        (
            "ASRock B350M GAMING FEN",
            ("B350M GAMING FEN", "B350M FEN-QDH"),
            "B350M FEN-QDH",
            "against",
            "against",
        ),
        # the number is what was sold, in prose or with words that the firmware leaves out
        ("ASRock B450 Fen4 R2.0", ("B450 FEN4 R2.0", "B450 FEN4"), "B450 Fen4 R2.0", "shown", "shown"),
        ("ASRock board (H370M FEN4) for 9 kinds", ("H370M FEN4",), "H370M Fen4", "shown", "shown"),
        ("ASRock gaming board", ("B350M FEN-QDH",), "B350M FEN-QDH", "shown", "shown"),
        ("ASRock Z690 Fen Special Edition", ("Z690 FEN",), "Z690 Fen", "shown", "shown"),
    ],
)
def test_a_part_number_carries_no_other_board_than_the_text_sells(
    text: str, numbers: tuple[str, ...], model: str, of_number: str, of_model: str
) -> None:
    endings = {"against": ("against-the-text", "against-its-number"), "shown": ("conforms", "by-part-number")}
    found = said_of(text, board(model, "ASRock"), expectations=(numbered(*numbers),))
    assert m.codes(found, Aspect.PART_NUMBER) == [f"board.part-number.{endings[of_number][0]}"]
    assert m.codes(found, Aspect.MODEL) == [f"board.model.{endings[of_model][1]}"]
    assert m.finding(found, Aspect.MODEL).outcome is (
        Outcome.CONFORMS if of_model == "shown" else Outcome.CANNOT_TELL
    )
