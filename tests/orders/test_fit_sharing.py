"""Which SATA ports the words of a board's manual switch off."""

from __future__ import annotations

import pytest

from shipworthy.model.catalogue import M2Place, StorageFacts
from shipworthy.model.words import Category
from shipworthy.orders.fit.m2 import goes_in
from shipworthy.orders.fit.sharing import MOST_PLACES, fewest_lost, ports_lost
from tests.orders.fitting import build, line


def place(*words: str) -> M2Place:
    return M2Place(interface="PCIe 4.0 x4", key="M", lengths=(80,), shares_with=words)


@pytest.mark.parametrize(
    ("words", "lost"),
    [
        (("SATA 5",), 1),
        (("SATA 5, SATA 6",), 2),
        (("SATA 5", "SATA 6"), 2),
        (("SATA 5/6",), 2),
        (("SATA_5_6",), 2),
        (("SATA ports 5 and 6",), 2),
        (("SATA 3-6",), 4),
        (("SATA6G_5", "SATA6G_6"), 2),  # the rate is no port
        (("SATA 6Gb/s port 5",), 1),
        (("SATA3_5",), 1),
        (("SATA",), 1),
        (("SATA", "SATA"), 2),
        (("SATA 5", "PCIe slot 3"), 1),
        (("SATA 5, 6, PCIEX4",), 2),
        (("PCIe slot 3",), 0),
        ((), 0),
    ],
)
def test_ports_in_the_words_of_manuals(words: tuple[str, ...], lost: int) -> None:
    assert ports_lost([place(*words)]) == lost


def test_a_port_that_two_places_name_is_lost_once() -> None:
    assert ports_lost([place("SATA 5"), place("SATA 5", "SATA 6")]) == 2
    assert ports_lost([place("SATA"), place("SATA")]) == 2  # which one nobody says


def test_the_places_that_lose_fewest_together_are_taken() -> None:
    facts = StorageFacts(interface="NVMe", link="PCIe 4.0 x4", form_factor="M.2-2280")
    drives = build(more=(line("two", Category.STORAGE, "Two", facts, 2),)).of(StorageFacts)
    two = [drive for drive in drives if drive.line == "two"]
    # each of the first two loses fewer than one of the last two, and both together more
    places = [place("SATA 1"), place("SATA 2"), place("SATA 3/4"), place("SATA 3/4")]
    assert fewest_lost(two, places, lambda drive, at: goes_in(drive, at) is True) == 2
    places = [place("SATA 1/2"), place("SATA 3/4"), place("SATA 4-6"), place("SATA 4-6")]
    assert fewest_lost(two, places, lambda drive, at: goes_in(drive, at) is True) == 3
    assert fewest_lost(two, places[:1], lambda drive, at: goes_in(drive, at) is True) is None
    many = [place(f"SATA {number}") for number in range(1, MOST_PLACES + 2)]
    assert fewest_lost(two, many, lambda drive, at: True) == MOST_PLACES + 1
