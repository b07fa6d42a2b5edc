"""Graphics: the model, where something names it; ids alone do not tell a name that was sold."""

from __future__ import annotations

from shipworthy.compare.identity import bare, ids_of, judge_ids, judge_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.pieces import PieceMatcher
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, PartKind
from shipworthy.words.likeness import short_name_likeness
from shipworthy.words.models import model_text


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model with the name that something gives the device; PCI ids if the order gives ids."""
    by_ids = judge_ids(wish, part)
    if by_ids is not None:
        return by_ids
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"), ending="only-ids", ids=ids_of(part) or "none")
    want = bare(model_text(str(wish.want), Category.GRAPHICS), line, part)
    got = bare(model_text(said, Category.GRAPHICS), line, part)
    outcome = OF_LIKENESS[short_name_likeness(want, got, line.text if wish.words else "")]
    return judged(outcome, Aspect.MODEL, wish.want, said)


def judge_capacity(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """No source that we read gives the memory of a graphics card."""
    return cannot_tell(wish, Absent.NOT_OFFERED)


MATCHER = PieceMatcher(
    Category.GRAPHICS,
    PartKind.GRAPHICS,
    judges={Aspect.MODEL: judge_model, Aspect.CAPACITY: judge_capacity, Aspect.MAKER: judge_maker},
)
