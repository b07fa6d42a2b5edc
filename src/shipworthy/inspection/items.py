"""Items are derived: from the order, from the policy, and from what no source could tell (ADR 0010)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shipworthy.inspection.loops import loop_item
from shipworthy.messages import known_codes
from shipworthy.model.base import values
from shipworthy.model.findings import Finding
from shipworthy.model.inspection import Item, Items
from shipworthy.model.orders import Order
from shipworthy.model.words import Aspect, Category, EvidenceKind, Outcome

_CAUTIONS = {
    Category.POWER_SUPPLY: "caution.mains",
    Category.COOLER: "caution.heat",
    Category.FAN: "caution.fans",
    Category.MEMORY: "caution.static",
    Category.GRAPHICS: "caution.static",
    Category.BOARD: "caution.static",
}
_UNIT_CAUTIONS = {
    Aspect.CONDITION: "caution.weight",
    Aspect.FANS: "caution.fans",
    Aspect.HEAT: "caution.heat",
}


def items_for(
    order: Order,
    keys: Iterable[tuple[str, Category, Aspect, tuple[EvidenceKind, ...]]],
    findings: Sequence[Finding],
) -> Items:
    """Return what a person has to look at: every key that inspection may show and nothing else has.

    What has to be answered before the burn-in comes first. keys: the required coverage keys with the kinds
    of evidence that may show them (the policy's, handed over by `jobs`). A key that differs already is not
    asked again; nobody's eye overrules a reading.
    """
    derived = (
        _item(order, line, category, aspect, findings)
        for line, category, aspect, by in keys
        if EvidenceKind.INSPECTION in by and not _settled((line, category, aspect), by, findings)
    )
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
    unclear = any(f.outcome in (Outcome.CANNOT_TELL, Outcome.NOT_CHECKED) for f in about)
    return any(f.outcome is Outcome.DIFFERS for f in about) or (shown and not unclear)


def _item(
    order: Order, line_id: str, category: Category, aspect: Aspect, findings: Sequence[Finding]
) -> Item:
    line = order.line(line_id)
    unclear = (
        f.code for f in findings if f.key == (line_id, category, aspect) and f.outcome is Outcome.CANNOT_TELL
    )
    wanted = line.wanted(aspect) if line else None
    return Item(
        item_id=f"{line_id or 'unit'}.{_slug(aspect)}",
        ask=_question(category, aspect),
        because=next(unclear, "order" if line_id else "policy"),
        line=line_id,
        category=category,
        aspect=aspect,
        values=values(
            text=line.text if line else "the unit",
            quantity=line.quantity if line else 1,
            want=str(wanted.want) if wanted else "",
            category=category.value,
            aspect=aspect.value,
        ),
        media_wanted=aspect is Aspect.CONDITION,
        caution=_UNIT_CAUTIONS.get(aspect, "") if category is Category.UNIT else _CAUTIONS.get(category, ""),
    )


def _question(category: Category, aspect: Aspect) -> str:
    """Return the most particular question that has a sentence."""
    candidates = (f"inspect.{_slug(category)}.{_slug(aspect)}", f"inspect.{_slug(aspect)}")
    return next((code for code in candidates if code in known_codes()), "inspect.any")


def _slug(word: str) -> str:
    return word.replace(" ", "-")
