"""Network adapters: that there is one, and that its link is as fast as sold."""

from __future__ import annotations

from shipworthy.compare.identity import bare, ids_of, judge_ids, judge_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.pieces import PieceMatcher
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.likeness import short_name_likeness
from shipworthy.words.models import model_text


def judge_speed(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the speed. A slower link proves nothing: the cable or the other end may be the slow one."""
    got = part.number("speed_mbit_s")
    if got is None:
        return cannot_tell(wish, part.why_absent("speed_mbit_s"))
    if isinstance(wish.want, int | float) and got >= wish.want:
        return judged(Outcome.CONFORMS, Aspect.SPEED, wish.want, got, unit=Unit.MEGABITS)
    return judged(Outcome.CANNOT_TELL, Aspect.SPEED, wish.want, got, unit=Unit.MEGABITS, ending="slower-link")


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare PCI ids if the order gives ids, else the name that something gives the device."""
    by_ids = judge_ids(wish, part)
    if by_ids is not None:
        return by_ids
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"), ending="only-ids", ids=ids_of(part) or "none")
    want = bare(model_text(str(wish.want), Category.NETWORK), line, part)
    got = bare(model_text(said, Category.NETWORK), line, part)
    outcome = OF_LIKENESS[short_name_likeness(want, got, line.text if wish.words else "")]
    return judged(outcome, Aspect.MODEL, wish.want, said)


MATCHER = PieceMatcher(
    Category.NETWORK,
    PartKind.NETWORK,
    judges={Aspect.SPEED: judge_speed, Aspect.MODEL: judge_model, Aspect.MAKER: judge_maker},
)
