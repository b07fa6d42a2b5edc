"""Facts as they are told: places of boards and cases apart from each other."""

from __future__ import annotations

from typing import Any

import pytest

from shipworthy.model.catalogue import M2Place, RadiatorPlace, SlotPlace
from shipworthy.orders.fit.wording import fact_text

FAST = M2Place(interface="PCIe 4.0 x4, SATA", key="M", lengths=(42, 60, 80), shares_with=("SATA 5", "SATA 6"))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ((FAST,), "PCIe 4.0 x4, SATA, key M, 42/60/80 mm, switches SATA 5, SATA 6 off"),
        (
            (M2Place(interface="PCIe", key="M", lengths=(80,)), M2Place(key="E")),
            "PCIe, key M, 80 mm; key E",
        ),
        ((M2Place(interface="PCIe"), M2Place(interface="PCIe")), "2 x PCIe"),
        ((M2Place(),), "not told"),
        (
            (SlotPlace(generation="5.0", lanes=16), SlotPlace(lanes=1), SlotPlace(lanes=1)),
            "PCIe 5.0 x16; 2 x x1",
        ),
        (
            (RadiatorPlace(place="top", longest_mm=360.0), RadiatorPlace(place="rear", longest_mm=120.0)),
            "top 360; rear 120",
        ),
        (("HDMI", "DisplayPort"), "HDMI, DisplayPort"),
        ((), "none"),
    ],
)
def test_places_in_words(value: tuple[Any, ...], text: str) -> None:
    assert fact_text("board.m2", value) == text
