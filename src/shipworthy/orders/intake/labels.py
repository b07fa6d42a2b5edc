"""The label before a part (`CPU: …`), and the words that stand around a price."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.model.words import Category
from shipworthy.orders.intake import columns
from shipworthy.orders.intake.categories import EXTRAS, guess_category, named_categories, plain_names
from shipworthy.orders.intake.quantities import Quantity, without_position
from shipworthy.orders.intake.rawrow import RawRow

_LABEL = re.compile(
    r"^(?P<label>[^\W\d][\w ./&'’-]{1,30}?(?: ?\([\w ]{1,20}\))?)"
    r"\s*(?:(?<!\d):|:(?!\d)|=|\s[-–—]\s|\t+|\s{2,})\s*(?P<rest>\S.*)$"
)
_YES = re.compile(r"(?:yes|ja|oui|included|inklusive|inclus)(?![\w-])", re.IGNORECASE)
WITHOUT = re.compile(r"(?:no|not|without|keine?[nrs]?|ohne|sans|aucune?)\s+[^\W\d]", re.IGNORECASE)
"""What a label of a category may not want of it: `Case: no window`."""
_ORDINAL = re.compile(
    r"^(?:(?:primary|secondary|main|first|second|third|fourth|additional|extra|boot|system|data|1st|2nd|3rd|"
    r"erste[rs]?|zweite[rs]?|dritte[rs]?|weitere[rs]?|"
    r"premier|première|deuxième|second|seconde|troisième)\s+)+|"
    r"[\s#]*\d{1,2}$",
    re.IGNORECASE,
)
# What stood around a price: brackets that hold a word of it at most, words before it, words behind it.
_PRICE_BRACKETS = re.compile(
    r"[(\[]\s*(?:was|now|each|je|à|per piece|rrp|uvp|statt|instead of|save|vorher|au lieu de)?:?"
    r"\s*[+-]?\s*[)\]]",
    re.IGNORECASE,
)
_PRICE_AT_START = re.compile(r"^\s*(?:je|à|@|each|per|=)(?:\s+|$)", re.IGNORECASE)
_PRICE_LABEL_AT_END = re.compile(
    r"(?:^|[\s,;]+)(?:unit |einzel|prix )?(?:price|preis|unitaire)\s*:?\s*$", re.IGNORECASE
)
_PRICE_AT_END = re.compile(
    r"\s+(?:je|à|(?<!\s\d\s)(?<!\s\d\d\s)@|each|per|=|:|[-–—])\s*$|:\s*$", re.IGNORECASE
)


def without_label(body: str) -> tuple[str, frozenset[Category]]:
    """Return the text behind a label that names categories (`CPU: …`, `Fan 2: …`), and those.

    A label that says more than the value stays in the text (`Cable sleeves: grey`).
    """
    label = _LABEL.match(body)
    if label and columns.meaning_of(label["label"]) == columns.TEXT:
        body = label["rest"]
        label = _LABEL.match(body)
    named = categories_of_label(label["label"]) if label else frozenset()
    if label is None or not named:
        return body, frozenset()
    if _YES.fullmatch(label["rest"]):
        return label["label"], named
    if _YES.match(label["rest"]):
        return f"{label['label']}: {label['rest']}", named
    says_more = named <= EXTRAS and not plain_names(label["label"])
    if says_more and guess_category(label["rest"]).category not in named:
        return f"{label['label']}: {label['rest']}", named
    return label["rest"], named


def label_behind_count(row: RawRow, taken: Quantity) -> tuple[RawRow, Quantity]:
    """Return both without the label that stands behind a quantity (`1 x Mainboard: …`)."""
    rest, among = without_label(without_position(taken.rest))
    if not among or WITHOUT.match(rest) or not any(map(str.isalnum, rest)):
        return row, taken
    number = taken.rest[: len(taken.rest) - len(without_position(taken.rest))]
    return replace(row, among=among), replace(taken, rest=number + rest)


def categories_of_label(label: str) -> frozenset[Category]:
    """Return the categories that the label before a part names (`CPU: …`, `Fan 2: …`, `Second drive: …`)."""
    label = re.sub(r"\(.*?\)", "", label).strip()
    return named_categories(label) or named_categories(_ORDINAL.sub("", label))


def without_price_words(body: str) -> str:
    """Return a text without what stood around a price that was cut: `je`, `@`, `Price:`, empty brackets."""
    body = _PRICE_AT_START.sub("", _PRICE_BRACKETS.sub(" ", body).strip()).rstrip(" ,;|")
    return _PRICE_AT_END.sub("", _PRICE_LABEL_AT_END.sub("", body)).strip()
