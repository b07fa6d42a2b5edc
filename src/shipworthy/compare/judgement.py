"""One result before it knows its order line and part, and the small words with which matchers make them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from shipworthy.model.base import Scalar, Value, values
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Outcome, Unit
from shipworthy.words.likeness import Likeness

_ENDINGS = {
    Outcome.CONFORMS: "conforms",
    Outcome.DIFFERS: "differs",
    Outcome.CANNOT_TELL: "cannot-tell",
    Outcome.NOT_CHECKED: "not-checked",
}
OF_LIKENESS = {
    Likeness.SAME: Outcome.CONFORMS,
    Likeness.OTHER: Outcome.DIFFERS,
    Likeness.PARTLY: Outcome.CANNOT_TELL,
}


@dataclass(frozen=True)
class Judgement:
    """code: without the category before it (`speed.below-sold`), or whole if it begins with `line.`."""

    aspect: Aspect
    outcome: Outcome
    code: str
    want: Scalar | None = None
    got: Scalar | None = None
    unit: Unit = Unit.NONE
    values: tuple[Value, ...] = ()
    place: str = ""  # of the part it speaks of, where that is not the one it was asked about


Judge = Callable[[Expectation, OrderLine, Part], Judgement]


def judged(
    outcome: Outcome,
    aspect: Aspect,
    want: Scalar | None,
    got: Scalar | None,
    *,
    unit: Unit = Unit.TEXT,
    ending: str = "",
    place: str = "",
    named: Mapping[str, Scalar] | None = None,
) -> Judgement:
    """Return a judgement whose code is the aspect and its ending (by default the outcome's word).

    named: values for its sentence.
    """
    code = f"{aspect.value.replace(' ', '-')}.{ending or _ENDINGS[outcome]}"
    return Judgement(aspect, outcome, code, want, got, unit, values(**(named or {})), place)


def cannot_tell(wish: Expectation, why: Absent, *, ending: str = "", **named: Scalar) -> Judgement:
    """Return that a wish cannot be told, since the value is absent for that reason."""
    return judged(
        Outcome.CANNOT_TELL,
        wish.aspect,
        wish.want,
        None,
        unit=wish.unit,
        ending=ending,
        named={"why": why.value, **named},
    )


def not_by_reading(wish: Expectation) -> Judgement:
    """Return that no reading shows this: a person has to look."""
    return Judgement(wish.aspect, Outcome.NOT_CHECKED, "line.not-by-reading", wish.want, None, wish.unit)


def text_or_why(part: Part, name: str) -> Scalar:
    """Return a fact's value for a sentence, or the word for why there is none."""
    value = part.value(name)
    return part.why_absent(name).value if value is None else value
