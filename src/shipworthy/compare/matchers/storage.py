"""Drives: size, technology, interface, model, and whether their counters are those of a new one."""

from __future__ import annotations

import re
from collections.abc import Iterable

from shipworthy.compare.identity import bare, judge_maker
from shipworthy.compare.judgement import (
    OF_LIKENESS,
    Judgement,
    cannot_tell,
    judged,
    not_by_reading,
)
from shipworthy.compare.links import judge_link
from shipworthy.compare.newness import judge_newness
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import CARRIED, Absent, Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.drive_codes import read_drive_codes
from shipworthy.words.drive_houses import (
    DriveOrigin,
    are_kin,
    are_two_houses,
    are_two_technologies,
    drive_origin,
    is_of_system_maker,
)
from shipworthy.words.drive_names import drive_likeness, number_likeness, says_heatsink, speaks_in_code
from shipworthy.words.forms import find_drive_forms, same_form
from shipworthy.words.likeness import Likeness, best_of, code_likeness
from shipworthy.words.marketed import is_marketed_as
from shipworthy.words.models import model_text
from shipworthy.words.speeds import same_rate

# Words of IDENTIFY DEVICE for a drive's form (ACS-3, word 168) and ours.
_FORMS = {"3.5 inch": '3.5"', "2.5 inch": '2.5"', "mSATA": "mSATA", "M.2": "M.2"}
_ONE_SIZE = {"U.2", '2.5"'}
"""U.2 is a jack of drives of 2.5 inch (SFF-8639, from memory): a code that tells the size tells no jack."""
_SOLID = frozenset({"NVMe", "solid state"})
_FLASH = frozenset({"eMMC", *CARRIED})
_CARD = re.compile(
    r"\b(?:micro)?SD(?:HC|XC|UC)?\b|\bmemory\scards?\b|\bSpeicherkarten?\b|\bcartes?\sm[ée]moire\b",
    re.IGNORECASE,
)
"""How orders name a card for a reader (English, German, French)."""


def judge_capacity(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the size on the box with the bytes that the drive has (see `words.marketed`)."""
    size = part.number("size_bytes")
    if size is None:
        return cannot_tell(wish, part.why_absent("size_bytes"))
    of_flash = part.text("interface") in _FLASH
    fits = isinstance(wish.want, int | float) and is_marketed_as(int(size), int(wish.want), flash=of_flash)
    outcome = Outcome.CONFORMS if fits else Outcome.DIFFERS
    return judged(outcome, Aspect.CAPACITY, wish.want, size, unit=Unit.BYTES)


def judge_technology(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare how it stores. A virtual disk tells nothing of what lies below it.

    A hybrid drive says that it spins, and not what is beside its disks: that its maker's code may tell. Where
    no fact tells it, the drive's own name may: `SSD`, or a code of its maker's for hard disks.
    """
    said = part.text("technology")
    if not said:
        return _judge_technology_by_name(wish, part)
    if said == wish.want or (wish.want == "solid state" and said in _SOLID):
        return judged(Outcome.CONFORMS, Aspect.TECHNOLOGY, wish.want, said)
    if wish.want == "hybrid" and said == "spinning":
        return _judge_hybrid(wish, line, part)
    outcome = Outcome.CANNOT_TELL if said == "virtual" else Outcome.DIFFERS
    return judged(outcome, Aspect.TECHNOLOGY, wish.want, said, named={"why": Absent.NOT_OFFERED.value})


def _judge_technology_by_name(wish: Expectation, part: Part) -> Judgement:
    said = part.text("model")
    named, sold = drive_origin(said), DriveOrigin(technology=str(wish.want))
    if named.technology == sold.technology:
        return judged(Outcome.CONFORMS, Aspect.TECHNOLOGY, wish.want, said, ending="by-model")
    if are_two_technologies(sold, named):
        return judged(Outcome.DIFFERS, Aspect.TECHNOLOGY, wish.want, named.technology)
    return cannot_tell(wish, part.why_absent("technology"))


def _judge_hybrid(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    said = part.text("model")
    by_code = any(code.technology == "hybrid" for code in read_drive_codes(said))
    if by_code or _has_number(line, said):
        return judged(Outcome.CONFORMS, Aspect.TECHNOLOGY, wish.want, said, ending="by-model")
    return judged(Outcome.NOT_CHECKED, Aspect.TECHNOLOGY, wish.want, said, ending="read-label")


def judge_interface(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the interface."""
    said = part.text("interface")
    if not said:
        return cannot_tell(wish, part.why_absent("interface"))
    outcome = Outcome.CONFORMS if said == wish.want else Outcome.DIFFERS
    return judged(outcome, Aspect.INTERFACE, wish.want, said)


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model with what the drive calls itself; the part number, where it shows, decides.

    A drive that names itself by its maker's code never says the name on its box: a person reads its label.
    But a drive of another house, or one that stores in another way, is none that was sold.
    """
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    if _has_number(line, said):
        return judged(Outcome.CONFORMS, Aspect.MODEL, wish.want, said, ending="by-part-number")
    text = line.text if wish.words else ""
    if _is_another_drive(f"{wish.want} {text}", line, part):
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, said)
    want = bare(model_text(str(wish.want), Category.STORAGE), line, part)
    got = bare(model_text(said, Category.STORAGE), line, part)
    likeness = drive_likeness(want, got, text)
    if likeness is Likeness.SAME and says_heatsink(said) and not says_heatsink(f"{wish.want} {line.text}"):
        likeness = Likeness.PARTLY  # one model is sold with and without
    if likeness is Likeness.PARTLY and speaks_in_code(want, got):
        return judged(
            Outcome.NOT_CHECKED, Aspect.MODEL, wish.want, None, ending="read-label", named={"said": said}
        )
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


def judge_part_number(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the part number; of several that would do, one is enough."""
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    likeness = best_of([number_likeness(str(want), said) for want in wish.wants])
    if likeness is Likeness.PARTLY and _is_another_drive(" ".join(map(str, wish.wants)), line, part):
        likeness = Likeness.OTHER
    ending = "not-shown" if likeness is Likeness.PARTLY else ""
    return judged(OF_LIKENESS[likeness], Aspect.PART_NUMBER, wish.want, said, ending=ending)


def _is_another_drive(sold: str, line: OrderLine, part: Part) -> bool:
    """Whether a drive is of another house than the words sold, or stores in another way.

    Where the order sells a technology, that is judged by itself.
    """
    stores, maker = line.wanted(Aspect.TECHNOLOGY), line.wanted(Aspect.MAKER)
    wanted = drive_origin(
        sold,
        line.maker or ("" if maker is None else str(maker.want)),
        "" if stores is None else str(stores.want),
    )
    said = _said(part)
    return are_two_houses(wanted, said) or (stores is None and are_two_technologies(wanted, said))


def _said(part: Part) -> DriveOrigin:
    return drive_origin(part.text("model"), part.text("maker"), part.text("technology"))


def judge_house(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare makers by the name or the code of the drive.

    Of houses of which one sold the other's drives, and of system makers, who label drives of any house, the
    part number alone tells, or the label.
    """
    sold, said = drive_origin("", str(wish.want)), _said(part)
    got = part.text("model")
    if sold.houses & said.houses:
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, got)
    if are_two_houses(sold, said):
        return judged(Outcome.DIFFERS, Aspect.MAKER, wish.want, got)
    if not (are_kin(sold, said) or (is_of_system_maker(str(wish.want)) and said.houses)):
        return judge_maker(wish, line, part)
    if _has_number(line, got):
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, got)
    return judged(Outcome.NOT_CHECKED, Aspect.MAKER, wish.want, got, ending="sold-by-another")


def _has_number(line: OrderLine, said: str) -> bool:
    number = line.wanted(Aspect.PART_NUMBER)
    wants = () if number is None else number.wants
    return any(code_likeness(str(want), said) is Likeness.SAME for want in wants)


def judge_form(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the form, where the drive tells it, its maker's code, or a word of its name (`860 EVO M.2`).

    Else its looks do, and so where two of them contradict each other: some mSATA drives say `2.5 inch`.
    """
    model = part.text("model")
    named = next((code.form for code in read_drive_codes(model) if code.form), "")
    named = named or _only({word.meaning for word in find_drive_forms(model)})
    told = _FORMS.get(part.text("form_factor"), "") or named
    if not told or (named and not same_form(named, told)) or {str(wish.want), told} == _ONE_SIZE:
        return not_by_reading(wish)
    outcome = Outcome.CONFORMS if same_form(str(wish.want), told) else Outcome.DIFFERS
    return judged(outcome, Aspect.FORM, wish.want, told)


def _only(found: set[str]) -> str:
    return found.pop() if len(found) == 1 else ""


def judge_turns(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare how fast the disks turn."""
    turns, want = part.number("rotation_rpm"), wish.want
    if turns is None or not isinstance(want, int | float):
        return not_by_reading(wish)
    outcome = Outcome.CONFORMS if same_rate(turns, want) else Outcome.DIFFERS
    return judged(outcome, Aspect.SPEED, want, turns, unit=Unit.RPM)


def judge_besides(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge what a drive has to be whether the order speaks of it or not: new, and with all its lanes."""
    yield from judge_newness(line, part, scene)
    if part.text("interface") == "NVMe" or line.wanted(Aspect.LINK) is not None:
        yield from judge_link(line, part, scene)


def _eligible(part: Part, lines: tuple[OrderLine, ...]) -> bool:
    """A stick or a card of the bench never stands for a drive, unless the order sells one."""
    if part.text("interface") == "SD":
        return any(_CARD.search(line.text) for line in lines)
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
        Aspect.MAKER: judge_house,
        Aspect.PART_NUMBER: judge_part_number,
        Aspect.FORM: judge_form,
        Aspect.SPEED: judge_turns,
    },
    besides=judge_besides,
    judged_besides=frozenset({Aspect.LINK}),
    eligible=_eligible,
)
