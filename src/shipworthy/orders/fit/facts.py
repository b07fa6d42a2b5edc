"""What is known of each order line's part: its text and the shop's catalogue joined, each with its source.

Where the two contradict each other nobody is believed: it is a question to the shop, and the fact is not
known. The same holds for a value that cannot be.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, cast

import msgspec

from shipworthy.model.base import values
from shipworthy.model.catalogue import FACTS_OF, CataloguePart, Facts
from shipworthy.model.fit import BuildLine, Doubt, FactSource
from shipworthy.model.orders import Order, OrderLine
from shipworthy.orders.fit.build import Build, empty_facts, fact_name
from shipworthy.orders.fit.efficiency import grade_of
from shipworthy.orders.fit.spelling import (
    form_factor_of,
    memory_form_of,
    memory_type_of,
    socket_of,
    supply_form_of,
)
from shipworthy.orders.fit.texts import facts_in_text
from shipworthy.orders.fit.wording import fact_text

Looked = Callable[[OrderLine], CataloguePart | None]
"""What a catalogue knows of an order line: one part beyond doubt, or none."""

_MOST = {"_mm": 1500.0, "_w": 5000.0, "current_a": 200.0, "header_a": 200.0, "_kg": 200.0}
"""No part of a PC is longer than 1.5 m, and no supply on a wall socket gives 5 kW (common practice)."""
_MOST_NAMED = {
    "watts": 5000.0,
    "slots": 24.0,
    "volts": 60.0,
    "rpm": 100_000.0,
    "inches": 150.0,
    "hertz": 2000.0,
}
_NOT_COMPARED = ("timings", "link", "chip", "interface", "series", "modular")
"""Told in so many spellings that another one is no contradiction."""


_SURER_BY_NUMBER = ("family",)
"""Lists give the name of a core here, which several generations share; a maker's number tells them apart."""


def build_of(order: Order, catalogue: Looked | None = None) -> Build:
    """Return the parts of one unit of an order, with the facts of its texts and of a catalogue."""
    return Build(tuple(_line(line, catalogue(line) if catalogue else None) for line in order.lines))


def _line(line: OrderLine, part: CataloguePart | None) -> BuildLine:
    said, said_by = facts_in_text(line)
    listed = part.facts if part and type(part.facts) is FACTS_OF.get(line.category) else None
    blank = empty_facts(line.category)
    if blank is None:
        return BuildLine(line=line.line_id, category=line.category, quantity=line.quantity, text=line.text)
    facts: Facts = listed or blank
    sources = dict.fromkeys(_told(facts), f"catalogue: {part.part_id}") if part else {}
    doubts: list[Doubt] = []
    for source in said_by:
        own, theirs = said[source.name], getattr(facts, source.name)
        if source.name not in sources or source.name in _SURER_BY_NUMBER:
            facts = msgspec.structs.replace(facts, **{source.name: own})
            sources[source.name] = source.source
        elif not _agree(source.name, own, theirs):
            facts = cast(Facts, _without(facts, source.name))
            name = fact_name(facts, source.name)
            told = {"said": fact_text(name, own), "listed": fact_text(name, theirs)}
            doubts.append(_doubt(source.name, "fit.question.contradiction", **told))
            del sources[source.name]
    facts, odd = plausible(facts)
    return BuildLine(
        line=line.line_id,
        category=line.category,
        quantity=line.quantity,
        text=line.text,
        facts=facts,
        sources=tuple(FactSource(name=n, source=s) for n, s in sources.items() if n in _told(facts)),
        doubts=(*doubts, *odd),
    )


def plausible(facts: Facts) -> tuple[Facts, tuple[Doubt, ...]]:
    """Return the facts without those that cannot be (a length of zero, a supply of 1e9 W): they are asked."""
    doubts = []
    for name in facts.__struct_fields__:
        value = getattr(facts, name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            continue
        if not _can_be(name, value):
            facts = cast(Facts, _without(facts, name))
            doubts.append(
                _doubt(name, "fit.question.implausible", said=fact_text(fact_name(facts, name), value))
            )
    return facts, tuple(doubts)


def _can_be(name: str, value: float) -> bool:
    if not math.isfinite(value) or value < 0:
        return False
    measured = next((most for ending, most in _MOST.items() if name.endswith(ending)), None)
    if name in ("watts", "volts", "inches", "hertz") or measured or name.endswith("_bytes"):
        return 0 < value <= (measured or _MOST_NAMED.get(name, math.inf))
    return value <= _MOST_NAMED.get(name, 1_000_000.0)


def _told(facts: Facts) -> tuple[str, ...]:
    """Return the names of the facts that say something."""
    blank = type(facts)()
    return tuple(n for n in facts.__struct_fields__ if getattr(facts, n) != getattr(blank, n))


def _without(facts: Facts, name: str) -> msgspec.Struct:
    return msgspec.structs.replace(facts, **{name: getattr(type(facts)(), name)})


def _doubt(name: str, code: str, **told: str) -> Doubt:
    return Doubt(name=name, code=code, values=values(**told))


def _agree(name: str, own: Any, theirs: Any) -> bool:
    """Return whether two tellings of a fact can both be right."""
    if name in _NOT_COMPARED or (own, theirs) == ("spinning", "hybrid"):  # a hybrid drive spins
        return True
    if isinstance(own, tuple):  # the text names one of those that are listed
        spelt = socket_of if name == "sockets" else form_factor_of
        return {spelt(word) or word for word in own} <= {spelt(word) or word for word in theirs}
    if isinstance(own, bool) or isinstance(theirs, bool):
        return bool(own == theirs)
    if isinstance(own, int | float) and isinstance(theirs, int | float):
        return abs(own - theirs) <= 0.03 * max(own, theirs)  # 1 TB is listed as 1024 GB as well
    spell = _SPELLINGS.get(name)
    if spell is None:
        return str(own).casefold() == str(theirs).casefold()
    one, other = spell(own), spell(theirs)
    if name == "chipset" and one and other:  # B650 and B650E are listed as one
        return one.startswith(other) or other.startswith(one)
    if name in ("type", "memory_type") and one and other == f"{one}L":
        return True  # the trade calls low-voltage memory by the plain word as well
    return one == other or one is None or other is None


def _drive_or_board_form(text: str) -> str | None:
    return form_factor_of(text) or supply_form_of(text) or None


_SPELLINGS: dict[str, Callable[[str], str | None]] = {
    "socket": socket_of,
    "form_factor": _drive_or_board_form,
    "form": memory_form_of,
    "type": memory_type_of,
    "memory_type": memory_type_of,
    "grade": grade_of,
    "chipset": lambda text: text.upper().removeprefix("INTEL ").removeprefix("AMD ").strip(),
}
