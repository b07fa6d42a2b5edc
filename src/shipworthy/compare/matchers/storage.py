"""Drives: size, technology, interface, model, and whether their counters are those of a new one."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.compare.identity import bare, judge_maker, judge_part_number_by
from shipworthy.compare.judgement import (
    OF_LIKENESS,
    Judgement,
    cannot_tell,
    judged,
)
from shipworthy.compare.links import judge_link
from shipworthy.compare.newness import judge_newness
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.likeness import Likeness, code_likeness, coded_name_likeness
from shipworthy.words.marketed import is_marketed_as
from shipworthy.words.models import model_text

_SOLID = frozenset({"NVMe", "solid state"})


def judge_capacity(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the size on the box with the bytes that the drive has (see `words.marketed`)."""
    size = part.number("size_bytes")
    if size is None:
        return cannot_tell(wish, part.why_absent("size_bytes"))
    fits = isinstance(wish.want, int | float) and is_marketed_as(int(size), int(wish.want))
    outcome = Outcome.CONFORMS if fits else Outcome.DIFFERS
    return judged(outcome, Aspect.CAPACITY, wish.want, size, unit=Unit.BYTES)


def judge_technology(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare how it stores. A virtual disk tells nothing of what lies below it."""
    said = part.text("technology")
    if not said:
        return cannot_tell(wish, part.why_absent("technology"))
    if said == wish.want or (wish.want == "solid state" and said in _SOLID):
        return judged(Outcome.CONFORMS, Aspect.TECHNOLOGY, wish.want, said)
    outcome = Outcome.CANNOT_TELL if said == "virtual" or wish.want == "hybrid" else Outcome.DIFFERS
    return judged(outcome, Aspect.TECHNOLOGY, wish.want, said, named={"why": Absent.NOT_OFFERED.value})


def judge_interface(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the interface."""
    said = part.text("interface")
    if not said:
        return cannot_tell(wish, part.why_absent("interface"))
    outcome = Outcome.CONFORMS if said == wish.want else Outcome.DIFFERS
    return judged(outcome, Aspect.INTERFACE, wish.want, said)


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model with what the drive calls itself; the part number, where it shows, decides."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    number = line.wanted(Aspect.PART_NUMBER)
    if number is not None and code_likeness(str(number.want), said) is Likeness.SAME:
        return judged(Outcome.CONFORMS, Aspect.MODEL, wish.want, said, ending="by-part-number")
    want = bare(model_text(str(wish.want), Category.STORAGE), line, part)
    got = bare(model_text(said, Category.STORAGE), line, part)
    likeness = coded_name_likeness(want, got, line.text if wish.words else "")
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


def judge_besides(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge what a drive has to be whether the order speaks of it or not: new, and with all its lanes."""
    yield from judge_newness(line, part, scene)
    if part.text("interface") == "NVMe" or line.wanted(Aspect.LINK) is not None:
        yield from judge_link(line, part, scene)


def _eligible(part: Part, lines: tuple[OrderLine, ...]) -> bool:
    """A stick of the bench never stands for a drive, unless the order sells one."""
    sold = {wish.want for line in lines if (wish := line.wanted(Aspect.INTERFACE)) is not None}
    return part.text("interface") != "USB" or "USB" in sold


MATCHER = PieceMatcher(
    Category.STORAGE,
    PartKind.STORAGE,
    judges={
        Aspect.CAPACITY: judge_capacity,
        Aspect.TECHNOLOGY: judge_technology,
        Aspect.INTERFACE: judge_interface,
        Aspect.MODEL: judge_model,
        Aspect.MAKER: judge_maker,
        Aspect.PART_NUMBER: judge_part_number_by("model"),
    },
    besides=judge_besides,
    judged_besides=frozenset({Aspect.LINK}),
    eligible=_eligible,
)
