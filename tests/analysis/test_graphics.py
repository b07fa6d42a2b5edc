"""A graphics card that holds itself back, and one that idles beside a loaded processor."""

from __future__ import annotations

import numpy as np

from shipworthy.analysis.curves import Curve
from shipworthy.analysis.findings import Basis
from shipworthy.analysis.frozen import mean_utilisation
from shipworthy.analysis.throttling import throttle_findings
from shipworthy.model.runlog import Column, StepSpan
from shipworthy.model.words import Outcome, Unit

CARD = "pci:0000:01:00.0"
BASIS = Basis("sha256:" + "0" * 64, ("burn-in/log-001.jsonl",))
SPANS = (StepSpan(step="all", begin_s=0.0, end_s=60.0, under_load_s=1.0),)


def curve(
    values: list[float], channel: str, unit: Unit, quantity: str = "throttle", place: str = CARD
) -> Curve:
    column = Column(quantity=quantity, place=place, channel=channel, label="Card", unit=unit, source="x")
    times = np.arange(len(values)) / 4.0
    return Curve(column=column, t_s=times, v=np.array(values, dtype=float))


def codes(values: list[float], channel: str, unit: Unit = Unit.RATIO) -> list[tuple[str, Outcome]]:
    found = throttle_findings([curve(values, channel, unit)], SPANS, BASIS)
    return [(finding.code, finding.outcome) for finding in found]


def test_a_card_that_is_held_for_heat_or_by_its_supply_differs() -> None:
    held = [0.0] * 100 + [1.0] * 12
    assert codes(held, "hw_thermal_slowdown") == [("heat.graphics-throttled", Outcome.DIFFERS)]
    assert codes(held, "hw_power_brake_slowdown") == [("power.card-braked", Outcome.DIFFERS)]


def test_a_moment_of_it_is_none() -> None:
    assert codes([0.0] * 100 + [1.0] * 4, "hw_slowdown") == []


def test_a_cards_state_is_no_count_of_the_processors() -> None:
    assert not [code for code, _ in codes([0.0, 1.0] * 3, "hw_slowdown") if code == "heat.throttled-briefly"]
    assert codes([0.0, 1.0, 500.0], "package_throttle_count", Unit.COUNT) == [
        ("heat.throttled", Outcome.DIFFERS)
    ]


def test_an_idle_card_does_not_make_a_loaded_processor_look_idle() -> None:
    busy = curve([1.0] * 8, "utilisation", Unit.RATIO, "utilisation", "cpu:0")
    idle = curve([0.0] * 8, "utilisation", Unit.RATIO, "utilisation", CARD)
    _, mean = mean_utilisation([busy, idle])
    assert mean.min() == 1.0
