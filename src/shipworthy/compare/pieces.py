"""Matching where each piece sold is one part of the reading: all categories but memory."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from shipworthy.compare.assign import best_assignment, cost
from shipworthy.compare.judgement import Judge, Judgement, judged, not_by_reading
from shipworthy.compare.readable import are_jacks_hidden, why_none
from shipworthy.model.base import values
from shipworthy.model.facts import Part
from shipworthy.model.known import OwnWork
from shipworthy.model.orders import OrderLine
from shipworthy.model.plan import Limit
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind, Unit


@dataclass(frozen=True)
class Scene:
    """What a matcher may know besides the order lines."""

    reading: Reading
    limits: tuple[Limit, ...]
    own_work: tuple[OwnWork, ...] = ()


@dataclass(frozen=True)
class Verdicts:
    """What a matcher found of one line: its judgements, each with the place it speaks of, and its parts."""

    line: OrderLine
    judgements: tuple[tuple[str, Judgement], ...]
    places: tuple[str, ...]


Besides = Callable[[OrderLine, Part, Scene], Iterable[Judgement]]
_Told = Mapping[tuple[str, str], tuple[Judgement, ...]]
"""What is said of a part as one that stands for a line, by line and place: judged once, weighed and shown."""


def _nothing(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    return ()


def _every_part(part: Part, lines: tuple[OrderLine, ...]) -> bool:
    return True


def _all_of_them(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    return parts


def _every_pair(line: OrderLine, part: Part) -> bool:
    return True


def _as_likely(part: Part, told: tuple[Judgement, ...], scene: Scene) -> int:
    return 0


_NEVER = 1_000_000_000
"""What it costs to let a part stand for a line that it cannot stand for."""


@dataclass(frozen=True)
class PieceMatcher:
    """How one category is compared.

    judges: what tells whether a part meets an expectation, by aspect; an aspect without one is not shown by
    a reading. besides: what is judged of every part, whether the order speaks of it or not; it judges the
    expectations on judged_besides too, and weighs nothing. tells: what is told of a part besides its line's
    expectations, and is weighed with them. there: which of the parts that the sources tell of there really
    are. eligible: which of these may stand for a line at all. suits: whether one may stand for this line.
    unlikely: what it costs, beside what is told of a part, that it hardly is the one meant.
    """

    category: Category
    kind: PartKind
    judges: Mapping[Aspect, Judge]
    besides: Besides = _nothing
    judged_besides: frozenset[Aspect] = frozenset()
    tells: Besides = _nothing
    there: Callable[[tuple[Part, ...]], tuple[Part, ...]] = field(default=_all_of_them)
    eligible: Callable[[Part, tuple[OrderLine, ...]], bool] = field(default=_every_part)
    suits: Callable[[OrderLine, Part], bool] = field(default=_every_pair)
    unlikely: Callable[[Part, tuple[Judgement, ...], Scene], int] = field(default=_as_likely)

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        """Return the verdicts of all lines of the category, the parts shared out as well as can be."""
        lines = tuple(sorted(lines, key=lambda line: line.line_id))
        there = self.there(scene.reading.of_kind(self.kind))
        parts = [part for part in there if self.eligible(part, lines)]
        parts.sort(key=lambda part: part.place)
        pieces = [line for line in lines for _ in range(min(line.quantity, len(parts)))]
        told = {
            (line.line_id, part.place): (*self._wishes(line, part), *self.tells(line, part, scene))
            for line in lines
            for part in parts
            if self.suits(line, part)
        }
        by_place = {part.place: part for part in parts}
        costs_of = {
            (line_id, place): cost(judgements) + self.unlikely(by_place[place], judgements, scene)
            for (line_id, place), judgements in told.items()
        }
        costs = [[costs_of.get((line.line_id, part.place), _NEVER) for part in parts] for line in pieces]
        taken = best_assignment(costs)
        chosen: dict[str, list[Part]] = {line.line_id: [] for line in lines}
        for row, column in taken.items():
            if costs[row][column] < _NEVER:
                chosen[pieces[row].line_id].append(parts[column])
        return tuple(self._verdicts(line, chosen[line.line_id], told, scene) for line in lines)

    def _verdicts(self, line: OrderLine, parts: list[Part], told: _Told, scene: Scene) -> Verdicts:
        found: list[tuple[str, Judgement]] = []
        for part in sorted(parts, key=lambda one: one.place):
            found.append((part.place, judged(Outcome.CONFORMS, Aspect.PRESENCE, None, None)))
            found += [(part.place, judgement) for judgement in told[line.line_id, part.place]]
            found += [(part.place, judgement) for judgement in self.besides(line, part, scene)]
        if len(parts) < line.quantity:
            found += [("", judgement) for judgement in self._missing(line, line.quantity - len(parts), scene)]
        return Verdicts(line, tuple(found), tuple(part.place for part in parts))

    def _wishes(self, line: OrderLine, part: Part) -> Iterator[Judgement]:
        for wish in line.expectations:
            judge = self.judges.get(wish.aspect)
            if judge is not None:
                yield judge(wish, line, part)
            elif wish.aspect not in self.judged_besides:
                yield not_by_reading(wish)

    def _missing(self, line: OrderLine, count: int, scene: Scene) -> Iterator[Judgement]:
        why = why_none(scene.reading, self.kind)
        hidden = self.kind is PartKind.DISPLAY and are_jacks_hidden(scene.reading)
        if why is Absent.NOT_FITTED or (scene.reading.of_kind(self.kind) and not hidden):
            yield Judgement(
                Aspect.PRESENCE,
                Outcome.DIFFERS,
                "missing",
                line.quantity,
                line.quantity - count,
                Unit.COUNT,
                values(missing=count),
            )
            outcome, code = Outcome.NOT_CHECKED, "line.part-missing"
        else:
            yield judged(Outcome.CANNOT_TELL, Aspect.PRESENCE, None, None, named={"why": why.value})
            outcome, code = Outcome.CANNOT_TELL, "line.part-not-readable"
        for wish in line.expectations:
            yield Judgement(wish.aspect, outcome, code, wish.want, None, wish.unit, values(why=why.value))
