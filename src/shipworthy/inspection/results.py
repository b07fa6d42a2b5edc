"""Observations to findings, one an item."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import msgspec

from shipworthy.inspection.loops import LOOP_ITEM
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Item, Items, Observation
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Aspect, EvidenceKind, Outcome, Unit
from shipworthy.orders.expect import line_with_expectations

_CODES = {
    Outcome.CONFORMS: "inspection.conforms",
    Outcome.DIFFERS: "inspection.differs",
    Outcome.CANNOT_TELL: "inspection.cannot-tell",
    Outcome.NOT_CHECKED: "inspection.unanswered",
}
_OF_LOOP = {
    Outcome.DIFFERS: "inspection.loop-differs",
    Outcome.CANNOT_TELL: "inspection.loop-cannot-tell",
}


def findings_of(
    items: Items, observations: Iterable[Observation], order: Order | None = None
) -> tuple[Finding, ...]:
    """Return a finding for every item, and for each further aspect that it speaks of.

    The last observation of an item counts; none is *not checked*. A danger that was seen stays for this
    attempt, whatever is said later: it is mended in the next one. order: where it is given, what a label was
    seen to say is read as the order's own texts are, and stands beside what was wanted.
    """
    last: dict[str, Observation] = {}
    for observation in observations:
        before = last.get(observation.item_id)
        if before is None or not before.danger or observation.danger:
            last[observation.item_id] = observation
    taken = _places_taken_twice(items, last)
    return tuple(
        _with_label(_finding(item, aspect, last.get(item.item_id), taken), last.get(item.item_id), order)
        for item in items.items
        for aspect in (item.aspect, *item.also)
    )


def _with_label(finding: Finding, seen: Observation | None, order: Order | None) -> Finding:
    """Return a difference with what was wanted and what the label says instead."""
    line = order.line(finding.line) if order else None
    if line is None or seen is None or not seen.fitted.strip() or finding.code != _CODES[Outcome.DIFFERS]:
        return finding
    wish = line.wanted(finding.aspect)
    read = OrderLine(line_id=line.line_id, category=line.category, text=seen.fitted.strip()[:500])
    found = line_with_expectations(read).wanted(finding.aspect)
    same_unit = wish is not None and found is not None and found.unit is wish.unit
    return msgspec.structs.replace(
        finding,
        want=wish.want if wish is not None else line.text,
        got=found.want if found is not None and same_unit else read.text,
        unit=wish.unit if wish is not None and same_unit else Unit.TEXT,
        values=(*finding.values, *values(name=line.text)),
    )


def _places_taken_twice(items: Items, last: Mapping[str, Observation]) -> frozenset[str]:
    """Return the items of fans of which another one is said to sit at the very same place."""
    places: dict[str, list[str]] = {}
    for item in items.items:
        seen = last.get(item.item_id)
        if seen and is_fan_place(item) and seen.outcome is Outcome.CONFORMS and seen.note.strip():
            places.setdefault(" ".join(seen.note.casefold().split()), []).append(item.item_id)
    return frozenset(item for same in places.values() if len(same) > 1 for item in same)


def is_fan_place(item: Item) -> bool:
    """Whether an item asks for one fan and its place."""
    return item.ask.startswith("inspect.fan-place")


def _told(item: Item, seen: Observation | None, taken: Collection[str]) -> tuple[Outcome, str]:
    """Return what an answer counts as, and the code of the sentence that says so."""
    if seen and seen.danger:  # whatever was answered: a danger that was seen is a difference
        return Outcome.DIFFERS, f"inspection.{seen.danger.value.replace(' ', '-')}"
    outcome = seen.outcome if seen else Outcome.NOT_CHECKED
    if outcome is Outcome.CONFORMS and item.item_id in taken:
        return Outcome.CANNOT_TELL, "inspection.same-place"
    if seen and outcome is Outcome.CONFORMS and item.note_wanted and not seen.note.strip():
        outcome = Outcome.CANNOT_TELL
        if is_fan_place(item):
            return outcome, "inspection.no-place"
    of_loop = _OF_LOOP if item.item_id == LOOP_ITEM else {}
    return outcome, of_loop.get(outcome, _CODES[outcome])


def _finding(item: Item, aspect: Aspect, seen: Observation | None, taken: Collection[str]) -> Finding:
    outcome, code = _told(item, seen, taken)
    media = tuple(m.file for m in seen.media) if seen else ()
    return Finding(
        code=code,
        outcome=outcome,
        category=item.category,
        aspect=aspect,
        by=EvidenceKind.INSPECTION,
        line=item.line,
        values=values(
            by=seen.by if seen else "nobody",
            note=seen.note if seen else "",
            item=item.item_id,
            category=item.category.value,
            aspect=aspect.value,
        ),
        evidence=("inspection/observations.jsonl", *media) if seen else ("inspection/items.json",),
    )
