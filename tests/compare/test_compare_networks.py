"""Network adapters: the generation of Wi-Fi where it is told, and a chip's maker that did not make it all."""

from __future__ import annotations

import pytest

from shipworthy.compare import compare
from shipworthy.messages import finding_sentence
from shipworthy.model.base import Scalar
from shipworthy.model.findings import Finding
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from tests.compare import machines as m


def found_of(aspect: Aspect, of: OrderLine, **said: Scalar | Absent) -> Finding:
    adapter = m.part(PartKind.NETWORK, "pci:0000:05:00.0", **{"technology": "Wi-Fi", **said})
    found = m.finding(compare(m.order(of), m.machine(adapter), (), ()), aspect)
    assert "{" not in finding_sentence(found).say
    return found


@pytest.mark.parametrize(
    ("sold", "model", "code"),
    [
        ("Wi-Fi 6E", "Wi-Fi 6E AX210/AX1675", "network.technology.conforms"),
        ("Wi-Fi 6", "Wi-Fi 6E AX210/AX1675", "network.technology.conforms"),  # a later one does it too
        ("Wi-Fi 6E", "Wi-Fi 6 AX200", "network.technology.differs"),
        ("Wi-Fi 6", "RTL8852BE PCIe 802.11ax Wireless Network Controller", "network.technology.conforms"),
        ("Wi-Fi 6E", "RTL8852BE PCIe 802.11ax Wireless Network Controller", "network.technology.band-open"),
        ("Wi-Fi 7", "RTL8852BE PCIe 802.11ax Wireless Network Controller", "network.technology.differs"),
        ("Wi-Fi 7", "MT7925 802.11be 160MHz", "network.technology.conforms"),
        ("Wi-Fi 6", "BCM4352", "network.technology.generation-open"),
        ("Wi-Fi 6", Absent.NOT_OFFERED, "network.technology.generation-open"),
    ],
)
def test_a_generation_of_wifi_is_told_by_the_adapters_name(sold: str, model: str | Absent, code: str) -> None:
    of = m.line(Category.NETWORK, f"Drakeline {sold} card")
    assert found_of(Aspect.TECHNOLOGY, of, model=model).code == code


@pytest.mark.parametrize(
    ("technology", "outcome"),
    [("Ethernet", Outcome.CONFORMS), ("Wi-Fi", Outcome.DIFFERS), (Absent.NOT_READABLE, Outcome.CANNOT_TELL)],
)
def test_a_technology_given_as_data_is_held_against_the_drivers(
    technology: str | Absent, outcome: Outcome
) -> None:
    wish = Expectation(aspect=Aspect.TECHNOLOGY, want="Ethernet")
    of = m.line(Category.NETWORK, "Drakeline network card", expectations=(wish,))
    assert found_of(Aspect.TECHNOLOGY, of, technology=technology).outcome is outcome


@pytest.mark.parametrize(
    ("sold", "said", "outcome"),
    [
        ("ASUS", {"maker": "Intel Corporation"}, Outcome.CANNOT_TELL),  # its chip
        ("Intel", {"maker": "Intel Corporation"}, Outcome.CONFORMS),
        ("Intel", {"maker": "Realtek Semiconductor Co., Ltd."}, Outcome.DIFFERS),
        ("ASUS", {"maker": "Aquantia Corp.", "card_maker": "ASUSTeK Computer Inc."}, Outcome.CONFORMS),
        ("Drakeline", {"maker": "Realtek Semiconductor Co., Ltd."}, Outcome.CANNOT_TELL),
        ("Atheros", {"maker": "Qualcomm Atheros"}, Outcome.CONFORMS),  # one house
        ("Qualcomm", {"maker": "Atheros Communications Inc."}, Outcome.CONFORMS),
        ("Marvell", {"maker": "Aquantia Corp."}, Outcome.CONFORMS),
        ("NVIDIA", {"maker": "Mellanox Technologies"}, Outcome.CONFORMS),
        ("Atheros", {"maker": "Aquantia Corp."}, Outcome.DIFFERS),
        ("Mellanox", {"maker": "Intel Corporation"}, Outcome.DIFFERS),
    ],
)
def test_the_maker_of_a_chip_is_not_that_of_the_card(
    sold: str, said: dict[str, Scalar], outcome: Outcome
) -> None:
    of = m.line(Category.NETWORK, "Wi-Fi card", maker=sold)
    assert found_of(Aspect.MAKER, of, **said).outcome is outcome
