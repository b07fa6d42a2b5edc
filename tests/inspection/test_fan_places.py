"""One item for each place of a fan, and its place said in the note."""

from __future__ import annotations

import pytest

from shipworthy.inspection import findings_of, items_for
from shipworthy.inspection.fans import places_of
from shipworthy.messages import known_codes, sentence
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Item, Items, Observation
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome
from shipworthy.orders.expect import with_expectations
from shipworthy.verdict.coverage import keys_asked
from shipworthy.verdict.policies import parse_policy, shipped_policy

POLICY = parse_policy(shipped_policy(), "shipped")


def order(*lines: OrderLine) -> Order:
    return with_expectations(Order(order_id="KD-1", shop="Kestrel Desk", units=("KD-1-1",), lines=lines))


def line(category: Category, text: str, **more: object) -> OrderLine:
    return OrderLine(line_id="10", category=category, text=text, **more)


def asked(one: OrderLine, *findings: Finding) -> tuple[Item, ...]:
    sold = order(one)
    keys = [(k.line, k.category, k.aspect, k.by) for k in keys_asked(sold, POLICY) if k.required and k.line]
    return items_for(sold, keys, findings).items


def turning(count: int) -> Finding:
    return Finding(
        code="fans.turn",
        outcome=Outcome.CONFORMS,
        category=Category.UNIT,
        aspect=Aspect.FANS,
        by=EvidenceKind.BURN_IN,
        values=values(count=count, highest_rpm=1200.0),
    )


@pytest.mark.parametrize(
    ("category", "text", "quantity", "places"),
    [
        (Category.FAN, "Quiet 120 mm fan", 3, 3),
        (Category.FAN, "Quiet 120 mm fan, 3-pack", 1, 3),
        (Category.FAN, "Quiet 120 mm fan, 3-pack", 2, 6),
        (Category.FAN, "Quiet 120 mm fan", 1, 1),
        (Category.COOLER, "Calder Heron tower cooler, two fans", 1, 2),
        (Category.COOLER, "Calder Heron dual-fan tower cooler", 1, 2),
        (Category.COOLER, "Calder Heron tower cooler with 2 x 140 mm fans", 1, 2),
        (Category.COOLER, "Calder Loch 360 mm AIO", 1, 3),
        (Category.COOLER, "Calder Loch 280 mm liquid cooler", 1, 2),
        (Category.COOLER, "Calder Heron tower cooler", 1, 0),
        (Category.COOLER, "Calder Heron 120 mm tower cooler", 1, 0),
        (Category.COOLER, "Calder Stone fanless cooler", 1, 0),
        (Category.CASE, "Osprey Fold case with 3 pre-installed fans", 1, 3),
        (Category.CASE, "Osprey Fold case, room for fans", 1, 0),
        (Category.CASE, "Osprey Fold 3 case", 1, 0),
        (Category.CASE, "Osprey Fold case, room for up to 9 fans", 1, 0),
        (Category.CASE, "Osprey Fold case, supports 6 x 120 mm", 1, 0),
        (Category.CASE, "Osprey Fold case (supports 6 x 120 mm fans), 3 fans included", 1, 3),
        (Category.CASE, "Osprey Fold case with 2 quiet fans, room for 9 fans", 1, 2),
        (Category.CASE, "Osprey Fold case, 9 fan mounts", 1, 0),
        (Category.COOLER, "Calder Heron tower cooler with 2 x 140 mm fans, up to 1500 rpm", 1, 2),
        (Category.GRAPHICS, "Sable 210, two fans", 1, 0),
    ],
)
def test_how_many_places_a_line_sells(category: Category, text: str, quantity: int, places: int) -> None:
    (sold,) = order(line(category, text, quantity=quantity)).lines
    assert places_of(sold) == places


def test_three_fans_are_three_items_each_with_a_place_to_be_named() -> None:
    items = [i for i in asked(line(Category.FAN, "Quiet 120 mm fan", quantity=3)) if i.note_wanted]
    assert [i.item_id for i in items] == ["10.presence.fan-1", "10.presence.fan-2", "10.presence.fan-3"]
    said = sentence(items[1].ask, items[1].values).say
    assert "Fan 2 of 3" in said and "front 1" in said
    assert {i.ask for i in items} <= known_codes()


def test_one_fan_is_one_item() -> None:
    items = asked(line(Category.FAN, "Quiet 120 mm fan"))
    assert [i.item_id for i in items if i.aspect is Aspect.PRESENCE] == ["10.presence"]


def test_a_cooler_with_two_fans_is_asked_for_itself_and_for_each_of_them() -> None:
    items = asked(line(Category.COOLER, "Calder Heron dual-fan tower cooler"))
    assert [i.item_id for i in items] == ["10.presence", "10.presence.fan-1", "10.presence.fan-2"]


def test_what_tachometers_showed_is_named_and_never_counts_fans() -> None:
    """A hub reports one of its fans: two that turn are no finding about a third."""
    items = asked(line(Category.FAN, "Quiet 120 mm fan", quantity=3), turning(2))
    assert len([i for i in items if i.note_wanted]) == 3
    assert "showed 2 turning" in sentence(items[0].ask, items[0].values).say
    without = asked(line(Category.FAN, "Quiet 120 mm fan", quantity=3))
    assert "sensor" not in sentence(without[0].ask, without[0].values).say


def test_the_places_of_a_pack_are_its_count_and_nobody_is_asked_twice() -> None:
    items = asked(line(Category.FAN, "Quiet 120 mm fan, 3-pack"))
    assert "10.count" not in {i.item_id for i in items}
    findings = findings_of(Items(items=items), [said(i, f"front {n}") for n, i in enumerate(items)])
    assert {f.outcome for f in findings if f.aspect is Aspect.COUNT} == {Outcome.CONFORMS}
    assert len([f for f in findings if f.aspect is Aspect.COUNT]) == 3


def test_a_thousand_fans_are_one_question() -> None:
    assert len(asked(line(Category.FAN, "Quiet fan", quantity=1000))) == 1


def said(item: Item, note: str, outcome: Outcome = Outcome.CONFORMS) -> Observation:
    return Observation(
        item_id=item.item_id, outcome=outcome, by="Ines Vaal", at=PretendClock().now(), note=note
    )


def outcomes(*notes: str) -> list[tuple[Outcome, str]]:
    items = tuple(i for i in asked(line(Category.FAN, "Quiet fan", quantity=len(notes))) if i.note_wanted)
    found = findings_of(Items(items=items), [said(i, n) for i, n in zip(items, notes, strict=True)])
    assert {f.code for f in found} <= known_codes()
    return [(f.outcome, f.code) for f in found]


def test_each_with_its_own_place_conforms() -> None:
    assert {outcome for outcome, _ in outcomes("front 1", "front 2", "top")} == {Outcome.CONFORMS}


def test_a_bare_yes_does_not_count() -> None:
    assert outcomes("front 1", "  ")[1] == (Outcome.CANNOT_TELL, "inspection.no-place")


def test_two_fans_at_one_place_are_not_told() -> None:
    assert outcomes("Front 1", "front  1", "top") == [
        (Outcome.CANNOT_TELL, "inspection.same-place"),
        (Outcome.CANNOT_TELL, "inspection.same-place"),
        (Outcome.CONFORMS, "inspection.conforms"),
    ]


def test_a_fan_that_is_not_there_differs_whatever_its_note() -> None:
    (item,) = [i for i in asked(line(Category.FAN, "Quiet fan")) if i.aspect is Aspect.PRESENCE]
    (finding,) = findings_of(Items(items=(item,)), [said(item, "", Outcome.DIFFERS)])
    assert finding.code == "inspection.differs"
