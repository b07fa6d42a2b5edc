"""The joined build: the parts of one unit with what is known of each, and asking them for facts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar, cast

import msgspec

from shipworthy.model.catalogue import FACTS_OF, Facts
from shipworthy.model.fit import BuildLine
from shipworthy.model.words import Category

F = TypeVar("F", bound=msgspec.Struct)


def empty_facts(category: Category) -> Facts | None:
    """Return facts of which nothing is known; None for a category that has no kind of facts."""
    kind = FACTS_OF.get(category)
    return cast(Facts, kind()) if kind else None


@dataclass(frozen=True)
class Known:
    """One fact asked for: its value, or None where it is not known. name: `case.graphics_length_mm`."""

    line: str
    name: str
    value: Any
    source: str = ""

    def __bool__(self) -> bool:
        raise TypeError("ask whether it is known, or for its value")

    @property
    def known(self) -> bool:
        return self.value is not None


@dataclass(frozen=True)
class Fitted(Generic[F]):
    """One order line as a part of the build. `facts` are of its category's kind."""

    line: str
    category: Category
    quantity: int
    text: str
    facts: F
    sources: tuple[tuple[str, str], ...] = ()

    def ask(self, name: str) -> Known:
        """Return a fact; empty texts and tuples are not known, save where None is what says so."""
        value = getattr(self.facts, name)
        if value is None or value == "" or (value == () and _unknown_when_empty(self.facts, name)):
            value = None
        return Known(self.line, fact_name(self.facts, name), value, dict(self.sources).get(name, ""))


def fact_name(facts: msgspec.Struct, name: str) -> str:
    """Return a fact's name with that of its kind: `power-supply.watts`."""
    return f"{str(facts.__struct_config__.tag).replace(' ', '-')}.{name}"


def _unknown_when_empty(facts: msgspec.Struct, name: str) -> bool:
    """A tuple that may also be None is known to be empty when it is empty."""
    defaults = dict(
        zip(
            facts.__struct_fields__[-len(facts.__struct_defaults__) :], facts.__struct_defaults__, strict=True
        )
    )
    return defaults.get(name) is not None


@dataclass(frozen=True)
class Build:
    """The parts of one unit."""

    lines: tuple[BuildLine, ...]

    def of(self, kind: type[F]) -> tuple[Fitted[F], ...]:
        """Return all lines with facts of that kind, each once, whatever its quantity."""
        return tuple(
            Fitted(
                line.line,
                line.category,
                line.quantity,
                line.text,
                line.facts,
                tuple((s.name, s.source) for s in line.sources),
            )
            for line in self.lines
            if isinstance(line.facts, kind)
        )

    def in_category(self, *categories: Category) -> tuple[BuildLine, ...]:
        return tuple(line for line in self.lines if line.category in categories)

    def pieces(self, *categories: Category) -> Pieces:
        lines = self.in_category(*categories)
        return Pieces(sum(line.quantity for line in lines), [line.line for line in lines])


class Pieces(int):
    """How many pieces there are, and of which lines: a finding about them names these."""

    lines: tuple[str, ...]

    def __new__(cls, count: int, lines: Iterable[str]) -> Pieces:
        made = super().__new__(cls, count)
        made.lines = tuple(dict.fromkeys(lines))
        return made

    def __add__(self, other: int) -> Pieces:
        return Pieces(int(self) + int(other), (*self.lines, *getattr(other, "lines", ())))

    __radd__ = __add__


def pieces(parts: Iterable[Fitted[Any]]) -> Pieces:
    """Return how many pieces the lines are together."""
    counted = tuple(parts)
    return Pieces(sum(part.quantity for part in counted), [part.line for part in counted])
