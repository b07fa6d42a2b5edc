"""Counts: words of number, what a cell of quantities holds, and why it cannot be one.

What could be read in two ways is not read: `1.000` may be one or a thousand.
"""

from __future__ import annotations

import re

from shipworthy.model.intake import Note
from shipworthy.orders.intake.rawrow import note

NOT_SOLD = ("intake.quantity-negative", "intake.quantity-zero")
"""Of these a row sells nothing; any other quantity that cannot be read is asked about, and taken as one."""
MOST = 1000
"""What a line of an order can have (model/orders.py)."""

NUMERALS = {
    **dict.fromkeys(("one", "a", "an", "ein", "eine", "einen", "eins"), 1),
    **dict.fromkeys(("two", "zwei", "a pair", "a pair of", "pair", "ein paar", "one pair", "1 pair"), 2),
    **dict.fromkeys(("three", "drei", "trois"), 3),
    **dict.fromkeys(("four", "vier", "quatre"), 4),
    **dict.fromkeys(("five", "fünf", "cinq"), 5),
    "deux": 2,
    **dict.fromkeys(("un", "une"), 1),
    "six": 6,
    "sechs": 6,
    "seven": 7,
    "sieben": 7,
    "eight": 8,
    "acht": 8,
    "nine": 9,
    "neun": 9,
    "ten": 10,
    "zehn": 10,
    "eleven": 11,
    "elf": 11,
    "twelve": 12,
    "zwölf": 12,
    **dict.fromkeys(("fifteen", "fünfzehn", "quinze"), 15),
    **dict.fromkeys(("sixteen", "sechzehn", "seize"), 16),
    **dict.fromkeys(("twenty", "zwanzig", "vingt"), 20),
    **dict.fromkeys(("thirteen", "dreizehn", "treize"), 13),
    **dict.fromkeys(("fourteen", "vierzehn", "quatorze"), 14),
    **dict.fromkeys(("seventeen", "siebzehn", "dix-sept"), 17),
    **dict.fromkeys(("eighteen", "achtzehn", "dix-huit"), 18),
    **dict.fromkeys(("nineteen", "neunzehn", "dix-neuf"), 19),
    "sept": 7,
    "huit": 8,
    "dix": 10,
    "onze": 11,
    "douze": 12,
    "a dozen": 12,
    "ein dutzend": 12,
}
_ALL = frozenset(
    ("both", "each", "every", "all", "beide", "jeweils", "jede", "jeden", "jedes", "alle", "chaque")
)
_PIECES = r"(?:pcs?|pieces?|pce|stk|stück|stueck|pièces?|st|ea|each|units?|off|mal|x|×)\b\.?|×"
_CELL = re.compile(rf"[x×]?\s*(?P<number>[-+−]?[\d.,' ]*\d(?:e\+?\d+)?)\s*(?:{_PIECES})?\.?", re.IGNORECASE)


def count_in_cell(cell: str) -> int | Note | None:
    """Return the count that a cell holds, why it cannot be one, or None for an empty cell."""
    plain = cell.strip().strip("()[]").strip()
    if not plain:
        return None
    if "paar" in plain.split():  # `ein Paar` is two, `ein paar` are some
        return note("intake.quantity-not-understood", said=cell.strip()[:60])
    if plain.casefold() in NUMERALS:
        return NUMERALS[plain.casefold()]
    match = _CELL.fullmatch(plain)
    if match is None:
        return note("intake.quantity-not-understood", said=cell.strip()[:60])
    number = match["number"].strip()
    if " " in number:  # a space within a number parts its thousands, or two numbers
        said = cell.strip()[:60]
        thousands = re.fullmatch(r"\d{1,3}(?: \d{3})+", number)
        return note(f"intake.quantity-{'ambiguous' if thousands else 'not-understood'}", said=said)
    return count_of(number, cell.strip())


def count_of(number: str, said: str) -> int | Note:
    number = number.replace("−", "-")
    if re.fullmatch(r"[-+]?\d{1,3}(?:[.,']\d{3})+", number):
        return note("intake.quantity-ambiguous", said=said[:60])
    try:
        value = float(number.replace(",", "."))
    except ValueError:
        return note("intake.quantity-not-understood", said=said[:60])
    if value < 0:
        return note("intake.quantity-negative", said=said[:60])
    if value == 0:
        return note("intake.quantity-zero", said=said[:60])
    if value > MOST:
        return note("intake.quantity-too-many", said=said[:60], most=MOST)
    if not value.is_integer():
        return note("intake.quantity-fraction", said=said[:60])
    return int(value)


def says_number(text: str) -> bool:
    """Return whether a text has a word of number above one, or one that means all: `both`, `each`."""
    words = re.findall(r"\w+", text.casefold())
    return any(NUMERALS.get(word, 1) > 1 or word in _ALL for word in words)
