"""What stands around the parts of a pasted confirmation: the order's head, totals, courtesies, headings."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.model.intake import Became
from shipworthy.model.words import Category
from shipworthy.orders.intake import columns, phrases, private, talk
from shipworthy.orders.intake.categories import EXTRAS, guess_category, named_categories
from shipworthy.orders.intake.counts import says_number
from shipworthy.orders.intake.labels import categories_of_label, without_price_words
from shipworthy.orders.intake.order_numbers import number_within, order_number, wished_for
from shipworthy.orders.intake.page import BULLET, CELLS, Page, is_part, left_out
from shipworthy.orders.intake.quantities import take_quantity
from shipworthy.orders.intake.rawrow import RawRow, note, with_notes
from shipworthy.orders.intake.totals import kind_of_total

_MOST_OF_SIGNATURE = 3
"""Rows below a letter's end that may hold who signs."""
_MOST_OF_SHOP = 5
"""Words of a shop's name, where nothing but its place tells that it is one."""
_MOST_OF_UNWANTED = 2
"""Words of a row that tells what is not wanted; a longer one may ask for something: `no logo on case`."""
# Whose bare word sells nothing: `Memory` alone heads what follows, `Thermal paste` alone is goods.
_NO_GOODS = frozenset(Category) - EXTRAS - {Category.SYSTEM_SOFTWARE}


def head(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """The order's number, the shop, the day that it is due, the units' ids, the day of the order."""
    words = talk.bare_of_marks(bare)
    who = f"row {row.place}"
    if is_part(words) or private.PRICE in row.left_out:
        return _like_part(row, words, page)
    first, page.first = page.first, False
    if number := order_number(words):
        known = page.told("order_id")
        if page.line is not None and known and number.casefold() != known.casefold():
            return with_notes(
                replace(row, became=Became.NOT_IMPORTED), note("intake.second-order", known=known)
            )
        page.head.setdefault("order_id", (number, who))
        if wish := wished_for(words):
            page.head.setdefault("due", (wish, who))
        return replace(row, became=Became.HEAD)
    for name, pattern in phrases.HEAD:
        match = pattern.fullmatch(words)
        if match is None or (name == "shop" and _other_firm(words, page)):
            continue
        if name == "units":
            earlier = page.told(name)
            page.head[name] = (f"{earlier}\n{match['value']}".strip(), who)
        else:
            page.head.setdefault(name, (match["value"], who))
        return replace(row, became=Became.HEAD)
    if phrases.DATE.fullmatch(words) or phrases.OTHER_NUMBER.fullmatch(words):
        return replace(row, became=Became.HEAD)
    if words and words.casefold() == page.told("shop").casefold():
        return replace(row, became=Became.HEAD)
    return _letterhead(row, words, page) if first else None


def _like_part(row: RawRow, words: str, page: Page) -> RawRow | None:
    """A first row above an order's title that reads like a part (`Fan House`): a firm's name, or asked about.

    The same words further down are asked about too: they may be who signs.
    """
    first, page.first = page.first, False
    if words and words.casefold() == page.shop_or_part:
        return with_notes(replace(row, became=Became.NOT_IMPORTED), note("intake.above-title"))
    counted = any(map(str.isdigit, words)) or take_quantity(words, None).count is not None
    if not (first and page.title_below) or counted or private.PRICE in row.left_out or ":" in words:
        return None
    if len(words.split()) > _MOST_OF_SHOP or talk.SENTENCE.search(words):
        return None
    if any(pattern.fullmatch(words) for name, pattern in phrases.HEAD if name == "shop"):
        page.shop_maybe(words, f"row {row.place}")
        return replace(row, became=Became.HEAD)
    page.shop_or_part = words.casefold()
    return with_notes(replace(row, became=Became.NOT_IMPORTED), note("intake.above-title"))


def _other_firm(words: str, page: Page) -> bool:
    """Whether a firm among the order's parts is not the shop: `Holloway Quiet 140 GmbH` may be a part."""
    shop = page.told("shop")
    return page.line is not None and bool(shop) and not words.casefold().startswith(shop.casefold())


def _letterhead(row: RawRow, words: str, page: Page) -> RawRow | None:
    """The first row, where an order's title or number stands close below it, is the shop's name."""
    both = phrases.SHOP_AND_TITLE.fullmatch(words)
    name = both["value"] if both is not None else words
    bare_name = any(map(str.isalpha, words)) and not any(map(str.isdigit, words))
    if both is None and not (page.title_below and bare_name):
        return None
    if len(name.split()) > _MOST_OF_SHOP or talk.is_talk(words) or talk.SENTENCE.search(words):
        return None
    if guess_category(name).category is not None:
        return None
    page.shop_maybe(name, f"row {row.place}")
    return replace(row, became=Became.HEAD)


def courtesy(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """Totals, courtesies, and what says something of the order and nothing of a part."""
    words = bare.strip()
    if (kind := kind_of_total(row.words)) and (kind != "delivery" or not _asks(words)):
        return left_out(row, kind)
    if private.PRICE in row.left_out and not any(map(str.isalnum, without_price_words(words))):
        return replace(row, became=Became.LEFT_OUT)
    if private.PRICE in row.left_out:
        return None
    if talk.is_talk(words) and is_part(words) and any(map(str.isdigit, words)):
        return replace(row, became=Became.NOT_IMPORTED, notes=(note("intake.reads-like-talk"),))
    if talk.is_talk(words):
        page.set_group(frozenset())
        return replace(row, became=Became.HEAD if _signed(row, words, page) else Became.NO_PART)
    if is_part(words):
        return None
    if phrases.NOT_OF_PARTS.fullmatch(words) and guess_category(words).category is None:
        return _with_number(row, words, page, Became.NO_PART)
    if talk.is_shop_talk(words) and guess_category(words).category is None:
        return _with_number(row, words, page, Became.NO_PART)
    return None


def _asks(words: str) -> bool:
    return is_part(words) or talk.reads_like_sentence(words)


def _signed(row: RawRow, words: str, page: Page) -> bool:
    """Note a letter's end and what a courtesy tells of the order; return whether it tells its number."""
    plain = talk.bare_of_marks(words)
    if talk.CLOSING.fullmatch(plain):
        page.signature = _MOST_OF_SIGNATURE
    if (team := phrases.TEAM.fullmatch(plain)) is not None:
        page.shop_maybe(team["value"], f"row {row.place}")
    return told_within(row, plain, page)


def told_within(row: RawRow, words: str, page: Page) -> bool:
    """Keep the order's number and the shop's name that a sentence tells; return whether it tells a number."""
    if shop := phrases.SHOP_WITHIN.search(words):
        page.shop_maybe(shop["value"], f"row {row.place}")
    number = number_within(words)
    if number:
        page.head.setdefault("order_id", (number, f"row {row.place}"))
    return bool(number)


def _with_number(row: RawRow, words: str, page: Page, otherwise: Became) -> RawRow:
    """A sentence of the shop, which may tell the order's number or the shop's name."""
    behind = order_number(words.partition(":")[2])
    if behind:
        page.head.setdefault("order_id", (behind, f"row {row.place}"))
    told = told_within(row, words, page) or bool(behind)
    return replace(row, became=Became.HEAD if told else otherwise)


def no_part(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """Courtesies and totals, what is not wanted, and headings of groups of parts."""
    if (found := courtesy(row, bare, page)) is not None:
        return found
    words = bare.strip()
    if phrases.is_none(words) and (_is_none(words) or (page.group and len(words.split()) == 1)):
        return replace(row, became=Became.NO_PART)
    unwanted = phrases.LABEL_NONE.fullmatch(BULLET.sub("", words))
    if unwanted is not None and named_categories(unwanted["label"]):
        return replace(row, became=Became.NO_PART)
    onboard = phrases.ONBOARD.fullmatch(words)
    if onboard is not None and any(map(str.isalpha, onboard["label"])):
        return replace(row, became=Became.NO_PART)
    return _group(row, words, page)


def _group(row: RawRow, words: str, page: Page) -> RawRow | None:
    if BULLET.match(words) and not page.deeper_below:
        return None
    plain = BULLET.sub("", words)
    if page.deeper_below:
        plain = re.sub(r"^\d{1,2}[.)]\s+", "", plain)
    named = named_categories(plain)
    heads = plain.endswith(":") or named <= _NO_GOODS or _is_rule(plain) or len(named) > 1
    if not row.left_out and named and heads:
        page.set_group(named)
        return replace(row, became=Became.NO_PART)
    # a figure or a word of number before the colon may say how many machines: that is asked about
    counts = any(map(str.isdigit, plain)) or says_number(plain)
    if plain.endswith(":") and not row.left_out and not counts and guess_category(plain).category is None:
        page.set_group(frozenset())
        return replace(row, became=Became.NO_PART)
    return None


def _is_none(words: str) -> bool:
    """Whether a row of none names, before its colon or behind its `no`, what an order could have."""
    label, sign, rest = re.sub(r"\s{2,}|\t", ":", words, count=1).partition(":")
    nothing = sign and not any(map(str.isalnum, rest))
    if nothing and is_part(label) and not categories_of_label(BULLET.sub("", label)):
        return False  # a part, and no price in its column: `Holloway 140 mm fan   -`
    thing = words.split(maxsplit=1)[-1]
    return (
        bool(label.strip() and sign)
        or bool(named_categories(thing))
        or (len(words.split()) <= _MOST_OF_UNWANTED and guess_category(thing).category is not None)
    )


def _is_rule(words: str) -> bool:
    return re.fullmatch(r"[-=*#_ ]{2,}.*[-=*#_ ]{2,}|\[.*\]|#+ .*", words) is not None


def headings(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """The headings of a table's columns."""
    cells = [cell for cell in CELLS.split(bare.strip()) if cell]
    found = columns.guess_columns(cells)
    if len(cells) == 1 and all(map(columns.meaning_of, bare.split())):
        found = columns.guess_columns(bare.split())
    if found is None:
        return None
    page.headings = found
    return replace(row, became=Became.NO_PART)
