"""The category of a part text, guessed from its words; a doubt stays one.

A noun names what a thing is, and the last noun before an aside is the thing (`case with 3 fans` is a
case). Signs of grammar speak where no noun does. Where two categories come near each other, or nothing
speaks, the guess is not sure, and becomes a question.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from shipworthy.model.words import Category
from shipworthy.orders.intake.category_nouns import NOUN
from shipworthy.orders.intake.category_words import ASIDE, MAKERS, SIGN
from shipworthy.words.spans import Span, where

ENOUGH = 3
"""Weight of all that speaks for a category, from which the guess can be sure."""
LEAD = 2
"""Weight by which it has to lead the next likely."""
_NOUN_WEIGHT = 4
EXTRAS = frozenset({Category.ACCESSORY, Category.CABLE, Category.SERVICE, Category.CUSTOMISATION})
"""Categories whose bare word can be what is sold: `Thermal paste`, `Cable sleeves: grey`."""

# Names of a category, or of its things as a whole, beside the category's own word and the groups' names.
_PLAIN = {
    Category.ACCESSORY: ("accessories", "zubehör", "accessoire", "accessoires"),
    Category.CABLE: ("kabel", "câble", "câbles"),
    Category.SERVICE: ("dienstleistung", "dienstleistungen", "prestation"),
    Category.CUSTOMISATION: ("individualisierung",),
}
# Names of groups in shops' lists, most of them wider than one category.
_GROUPS = {
    "cooling": frozenset({Category.COOLER, Category.FAN}),
    "kühlung": frozenset({Category.COOLER, Category.FAN}),
    "drive": frozenset({Category.STORAGE, Category.OPTICAL_DRIVE}),
    "drives": frozenset({Category.STORAGE, Category.OPTICAL_DRIVE}),
    "laufwerk": frozenset({Category.STORAGE, Category.OPTICAL_DRIVE}),
    "laufwerke": frozenset({Category.STORAGE, Category.OPTICAL_DRIVE}),
    "storage": frozenset({Category.STORAGE}),
    "speicher": frozenset({Category.MEMORY, Category.STORAGE}),
    "graphics": frozenset({Category.GRAPHICS}),
    "grafik": frozenset({Category.GRAPHICS}),
    "video": frozenset({Category.GRAPHICS}),
    "board": frozenset({Category.BOARD}),
    "power": frozenset({Category.POWER_SUPPLY, Category.CABLE}),
    "tower": frozenset({Category.CASE}),
    "network": frozenset({Category.NETWORK, Category.CABLE}),
    "networking": frozenset({Category.NETWORK, Category.CABLE}),
    "netzwerk": frozenset({Category.NETWORK, Category.CABLE}),
    "lan": frozenset({Category.NETWORK, Category.CABLE}),
    "wlan": frozenset({Category.NETWORK}),
    "wireless": frozenset({Category.NETWORK}),
    "wi-fi": frozenset({Category.NETWORK}),
    "sound": frozenset({Category.SOUND}),
    "audio": frozenset({Category.SOUND, Category.ACCESSORY}),
    "software": frozenset({Category.SYSTEM_SOFTWARE, Category.SERVICE}),
    "windows": frozenset({Category.SYSTEM_SOFTWARE}),
    "services": frozenset({Category.SERVICE}),
    **dict.fromkeys(
        ("work", "bench work", "labour", "labor", "arbeit", "arbeiten", "prestations", "travail"),
        frozenset({Category.SERVICE}),
    ),
    **dict.fromkeys(
        ("custom", "custom work", "customization", "individuell", "personnalisation"),
        frozenset({Category.CUSTOMISATION}),
    ),
    "extras": EXTRAS,
}
# What is for a part, and is none, though the part's name stands before it: `RTX 4070 support bracket`. A
# drive or a kit of a size may end so too (`SSD 2TB Heatsink`).
_FOR_A_PART = re.compile(
    r"[^\s,;/+&(]\s+(?:back ?plate|bracket|holder|heat ?sink|heat ?spreader|cover|bezel|paste|sticker|"
    r"enclosure|kühlkörper|abdeckung|blende|halterung|aufkleber|équerre|autocollant)s?\s*$",
    re.IGNORECASE,
)
_SIZED = re.compile(r"\d\s?[GT](?:i?B|o)\b")
# What stands behind a comma and compares, or tells the most that fits: no second part.
_OF_THE_FIRST = re.compile(
    r"\s*(?:the )?(?:same as|as in|like|wie|comme|identi\w+)(?!\w)|\s*[^\W\d][^\d,]*(?<!\w)"
    r"(?:up to|at most|max(?:imum)?\.?|bis(?: zu)?|jusqu'à) ?\d+ ?(?:mm|cm|m|w|watt|l|[gt]b|°c)(?!\w)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Guess:
    """category: the most likely; None where nothing speaks. sure: no other comes near. words: what spoke.

    others: those that come near it, the next likely first.
    """

    category: Category | None
    sure: bool
    words: str = ""
    others: tuple[Category, ...] = ()


@dataclass(frozen=True, slots=True)
class _Sign(Span):
    category: Category
    weight: int


NOTHING = Guess(None, sure=False)


def guess_category(text: str, among: Iterable[Category] = ()) -> Guess:
    """Return the category that a part text speaks of. among: the only ones it can be, if that is known."""
    return _guessed(text, frozenset(among))


@lru_cache(maxsize=4096)
def _guessed(text: str, only: frozenset[Category]) -> Guess:
    plain = MAKERS.sub(lambda match: " " * len(match.group()), text)
    aside = ASIDE.search(plain, 1) if plain else None
    main = plain[: aside.start()] if aside else plain
    found = _found(main)
    guess = _guess(found, only)
    if aside and not guess.sure:
        guess = _guess(found + _found(plain[aside.end() :], aside=True), only)
    if only:
        return guess if guess.category is not None else _first_of(only)
    noun = aside is not None and aside.group().casefold() == "support"  # `support bracket`
    return _doubted(_by_head_noun(guess, plain), plain if noun else main)


def _first_of(only: frozenset[Category]) -> Guess:
    """Return the guess where only these can be, and no word speaks: an accessory, else the first of them."""
    order = list(Category)
    first, *others = sorted(only, key=lambda c: (c is not Category.ACCESSORY, order.index(c)))
    return Guess(first, sure=not others, others=tuple(others))


def named_categories(words: str) -> frozenset[Category]:
    """Return the categories that a heading, a label or a cell of a category column names; often one."""
    plain = words.strip(" :\t.-*#_=[]").casefold()
    if not plain:
        return frozenset()
    if plain in _GROUPS:
        return _GROUPS[plain]
    exact = next((c for c in Category if c.value == plain and c is not Category.UNIT), None)
    if exact is not None:
        return frozenset({exact})
    named = {category for category, pattern in NOUN if pattern.fullmatch(plain)}
    return frozenset(named) or frozenset({c for c, p in NOUN if p.fullmatch(plain.rstrip("s"))})


def plain_names(words: str) -> frozenset[Category]:
    """Return the categories of words that name a category or a group and no thing (`Service`, `Cables`)."""
    plain = words.strip(" :\t.-*#_=[]").casefold()
    own = {c for c in Category if plain in (c.value, f"{c.value}s")}
    return (
        _GROUPS.get(plain)
        or frozenset(own)
        or frozenset(category for category, names in _PLAIN.items() if plain in names)
    )


def _doubted(guess: Guess, main: str) -> Guess:
    """Return the guess, not sure where the text's last word is a thing that is for a part."""
    if not guess.sure or guess.category in EXTRAS or _SIZED.search(main) or not _FOR_A_PART.search(main):
        return guess
    return Guess(guess.category, sure=False, words=guess.words, others=(Category.ACCESSORY, *guess.others))


def _by_head_noun(guess: Guess, plain: str) -> Guess:
    """Return a doubtful guess with the noun before the first comma taken (`2 fans, same as in the case`).

    It is sure only where what follows tells of it; else it may be a second part (`SSD 1TB, graphics card`).
    """
    first, comma, rest = plain.partition(",")
    if guess.sure or not guess.others or not comma or not _nouns(first):
        return guess
    told = _guess(_found(first), frozenset())
    if not told.sure or told.category not in (guess.category, *guess.others):
        return guess
    if _OF_THE_FIRST.match(rest):
        return told
    others = tuple(c for c in (guess.category, *guess.others) if c is not None and c is not told.category)
    return Guess(told.category, sure=False, words=told.words, others=others)


def _guess(found: list[_Sign], only: frozenset[Category]) -> Guess:
    if only:
        found = [sign for sign in found if sign.category in only]
    scores: dict[Category, int] = {}
    for sign in found:
        scores[sign.category] = scores.get(sign.category, 0) + sign.weight
    if not scores:
        return NOTHING
    ranked = sorted(scores, key=lambda category: (-scores[category], list(Category).index(category)))
    best = ranked[0]
    near = tuple(other for other in ranked[1:] if scores[best] - scores[other] < LEAD)
    words = ", ".join(dict.fromkeys(sign.words for sign in found if sign.category is best))
    sure = not near and (scores[best] >= ENOUGH or len(only) == 1)
    return Guess(best, sure=sure, words=words, others=near)


def _found(text: str, *, aside: bool = False) -> list[_Sign]:
    """Return what speaks in a text. aside: it stands behind `with` or `for`, and its first noun is no thing
    of its own."""
    nouns = _longest(_nouns(text))
    phrases = _phrases(nouns, text)
    heads = {phrase[-1].category: phrase[-1] for phrase in phrases[1 if aside else 0 :]}
    signs = [sign for sign in _signs(text) if not any(sign.overlaps(noun) for noun in nouns)]
    return [*heads.values(), *signs]


def _nouns(text: str) -> list[_Sign]:
    return [
        _Sign(*where(match), category, _NOUN_WEIGHT)
        for category, pattern in NOUN
        for match in pattern.finditer(text)
    ]


def _signs(text: str) -> list[_Sign]:
    return [
        _Sign(*where(match), category, weight)
        for category, weight, pattern in SIGN
        if (match := pattern.search(text))
    ]


def _longest(found: list[_Sign]) -> list[_Sign]:
    kept: list[_Sign] = []
    for sign in sorted(found, key=lambda s: (s.start - s.end, s.start)):
        if not any(sign.overlaps(other) for other in kept):
            kept.append(sign)
    return sorted(kept, key=lambda s: s.start)


def _phrases(nouns: list[_Sign], text: str) -> list[list[_Sign]]:
    """Return the nouns as unbroken phrases: the last of each is its thing (`PC case`, `CPU cooler fan`)."""
    phrases: list[list[_Sign]] = []
    for noun in nouns:
        if phrases and re.fullmatch(r"[\s-]*", text[phrases[-1][-1].end : noun.start]):
            phrases[-1].append(noun)
        else:
            phrases.append([noun])
    return phrases
