"""Names of boards: what shops do to them, what firmware does to them, and what tells two boards apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.words.board_names import board_likeness, lacks_wireless_alone, names_other_memory
from shipworthy.words.likeness import Likeness

SAME, OTHER, PARTLY = Likeness.SAME, Likeness.OTHER, Likeness.PARTLY


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("B760M-A WIFI D4", "B760M-A WIFI D4", SAME),
        ("B150 M-C", "B150M-C", SAME),
        ("B560 TUF GAMING PLUS WIFI", "TUF GAMING B560-PLUS WIFI", SAME),
        ("B450M GAMING", "B450M", PARTLY),
        ("B550M PRO", "B550M PRO WIFI", OTHER),
        ("B85M Pro4", "B85 Pro4", OTHER),
        ("H310M S2", "H310M S2H", OTHER),
        ("Z790 ELITE X AX", "Z790 ELITE AX", OTHER),
        ("A88XM-A/USB 3.1", "A88XM-A", PARTLY),
        ("A88XM-A/USB 3.1", "A88XM-A/USB31", SAME),
        # E, F, H and I are other boards of one series, and so are V2 and II
        ("ROG STRIX B550-F GAMING", "ROG STRIX B550-E GAMING", OTHER),
        ("B650 PRO RS", "B650E PRO RS", OTHER),
        ("B650E PRO RS", "B650 PRO RS", OTHER),
        ("B450M DS3H", "B450M DS3H V2", OTHER),
        ("PRIME B450M-A II", "PRIME B450M-A", OTHER),
        ("MAXIMUS VI FORMULA", "MAXIMUS V FORMULA", OTHER),
        ("MAXIMUS V FORMULA", "MAXIMUS V FORMULA", SAME),
        ("H110M-HDV R3.0", "H110M-HDV R4.0", OTHER),
        # what both have in place of another: another board; what one has more: open
        ("B350M MORTAR", "B350M BAZOOKA (MS-7A38)", OTHER),
        ("Z170A GAMING PRO", "Z170A GAMING PRO CARBON (MS-7A12)", PARTLY),
        ("Z690 Taichi Razer Edition", "Z690 Taichi", PARTLY),
        # the number of a circuit board alone is of several boards
        ("B550-A PRO", "MS-7C56", PARTLY),
        ("B650M PRO RS", "Default string", PARTLY),
    ],
)
def test_every_word_of_a_board_counts(want: str, got: str, likeness: Likeness) -> None:
    assert board_likeness(want, got) is likeness


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("P55 P7P55D-E LX", "P7P55D-E LX", SAME),  # the rest names it again
        ("P45 P5QProTurbo", "P5Q PRO TURBO", SAME),  # firmware names none
        ("760G A780LM-S", "A780LM-S", SAME),  # the name's own is another
        ("Z77 Maximus V Extreme", "MAXIMUS V EXTREME", SAME),
        ("H170M Pro4", "H270M Pro4", OTHER),
        ("B365 Pro4", "Z390 Pro4", OTHER),
        ("Z97 GD65 Gaming", "Z97 GAMING 3 (MS-7918)", OTHER),  # GD65 is no chipset, and stays
        ("X79 Deluxe", "P8P67 DELUXE", OTHER),
    ],
)
def test_a_chipset_that_a_shop_put_before_the_name_is_dropped_and_no_other(
    want: str, got: str, likeness: Likeness
) -> None:
    assert board_likeness(want, got) is likeness


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("H610 PRIME M-D D4", "PRIME H610M-D D4", SAME),
        ("Z790 PRO S WIFI", "PRO Z790-S WIFI (MS-7D88)", SAME),
        ("X670E ROG STRIX I GAMING WIFI", "ROG STRIX X670E-I GAMING WIFI", SAME),
        ("X670E ROG STRIX F GAMING WIFI", "ROG STRIX X670E-I GAMING WIFI", OTHER),
        ("Z790 PRO S WIFI", "PRO Z790-A WIFI", OTHER),
        ("ROG STRIX Z270G GAMING", "STRIX Z270G GAMING", SAME),
        ("Z170 Fatal1ty Gaming K4", "Z170 Gaming K4", SAME),
        ("Z170 Fatal1ty Gaming K4", "Z170 Gaming K6", OTHER),
        ("H97 GA-H97N-WIFI", "H97N-WIFI", SAME),
        ("UD A520I AC", "A520I AC", PARTLY),
        ("PRO A520I AC", "A520I AC", OTHER),
    ],
)
def test_words_that_a_shop_moved_or_firmware_leaves_out(want: str, got: str, likeness: Likeness) -> None:
    assert board_likeness(want, got) is likeness


@pytest.mark.parametrize(
    ("want", "got", "sold", "likeness"),
    [
        ("A620 S2H", "A620M S2H", "A620 S2H DDR5 Micro ATX", SAME),
        ("A620 S2H", "A620M S2H", "A620 S2H DDR5 ATX", OTHER),
        ("A320 HDV R4.0", "A320M-HDV R4.0", "A320 HDV R4.0 Micro ATX", SAME),
        ("B85 M-ITX", "B85M-ITX", "B85 M-ITX Mini ITX", SAME),
        ("B650I AORUS", "B650I AORUS", "B650I AORUS M-ITX", SAME),
        (
            "B460 TUF PLUS",
            "TUF B460-PLUS",
            "B460 TUF PLUS Micro ATX",
            PARTLY,
        ),  # the ATX board, as like as not
        ("B460 TUF PLUS", "TUF B460M-PLUS", "B460 TUF PLUS Micro ATX", SAME),
        ("B460 TUF PLUS", "TUF B460-PLUS", "B460 TUF PLUS ATX", SAME),
    ],
)
def test_a_form_in_words_stands_for_the_letter(want: str, got: str, sold: str, likeness: Likeness) -> None:
    assert board_likeness(want, got, sold, "asus") is likeness


@pytest.mark.parametrize(
    ("want", "got", "sold", "maker", "likeness"),
    [
        ("PRO Z790-A WIFI", "PRO Z790-A WIFI DDR4", "PRO Z790-A WIFI DDR4", "msi", SAME),
        ("PRO Z790-A WIFI", "PRO Z790-A WIFI", "PRO Z790-A WIFI DDR4", "msi", OTHER),
        ("PRO Z790-A WIFI", "PRO Z790-A WIFI", "PRO Z790-A WIFI DDR5", "msi", SAME),
        ("PRO Z790-A WIFI", "PRO Z790-A WIFI DDR4", "PRO Z790-A WIFI DDR5", "msi", OTHER),
        ("Z790-A WIFI D4", "Z790-A WIFI", "Z790-A WIFI D4", "asus", OTHER),
        ("Z790-A WIFI", "Z790-A WIFI D4", "Z790-A WIFI", "asus", OTHER),
        ("B660M Pro", "B660M Pro", "B660M Pro DDR4", "asrock", SAME),  # marks DDR5 or nothing
        ("B460M Pro", "B460M Pro", "B460M Pro DDR4", "msi", SAME),  # a chipset of one memory type
    ],
)
def test_the_mark_of_the_memory_counts_where_there_are_two_kinds(
    want: str, got: str, sold: str, maker: str, likeness: Likeness
) -> None:
    assert board_likeness(want, got, sold, maker) is likeness


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("MEG Z690 UNIFY WIFI", "MEG Z690 UNIFY", PARTLY),  # it may have it without saying so
        ("MEG Z690 UNIFY", "MEG Z690 UNIFY WIFI", OTHER),
        ("B650 EAGLE AX WIFI", "B650 EAGLE AX", SAME),  # AX says it
        ("B650 EAGLE AX WIFI", "B650 EAGLE", OTHER),
        ("X299 TOMAHAWK AC", "X299 TOMAHAWK", OTHER),
        ("PRIME H470M-PLUS/CSM", "PRIME H470M-PLUS", PARTLY),
    ],
)
def test_wireless_that_a_shop_adds_is_open(want: str, got: str, likeness: Likeness) -> None:
    assert board_likeness(want, got) is likeness


def test_one_makers_short_spelling_is_no_other_board() -> None:
    assert board_likeness("Z790 AORUS PRO X", "Z790 A PRO X", maker="gigabyte") is SAME
    assert board_likeness("Z790 AORUS PRO X", "Z790 A PRO X", maker="asrock") is not SAME
    assert board_likeness("Z790 AORUS ELITE X", "Z790 A PRO X", maker="gigabyte") is OTHER


@pytest.mark.parametrize(
    ("want", "got", "maker", "likeness"),
    [
        ("PHANTOM GAMING B650I LIGHTNING WIFI", "B650I Lightning WiFi", "asrock", SAME),
        ("PHANTOM GAMING B650I LIGHTNING WIFI", "B650I Lightning", "asrock", PARTLY),
        ("PHANTOM GAMING B650I LIGHTNING", "B650I Lightning WiFi", "asrock", OTHER),
        ("PHANTOM GAMING B650I LIGHTNING WIFI", "B650E Lightning WiFi", "asrock", OTHER),
        # behind the chipset, and from any other maker, the words are a part of the name
        ("X570 Phantom Gaming 4", "X570 4", "asrock", PARTLY),
        ("Z790 Phantom Gaming Lightning", "Z790 Lightning", "asrock", PARTLY),
        ("PHANTOM GAMING B650I LIGHTNING", "B650I Lightning", "biostar", PARTLY),
        ("PHANTOM GAMING 4", "4", "asrock", PARTLY),
    ],
)
def test_a_brand_before_the_chipset_is_no_part_of_the_name(
    want: str, got: str, maker: str, likeness: Likeness
) -> None:
    assert board_likeness(want, got, maker=maker) is likeness


@pytest.mark.parametrize(
    ("got", "likeness"),
    [
        ("ROG RAMPAGE VI EXTREME OMEGA", SAME),
        ("ROG RAMPAGE VI EXTREME ENCORE", OTHER),
        ("RAMPAGE VI EXTREME", PARTLY),  # may be that one, with a word left out
        ("RAMPAGE III EXTREME", OTHER),
        ("RAMPAGE VI APEX", OTHER),
    ],
)
def test_words_that_a_shop_ran_together_are_told_apart(got: str, likeness: Likeness) -> None:
    assert board_likeness("ASUSROG RampageVI ExtremeOmega", got) is likeness


@pytest.mark.parametrize(
    ("want", "got", "lacks"),
    [
        ("MEG Z690 UNIFY WIFI", "MEG Z690 UNIFY", True),
        ("MEG Z690 UNIFY (Wi-Fi)", "MEG Z690 UNIFY", True),
        ("Z690 MEG UNIFY WIFI", "MEG Z690 UNIFY (MS-7D28)", True),
        # nothing is lacking, or more than that
        ("MEG Z690 UNIFY WIFI", "MEG Z690 UNIFY WIFI", False),
        ("MEG Z690 UNIFY", "MEG Z690 UNIFY", False),
        ("B650 EAGLE AX WIFI", "B650 EAGLE AX", False),
        ("MEG Z690 UNIFY WIFI", "MEG Z690 ACE", False),
        ("MEG Z690 UNIFY WIFI", "MEG Z790 UNIFY", False),
        ("PRIME B450M-A II WIFI", "PRIME B450M-A", False),
        ("B550M PRO WIFI", "B550M PRO4", False),
        ("MEG Z690 UNIFY no WIFI", "MEG Z690 UNIFY", False),
        ("X870 ELITE WIFI7", "X870 ELITE", False),  # a mark of the maker's own, and firmware has it
    ],
)
def test_a_name_can_lack_wireless_alone(want: str, got: str, lacks: bool) -> None:
    assert lacks_wireless_alone(want, got) is lacks


def test_wireless_alone_is_not_lacking_where_the_memory_is_other() -> None:
    text = "PRO Z790-A WIFI DDR4"
    assert lacks_wireless_alone("PRO Z790-A WIFI", "PRO Z790-A DDR4", text, "msi")
    assert not lacks_wireless_alone("PRO Z790-A WIFI", "PRO Z790-A", text, "msi")


def test_a_name_can_speak_of_other_memory_than_its_text() -> None:
    assert names_other_memory("B760M-P DDR4", "B760M-P DDR5")
    assert not names_other_memory("B760M-P DDR4", "B760M-P DDR4")
    assert not names_other_memory("B760M-P", "B760M-P DDR4")
    assert not names_other_memory("B760M-P D4", "board for DDR4 or DDR5")


NAMES = st.builds(
    lambda chip, series, mark: f"{chip} {series} {mark}".strip(),
    st.sampled_from(["B650", "B650E", "B650M", "Z790", "X570", "A620I"]),
    st.sampled_from(["TARN", "TARN PRO", "TARN-F", "TARN-E", "MEADOW"]),
    st.sampled_from(["", "II", "V2", "WIFI", "AX", "D4"]),
)


@given(NAMES, NAMES)
def test_two_names_are_one_board_only_if_they_are_one_name(one: str, other: str) -> None:
    assert (board_likeness(one, other) is SAME) == (one == other)


@given(st.text(max_size=40), st.text(max_size=40), st.text(max_size=60))
def test_any_texts_can_be_compared(one: str, other: str, sold: str) -> None:
    assert board_likeness(one, other, sold, "asus") in Likeness


@pytest.mark.parametrize("form", ["Micro ATX", "mATX", "µATX", "μATX", "M-ATX"])
def test_the_form_is_read_in_every_spelling(form: str) -> None:
    assert board_likeness("B650 Plus", "B650M PLUS", f"B650 Plus ({form})", "biostar") is SAME
    assert board_likeness("B650 Plus", "B650M PLUS", "B650 Plus (ATX)", "biostar") is not SAME
