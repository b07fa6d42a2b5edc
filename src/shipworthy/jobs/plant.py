"""Change a drafted order in three places, for the demo: the machine is real, so the order is made wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import msgspec

from shipworthy.model.base import Scalar, Trouble
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.words import Aspect, Category, Unit

WANTED = 3


@dataclass(frozen=True)
class Planted:
    """One change: of which line and aspect, from what to what."""

    line: str
    category: Category
    aspect: Aspect
    unit: Unit
    was: Scalar
    became: Scalar


def _doubled(value: Scalar) -> Scalar:
    assert isinstance(value, int | float)
    return value * 2


def _another(value: Scalar) -> Scalar:
    return f"{value}-9"


_CHANGES: tuple[tuple[Category, Aspect, Callable[[Scalar], Scalar]], ...] = (
    (Category.PROCESSOR, Aspect.CORES, _doubled),
    (Category.MEMORY, Aspect.CAPACITY, _doubled),
    (Category.STORAGE, Aspect.CAPACITY, _doubled),
    (Category.PROCESSOR, Aspect.MODEL, _another),
    (Category.MEMORY, Aspect.COUNT, _doubled),
    (Category.BOARD, Aspect.MODEL, _another),
    (Category.NETWORK, Aspect.SPEED, _doubled),
    (Category.STORAGE, Aspect.MODEL, _another),
)
"""What can be made wrong, the plainest first: numbers that any machine shows, then names."""


def plant_differences(order: Order) -> tuple[Order, tuple[Planted, ...]]:
    """Return the order with three expectations changed, and what was changed; Trouble if it has too few."""
    planted: list[Planted] = []
    for category, aspect, change in _CHANGES:
        found = next(_expectations(order, category, aspect), None)
        if found is not None and len(planted) < WANTED:
            line, expectation = found
            became = change(expectation.want)
            order = _with(order, line, msgspec.structs.replace(expectation, want=became, words=""))
            planted.append(
                Planted(line.line_id, category, aspect, expectation.unit, expectation.want, became)
            )
    if len(planted) < WANTED:
        raise Trouble(
            f"only {len(planted)} things of this machine can be read well enough to be ordered wrongly",
            "the drafted order",
            "Run the demo where the processor, the memory and a drive can be read.",
        )
    return order, tuple(planted)


def _expectations(
    order: Order, category: Category, aspect: Aspect
) -> Iterator[tuple[OrderLine, Expectation]]:
    for line in order.lines:
        wanted = line.wanted(aspect)
        if line.category is category and wanted is not None:
            yield line, wanted


def _with(order: Order, line: OrderLine, changed: Expectation) -> Order:
    kept = tuple(e for e in line.expectations if e.aspect is not changed.aspect)
    replaced = msgspec.structs.replace(line, expectations=(*kept, changed))
    lines = tuple(replaced if one.line_id == line.line_id else one for one in order.lines)
    return msgspec.structs.replace(order, lines=lines)
