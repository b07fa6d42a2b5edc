"""Boards: product and revision, as the firmware gives them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from enum import StrEnum
from functools import partial

from shipworthy.compare.identity import bare, judge_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judge, Judgement, cannot_tell, judged
from shipworthy.compare.matchers.board_wireless import Wireless, board_wireless
from shipworthy.compare.pieces import PieceMatcher, Scene, Verdicts
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from shipworthy.words.board_names import (
    board_likeness,
    lacks_generation_alone,
    lacks_wireless_alone,
    names_other_memory,
)
from shipworthy.words.board_numbers import is_cut_at_a_slash, sells_another, stands_whole
from shipworthy.words.counts import find_revisions
from shipworthy.words.firmware_versions import is_at_least
from shipworthy.words.likeness import Likeness
from shipworthy.words.makers import is_known_maker, leading_maker, maker_key
from shipworthy.words.models import model_text
from shipworthy.words.names import Name, same_spelling

_DDR = re.compile(r"\bDDR(?=\d\b)", re.IGNORECASE)
"""Boards end in `D4` and in `DDR4` for one thing, which is a part of their names: no word that describes."""


class Number(StrEnum):
    """What a board shows of the part numbers of its line, as the ending of a code."""

    SHOWN = "conforms"
    NOT_SHOWN = "not-shown"
    CUT_SHORT = "cut-short"
    AGAINST_THE_TEXT = "against-the-text"


_BY_NUMBER = {
    Number.SHOWN: (Outcome.CONFORMS, "by-part-number"),
    Number.AGAINST_THE_TEXT: (Outcome.CANNOT_TELL, "against-its-number"),
}


def judge_model(reading: Reading, wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model. A name that fits, of a maker known to be another, is another board."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    other_maker = _other_maker(line, part)
    number = Number.NOT_SHOWN if other_maker else _number_of(line, part)
    names = _names(wish, line, part)
    if (
        number in _BY_NUMBER
        and not names_other_memory(said, line.text)
        and not lacks_wireless_alone(*names)  # lists have the number of the sibling without it
    ):
        outcome, ending = _BY_NUMBER[number]
        return judged(outcome, Aspect.MODEL, wish.want, said, ending=ending)
    likeness = board_likeness(*names)
    if likeness is Likeness.SAME and other_maker:
        likeness = Likeness.OTHER
    if likeness is Likeness.PARTLY and not other_maker and lacks_wireless_alone(*names):
        outcome, ending = _BY_WIRELESS[board_wireless(reading)]
        return judged(outcome, Aspect.MODEL, wish.want, said, ending=ending)
    if likeness is not Likeness.SAME and not other_maker and lacks_generation_alone(*names):
        return judged(
            Outcome.NOT_CHECKED, Aspect.MODEL, wish.want, said, ending="wireless-generation-by-label"
        )
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


_BY_WIRELESS = {
    Wireless.OF_THE_BOARD: (Outcome.CONFORMS, "with-wireless"),
    Wireless.NONE_SEEN: (Outcome.CANNOT_TELL, "no-wireless"),
    Wireless.OPEN: (Outcome.NOT_CHECKED, "wireless-by-label"),
}
"""What a name says that is the one sold but for Wi-Fi, by what the reading shows of it."""


def _names(wish: Expectation, line: OrderLine, part: Part) -> tuple[str, str, str, str]:
    """Return what names of boards are compared by: wanted, found, the text as sold, the maker's key."""
    want, got = (_name(text, line, part) for text in (str(wish.want), part.text("model")))
    return want, got, line.text if wish.words else "", maker_key(part.text("maker"))


def _name(text: str, line: OrderLine, part: Part) -> str:
    """Return the model within a text, without its maker and without a mark that is judged apart."""
    name = bare(model_text(_DDR.sub("D", _printable(text)), Category.BOARD), line, part)
    variant = line.wanted(Aspect.VARIANT)
    if variant is None:
        return name
    mark = re.compile(rf"(?<=[\s/-]){re.escape(str(variant.want))}(?!\w)", re.IGNORECASE)
    return mark.sub("", name).rstrip(" /-")


def judge_part_number(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the part number, or those that the part goes by. Some makers use the product's name as one; no
    other shows itself."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    found = _number_of(line, part)
    outcome = Outcome.CONFORMS if found is Number.SHOWN else Outcome.CANNOT_TELL
    return judged(outcome, Aspect.PART_NUMBER, wish.want, said, ending=found.value)


def _number_of(line: OrderLine, part: Part) -> Number:
    """Return what a board shows of the part numbers of its line.

    One that the name sold has before a slash is a sibling's whole name as well. And one that is the name of
    another board than the one sold contradicts the line: lists hold numbers of siblings among a board's own.
    """
    wish, model = line.wanted(Aspect.PART_NUMBER), line.wanted(Aspect.MODEL)
    got = bare(model_text(part.text("model"), Category.BOARD), line, part)
    wants = tuple(map(str, wish.wants)) if wish else ()
    shown = [want for want in wants if same_spelling(bare(want, line, part), got)]
    if not shown:
        return Number.NOT_SHOWN
    sold = _name(str(model.want) if model else line.text, line, part)
    if all(is_cut_at_a_slash(want, sold) for want in shown):
        return Number.CUT_SHORT
    if model is None or any(stands_whole(want, sold) for want in shown):
        return Number.SHOWN
    names = _names(model, line, part)
    another = any(stands_whole(want, sold) for want in wants) or sells_another(*names[:2])
    other = another and board_likeness(*names) is Likeness.OTHER
    return Number.AGAINST_THE_TEXT if other else Number.SHOWN


def judge_version(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the revision: the one in the board's own name, else the one that its table has.

    Firmware that offers none, or leaves a place open (`1.xx`, `x.x`), tells nothing of it, and the print on
    the board does: a person looks. An order may leave its last place open: 1.0 and 1.2 are both of `1.x`.
    """
    in_name = {found.revision for found in find_revisions(part.text("model"))}
    said = in_name.pop() if len(in_name) == 1 else part.text("version")
    if not said and part.why_absent("version") is not Absent.NOT_OFFERED:
        return cannot_tell(wish, part.why_absent("version"))
    want, got = _revision(str(wish.want)), _revision(said)
    if want == got or _is_one_of(got, want):
        return judged(Outcome.CONFORMS, Aspect.VERSION, wish.want, said)
    if "x" in got or not any(map(str.isdigit, got)):
        return judged(Outcome.NOT_CHECKED, Aspect.VERSION, wish.want, said or None, ending="by-label")
    return judged(Outcome.DIFFERS, Aspect.VERSION, wish.want, said)


def judge_variant(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Judge a mark that firmware hardly ever has (ASUS: CSM): shown if it has it, else told by the label."""
    said = part.text("model")
    if said and Name.of(str(wish.want)).atoms <= Name.of(said).atoms:
        return judged(Outcome.CONFORMS, Aspect.VARIANT, wish.want, said)
    return judged(Outcome.NOT_CHECKED, Aspect.VARIANT, wish.want, said or None)


def judge_firmware(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge whether the firmware is of the version asked for or a later one, where the order asks for one."""
    wish = line.wanted(Aspect.FIRMWARE)
    if wish is None:
        return
    firmware = next(iter(scene.reading.of_kind(PartKind.FIRMWARE)), None)
    said = firmware.text("version") if firmware else ""
    if firmware is None or not said:
        why = Absent.NOT_ASKED if firmware is None else firmware.why_absent("version")
        yield cannot_tell(wish, why)
        return
    later = is_at_least(said, str(wish.want))
    outcome = {True: Outcome.CONFORMS, False: Outcome.DIFFERS, None: Outcome.CANNOT_TELL}[later]
    ending = "other-shape" if later is None else ""
    yield judged(outcome, Aspect.FIRMWARE, wish.want, said, ending=ending, place=firmware.place)


def _printable(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _revision(text: str) -> str:
    plain = re.sub(r"^(?:revision|rev|version|ver|v)\b\.?\s*", "", _printable(text.casefold()))
    return re.sub(r"\.0+$", "", plain)


def _is_one_of(got: str, want: str) -> bool:
    """Whether a revision is one of those that an order with its last place open (`1.x`) means."""
    series = re.fullmatch(r"(\d+)\.x+", want)
    return series is not None and re.fullmatch(rf"{series[1]}(?:\.\d+)?", got) is not None


def _other_maker(line: OrderLine, part: Part) -> bool:
    sold, fitted = maker_key(line.maker) or leading_maker(line.text), maker_key(part.text("maker"))
    return is_known_maker(sold) and is_known_maker(fitted) and sold != fitted


_JUDGES: Mapping[Aspect, Judge] = {
    Aspect.VERSION: judge_version,
    Aspect.MAKER: judge_maker,
    Aspect.PART_NUMBER: judge_part_number,
    Aspect.VARIANT: judge_variant,
}


class BoardMatcher:
    """Boards. Whether the model is the one sold can rest on more of a reading than the board's own facts."""

    category = Category.BOARD

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        return PieceMatcher(
            Category.BOARD,
            PartKind.BOARD,
            judges={**_JUDGES, Aspect.MODEL: partial(judge_model, scene.reading)},
            besides=judge_firmware,
            judged_besides=frozenset({Aspect.FIRMWARE}),
        ).match(lines, scene)


MATCHER = BoardMatcher()
