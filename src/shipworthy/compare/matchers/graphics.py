"""Graphics: the product of the chip's maker, its memory, who made the card, and the way to the processor.

A device id is a chip and not a product. Where several products remain, the reading names them all as
candidates: an order's product among them is open, and one that is like none of them is another one.
"""

from __future__ import annotations

import re

from shipworthy.compare.assign import DIFFERENCE_COSTS
from shipworthy.compare.identity import bare, ids_of, judge_ids
from shipworthy.compare.identity import judge_maker as judge_chip_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.links import judge_link
from shipworthy.compare.onboard import is_in_a_slot, is_soldered
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.graphics_names import card_words, product_likeness
from shipworthy.words.kinds import find_card_memory
from shipworthy.words.likeness import Likeness, short_name_likeness
from shipworthy.words.makers import is_known_maker, maker_key, maker_keys
from shipworthy.words.models import model_text
from shipworthy.words.sizes import Base, find_sizes, size_text

_GIB = 1 << 30
_SIZES_GIB = (1, 2, 3, 4, 5, 6, 8, 10, 11, 12, 16, 20, 24, 32, 40, 48, 64, 80, 96)
"""Sizes in which cards are sold (common practice)."""
_LEAST_SHARE, _MOST_SHARE = 0.9, 1.02
"""A driver keeps up to a tenth of the memory to itself (common practice; see `machine.parse.graphics`)."""
_VENDORS = {"1002": "amd", "10de": "nvidia", "8086": "intel"}
_CHIP_MAKERS = frozenset(_VENDORS.values())
_FAMILIES = {
    "nvidia": re.compile(r"\b(?:NVIDIA|GeForce|Quadro|Tesla|[RG]TX)\b", re.IGNORECASE),
    "amd": re.compile(r"\b(?:AMD|Radeon|FirePro|RX)\b", re.IGNORECASE),
    "intel": re.compile(r"\b(?:Intel|Arc)\b", re.IGNORECASE),
}
"""Words that shops use of the chips of one maker alone (common practice)."""
_BETWEEN = " | "
_SLOW_MINING = re.compile(r"\bLite Hash Rate\b|\bLHR\b", re.IGNORECASE)
"""What `pci.ids` and some shops add to a product that mines slowly; drivers and most shops do not."""


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model with the name that something gives the device; PCI ids if the order gives ids.

    It is the product of the chip's maker that is compared, which a driver names. What the card's maker calls
    his version of it is a variant.
    """
    by_ids = judge_ids(wish, part)
    if by_ids is not None:
        return by_ids
    if _is_of_another_chip_maker(wish, line, part):
        named = part.text("model") or part.text("model_candidates").replace(_BETWEEN, ", ")
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, named or ids_of(part))
    said = part.text("model")
    candidates = [name for name in part.text("model_candidates").split(_BETWEEN) if name.strip()]
    if said:
        likeness, got = _likeness(wish, line, part, said), said
    elif candidates:
        return _judge_candidates(wish, line, part, candidates)
    else:
        return cannot_tell(wish, part.why_absent("model"), ending="only-ids", ids=ids_of(part) or "none")
    if likeness is Likeness.PARTLY and _is_this_card(wish, line, part):
        likeness, got = Likeness.SAME, part.text("card_model")
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, got)


def _is_of_another_chip_maker(wish: Expectation, line: OrderLine, part: Part) -> bool:
    """Whether the ids alone tell that it is not the chip sold: graphics within a processor, or of a server's
    controller, answer where the card that was sold is dead, and their names may tell no product. A name that
    tells the maker sold, against the ids, leaves it to the names."""
    vendor = part.text("vendor_id").removeprefix("0x").lower()
    sold = _chip_makers(f"{line.maker} {line.text} {wish.want}")
    named = _chip_makers(f"{part.text('model')} {part.text('model_candidates')}")
    known = vendor not in ("", "0000", "ffff") and len(sold) == 1
    return known and _VENDORS.get(vendor) not in sold and not sold & named


def _chip_makers(text: str) -> set[str]:
    return {maker for maker, words in _FAMILIES.items() if words.search(text)}


def _likeness(wish: Expectation, line: OrderLine, part: Part, name: str) -> Likeness:
    """Compare by the product of the chip's maker, and the memory that a name tells (`GTX 1060 3GB`); by all
    words where no product is named."""
    by_product = product_likeness(_sold(wish, line), name)
    if by_product is not None:
        return _with_memory(by_product, wish, line, name)
    return _likeness_of_words(wish, line, part, name)


def _sold(wish: Expectation, line: OrderLine) -> str:
    """Return the text that names the product: the whole line's, where the model was read from it, since
    words that describe are left out of a model (the Black of a `Titan Black`)."""
    return line.text if wish.words else str(wish.want)


def _with_memory(found: Likeness, wish: Expectation, line: OrderLine, name: str) -> Likeness:
    told = {size.size_bytes for size in find_sizes(name, Base.BINARY)}
    if found is not Likeness.SAME or not told:
        return found
    capacity = line.wanted(Aspect.CAPACITY)
    sold = {size.size_bytes for size in find_sizes(str(wish.want), Base.BINARY)}
    sold |= {int(capacity.want)} if capacity and isinstance(capacity.want, int | float) else set()
    if not sold:
        return Likeness.PARTLY
    return Likeness.SAME if sold & told else Likeness.OTHER


def _likeness_of_words(wish: Expectation, line: OrderLine, part: Part, name: str) -> Likeness:
    want, got = (
        bare(model_text(_SLOW_MINING.sub(" ", text), Category.GRAPHICS), line, part)
        for text in (str(wish.want), name)
    )
    return short_name_likeness(want, got, line.text if wish.words else "")


def _judge_candidates(wish: Expectation, line: OrderLine, part: Part, candidates: list[str]) -> Judgement:
    """The product is one of several: none alike is a difference, and one alike is no proof."""
    found = {_likeness(wish, line, part, name) for name in candidates}
    got = ", ".join(candidates)
    if found == {Likeness.OTHER}:
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, got, ending="no-candidate")
    if _is_this_card(wish, line, part):
        return judged(Outcome.CONFORMS, Aspect.MODEL, wish.want, part.text("card_model"))
    return judged(Outcome.CANNOT_TELL, Aspect.MODEL, wish.want, got, ending="candidates")


def _is_this_card(wish: Expectation, line: OrderLine, part: Part) -> bool:
    """Whether the name of exactly this card (by its subsystem's ids) has all that was sold.

    Some such names are of several cards at once (`RX 480/580`): those tell nothing.
    """
    card = part.text("card_model")
    return bool(card) and "/" not in card and _likeness(wish, line, part, card) is Likeness.SAME


def judge_variant(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Judge what the maker of the card calls it (`VENTUS 3X OC`): told by the card's own name in the lists of
    ids, if it has one, and else by its label alone. No other name is a difference: lists leave words out."""
    card = part.text("card_model")
    got = card_words(card)[1] or model_text(card, Category.GRAPHICS)
    want, got = (bare(words, line, part) for words in (str(wish.want), got))
    if card and short_name_likeness(want, got) is Likeness.SAME:
        return judged(Outcome.CONFORMS, Aspect.VARIANT, wish.want, card)
    return judged(Outcome.NOT_CHECKED, Aspect.VARIANT, wish.want, None)


def judge_capacity(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the memory on the box with what the driver tells, which may be a tenth less.

    Eleven GiB told may so be a card of eleven and one of twelve: only the nearest size conforms.
    """
    told = part.number("memory_bytes")
    if told is None:
        by_name = find_sizes(part.text("model"), Base.BINARY)  # GTX 1060 6GB
        if len({size.size_bytes for size in by_name}) != 1:
            return cannot_tell(wish, part.why_absent("memory_bytes"))
        told = by_name[0].size_bytes
    sold = float(wish.want) if isinstance(wish.want, int | float) else 0.0
    fits = sold > 0 and _LEAST_SHARE <= told / sold <= _MOST_SHARE
    sizes = {float(size * _GIB) for size in _SIZES_GIB} | {sold}
    nearest = min(sizes, key=lambda size: (abs(told - size), size))
    outcome, ending = Outcome.DIFFERS, ""
    if fits:
        outcome, ending = (Outcome.CONFORMS, "") if nearest == sold else (Outcome.CANNOT_TELL, "between")
    named = {"sold": size_text(int(sold), Base.BINARY), "told": size_text(int(told), Base.BINARY)}
    return judged(outcome, Aspect.CAPACITY, wish.want, told, unit=Unit.BYTES, ending=ending, named=named)


def judge_technology(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the type of the card's memory, where a name of the device or of exactly this card tells it.

    Else the label does: one product is sold with several (`RTX 3060 Ti`, `GT 1030`), and no driver names it.
    """
    names = (part.text("model"), part.text("card_model"))
    told = [{word.meaning for word in find_card_memory(name)} for name in names]
    types = next((kinds for kinds in told if kinds), set())
    want = str(wish.want)
    if len(types) != 1 or _may_be_one(*(got := next(iter(types)), want)):
        return judged(Outcome.NOT_CHECKED, Aspect.TECHNOLOGY, wish.want, None)
    outcome = Outcome.CONFORMS if got.casefold() == want.casefold() else Outcome.DIFFERS
    return judged(outcome, Aspect.TECHNOLOGY, wish.want, got)


def _may_be_one(told: str, sold: str) -> bool:
    """Whether two types are told apart by the letter before alone: names mix up `GDDR3`, `SDDR3` and `DDR3`
    (pci.ids has a GeForce 6800 with DDR3, which is GDDR3: from memory)."""
    bare_types = [kind.casefold().lstrip("gs") for kind in (told, sold)]
    return told.casefold() != sold.casefold() and bare_types[0] == bare_types[1]


def judge_maker(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the maker of the card; the chip's maker only where the order names one of those.

    The maker of a card is told by its subsystem's id. Cards made after the chip maker's own design often
    carry the chip maker's there, whoever sells them: then nobody can tell.
    """
    want = maker_key(str(wish.want))
    card = part.text("card_maker")
    got = maker_keys(card)
    if want in got:
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, card)
    if want in _CHIP_MAKERS:
        return judge_chip_maker(wish, line, part)
    if is_known_maker(want) and got and all(map(is_known_maker, got)) and not got & _CHIP_MAKERS:
        return judged(Outcome.DIFFERS, Aspect.MAKER, wish.want, card)
    if card:
        return judged(Outcome.CANNOT_TELL, Aspect.MAKER, wish.want, card, ending="unknown")
    if want and want == maker_key(part.text("model")):
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, part.text("model"))
    return _maker_of_chip_only(wish, part)


def _maker_of_chip_only(wish: Expectation, part: Part) -> Judgement:
    said = part.text("maker")
    if said and maker_key(said) == maker_key(str(wish.want)):
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, said)
    if said and maker_key(said) not in _CHIP_MAKERS:
        return judged(Outcome.CANNOT_TELL, Aspect.MAKER, wish.want, said, ending="unknown")
    return cannot_tell(wish, part.why_absent("card_maker"))


_BEYOND_DIFFERENCES = 10 * DIFFERENCE_COSTS


def _is_unlikely(part: Part, told: tuple[Judgement, ...], scene: Scene) -> int:
    """Cards are sold, and graphics within the processor come with it: where neither is the one sold, the line
    is about the card, whatever else of it differs."""
    model = next((judgement.outcome for judgement in told if judgement.aspect is Aspect.MODEL), None)
    if model is Outcome.CONFORMS or is_in_a_slot(part, scene.reading):
        return 0
    if not is_soldered(part, scene.reading):
        return 1
    return 2 + (_BEYOND_DIFFERENCES if model is Outcome.DIFFERS else 0)


MATCHER = PieceMatcher(
    Category.GRAPHICS,
    PartKind.GRAPHICS,
    judges={
        Aspect.MODEL: judge_model,
        Aspect.CAPACITY: judge_capacity,
        Aspect.MAKER: judge_maker,
        Aspect.VARIANT: judge_variant,
        Aspect.TECHNOLOGY: judge_technology,
    },
    besides=judge_link,
    judged_besides=frozenset({Aspect.LINK}),
    unlikely=_is_unlikely,
)
