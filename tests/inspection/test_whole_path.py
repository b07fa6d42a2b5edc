"""The whole path of a unit whose firmware is silent: order, reading, comparison, items, answers, verdict.

The reading is a real one, of the simulated unit without its firmware's tables.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from shipworthy.compare import compare
from shipworthy.inspection import findings_of, items_for
from shipworthy.machine.reading import take_reading
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Items, Observation
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.policy import Decision
from shipworthy.model.reading import Reading
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome, VerdictWord
from shipworthy.orders.expect import with_expectations
from shipworthy.orders.files import read_order
from shipworthy.sim import ORDER_FILE
from shipworthy.sim.unit import build
from shipworthy.verdict import Concerned, decide
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.verdict.cases import AT

POLICY = parse_policy(shipped_policy(), "shipped")
READ_LINES = ("1", "2", "3", "4", "5", "6")
BESIDES = (
    (Category.CASE, "Osprey Works Fold 2 case, slate grey"),
    (Category.POWER_SUPPLY, "Calder Still 550 W power supply, 80 PLUS Gold"),
    (Category.COOLER, "Calder Heron dual-fan tower cooler"),
    (Category.FAN, "Calder Moth 140 mm fan, 3-pack"),
    (Category.CUSTOMISATION, "Cable sleeving, red/black"),
    (Category.CUSTOMISATION, 'Side panel painted in RAL 7016 matt, lettering "Studio 4"'),
    (Category.ACCESSORY, "Two antennas"),
    (Category.SYSTEM_SOFTWARE, "Windows 11 Pro"),
)
SILENT_FOLDERS = ("sys/firmware/dmi", "sys/class/dmi")


@cache
def order() -> Order:
    sold = read_order(ORDER_FILE)
    lines = [line for line in sold.lines if line.line_id in READ_LINES]
    for number, (category, text) in enumerate(BESIDES, 20):
        lines.append(OrderLine(line_id=str(number), category=category, text=text))
    return with_expectations(
        Order(order_id=sold.order_id, shop=sold.shop, units=sold.units, lines=tuple(lines))
    )


@cache
def reading() -> Reading:
    with TemporaryDirectory() as folder:
        root = build(Path(folder) / "unit", frozenset(), cpus=(0, 1), device_number=(259, 0))
        for silent in SILENT_FOLDERS:
            assert (root.folder / silent).exists(), silent
            shutil.rmtree(root.folder / silent)
        return take_reading(root, lambda name, data: None, nonce=None, clock=PretendClock())


def shown_otherwise() -> tuple[Finding, ...]:
    """What burn-in and binding show of a sound unit."""
    return tuple(
        Finding(
            code="test.shown",
            outcome=Outcome.CONFORMS,
            category=key.category,
            aspect=key.aspect,
            by=key.by[0],
            line=key.line,
            configuration=reading().configuration.digest,
        )
        for key in keys_asked(order(), POLICY)
        if key.by[0] is EvidenceKind.BURN_IN or key.aspect in (Aspect.IDENTITY, Aspect.CONFIGURATION)
    )


@cache
def findings() -> tuple[Finding, ...]:
    compared = compare(order(), reading(), POLICY.limits, ("reading/reading.json",)).findings
    return (*compared, *shown_otherwise())


@cache
def items() -> Items:
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(order(), POLICY) if k.required]
    return items_for(order(), keys, findings())


def decided(wrong: Mapping[str, Outcome] = {}, without_note: str = "") -> Decision:
    answers = [
        Observation(
            item_id=item.item_id,
            outcome=wrong.get(item.item_id, Outcome.CONFORMS),
            by="Odile Marsh",
            at=PretendClock().now(),
            note="" if item.item_id == without_note else f"place {number}",
        )
        for number, item in enumerate(items().items)
    ]
    return decide(
        Concerned(
            order=order(),
            policy=POLICY,
            findings=(*findings(), *findings_of(items(), answers)),
            configuration=reading().configuration.digest,
            simulated=True,
            inputs=(),
            at=AT,
        )
    )


def test_it_is_released_after_a_person_looked() -> None:
    assert [f for f in findings() if f.outcome is Outcome.DIFFERS] == []
    decision = decided()
    assert [(r.code, r.line, r.aspect) for r in decision.reasons] == []
    assert decision.verdict is VerdictWord.RELEASE


def test_what_the_firmware_was_silent_about_is_asked_and_says_why() -> None:
    because = {item.item_id: item.because for item in items().items}
    assert because["3.count"] == "memory.count.cannot-tell"
    assert because["2.model"].startswith("board.") or because["2.model"] == "line.part-not-readable"
    assert because["22.presence.fan-2"] == "order"


def test_everything_that_was_agreed_is_asked_by_itself() -> None:
    asked = {item.item_id for item in items().items}
    assert asked >= {
        *("20.presence", "20.colour", "20.condition", "21.presence", "21.rated-power", "21.efficiency"),
        *("22.presence", "22.presence.fan-1", "22.presence.fan-2"),
        *("23.presence.fan-1", "23.presence.fan-2", "23.presence.fan-3"),
        *("24.presence", "24.colour", "25.presence", "25.colour", "25.finish", "25.text", "26.presence"),
        *(f"27.{a}" for a in ("presence", "model", "position", "drivers", "encryption", "activation")),
        *("27.first-run", "27.accounts"),
    }
    assert "23.count" not in asked and "4.blank" not in asked


@pytest.mark.parametrize(
    ("item", "line", "aspect"),
    [
        ("3.count", "3", Aspect.COUNT),
        ("20.colour", "20", Aspect.COLOUR),
        ("21.rated-power", "21", Aspect.RATED_POWER),
        ("23.presence.fan-2", "23", Aspect.PRESENCE),
        ("25.text", "25", Aspect.TEXT),
        ("26.presence", "26", Aspect.PRESENCE),
        ("27.accounts", "27", Aspect.ACCOUNTS),
    ],
)
def test_one_that_is_wrong_holds_and_for_that(item: str, line: str, aspect: Aspect) -> None:
    decision = decided({item: Outcome.DIFFERS})
    assert decision.verdict is VerdictWord.HOLD
    assert (line, aspect) in {(r.line, r.aspect) for r in decision.reasons}
    assert {(r.code, r.line) for r in decision.reasons} == {("inspection.differs", line)}


def test_a_fan_whose_place_nobody_names_holds() -> None:
    decision = decided(without_note="23.presence.fan-1")
    assert {r.finding.code for r in decision.reasons if r.finding} == {"inspection.no-place"}


def test_one_question_left_open_holds() -> None:
    decision = decided({"27.activation": Outcome.NOT_CHECKED})
    assert [(r.code, r.aspect) for r in decision.reasons] == [("coverage.not-checked", Aspect.ACTIVATION)]
