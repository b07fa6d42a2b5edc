"""Displays: by the name that they give in their EDID, which holds thirteen characters at most."""

from __future__ import annotations

from collections.abc import Iterable

from shipworthy.compare.identity import bare, judge_maker, judge_part_number_by
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind
from shipworthy.words.counts import find_diagonals, find_resolutions
from shipworthy.words.display_names import display_likeness
from shipworthy.words.makers import maker_key
from shipworthy.words.models import model_text

_FAR_INCHES = 2.0
"""What two statements of one display's size may be apart: EDIDs round to whole centimetres, boxes up."""


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model; a name that was cut off, or that only begins like the one sold, tells nothing."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    want, got = (bare(model_text(name, Category.DISPLAY), line, part) for name in (str(wish.want), said))
    likeness = display_likeness(want, got, maker_key(line.maker) or maker_key(part.text("maker")))
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


def judge_picture(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge size and pixels where they are clearly not those of the line's text.

    What agrees proves nothing, as many displays share it; and fewer pixels than sold may be the link's fault,
    or a setting's of the display. So nothing but a difference is told.
    """
    sizes = {one.inches for one in find_diagonals(line.text)}
    got = part.number("diagonal_inch")
    if len(sizes) == 1 and got and abs(got - (want := sizes.pop())) >= _FAR_INCHES:
        yield judged(Outcome.DIFFERS, Aspect.SIZE, want, got)
    found = find_resolutions(line.text)
    pixels = {(one.width_px, one.height_px) for one in found if one.width_px is not None}
    width = part.number("native_width_px") or part.number("width_px")
    height = part.number("native_height_px") or part.number("height_px")
    if len(pixels) == 1 and width and height and _is_more((int(width), int(height)), sold := pixels.pop()):
        text = (f"{x}x{y}" for x, y in (sold, (width, height)))
        yield judged(Outcome.DIFFERS, Aspect.SIZE, *text, ending="more-pixels")


def _is_more(got: tuple[int, int], sold: tuple[int, int]) -> bool:
    """Whether a display has clearly more pixels than sold, turned on its side or not (a tenth: 1366 and 1360
    are one trade's word, and 1920x1200 is sold as 1080p by nobody)."""
    return min(got) > 1.1 * min(sold) and max(got) > 1.1 * max(sold)


MATCHER = PieceMatcher(
    Category.DISPLAY,
    PartKind.DISPLAY,
    judges={
        Aspect.MODEL: judge_model,
        Aspect.MAKER: judge_maker,
        Aspect.PART_NUMBER: judge_part_number_by("model"),
    },
    tells=judge_picture,
)
