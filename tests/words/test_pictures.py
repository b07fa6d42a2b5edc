"""Sockets for displays in every spelling, processors without graphics, and whether a part is wireless."""

from __future__ import annotations

import pytest

from shipworthy.words.kinds import find_error_correction
from shipworthy.words.pictures import output_count, output_of, says_no_graphics
from shipworthy.words.versions import says_wireless


@pytest.mark.parametrize(
    ("kind", "texts"),
    [
        ("HDMI", ("HDMI", "HDMI2.1", "HDMI_2_1", "2xHDMI", "mini-HDMI", "HDMI 2.0b")),
        (
            "DisplayPort",
            ("DP", "DP1.4a", "DisplayPort1.4", "Display Port", "mDP", "Mini DP", "miniDP", "3x DP"),
        ),
        ("DVI", ("DVI", "DVI-D", "DVII", "2xDVI-I", "DVI1")),
        ("VGA", ("VGA", "D-Sub", "DSub", "D Sub")),
        ("USB-C", ("USB-C", "USB Type C", "USB Type-C", "USBC", "Type-C", "Thunderbolt4", "USB4", "USB 4")),
        (None, ("", "SDI", "audio", "USB 3.2", "USB", "DPI", "adp", "USB-A", "USB 2.0 Type-A", "DVD")),
    ],
)
def test_a_socket_for_a_display_in_many_spellings(kind: str | None, texts: tuple[str, ...]) -> None:
    assert {text: output_of(text) for text in texts} == dict.fromkeys(texts, kind)


@pytest.mark.parametrize(
    ("text", "count"),
    [
        *(("2xHDMI", 2), ("2 x HDMI 2.1", 2), ("HDMI x2", 2), ("3× DisplayPort", 3), ("HDMI", 1)),
        *(("HDMI 2.1", 1), ("4", 1), ("", 1)),
    ],
)
def test_a_word_of_a_list_may_stand_for_several_sockets(text: str, count: int) -> None:
    assert output_count(text) == count


@pytest.mark.parametrize(
    ("says", "texts"),
    [
        (True, ("Core i5-12400F", "Ryzen 5 7500F", "Core Ultra 7 265KF", "i7 13700KF")),
        (False, ("Core i5-12400", "Ryzen 5 7600X", "Core Ultra 7 265K", "12400FX", "F 12400")),
    ],
)
def test_the_suffix_f_says_that_there_are_no_graphics(says: bool, texts: tuple[str, ...]) -> None:
    assert {text: says_no_graphics(text) for text in texts} == dict.fromkeys(texts, says)


@pytest.mark.parametrize(
    ("says", "texts"),
    [
        (
            True,
            (
                "Marl B650 WIFI",
                "Marl B650 WiFi6E",
                "Wi-Fi 7 card",
                "Wireless card",
                "WLAN adapter",
                "802.11ax",
            ),
        ),
        (True, ("Marl with Bluetooth and WiFi", "no Bluetooth, WiFi 6", "Marl B650M-A WIFI DDR5")),
        (False, ("Marl B650 no WiFi", "Marl, without Wi-Fi", "non-WiFi", "Marl (no wireless)", "WiFi: none")),
        (False, ("without Bluetooth and WiFi", "no built-in WLAN", "WiFi not included", "w/o Wi-Fi 6E")),
        (
            None,
            ("Marl B650", "Marl WiFi-ready", "Wi-Fi antenna", "WiFi, and a variant without WiFi", "hi-fi"),
        ),
    ],
)
def test_whether_a_part_is_wireless(says: bool | None, texts: tuple[str, ...]) -> None:
    assert {text: says_wireless(text) for text in texts} == dict.fromkeys(texts, says)


def test_without_error_correction_is_none() -> None:
    for text in ("without ECC", "w/o ECC", "no ECC", "non-ECC"):
        assert [word.meaning for word in find_error_correction(text)] == ["non-ECC"], text
    assert [word.meaning for word in find_error_correction("Fennec with ECC")] == ["ECC"]
