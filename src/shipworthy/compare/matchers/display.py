"""Displays: by the name that they give in their EDID, which holds thirteen characters at most."""

from __future__ import annotations

from shipworthy.compare.identity import bare, judge_maker, judge_part_number_by
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.pieces import PieceMatcher
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, PartKind
from shipworthy.words.likeness import Likeness, short_name_likeness
from shipworthy.words.models import model_text
from shipworthy.words.names import Name

_EDID_NAME_LENGTH = 13  # VESA E-EDID A2, display product name descriptor


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model; a name that was cut off, or that only begins like the one sold, tells nothing."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    want = bare(model_text(str(wish.want), Category.DISPLAY), line, part)
    got = bare(model_text(said, Category.DISPLAY), line, part)
    likeness = short_name_likeness(want, got, line.text if wish.words else "")
    if likeness is not Likeness.SAME and _may_be_cut_off(want, got, said):
        likeness = Likeness.PARTLY
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


def _may_be_cut_off(want: str, got: str, said: str) -> bool:
    begins = Name.of(want).compact.startswith(Name.of(got).compact)
    return begins and len(said.strip()) >= _EDID_NAME_LENGTH - 1


MATCHER = PieceMatcher(
    Category.DISPLAY,
    PartKind.DISPLAY,
    judges={
        Aspect.MODEL: judge_model,
        Aspect.MAKER: judge_maker,
        Aspect.PART_NUMBER: judge_part_number_by("model"),
    },
)
