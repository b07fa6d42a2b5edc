"""The build sheet of an order: its parts and places, what is open, and the checks to come."""

from __future__ import annotations

from collections.abc import Mapping

from shipworthy.compare.matchers import MATCHERS
from shipworthy.messages import sentence
from shipworthy.model.base import Trouble, values
from shipworthy.model.catalogue import Facts
from shipworthy.model.orders import Order
from shipworthy.model.policy import Policy
from shipworthy.model.words import Category, EvidenceKind
from shipworthy.orders.sheet import Check, build_sheet, sheet_page
from shipworthy.orders.sheet import Trouble as Open
from shipworthy.verdict.coverage import keys_asked


def sheet_of(
    order: Order,
    unit_id: str | None,
    facts: Mapping[str, Facts | None],
    policy: Policy,
    open_: tuple[Open, ...],
) -> bytes:
    """Return the page of the build sheet of one unit; the only one, if none is named.

    order: with its expectations. Raises Trouble for a unit that the order does not have.
    """
    units = order.units
    if unit_id is None and len(units) > 1:
        raise Trouble(
            f"the order is for {len(units)} units",
            order.order_id,
            f"Name one with --unit: {', '.join(units)}.",
        )
    chosen = unit_id or units[0]
    if chosen not in units:
        raise Trouble(f"the order has no unit {chosen}", order.order_id, f"It has: {', '.join(units)}.")
    return sheet_page(build_sheet(order, chosen, facts, open_, checks_of(order, policy)))


def checks_of(order: Order, policy: Policy) -> tuple[Check, ...]:
    """Return what will be checked and by what, from what the policy asks of this order.

    What several kinds of evidence may show stands under the first: a person is asked for it only where no
    machine tells.
    """
    by: dict[EvidenceKind, dict[str, list[str]]] = {kind: {} for kind in EvidenceKind}
    for key in keys_asked(order, policy):
        if key.required and key.by:
            aspects = by[_first(key.category, key.by)].setdefault(key.category.value, [])
            if key.aspect.value not in aspects:
                aspects.append(key.aspect.value)
    return tuple(
        Check(
            sentence(f"sheet.by.{kind.value}").say,
            tuple(
                sentence("sheet.check.line", values(category=category, aspects=", ".join(aspects))).say
                for category, aspects in asked.items()
            ),
        )
        for kind, asked in by.items()
        if asked
    )


def _first(category: Category, by: tuple[EvidenceKind, ...]) -> EvidenceKind:
    """Return who is asked first: of what no matcher reads from a machine, a person."""
    unread = category is not Category.UNIT and category not in MATCHERS
    return EvidenceKind.INSPECTION if unread and EvidenceKind.INSPECTION in by else by[0]
