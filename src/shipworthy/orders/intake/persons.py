"""Persons and addresses in a pasted confirmation: left out by the name of their kind."""

from __future__ import annotations

import re
from dataclasses import replace

from shipworthy.model.intake import Became
from shipworthy.orders.intake import phrases, private, talk
from shipworthy.orders.intake.order_numbers import number_within
from shipworthy.orders.intake.page import Page, is_part, left_out
from shipworthy.orders.intake.quantities import take_quantity
from shipworthy.orders.intake.rawrow import RawRow, with_kind

_MOST_OF_BLOCK = 7
"""Rows below the heading of an address that may belong to it."""
_MOST_OF_NAME = 5
"""Words of a person's name, with titles."""
_MOST_BESIDE_CONTACT = 12
"""Letters and figures that may stand beside a number or a mail address in a row that tells nothing else."""
_SIGNED = re.compile(
    rf"(?:{talk.CLOSING.pattern}|thx|thanks|danke|merci)\s*[,!.–-]+\s*[^\W\d_][^\W\d]*(?: "
    rf"[^\W\d_][^\W\d]*){{0,2}}\.?",
    re.IGNORECASE,
)
"""A closing with the name in its row."""
_BETWEEN = re.compile(r"\s*[·•|,]\s*|\s+[-–—]\s+|\s{2,}")
_CONTACT_WORDS = re.compile(
    r"\b(?:e-?mail|tel\w*|tél\w*|phone|fax|web|www\S*|iban|bic|swift|konto|bank\w*|mobile?|courriel)\b",
    re.IGNORECASE,
)


def personal(row: RawRow, bare: str, page: Page) -> RawRow | None:
    """Addresses and names: below their heading, beside a street, behind a label, or below a letter's end."""
    words = bare.strip()
    sold = is_part(words) or private.PRICE in row.left_out or take_quantity(words, None).count is not None
    if sold and (private.PRICE in row.left_out or not private.is_street(words)):
        page.block = page.signature = 0
        return None
    if (block := private.BLOCK.fullmatch(words.rstrip(":"))) is not None:
        whole = re.search(r"\d.*,|,.*\d", block["rest"] or "")  # all of it in one row: nothing more follows
        page.block, page.block_is_whole = _MOST_OF_BLOCK, whole is not None or private.ADDRESS in row.left_out
        return left_out(row, private.ADDRESS)
    if page.block and (found := _in_block(row, words, page)) is not None:
        return found
    if words.casefold() in page.persons:
        return left_out(row, private.NAME)
    if page.signature:
        page.signature -= 1
        if len(words.split()) <= _MOST_OF_NAME and not talk.SENTENCE.search(words):
            return left_out(row, private.NAME)
    if private.is_street(words) or (page.private_above and private.is_town(words)):
        return left_out(row, private.ADDRESS)
    return _labelled(row, words, page) or _greeted(row, words, page) or _shops_own(row, words, page)


def _in_block(row: RawRow, words: str, page: Page) -> RawRow | None:
    """A row below the heading of an address; a sentence ends the block, as it may ask for something.

    Below an address that is whole only numbers and mail addresses belong to it.
    """
    if page.block_is_whole and not row.left_out:
        page.block = 0
        return None
    if talk.reads_like_request(words) and len(words.split()) > _MOST_OF_NAME:
        page.block = 0
        return None
    page.block -= 1
    page.persons.add(words.casefold())
    return left_out(row, private.ADDRESS)


def _labelled(row: RawRow, words: str, page: Page) -> RawRow | None:
    customer = phrases.CUSTOMER.fullmatch(words)
    if customer is not None:
        value = customer["value"] or customer["ref"] or customer["number"]
        page.head.setdefault("customer_reference", (" ".join(value.split()), f"row {row.place}"))
        page.persons.add(value.casefold())
        return left_out(row, private.CUSTOMER)
    mail, person = private.MAIL.fullmatch(words), private.PERSON.fullmatch(words)
    if mail is not None and (private.EMAIL in row.left_out or page.mail_head):
        page.mail_head = True
        if words.casefold().startswith(("from", "von")):
            page.shop_maybe(mail["name"].strip(" <>\"'"), f"row {row.place}")
        return left_out(row, private.NAME)
    if person is not None:
        page.persons.add(person["name"].strip().casefold())
        return left_out(row, private.NAME)
    rest = _CONTACT_WORDS.sub(" ", words)
    if set(row.left_out) - {private.PRICE} and len(re.findall(r"\w", rest)) <= _MOST_BESIDE_CONTACT:
        return replace(row, became=Became.LEFT_OUT, words="")
    return None


def _greeted(row: RawRow, words: str, page: Page) -> RawRow | None:
    """A greeting, alone or before a courtesy: the name is left out, an order's number behind it kept."""
    if private.QUOTED.match(words) or _SIGNED.fullmatch(words):
        return left_out(row, private.NAME)
    greeting = private.GREETING.match(words)
    if greeting is None or talk.CLOSING.fullmatch(talk.bare_of_marks(words)):  # `Liebe Grüße` ends a letter
        return None
    rest = words[greeting.end() :].strip()
    if not rest:
        return left_out(row, private.NAME)
    if is_part(rest) or not (talk.is_talk(rest) or talk.is_shop_talk(rest)):
        return None
    if number := number_within(rest):
        page.head.setdefault("order_id", (number, f"row {row.place}"))
    return left_out(row, private.NAME)


def _has_town(words: str) -> bool:
    return any(private.is_town(cell) or private.is_street(cell) for cell in _BETWEEN.split(words))


def _shops_own(row: RawRow, words: str, page: Page) -> RawRow | None:
    """The shop's own address, behind its name, and the legal foot of a letter."""
    shop = page.told("shop")
    firm = phrases.FIRM_FIRST.fullmatch(words)
    if firm is not None and page.first and not shop and _has_town(firm["rest"]):
        page.shop_maybe(firm["value"], f"row {row.place}")
        row = with_kind(row, private.ADDRESS)
        return replace(row, words=f"{firm['value']} [{private.ADDRESS}]", became=Became.HEAD)
    if shop and re.match(rf"{re.escape(shop)}(?: {phrases.FIRM})?\s*[,·|–-]\s*\S", words, re.IGNORECASE):
        return left_out(row, private.ADDRESS)
    return left_out(row, private.IMPRINT) if private.is_imprint(words) else None
