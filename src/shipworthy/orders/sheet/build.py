"""An order's lines beside its parts as fit knows them: what the sheet asks again and again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import msgspec

from shipworthy.messages import sentence
from shipworthy.model.base import Scalar, values
from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Aspect, Category
from shipworthy.orders.fit.build import Build, Fitted

F = TypeVar("F", bound=msgspec.Struct)


@dataclass(frozen=True)
class Work:
    """What is to be built. order: with its expectations. build: the parts of one unit, by its line ids."""

    order: Order
    build: Build

    def lines(self, *categories: Category) -> tuple[OrderLine, ...]:
        return tuple(line for line in self.order.lines if line.category in categories)

    def first(self, kind: type[F]) -> F | None:
        """Return the facts of the first part of that kind."""
        return next((part.facts for part in self.build.of(kind)), None)

    def part(self, line: OrderLine, kind: type[F]) -> Fitted[F] | None:
        """Return a line's part with its facts; None where it is of no such kind."""
        return next((part for part in self.build.of(kind) if part.line == line.line_id), None)

    def of(self, line: OrderLine, kind: type[F]) -> F | None:
        part = self.part(line, kind)
        return part.facts if part else None


def wanted(line: OrderLine, aspect: Aspect) -> Scalar | None:
    """Return what a line expects of an aspect; None if it says nothing."""
    wish = line.wanted(aspect)
    return None if wish is None else wish.want


def say(code: str, **named: Scalar) -> str:
    """Return the sheet's sentence of that code, with its values."""
    return sentence(f"sheet.{code}", values(**named)).say
