"""Drives: size, technology, interface, model, and whether their counters are those of a new one."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.compare.identity import bare, judge_maker, judge_part_number_by
from shipworthy.compare.judgement import (
    OF_LIKENESS,
    Judgement,
    cannot_tell,
    judged,
    text_or_why,
)
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.plan import Limit
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.likeness import Likeness, code_likeness, coded_name_likeness
from shipworthy.words.marketed import is_marketed_as
from shipworthy.words.models import model_text

COUNTERS = ("power_on_hours", "power_cycles", "written_bytes", "media_errors")
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


def judge_newness(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Hold the counters against the limits. They can be reset: what they show is all that is said.

    A counter that the drive does not have is left out; one that could not be read leaves it open.
    """
    shown: dict[str, Scalar] = {"model": part.text("model") or part.place}
    shown |= {name: text_or_why(part, name) for name in COUNTERS}
    limits = [limit for limit in scene.limits if limit.quantity.removeprefix("storage/") in COUNTERS]
    limits = [limit for limit in limits if limit.quantity.startswith("storage/")]
    exceeded = [
        (limit, got) for limit in limits if (got := _counter(part, limit)) is not None and got > limit.value
    ]
    if exceeded:
        limit, got = exceeded[0]
        counters = ", ".join(_counter_name(one).replace("_", " ") for one, _ in exceeded)
        named = {"counters": counters, "origin": limit.origin.value}
        yield judged(
            Outcome.DIFFERS,
            Aspect.NEWNESS,
            limit.value,
            got,
            unit=limit.unit,
            ending="used",
            named={**named, **shown},
        )
    else:
        outcome, ending, why = _newness(part, limits)
        yield judged(outcome, Aspect.NEWNESS, None, None, ending=ending, named={"why": why, **shown})


def _newness(part: Part, limits: list[Limit]) -> tuple[Outcome, str, str]:
    if not limits:
        return Outcome.NOT_CHECKED, "no-limit", ""
    absent = [part.why_absent(name) for limit in limits if part.number(name := _counter_name(limit)) is None]
    readable = len(limits) - len(absent)
    silent = all(why is Absent.NOT_OFFERED for why in absent)
    if readable and silent and part.number("power_on_hours") is not None:
        return Outcome.CONFORMS, "counters", ""
    why = next((why for why in absent if why is not Absent.NOT_OFFERED), Absent.NOT_OFFERED)
    return Outcome.CANNOT_TELL, "", why.value


def _counter(part: Part, limit: Limit) -> int | float | None:
    return part.number(_counter_name(limit))


def _counter_name(limit: Limit) -> str:
    return limit.quantity.removeprefix("storage/")


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
    besides=judge_newness,
    eligible=_eligible,
)
