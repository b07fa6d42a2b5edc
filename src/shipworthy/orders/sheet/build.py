"""An order's lines joined with what is known of their parts: what the sheet asks again and again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from shipworthy.messages import sentence
from shipworthy.model.base import Scalar, values
from shipworthy.model.catalogue import Facts
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Aspect, Category

F = TypeVar("F", bound=Facts)


@dataclass(frozen=True)
class Build:
    """order: with its expectations. facts: by line id; None where nothing is known."""

    order: Order
    facts: Mapping[str, Facts | None]

    def lines(self, *categories: Category) -> tuple[OrderLine, ...]:
        return tuple(line for line in self.order.lines if line.category in categories)

    def known(self, kind: type[F]) -> Iterator[tuple[OrderLine, F]]:
        """Return the lines whose facts are of that kind, each with them."""
        for line in self.order.lines:
            facts = self.facts.get(line.line_id)
            if isinstance(facts, kind):
                yield line, facts

    def first(self, kind: type[F]) -> F | None:
        return next((facts for _, facts in self.known(kind)), None)

    def of(self, line: OrderLine, kind: type[F]) -> F | None:
        facts = self.facts.get(line.line_id)
        return facts if isinstance(facts, kind) else None


def wanted(line: OrderLine, aspect: Aspect) -> Scalar | None:
    """Return what a line expects of an aspect; None if it says nothing."""
    wish = line.wanted(aspect)
    return None if wish is None else wish.want


def say(code: str, **named: Scalar) -> str:
    """Return the sheet's sentence of that code, with its values."""
    return sentence(f"sheet.{code}", values(**named)).say
