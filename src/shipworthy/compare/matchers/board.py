"""Boards: product and revision, as the firmware gives them."""

from __future__ import annotations

import re

from shipworthy.compare.identity import bare, judge_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.pieces import PieceMatcher
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind
from shipworthy.words.board_names import board_likeness, names_other_memory
from shipworthy.words.likeness import Likeness
from shipworthy.words.makers import is_known_maker, leading_maker, maker_key
from shipworthy.words.models import model_text
from shipworthy.words.names import same_spelling

_DDR = re.compile(r"\bDDR(?=\d\b)", re.IGNORECASE)
"""Boards end in `D4` and in `DDR4` for one thing, which is a part of their names: no word that describes."""


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model. A name that fits, of a maker known to be another, is another board."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    by_number = _has_part_number(line, part) and not names_other_memory(said, line.text)
    if by_number and not _other_maker(line, part):
        return judged(Outcome.CONFORMS, Aspect.MODEL, wish.want, said, ending="by-part-number")
    want, got = (
        bare(model_text(_DDR.sub("D", name), Category.BOARD), line, part) for name in (str(wish.want), said)
    )
    likeness = board_likeness(want, got, line.text if wish.words else "", maker_key(part.text("maker")))
    if likeness is Likeness.SAME and _other_maker(line, part):
        likeness = Likeness.OTHER
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


def judge_part_number(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the part number. Some makers use the product's name as one; no other shows itself."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    got = bare(model_text(said, Category.BOARD), line, part)
    if same_spelling(bare(str(wish.want), line, part), got):
        return judged(Outcome.CONFORMS, Aspect.PART_NUMBER, wish.want, said)
    return judged(Outcome.CANNOT_TELL, Aspect.PART_NUMBER, wish.want, said, ending="not-shown")


def judge_version(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the revision; firmware that leaves a place open (`1.xx`, `x.x`) tells nothing of it."""
    said = part.text("version")
    if not said:
        return cannot_tell(wish, part.why_absent("version"))
    want, got = _revision(str(wish.want)), _revision(said)
    if want == got:
        outcome = Outcome.CONFORMS
    else:
        outcome = Outcome.CANNOT_TELL if "x" in got or not any(map(str.isdigit, got)) else Outcome.DIFFERS
    return judged(outcome, Aspect.VERSION, wish.want, said)


def _has_part_number(line: OrderLine, part: Part) -> bool:
    number = line.wanted(Aspect.PART_NUMBER)
    return number is not None and judge_part_number(number, line, part).outcome is Outcome.CONFORMS


def _revision(text: str) -> str:
    plain = "".join(character if character.isprintable() else " " for character in text.casefold())
    plain = re.sub(r"^(?:revision|rev|version|ver|v)\b\.?\s*", "", " ".join(plain.split()))
    return re.sub(r"\.0+$", "", plain)


def _other_maker(line: OrderLine, part: Part) -> bool:
    sold, fitted = maker_key(line.maker) or leading_maker(line.text), maker_key(part.text("maker"))
    return is_known_maker(sold) and is_known_maker(fitted) and sold != fitted


MATCHER = PieceMatcher(
    Category.BOARD,
    PartKind.BOARD,
    judges={
        Aspect.MODEL: judge_model,
        Aspect.VERSION: judge_version,
        Aspect.MAKER: judge_maker,
        Aspect.PART_NUMBER: judge_part_number,
    },
)
