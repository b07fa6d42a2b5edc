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

_WORDS_OF = {
    1: ("one", "a", "an", "ein", "eine", "einen", "eins", "un", "une"),
    2: ("two", "a pair", "a pair of", "pair", "one pair", "1 pair", "zwei", "ein paar", "deux"),
    3: ("three", "drei", "trois"),
    4: ("four", "vier", "quatre"),
    5: ("five", "fünf", "cinq"),
    6: ("six", "sechs"),
    7: ("seven", "sieben", "sept"),
    8: ("eight", "acht", "huit"),
    9: ("nine", "neun"),
    10: ("ten", "zehn", "dix"),
    11: ("eleven", "elf", "onze"),
    12: ("twelve", "a dozen", "zwölf", "ein dutzend", "douze"),
    13: ("thirteen", "dreizehn", "treize"),
    14: ("fourteen", "vierzehn", "quatorze"),
    15: ("fifteen", "fünfzehn", "quinze"),
    16: ("sixteen", "sechzehn", "seize"),
    17: ("seventeen", "siebzehn", "dix-sept"),
    18: ("eighteen", "achtzehn", "dix-huit"),
    19: ("nineteen", "neunzehn", "dix-neuf"),
    20: ("twenty", "zwanzig", "vingt"),
}
NUMERALS = {word: number for number, words in _WORDS_OF.items() for word in words}
"""Words of number, in small letters. Not French `neuf`: of a part it says that it is new."""
_ALL = frozenset(
    ("both", "each", "every", "all", "beide", "jeweils", "jede", "jeden", "jedes", "alle", "chaque")
)
UNITS = (
    r"(?:[TGMk]i?B|[TGM]o|[TG]|W|Watt|mm|cm|m|inch|in|zoll|[MGk]?Hz|MT/s|[MG]bit|"
    r"port|pin|fach|cores?|kerne?|V|A|rpm|bit|channel|way|slot|bay|PLUS|"
    r"years?|jahre?|months?|monate?|hours?|h|stunden?|days?|tage?)"
)
"""An expression for what makes a size, a rate or a time of the number before it, and so no count of parts."""
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
    """Return the count that a number without a space in it is, or why it cannot be one.

    said: the words that it stands in, as the note shows them, up to 60 characters.
    """
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
