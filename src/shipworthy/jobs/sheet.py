"""The build sheet of an order: its parts and places, what is open, and the checks to come."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from shipworthy.compare.matchers import MATCHERS
from shipworthy.handover.phrases import aspect_text, category_text
from shipworthy.jobs.fit import check_order, told
from shipworthy.messages import sentence
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.fit import OrderCheck
from shipworthy.model.orders import Order
from shipworthy.model.policy import Policy
from shipworthy.model.words import Category, EvidenceKind
from shipworthy.orders.fit.build import Build
from shipworthy.orders.sheet import Check, Sheet, build_sheet
from shipworthy.orders.sheet import Trouble as Open
from shipworthy.verdict.coverage import keys_asked

_BACKTICKS = re.compile(r"`([^`]+)`")


def sheet_of(path: Path, unit_id: str | None, policy: Policy, catalogue: Path | None = None) -> Sheet:
    """Return the build sheet of one unit of the order in a file; of the only one, if none is named.

    catalogue: a part list; without one, facts of parts are those that the texts state. Raises Trouble for an
    order that is not valid, and for a unit that it does not have.
    """
    checked = check_order(path, catalogue)
    order, build = checked.order, Build(checked.fit.lines)
    unit = _unit(order, unit_id)
    return build_sheet(order, unit, build, tuple(_troubles(checked)), checks_of(order, policy))


def _unit(order: Order, unit_id: str | None) -> str:
    units = order.units
    if unit_id is None and len(units) > 1:
        raise Trouble(
            f"the order is for {len(units)} units",
            order.order_id,
            f"Name one with --unit: {', '.join(units)}.",
        )
    if unit_id is not None and unit_id not in units:
        raise Trouble(f"the order has no unit {unit_id}", order.order_id, f"It has: {', '.join(units)}.")
    return unit_id or units[0]


def _troubles(checked: OrderCheck) -> Iterator[Open]:
    """Yield what has to be settled first: what does not fit, questions, warnings. What nobody can tell is in
    `order check`: it would fill the page."""
    for finding in (f for f in checked.fit.findings if f.fails):
        yield _open("differs", finding.code, told(finding.values))
    for question in checked.questions:
        yield _open("question", question.code, told(question.values, question.line))
    for finding in (f for f in checked.fit.findings if f.warns):
        yield _open("warning", finding.code, told(finding.values))


def _open(kind: str, code: str, given: tuple[Value, ...]) -> Open:
    words = sentence(code, given)
    return Open(sentence(f"sheet.{kind}").say, _on_paper(words.say), _on_paper(words.do))


def _on_paper(text: str) -> str:
    """What a terminal's sentence has between backticks stands between quotes here."""
    return _BACKTICKS.sub(r'"\1"', text)


def checks_of(order: Order, policy: Policy) -> tuple[Check, ...]:
    """Return what will be checked and by what, from what the policy asks of this order.

    What several kinds of evidence may show stands under the first: a person is asked for it only where no
    machine tells.
    """
    by: dict[EvidenceKind, dict[str, list[str]]] = {kind: {} for kind in EvidenceKind}
    for key in keys_asked(order, policy):
        if key.required and key.by:
            aspects = by[_first(key.category, key.by)].setdefault(category_text(key.category), [])
            if (words := aspect_text(key.aspect, key.category)) not in aspects:
                aspects.append(words)
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
