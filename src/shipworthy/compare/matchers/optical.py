"""Optical drives: that there is one, and that it takes the discs that it was sold for."""

from __future__ import annotations

import re
from collections.abc import Iterable

from shipworthy.compare.discs import needs_of
from shipworthy.compare.identity import judge_maker, judge_part_number_by
from shipworthy.compare.judgement import Judgement, judged, text_or_why
from shipworthy.compare.matchers.storage import judge_interface
from shipworthy.compare.matchers.storage import judge_model as judge_drive_model
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind
from shipworthy.words.kinds import find_interfaces

_ABILITIES = {
    "reads_dvd": "reads DVDs",
    "reads_bd": "reads Blu-ray discs",
    "writes_cd": "writes CDs",
    "writes_dvd": "writes DVDs",
    "writes_bd": "writes Blu-ray discs",
}
_OUTSIDE = re.compile(r"\b(?:external|portable|slim\s?usb)\b", re.IGNORECASE)


def judge_abilities(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge what the line's text says that the drive can do.

    A drive that only fills the bay is not the one that was sold, so this is part of its presence; of its
    technology, where the order expects one.
    """
    wish = line.wanted(Aspect.TECHNOLOGY)
    aspect = Aspect.PRESENCE if wish is None else Aspect.TECHNOLOGY
    needs = needs_of(line.text if wish is None else str(wish.want))
    if wish is not None and not needs:
        yield Judgement(aspect, Outcome.NOT_CHECKED, "line.not-by-reading", wish.want, None, wish.unit)
    for need in needs:
        can = part.value(need.fact)
        named = {"ability": _ABILITIES[need.fact], "why": text_or_why(part, need.fact)}
        if can is True:
            yield judged(Outcome.CONFORMS, aspect, True, True, ending="ability", named=named)
        elif can is False and need.certain:
            yield judged(Outcome.DIFFERS, aspect, True, False, ending="ability-missing", named=named)
        elif can is False:
            yield judged(Outcome.CANNOT_TELL, aspect, True, False, ending="ability-doubtful", named=named)
        else:
            yield judged(Outcome.CANNOT_TELL, aspect, True, None, ending="ability-open", named=named)


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model, as of any drive."""
    return judge_drive_model(wish, line, part)


def _eligible(part: Part, lines: tuple[OrderLine, ...]) -> bool:
    """A drive of the bench, on USB, never stands for one sold, unless the order sells one on USB."""
    return part.text("interface") != "USB" or any(_is_outside(line) for line in lines)


def _is_outside(line: OrderLine) -> bool:
    said = [word.meaning for word in find_interfaces(line.text)]
    wish = line.wanted(Aspect.INTERFACE)
    return "USB" in said or (wish is not None and wish.want == "USB") or bool(_OUTSIDE.search(line.text))


def _suits(line: OrderLine, part: Part) -> bool:
    return part.text("interface") != "USB" or _is_outside(line)


MATCHER = PieceMatcher(
    Category.OPTICAL_DRIVE,
    PartKind.OPTICAL_DRIVE,
    judges={
        Aspect.MODEL: judge_model,
        Aspect.MAKER: judge_maker,
        Aspect.PART_NUMBER: judge_part_number_by("model"),
        Aspect.INTERFACE: judge_interface,
    },
    tells=judge_abilities,
    judged_besides=frozenset({Aspect.TECHNOLOGY}),
    eligible=_eligible,
    suits=_suits,
)
