"""Items are derived: from the order, from the policy, and from what no source could tell (ADR 0010)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from shipworthy.inspection.fans import MOST_PLACES, places_of, shown_by_sensors
from shipworthy.inspection.loops import loop_item
from shipworthy.inspection.questions import caution, is_pictured, named, question, slug
from shipworthy.messages import finding_words
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Item, Items
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, EvidenceKind, Outcome

_Key = tuple[str, Category, Aspect, tuple[EvidenceKind, ...]]

_LEFT_OPEN = (Outcome.CANNOT_TELL, Outcome.NOT_CHECKED)
_BY_NO_READING = "line.not-by-reading"
"""What every part has that no machine reports: the question says as much."""
_NO_COUNTER = Absent.NOT_OFFERED.value


def items_for(order: Order, keys: Iterable[_Key], findings: Sequence[Finding]) -> Items:
    """Return what a person has to look at: every key that inspection may show and nothing else has.

    What has to be answered before the burn-in comes first. keys: the required coverage keys with the kinds
    of evidence that may show them (the policy's, handed over by `jobs`). A key that differs already is not
    asked again; nobody's eye overrules a reading.
    """
    keys = tuple(keys)
    asked = [
        (line, category, aspect)
        for line, category, aspect, by in keys
        if EvidenceKind.INSPECTION in by and not _settled((line, category, aspect), by, findings)
    ]
    derived = (item for key in asked for item in _items(order, key, asked, findings))
    return Items(items=(*items_before_burn_in(order).items, *derived))


def items_before_burn_in(order: Order) -> Items:
    """Return what has to be answered before any burn-in: the test of a custom loop, where one was sold."""
    item = loop_item(order)
    return Items(items=(item,) if item else ())


def _settled(
    key: tuple[str, Category, Aspect], by: tuple[EvidenceKind, ...], findings: Sequence[Finding]
) -> bool:
    about = [f for f in findings if f.key == key and f.by in by]
    shown = any(f.outcome is Outcome.CONFORMS for f in about)
    unclear = [f for f in about if f.outcome in _LEFT_OPEN]
    if any(f.outcome is Outcome.DIFFERS for f in about) or any(map(_is_for_no_eye, unclear)):
        return True
    return shown and not unclear


def _is_for_no_eye(finding: Finding) -> bool:
    """Whether no look can stand for what a reading left open: counters that can be had with more rights, or
    that contradict each other, are not a sealed packet's to answer. Those that a drive does not have are.
    Nor does anybody see how many cores work, where two sources contradict each other."""
    if finding.by is not EvidenceKind.READING:
        return False
    if finding.aspect is Aspect.CORES:
        return finding.value("why") == Absent.IMPLAUSIBLE.value
    if finding.aspect is not Aspect.NEWNESS:
        return False
    return finding.outcome is not Outcome.CANNOT_TELL or finding.value("why") != _NO_COUNTER


def _items(
    order: Order,
    key: tuple[str, Category, Aspect],
    asked: Sequence[tuple[str, Category, Aspect]],
    findings: Sequence[Finding],
) -> Iterator[Item]:
    line_id, category, aspect = key
    line = order.line(line_id)
    item = _item(line, key, findings)
    places = places_of(line) if line is not None and 0 < places_of(line) <= MOST_PLACES else 0
    counted = (line_id, category, Aspect.COUNT) in asked and (line_id, category, Aspect.PRESENCE) in asked
    if line is None or category not in (Category.FAN, Category.COOLER, Category.CASE) or not places:
        yield item
    elif aspect is Aspect.PRESENCE:
        if category is not Category.FAN:
            yield item
        yield from _at_each_place(line, item, places, findings, counted=counted)
    elif not (category is Category.FAN and aspect is Aspect.COUNT and counted):
        yield item  # the places are the count


def _at_each_place(
    line: OrderLine, item: Item, places: int, findings: Sequence[Finding], *, counted: bool
) -> Iterator[Item]:
    shown = shown_by_sensors(findings)
    for number in range(1, places + 1):
        one_of_many = places > 1 or line.category is not Category.FAN
        yield msgspec.structs.replace(
            item,
            item_id=f"{item.item_id}.fan-{number}" if one_of_many else item.item_id,
            ask="inspect.fan-place.turning" if shown else "inspect.fan-place",
            values=(*item.values, *values(number=number, places=places), *shown),
            also=(Aspect.COUNT,) if counted else (),
            note_wanted=True,
            media_wanted=False,
            caution="caution.fans",
        )


def _item(line: OrderLine | None, key: tuple[str, Category, Aspect], findings: Sequence[Finding]) -> Item:
    line_id, category, aspect = key
    reason = _reason(key, findings)
    return Item(
        item_id=f"{line_id or 'unit'}.{slug(aspect)}",
        ask=question(category, aspect),
        because=reason.code if reason else "order" if line_id else "policy",
        why=values(**finding_words(reason)) if reason and reason.code != _BY_NO_READING else (),
        line=line_id,
        category=category,
        aspect=aspect,
        values=named(line, category, aspect),
        media_wanted=is_pictured(category, aspect),
        caution=caution(category, aspect),
    )


def _reason(key: tuple[str, Category, Aspect], findings: Sequence[Finding]) -> Finding | None:
    """Return the finding that left a key to a person: one that could not tell before one of no check."""
    left = [finding for finding in findings if finding.key == key and finding.outcome in _LEFT_OPEN]
    return min(left, key=lambda finding: _LEFT_OPEN.index(finding.outcome), default=None)
