"""Systems in an order's words."""

from __future__ import annotations

import pytest

from shipworthy.model.words import Category
from shipworthy.words.systems import find_system, says_blank, says_encrypted, sells_system


@pytest.mark.parametrize(
    ("text", "key", "version", "editions"),
    [
        ("Windows 11 Pro 64-bit", "windows", "11", {"pro"}),
        ("Win11 Home", "windows", "11", {"home"}),
        ("Windows 10 Professional", "windows", "10", {"pro"}),
        ("Windows Server 2022", "windows", "2022", {"server"}),
        ("Ubuntu 24.04 LTS Desktop", "ubuntu", "24.04", {"desktop"}),
        ("Debian GNU/Linux 12 (bookworm)", "debian", "12", set()),
        ("Linux Mint 22 Cinnamon", "linuxmint", "22", {"cinnamon"}),
        ("Fedora Workstation 41", "fedora", "41", {"workstation"}),
    ],
)
def test_a_text_names_a_system(text: str, key: str, version: str, editions: set[str]) -> None:
    found = find_system(text)
    assert found is not None
    assert (found.key, found.version, set(found.editions)) == (key, version, editions)


@pytest.mark.parametrize(
    "text",
    [
        "Mint green sleeving",
        "Windowed case",
        "Kubuntu 24.04",
        "Debian-based Linux Mint",
        "A quiet system",
        "",
    ],
)
def test_a_text_that_names_none_or_two_names_none(text: str) -> None:
    assert find_system(text) is None


@pytest.mark.parametrize(
    "text",
    ["Drive left blank for your own system", "Without operating system", "no OS", "blank SSD", "SSD, empty"],
)
def test_words_for_a_blank_drive(text: str) -> None:
    assert says_blank(text)


@pytest.mark.parametrize("text", ["Blanking plate", "No system fan", "System installed", "Blank keycaps"])
def test_words_that_only_sound_like_it(text: str) -> None:
    assert not says_blank(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Debian 12, encrypted", True),
        ("Windows 11 Pro with BitLocker", True),
        ("Windows 11 Pro, BitLocker off", False),
        ("Debian 12, not encrypted", False),
        ("Debian 12, unencrypted", False),
        ("Debian 12", None),
    ],
)
def test_words_for_encryption(text: str, said: bool | None) -> None:
    assert says_encrypted(text) is said


@pytest.mark.parametrize(
    ("category", "text", "sells"),
    [
        (Category.SYSTEM_SOFTWARE, "anything", True),
        (Category.SERVICE, "Windows 11 installed", True),
        (Category.SERVICE, "Installation of the operating system", True),
        (Category.SERVICE, "Drive left blank, no OS installed", False),
        (Category.SERVICE, "Cooler installed", False),
        (Category.SERVICE, "Memory profile set up", False),
        (Category.ACCESSORY, "Windows 11 sticker, installed by you", False),
    ],
)
def test_what_sells_a_system(category: Category, text: str, sells: bool) -> None:
    assert sells_system([(category, text)]) is sells


@pytest.mark.parametrize(
    "text",
    [
        "Windows Home 64-bit",
        "Windows Pro OEM, 1 licence",
        "Debian on 2 drives",
        "Ubuntu, 1 TB drive encrypted",
    ],
)
def test_a_number_that_is_no_version_is_none(text: str) -> None:
    found = find_system(text)
    assert found is not None and found.version == ""


@pytest.mark.parametrize(
    "text",
    [
        "BitLocker not enabled",
        "BitLocker not activated",
        "encryption: none",
        "encryption none",
        "BitLocker: off",
        "drive not to be encrypted",
    ],
)
def test_encryption_that_is_off_is_not_sold(text: str) -> None:
    assert says_encrypted(text) is False


def test_a_blank_second_drive_beside_a_system_is_a_sold_system() -> None:
    beside = (Category.SERVICE, "Windows 11 installed on the SSD, second drive left blank")
    assert sells_system([beside]) and says_blank(beside[1])
    assert not sells_system([(Category.SYSTEM_SOFTWARE, "No operating system")])
    assert not sells_system([(Category.SERVICE, "Drives left blank")])
    assert sells_system([(Category.SYSTEM_SOFTWARE, "Windows 11 Home")])
