"""Where an order line and a part of the list cannot both be right: sizes, counts, speeds, types, makers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shipworthy.messages import quantity_text
from shipworthy.model.base import Scalar
from shipworthy.model.catalogue import (
    CardFacts,
    CataloguePart,
    GraphicsFacts,
    MemoryFacts,
    ProcessorFacts,
    StorageFacts,
)
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.words.makers import is_known_maker, maker_key
from shipworthy.words.marketed import is_marketed_as
from shipworthy.words.speeds import same_rate


@dataclass(frozen=True, slots=True)
class Contradiction:
    """want: as ordered; got: as the list has it, both as people read them."""

    aspect: Aspect
    want: str
    got: str


def contradictions(line: OrderLine, part: CataloguePart) -> Iterator[Contradiction]:
    """Yield what a line and a part say otherwise; what only one of them says contradicts nothing."""
    for aspect, got in facts_as_aspects(part, line.quantity).items():
        wish = line.wanted(aspect)
        if wish is not None and not any(_agree(aspect, want, got, line.category) for want in wish.wants):
            yield _told(wish, got, line.category)


def facts_as_aspects(part: CataloguePart, quantity: int) -> dict[Aspect, Scalar]:
    """Return what a part's facts say on the aspects of an order line, as the line counts them."""
    facts = part.facts
    found: dict[Aspect, Scalar | None] = {}
    if isinstance(facts, ProcessorFacts):
        found = {Aspect.CORES: facts.cores}
    elif isinstance(facts, MemoryFacts):
        each = facts.module_bytes
        found = {
            Aspect.CAPACITY: each * facts.modules * quantity if each and facts.modules else None,
            Aspect.COUNT: facts.modules * quantity if facts.modules else None,
            Aspect.SPEED: facts.speed_mt_s,
            Aspect.TECHNOLOGY: facts.type or None,
        }
    elif isinstance(facts, StorageFacts):
        found = {
            Aspect.CAPACITY: facts.capacity_bytes,
            Aspect.TECHNOLOGY: facts.technology or None,
            Aspect.INTERFACE: facts.interface or None,
        }
    elif isinstance(facts, GraphicsFacts):
        found = {Aspect.CAPACITY: facts.memory_bytes}
    elif isinstance(facts, CardFacts):
        found = {Aspect.SPEED: facts.network_mbit_s}
    found[Aspect.MAKER] = part.maker or None
    return {aspect: value for aspect, value in found.items() if value is not None}


def _agree(aspect: Aspect, want: Scalar, got: Scalar, category: Category) -> bool:
    if isinstance(want, str) and isinstance(got, str):
        if aspect is Aspect.MAKER:
            one, other = maker_key(want), maker_key(got)
            return one == other or not (is_known_maker(one) and is_known_maker(other))
        low_voltage = aspect is Aspect.TECHNOLOGY and category is Category.MEMORY and got == f"{want}L"
        return low_voltage or want.casefold() == got.casefold()  # the trade says DDR3 of DDR3L too
    if isinstance(want, str) or isinstance(got, str):
        return True  # one is a word and one a number: nothing to hold against each other
    if aspect is Aspect.CAPACITY and category is Category.STORAGE:
        return is_marketed_as(int(got), int(want))
    if aspect is Aspect.SPEED:
        return same_rate(float(want), float(got))
    return want == got


def _told(wish: Expectation, got: Scalar, category: Category) -> Contradiction:
    binary = category in (Category.MEMORY, Category.GRAPHICS)
    want, have = (quantity_text(value, wish.unit, binary=binary) for value in (wish.want, got))
    return Contradiction(wish.aspect, want, have)
