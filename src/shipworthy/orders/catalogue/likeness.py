"""Is the part that a text names this one of the list? Whole orders are built on the answer."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shipworthy.model.catalogue import CataloguePart
from shipworthy.model.words import Category
from shipworthy.orders.catalogue.described import described, without_trade_words
from shipworthy.orders.catalogue.index import needed_name, without_makers
from shipworthy.orders.catalogue.lone_numbers import lone_numbers_lacking
from shipworthy.orders.catalogue.numbers import number_key
from shipworthy.words.makers import leading_maker, maker_key
from shipworthy.words.names import GRADES, Name, lacking


class Fit(StrEnum):
    """SAME: all that the text says is so, and all that tells this part is said. MAY_BE: something is left
    open, and nothing is against it. OTHER: a number or a grade says that it is another one."""

    SAME = "same"
    MAY_BE = "may be"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Query:
    """A text that names a part, cut up once. maker: the known maker that it begins with."""

    text: str
    maker: str
    name: Name

    @classmethod
    def of(cls, text: str, category: Category | None) -> Query:
        plain = without_trade_words(text, category) if category else text
        return cls(plain, leading_maker(plain), Name.of(without_makers(plain)))


def fit_of(query: Query, part: CataloguePart) -> Fit:
    """Return how a text fits a part, by the best of the part's names."""
    fits = {_fit(query, part, name) for name in (part.name, *part.names)}
    return next(fit for fit in (Fit.SAME, Fit.MAY_BE, Fit.OTHER) if fit in fits)


def _fit(query: Query, part: CataloguePart, name: str) -> Fit:
    if query.maker and not _speaks_of(part, query.maker):
        return Fit.OTHER
    numbers = {number_key(number) for number in part.part_numbers}
    words = [word for word in query.text.split() if number_key(word) not in numbers or not number_key(word)]
    asked = Name.of(without_makers(" ".join(words), part.maker))
    told = Name.of(f"{name} {without_trade_words(described(part), part.category)}")
    hard_missing, soft_missing = lacking(asked, told)
    if hard_missing or lone_numbers_lacking(asked, told):
        return Fit.OTHER
    said = Name.of(f"{query.text} {part.maker}")
    needed = needed_name(name, part.maker, part.category)
    hard_unsaid, soft_unsaid = lacking(needed, said)
    hard_unsaid |= lone_numbers_lacking(needed, said)
    if hard_unsaid & GRADES:
        return Fit.OTHER  # the RTX 4070 that was asked for is not this RTX 4070 Ti
    return Fit.MAY_BE if soft_missing or hard_unsaid or soft_unsaid else Fit.SAME


def says_another(text: str, part: CataloguePart) -> bool:
    """Whether the numbers and grades of a text are another part's. Words that name none say nothing."""
    numbers = {number_key(number) for number in part.part_numbers}
    words = [w for w in without_trade_words(text, part.category).split() if _tells(w)]
    words = [word for word in words if number_key(word) not in numbers]
    told = Name.of(" ".join((part.name, *part.names, described(part))))
    named = Name.of(" ".join(words))
    if lacking(named, told)[0] or lone_numbers_lacking(named, told):
        return True
    names_it = any(told.has(word) for word in words if any(map(str.isdigit, word)))
    return names_it and fit_of(Query.of(text, part.category), part) is Fit.OTHER


def _tells(word: str) -> bool:
    return any(map(str.isdigit, word)) or word.strip(",;:()").casefold() in GRADES


def _speaks_of(part: CataloguePart, maker: str) -> bool:
    """Whether a part is by that maker, or its own words name it (a chip's maker, on a card or a board)."""
    texts = (part.name, *part.names, getattr(part.facts, "chip", ""), getattr(part.facts, "chipset", ""))
    words = {maker_key(word) for text in texts for word in text.split()}
    return maker in {maker_key(part.maker), *map(maker_key, texts), *words}
