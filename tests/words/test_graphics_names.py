"""Products of graphics: every suffix makes another one, and a card maker's words make none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.words.graphics_names import card_words, find_graphics_products, product_likeness
from shipworthy.words.likeness import Likeness

SAME, OTHER, PARTLY = Likeness.SAME, Likeness.OTHER, Likeness.PARTLY


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("Norvik VENTUS 3X OC GeForce RTX 4070 Ti SUPER 16GB GDDR6X", ["rtx 4070 super ti"]),
        ("GeForce RTX™ 5060 Ti 16G", ["rtx 5060 ti"]),
        ("RTX4070S", ["rtx 4070 super"]),
        ("GTX 1070Ti", ["gtx 1070 ti"]),
        ("GeForce GTX 1080 Super JetStream", ["gtx 1080"]),  # its maker's words
        ("GeForce GTX 970 Superclocked", ["gtx 970"]),
        ("GeForce 9500 GT", ["geforce 9500 gt"]),
        ("GeForce GTX TITAN Black", ["titan black"]),
        ("Quadro RTX 4000", ["quadro rtx 4000"]),
        ("RTX A-Series RTX A4500 20GB", ["rtx a 4500"]),
        ("RTX 4000 SFF Ada Generation", ["rtx 4000"]),
        ("Radeon RX 7900 XTX", ["rx 7900 xtx"]),
        ("Radeon RX 7900 GRE", ["rx 7900 gre"]),
        ("RX 580 2048SP", ["rx 580 2048sp"]),
        ("Radeon RX Vega 64", ["vega 64"]),
        ("R9-290X ENFC Radeon R9 290X", ["r 9290 x"]),
        ("Radeon HD 7870 GHz Edition", ["hd 7870 ghz"]),
        ("HD7870-DC2 Radeon HD 7870 GHz Edition", ["hd 7870 ghz"]),  # an order code may leave it out
        ("Radeon PRO W7900", ["radeon pro w7900"]),
        ("Arc B580", ["arc b580"]),
        ("Arc Pro A60", ["arc a60 pro"]),
        ("RTX 4060 or RTX 4060 Ti", ["rtx 4060", "rtx 4060 ti"]),
        ("Radeon R9 200 Series", []),  # a family
        ("Sable 210 graphics card", []),
        ("PC4-3200 RAM", []),
    ],
)
def test_products_in_texts(text: str, keys: list[str]) -> None:
    assert list(dict.fromkeys(product.key for product in find_graphics_products(text))) == keys


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("MSI GAMING X GeForce RTX 3060 12GB", "NVIDIA GeForce RTX 3060", SAME),
        ("RTX 3060", "NVIDIA GeForce RTX 3060 Lite Hash Rate", SAME),
        ("RTX 3060", "NVIDIA GeForce RTX 3060 Ti", OTHER),
        ("RTX 4060 Ti", "NVIDIA GeForce RTX 4060", OTHER),
        ("RTX 4070 Ti", "NVIDIA GeForce RTX 4070 Ti SUPER", OTHER),
        ("RTX 4070 SUPER", "NVIDIA GeForce RTX 4070 Ti", OTHER),
        ("RTX 4090", "NVIDIA GeForce RTX 4090 D", OTHER),
        ("RTX 3060", "NVIDIA GeForce RTX 3060 Laptop GPU", OTHER),
        ("RTX 2080", "GeForce RTX 2080 with Max-Q Design", OTHER),
        ("RX 7900 XT", "AMD Radeon RX 7900 XTX", OTHER),
        ("RX 7900 XTX", "AMD Radeon RX 7900 XT", OTHER),
        ("RX 6600", "AMD Radeon RX 6600M", OTHER),
        ("RX 570", "Radeon RX 570 Series", SAME),
        ("RX 580", "AMD Radeon RX 580 2048SP", OTHER),
        ("R9 370", "AMD Radeon R7 370 Series", OTHER),
        ("Arc A770", "Intel Arc A750 Graphics", OTHER),
        ("Arc A770", "Intel Arc A770 Graphics", SAME),
        ("GeForce RTX 4070", "AMD Radeon RX 7800 XT", OTHER),
        ("Quadro RTX 4000", "NVIDIA RTX 4000 Ada Generation", OTHER),
        ("NVIDIA RTX 4000", "NVIDIA RTX 4000 Ada Generation", PARTLY),
        ("NVIDIA RTX 4000 Ada", "NVIDIA RTX 4000 SFF Ada Generation", OTHER),
        ("RTX PRO 6000 Blackwell", "NVIDIA RTX PRO 6000 Blackwell Workstation Edition", PARTLY),
        ("RTX PRO 6000 Blackwell Server Edition", "RTX PRO 6000 Blackwell Workstation Edition", OTHER),
        (
            "RTX PRO 6000 Blackwell Workstation Edition",
            "NVIDIA RTX PRO 6000 Blackwell Max-Q Workstation Edition",
            OTHER,
        ),
        (
            "RTX PRO 6000 Blackwell Max-Q Workstation",
            "RTX PRO 6000 Blackwell Max-Q Workstation Edition",
            SAME,
        ),
        ("RTX 4070", "NVIDIA GeForce RTX 4070 QX", PARTLY),  # a suffix of tomorrow
        ("RTX 4070 QX", "NVIDIA GeForce RTX 4070 QX", SAME),
        ("RTX 3060", "GeForce RTX 3060 GPU", SAME),
        ("RTX 3060", "GeForce RTX 3060 12GB", SAME),
        ("RX 550", "AMD Radeon RX 550 / 550 Series", None),
        ("Sable 210", "NVIDIA GeForce RTX 3060", None),
        ("RTX 4060 or RTX 4060 Ti", "NVIDIA GeForce RTX 4060", None),
    ],
)
def test_a_sibling_is_another_product(want: str, got: str, likeness: Likeness | None) -> None:
    assert product_likeness(want, got) is likeness


@pytest.mark.parametrize(
    ("text", "parted"),
    [
        ("MSI VENTUS 2X OC GeForce RTX 4070 12GB GDDR6X Black", ("GeForce RTX 4070", "VENTUS 2X OC")),
        ("Radeon RX 7800 XT 16GB", ("Radeon RX 7800 XT", "")),
        ("Norvik Radeon RX 6600 graphics card", ("Radeon RX 6600", "")),
        ("Sable 210 OC", ("", "")),
        ("RTX 4060 or RTX 4060 Ti", ("", "")),
    ],
)
def test_a_card_makers_words_are_apart_from_the_product(text: str, parted: tuple[str, str]) -> None:
    assert card_words(text, "Norvik") == parted


PRODUCTS = st.builds(
    lambda line, number, suffix: f"{line} {number}{suffix}",
    st.sampled_from(["GeForce RTX", "GeForce GTX", "Radeon RX"]),
    st.sampled_from([1650, 3060, 6700, 7900]),
    st.sampled_from(["", " Ti", " SUPER", " Ti SUPER", " XT", " XTX", " GRE"]),
)


@given(PRODUCTS, PRODUCTS)
def test_a_product_is_its_own_name_and_no_other(one: str, other: str) -> None:
    likeness = product_likeness(f"Norvik MEADOW 3X OC {one} 8GB GDDR6", other)
    assert (likeness is SAME) == (one == other)


@given(st.text(max_size=60), st.text(max_size=60))
def test_any_texts_can_be_compared(one: str, other: str) -> None:
    assert product_likeness(one, other) in (None, *Likeness)
    for product in find_graphics_products(one):
        assert one[product.start : product.end] == product.words
    card_words(one)


def test_a_mark_behind_the_name_that_only_one_side_has_leaves_it_open() -> None:
    for plain, marked in (
        ("GeForce GTX 960", "GeForce GTX 960 OEM"),
        ("GeForce 8400 GS", "GeForce 8400 GS Rev. 2"),
    ):
        assert product_likeness(plain, marked) is Likeness.PARTLY
        assert product_likeness(marked, plain) is Likeness.PARTLY
        assert product_likeness(marked, marked) is Likeness.SAME is product_likeness(plain, plain)
    assert product_likeness("GeForce GTX 960", "GeForce GTX 970 OEM") is Likeness.OTHER


@pytest.mark.parametrize(
    ("plain", "marked"),
    [
        ("GM206 [GeForce GTX 960]", "GM206 [GeForce GTX 960 OEM]"),
        ("G98 [GeForce 8400 GS]", "G98 [GeForce 8400 GS Rev. 2]"),
        ("GP107 [GeForce GTX 1050]", "GP107 [GeForce GTX 1050 3GB]"),
        ("GP106 [GeForce GTX 1060 3GB]", "GP106 [GeForce GTX 1060 6GB]"),
    ],
)
def test_two_names_of_the_list_of_ids_leave_nothing_out(plain: str, marked: str) -> None:
    """An order that was drafted from a machine names the card as the list does."""
    assert product_likeness(plain, marked) is product_likeness(marked, plain) is OTHER
    assert product_likeness(f"{plain} graphics", plain) is SAME is product_likeness(marked, marked)


@pytest.mark.parametrize(
    "sold",
    [
        "GeForce GTX 960",
        "Norvik Dual [GeForce GTX 960]",  # a shop's own brackets
        "N960-OC [GeForce GTX 960]",
        "GV-N960 [GeForce GTX 960]",
    ],
)
def test_a_shops_words_may_leave_a_mark_out(sold: str) -> None:
    assert product_likeness(sold, "GM206 [GeForce GTX 960 OEM]") is PARTLY
    assert product_likeness(sold, "GM206 [GeForce GTX 960]") is SAME


VEGAS = "Raven Ridge [Radeon Vega Series / Radeon Vega Mobile Series]"


@pytest.mark.parametrize(
    ("want", "got"),
    [
        (VEGAS, "Kabini [Radeon HD 8400 / R3 Series]"),
        (VEGAS, "Jet PRO [Radeon R5 M230 / R7 M260DX / Radeon 520/610 Mobile]"),
        ("GeForce GTX 1060", "Ellesmere [Radeon RX 470/480/570/570X/580/580X/590]"),
        ("Radeon RX 6600", "Kabini [Radeon HD 8400 / R3 Series]"),
        ("RTX 4060 or RTX 4060 Ti", "AMD Radeon RX 7600"),
    ],
)
def test_several_products_none_of_whose_series_was_sold_are_another_part(want: str, got: str) -> None:
    assert product_likeness(want, got) is product_likeness(got, want) is OTHER


@pytest.mark.parametrize(
    ("want", "got"),
    [
        ("Radeon Vega 8", VEGAS),  # one of the series
        ("Radeon Vega 8", "AMD Radeon Graphics"),  # a driver names none
        (VEGAS, "Picasso/Raven 2 [Radeon Vega Series / Radeon Vega Mobile Series]"),
        ("Radeon R7 240", "Oland [Radeon HD 8570 / R5 430 OEM / R7 240/340 / Radeon 520 OEM]"),
        ("Radeon RX 580", "Ellesmere [Radeon RX 470/480/570/570X/580/580X/590]"),
        ("GeForce GTX 970 / GTX 980", "GM204GL [Quadro M4000]"),  # of NVIDIA's, several names are one chip's
        ("Radeon 780M or 760M graphics", "Phoenix1"),
        ("Sable 210", VEGAS),
    ],
)
def test_a_series_that_may_hold_what_was_sold_or_none_at_all_leaves_it_open(want: str, got: str) -> None:
    assert product_likeness(want, got) is None
